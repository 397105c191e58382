"""Timings: what the log teaches of every wait and step, to accept or to refuse."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import ClassVar

from rich.cells import cell_len
from rich.text import Text
from textual import getters
from textual.containers import Container, Vertical
from textual.widget import Widget
from textual.widgets import DataTable, Static

from scheduling.errors import LogFault, PourbellError
from scheduling.event import Event
from scheduling.shopbook import Key
from tui.accepting import accept, refuse, take_back
from tui.keys import Where
from tui.notify import clean
from tui.screens.base import ShopScreen, put
from tui.timings.defects import Defects
from tui.timings.standing import alike, last_decision
from tui.timings.view import Basis, View
from tui.timings.waits import Waits
from tui.timings.why import TITLE, parts
from tui.timings.work import Work
from tui.widgets.plot import Plot

_VIEWS: tuple[Callable[[Basis], View], ...] = (Waits, Work, Defects)
_WIDE, _TALL = 120, 30
"""Columns and rows from which table and plot stand side by side, with more words."""

_CELL = 40
_LINE = 300
"""Characters of a cell, and of a line about a row."""


_Filled = tuple[int, dict[Key, tuple[str, ...]], dict[Key, str]]
"""What the table was filled with: which view, its rows, and what is being saved."""


class TimingsScreen(ShopScreen):
    """What was taken for granted, what the log says, and which of the two counts."""

    WHERE: ClassVar[Where] = "timings"
    CSS_PATH = "timings.tcss"

    about = getters.query_one("#about", Static)
    both = getters.query_one("#both", Container)
    table = getters.query_one("#rows", DataTable)
    words = getters.query_one("#detail", Static)
    plot = getters.query_one(Plot)
    no_plot = getters.query_one("#noplot", Static)
    empty = getters.query_one("#empty", Static)

    def __init__(self) -> None:
        super().__init__()
        self._which = 0
        self._plots = [0] * len(_VIEWS)
        self._view: View | None = None
        self._made_for: Basis | None = None
        self._rows: dict[Key, tuple[str, ...]] = {}
        self._filled: _Filled | None = None
        self._chosen: list[Key | None] = [None] * len(_VIEWS)
        self._saving: dict[Key, str] = {}
        self._told: object = None

    def body(self) -> Iterable[Widget]:
        """Yields the table, what is told of the chosen row, and its plot."""
        yield Static(id="about", markup=False)
        with Container(id="both"):
            with Vertical(id="left"):
                yield DataTable(id="rows", cursor_type="row", zebra_stripes=True)
                yield Static(id="detail", markup=False)
            with Vertical(id="right"):
                yield Static(id="noplot", markup=False)
                yield Plot()
        yield Static(id="empty", markup=False)

    # -- painting

    def show(self, now: datetime) -> None:
        """Paints what is known so far; the rest is read and learned beside it."""
        self.put_head("timings: what the log teaches", now)
        learner = self.shop_app.learner
        learner.look()
        session = self.session
        basis = Basis(
            learner.known,
            session.book,
            session.shop,
            session.setting.climate,
            self.shop_app.units,
            session.zone,
            now.replace(second=0, microsecond=0),
        )
        if self._made_for is None or basis.differs(self._made_for):
            self._made_for = basis
            self._view = _VIEWS[self._which](basis)
            self._rows = self._view.rows()
        self.paint()

    def paint(self) -> None:
        """Paints everything below the head."""
        view = self._view
        if view is None or not self.ready:
            return
        size = self.app.size
        self.set_class(size.width >= _WIDE, "-wide")
        self.set_class(size.height >= _TALL, "-tall")
        self.both.display = bool(self._rows)
        self.empty.display = not self._rows
        put(self.about, self.about_words(view))
        if not self._rows:
            put(self.empty, Text(view.EMPTY))
            self._filled = None  # so that the next table is given the keys again
            return
        filled = (self._which, self._rows, dict(self._saving))
        if filled != self._filled:
            self.keep_choice()
            self._filled = filled
            self.fill(view)
        self.tell(view)

    def about_words(self, view: View) -> Text:
        """What is being done, and what is on the screen."""
        words = self.shop_app.learner.doing
        shown = f"{view.NAME}; plot: {view.PLOTS[self._plots[self._which]]}"
        return Text(f" {words}; {shown}" if words else f" {shown}", no_wrap=True)

    def keep_choice(self) -> None:
        """Notes the row under the cursor: the table may not have told of it yet."""
        if self._filled is None or self._filled[0] != self._which:
            return
        keys = list(self._filled[1])
        at = self.table.cursor_row
        if 0 <= at < len(keys):
            self._chosen[self._which] = keys[at]

    def fill(self, view: View) -> None:
        """Fills the table anew; the chosen row stays the chosen one."""
        keys = list(self._rows)
        chosen = self._chosen[self._which]
        at = keys.index(chosen) if chosen in self._rows else 0
        with self.prevent(DataTable.RowHighlighted):
            self.table.clear(columns=True)
            shown = [
                (*cells[:-1], self._saving[key]) if key in self._saving else cells
                for key, cells in self._rows.items()
            ]
            cleaned = [tuple(clean(cell, _CELL) for cell in cells) for cells in shown]
            for heading, *cells in zip(view.HEADINGS, *cleaned, strict=True):
                # Said, as the table finds it out only some time after it is painted.
                width = max(map(cell_len, (heading, *cells)))
                self.table.add_column(heading, width=width)
            for row in cleaned:
                self.table.add_row(*map(Text, row))
            self.table.move_cursor(row=at)
        self._chosen[self._which] = keys[at]
        self.table.focus()

    def tell(self, view: View) -> None:
        """Tells of the chosen row, in words and as a plot."""
        key = self.key()
        if key is None:
            return
        plot = view.PLOTS[self._plots[self._which]]
        width = self.plot.size.width or self.app.size.width
        if self._told == (view, key, plot, width):
            return
        self._told = (view, key, plot, width)
        found = view.chart(key, plot, width)
        words = found if isinstance(found, str) else ""
        self.no_plot.display = bool(words)
        put(self.no_plot, Text(words))
        lines = (clean(line, _LINE) for line in view.detail(key))
        put(self.words, Text("\n".join(lines)))
        self.plot.show(None if isinstance(found, str) else found)

    def key(self) -> Key | None:
        """What the chosen row is about."""
        keys = list(self._rows)
        at = self.table.cursor_row
        return keys[at] if 0 <= at < len(keys) else None

    def on_data_table_row_highlighted(self) -> None:
        """Tells of the row the cursor has come to."""
        if self._view is not None and self._rows:
            self._chosen[self._which] = self.key()
            self.tell(self._view)

    # -- keys

    def action_view(self) -> None:
        """The next table."""
        self._which = (self._which + 1) % len(_VIEWS)
        self._made_for = None
        self.shop_app.show()

    def action_plot(self) -> None:
        """The next plot."""
        view = self._view
        if view is not None:
            at = self._plots[self._which]
            self._plots[self._which] = (at + 1) % len(view.PLOTS)
            self.paint()

    def action_accept(self) -> None:
        """From the next pour on what was learned counts."""
        self.decide("accepted")

    def action_refuse(self) -> None:
        """What was learned is not to count."""
        self.decide("refused")

    def decide(self, word: str) -> None:
        """Accepts or refuses what was learned of the chosen row."""
        key, view, book = self.key(), self._view, self.session.book
        if view is None or key is None:
            self.shop_app.refuse("nothing is chosen")
            return
        offer = view.offer(key)
        if isinstance(offer, str):
            self.shop_app.refuse(offer)
            return
        value, was, warmth = offer.value, offer.was, offer.temp_range_c
        known = (book.accepted if word == "accepted" else book.refused).get(key)
        if known is not None and alike(known.value, value):
            self.shop_app.refuse(f"{offer.words}: {word} already")
            return
        running = book.accepted.get(key)
        if running is not None and alike(running.value, value):
            self.shop_app.refuse(f"{offer.words}: accepted; u takes that back")
            return
        write = accept if word == "accepted" else refuse

        def act() -> Event:
            return write(self.session, value, was, warmth)

        counts = ", counts from the next pour on" if word == "accepted" else ""
        self.write_down(key, act, word, f"{offer.words} {word}{counts}")

    def action_take_back(self) -> None:
        """Takes back what was last accepted or refused of the chosen row."""
        key, book = self.key(), self.session.book
        if key is None:
            self.shop_app.refuse("nothing is chosen")
            return
        last = last_decision(book, key)
        if last is None:
            self.shop_app.refuse("nothing was accepted or refused here")
            return
        newest = last.event
        words = f"{newest.kind} taken back"
        self.write_down(
            key, lambda: take_back(self.session, newest.id), "taken back", words
        )

    def write_down(
        self, key: Key, act: Callable[[], Event], state: str, words: str
    ) -> None:
        """Paints what is wished of a row, and then writes it down."""
        self._saving[key] = state
        self.shop_app.say(f"{words} - saving")
        self.paint()
        self.call_after_refresh(self.written, key, act, words)

    def written(self, key: Key, act: Callable[[], Event], words: str) -> None:
        """Writes a wish down; what the disk does not take is as it was before."""
        app = self.shop_app
        try:
            act()
        except LogFault as fault:
            app.say(f"NOT SAVED: {fault}", bad=True)
        except PourbellError as error:
            app.refuse(str(error).split("\n", 1)[0])
        else:
            local = self.session.time.now().astimezone(self.session.zone)
            app.say(f"{words} - saved {local:%H:%M:%S}")
        self._saving.pop(key, None)
        app.show()

    def action_why(self) -> None:
        """Says how the figures are made."""
        from tui.screens.why import Why  # noqa: PLC0415 - opened rarely

        self.app.push_screen(Why(TITLE, parts(self.shop_app.units)))

    def action_back(self) -> None:
        """Goes back to the screen that was up before."""
        self.shop_app.go_back()
