"""The board: all pours on one time axis, and what gets in whose way."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import ClassVar

from rich.text import Text
from textual import getters
from textual.widget import Widget
from textual.widgets import Static

from scheduling.alert import upcoming
from scheduling.conflicts import conflicts
from scheduling.timeline import OVER
from tui.focus import STATES, focus, in_minutes
from tui.inmemory import Pour
from tui.keys import Where
from tui.pours import NOT_SAVED
from tui.screens.base import ShopScreen, pour_title, put
from tui.states import LOOKS
from tui.widgets.lanes import Board, Lane, Lanes, Scale

ZOOMS = (
    timedelta(minutes=1),
    timedelta(minutes=3),
    timedelta(minutes=10),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=6),
)
"""Time in one cell at each zoom, closest first."""

_TODAY = timedelta(hours=12)
"""How far ahead the list of hands-on work looks."""

_LISTED = 30
"""Lines of hands-on work at most; what has no room is clipped."""

_NOW_AT = 0.2
"""Where the now line stands when the board is at home, as a share of the width."""


class BoardScreen(ShopScreen):
    """All pours on one time axis."""

    WHERE: ClassVar[Where] = "board"
    CSS_PATH = "board.tcss"

    lanes = getters.query_one(Lanes)
    clashes = getters.query_one("#clashes", Static)
    today = getters.query_one("#today", Static)
    welcome = getters.query_one("#welcome", Static)

    def __init__(self) -> None:
        super().__init__()
        self._zoom = 2
        self._shift = 0

    def body(self) -> Iterable[Widget]:
        """Yields the axis, the clashes, and the welcome of an empty folder."""
        yield Static(id="welcome", markup=False)
        yield Lanes(id="lanes")
        yield Static(id="clashes", markup=False)
        yield Static(id="today", markup=False)

    def show(self, now: datetime) -> None:
        """Paints the board as of an instant."""
        pours = self.session.open_pours()
        shop = self.session.shop
        who = ", ".join(self.session.who(now)) or "nobody"
        self.put_head(f"{shop.name}: {len(pours)} on the board, in today: {who}", now)
        self.welcome.display = not pours
        self.lanes.display = self.today.display = bool(pours)
        if not pours:
            put(self.welcome, self.welcome_words())
            put(self.clashes, self.fault_words())
            return
        self.lanes.show(self.board(pours, now))
        put(self.clashes, self.clash_words(pours, now))
        put(self.today, self.today_words(pours, now))

    def board(self, pours: list[Pour], now: datetime) -> Board:
        """Puts together what the axis draws."""
        width = max(20, self.lanes.size.width or self.app.size.width)
        per_cell = ZOOMS[self._zoom]
        left = (
            now - int(width * _NOW_AT) * per_cell + self._shift * width // 4 * per_cell
        )
        seconds = per_cell.total_seconds()
        stamp = left.timestamp() // seconds * seconds
        start = datetime.fromtimestamp(stamp, tz=now.tzinfo)
        scale = Scale(start, per_cell, width, self.session.zone)
        chosen = self.shop_app.pour
        lanes = tuple(self.lane(pour, now, chosen=pour is chosen) for pour in pours)
        hours = self.session.setting.hours
        closed = frozenset(
            cell
            for cell in range(width)
            if not hours.is_open(scale.instant(cell) + per_cell / 2)
        )
        return Board(scale, lanes, scale.cell(now), closed)

    def lane(self, pour: Pour, now: datetime, *, chosen: bool) -> Lane:
        """One pour's lane with its title line in words."""
        found = focus(pour.timeline, now)
        coming = [
            a for a in upcoming(pour.alerts, now) if a.id not in pour.state.answered
        ]
        zone = self.session.zone
        bell = ""
        if coming:
            due = coming[0].due.astimezone(zone)
            bell = f"  bell {due:%H:%M} {coming[0].kind}"
        look = LOOKS[found.state]
        marker = "»" if chosen else " "
        left = in_minutes(found.until, now)
        name = pour_title(pour)
        title = f"{marker}{look.glyph} {found.title} {left}  {name}{bell}"
        return Lane(pour, title, found.state, chosen)

    def clash_words(self, pours: list[Pour], now: datetime) -> Text:
        """Clashes of tables, hands and equipment, each in a line."""
        found = conflicts(
            {pour.name: pour.timeline for pour in pours},
            hands=self.session.hands_in,
            equipment=self.session.shop.equipment,
            now=now,
        )
        text = self.fault_words()
        zone = self.session.zone
        for one in found[:3]:
            begin, end = one.start.astimezone(zone), one.finish.astimezone(zone)
            names = ", ".join(one.pours)
            text.append(f"! {begin:%a %H:%M}-{end:%H:%M} {one.words}: {names}\n")
        text.rstrip()
        return text

    def today_words(self, pours: list[Pour], now: datetime) -> Text:
        """Hands-on work of the next hours, all pours together, the soonest first."""
        spans = [
            (span.start, pour, span)
            for pour in pours
            for span in pour.timeline.steps()
            if span.status not in OVER and span.start < now + _TODAY
        ]
        text = Text("hands-on next\n", style="bold", no_wrap=True, overflow="ellipsis")
        for start, pour, span in sorted(spans, key=lambda each: each[0])[:_LISTED]:
            local = start.astimezone(self.session.zone)
            when = " now " if start <= now else f"{local:%H:%M}"
            hands = f"{span.crew} hand{'s' if span.crew > 1 else ''}"
            glyph = LOOKS[STATES[span.status]].glyph
            text.append(
                f" {when} {glyph} {span.minutes:>4.0f} min  {hands:<7} "
                f"{pour.job.title[:24]}: {span.words}\n",
                style="not bold",
            )
        text.rstrip()
        return text

    def fault_words(self) -> Text:
        """What cannot be read or was not saved, each in a line."""
        text = Text()
        for name, words in list(self.session.faults.items())[:3]:
            # First what to do: a line that is too long for the board is cut off.
            way = "" if name == NOT_SAVED else "see pourbell check: "
            text.append(f"!! {name}: {way}{words}\n", style="bold")
        return text

    def welcome_words(self) -> Text:
        """What to do when nothing is on the board."""
        folder = self.session.folder
        text = Text()
        if not self.shop_app.log_read:
            return text.append("\n  Reading the log.\n", style="bold")
        text.append("\n  No pour is on the board.\n\n", style="bold")
        text.append(
            "  p  start a pour: pick a job, or a bare pour that only wants the clock\n"
        )
        if folder.is_empty():
            text.append(f"\n  This shop folder is empty: {folder.path}\n")
            text.append("  p  then  a  brings in the sample shop and its five jobs\n")
            text.append("  p  then  r  rehearses the chosen sample on a fast clock\n")
        text.append("\n  h  shows every key\n")
        return text

    # -- keys

    def action_other(self, by: int) -> None:
        """Chooses another pour."""
        self.shop_app.other_pour(by)

    def action_open_pour(self) -> None:
        """Opens the pour clock."""
        self.shop_app.action_clock()

    def action_shift(self, by: int) -> None:
        """Shows an earlier or later time."""
        self._shift += by
        self.shop_app.show()

    def action_zoom(self, by: int) -> None:
        """Shows more or less time."""
        self._zoom = max(0, min(len(ZOOMS) - 1, self._zoom - by))
        self.shop_app.show()

    def action_home(self) -> None:
        """Brings the now line back."""
        self._shift = 0
        self._zoom = 2
        self.shop_app.show()

    def action_undo(self) -> None:
        """Takes the newest mark of the pour in hand back."""
        pour = self.shop_app.pour
        if pour is not None:
            self.shop_app.wish(lambda: self.session.undo(pour.name), "taken back")

    def action_put_away(self) -> None:
        """Takes the pour off the board."""
        pour = self.shop_app.pour
        if pour is not None:
            words = f"{pour.name} put away; u brings it back"
            self.shop_app.wish(lambda: self.session.put_away(pour.name), words)
