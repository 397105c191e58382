"""The pour clock: one pour, readable at three metres, one key for each act."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import ClassVar

from rich.cells import cell_len
from rich.text import Text
from textual import getters
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import Static

from scheduling.process import StepKey
from scheduling.timeline import OVER, Span, Status
from tui import questions
from tui.care import care
from tui.focus import Focus, countdown, focus, in_minutes, own_standing
from tui.inmemory import Pour
from tui.keys import Where
from tui.pourtables import PourTables, in_time, is_covered
from tui.screens.base import ShopScreen, pour_title, put
from tui.states import LOOKS, State
from tui.widgets.bigclock import BigClock


class PourClockScreen(ShopScreen):
    """One pour: the big clock, its zones, its steps, its next bells."""

    WHERE: ClassVar[Where] = "clock"
    CSS_PATH = "pourclock.tcss"

    title_line = getters.query_one("#focus", Static)
    big = getters.query_one(BigClock)
    zones = getters.query_one("#zones", Static)
    steps = getters.query_one("#steps", Static)
    bells = getters.query_one("#bells", Static)
    caution = getters.query_one("#caution", Static)

    def __init__(self) -> None:
        super().__init__()
        self._chosen: StepKey | None = None
        self._zone: str | None = None
        self._tabled: tuple[Pour | None, object] = (None, None)

    def body(self) -> Iterable[Widget]:
        """Yields the clock above, the tables below."""
        yield Static(id="focus", markup=False)
        yield BigClock()
        yield Static(id="zones", markup=False)
        with Horizontal(id="below"):
            yield Static(id="steps", markup=False)
            with Vertical(id="side"):
                yield Static(id="bells", markup=False)
                yield Static(id="caution", markup=False)

    # -- what is chosen

    @property
    def pour(self) -> Pour | None:
        """The pour on the clock."""
        return self.shop_app.pour

    def chosen(self, pour: Pour) -> Span | None:
        """The step that space acts on: the one chosen, or else the next."""
        if self._chosen is not None:
            span = pour.timeline.span(self._chosen)
            if span is not None and span.status not in OVER:
                return span
            self._chosen = None
        return pour.timeline.next_step()

    def touched_zone(self, pour: Pour) -> str | None:
        """The zone the next touch answers: the one chosen, or the oldest waiting."""
        waiting = pour.timeline.zones_to_touch()
        if self._zone in waiting:
            return self._zone
        return waiting[0] if waiting else None

    def touched_wait(self, pour: Pour) -> StepKey | None:
        """The step whose running wait the next touch answers, where no zone waits."""
        span = self.chosen(pour)
        waits = (wait.holds for wait in pour.timeline.waits_to_touch())
        return next((key for key in waits if span and key == span.key), None)

    # -- painting

    def show(self, now: datetime) -> None:
        """Paints the pour as of an instant."""
        pour = self.pour
        if pour is None:
            self.put_head("pour clock", now)
            put(self.title_line, Text(" No pour is running. Press p to start one."))
            self.big.text, self.big.state = "", State.WAITING
            for widget in (self.zones, self.steps, self.bells, self.caution):
                put(widget, Text(""))
            self._tabled = None, None
            return
        self.put_head(pour_title(pour), now)
        found = focus(pour.timeline, now)
        self.show_focus(found, own_standing(pour.timeline, found.span), now)
        # The tables tell whole minutes: the countdown alone changes every second.
        seen = (
            now.replace(second=0, microsecond=0),
            (self._chosen, self._zone),
            (self.app.size, self.steps.size, self.app.theme),
        )
        if self._tabled[0] is not pour or self._tabled[1] != seen:
            self._tabled = pour, seen
            self.show_tables(pour, now)

    def show_tables(self, pour: Pour, now: datetime) -> None:
        """Paints zones, steps, bells and the caution of the chosen step."""
        tables = PourTables(pour, now, self.session.zone, self.ink)
        span, size = self.chosen(pour), self.steps.size
        rows, width = max(3, size.height or 6), max(20, size.width or 48)
        put(self.zones, tables.zones(self.touched_zone(pour)))
        put(self.steps, tables.steps(span, rows, width))
        # Where the side is low, the caution below must keep its room.
        put(self.bells, tables.bells(4 if self.app.size.height >= 30 else 2))
        units = self.shop_app.units
        words = care(span, pour.timeline.process, units) if span else ""
        put(self.caution, Text(f"! {words}" if words else ""))

    def show_focus(self, found: Focus, standing: str, now: datetime) -> None:
        """Paints the big clock, its title, and on the right where it is from."""
        look = LOOKS[found.state]
        left = in_minutes(found.until, now)
        line = f" {look.glyph} {found.title} {left}"
        title = Text(line, style="bold")
        room = self.app.size.width - 3 - cell_len(line) - cell_len(standing)
        if standing and room > 0:
            title.append(f"{' ' * room}{standing}", style="not bold")
        put(self.title_line, title)
        self.big.state = found.state
        self.big.text = "DONE" if found.span is None else countdown(found.until, now)

    def ink(self, state: State) -> str:
        """The colour a state is written in."""
        return self.app.theme_variables.get(f"{LOOKS[state].style}-ink", "")

    # -- keys

    def action_go_on(self) -> None:
        """Starts the chosen step, or finishes it."""
        pour = self.pour
        span = self.chosen(pour) if pour else None
        if pour is None or span is None:
            self.shop_app.refuse("nothing left to do on this pour")
            return
        running = span.status is Status.RUNNING
        kind = "finished" if running else "started"
        self.shop_app.wish(
            lambda: self.session.mark(
                pour.name, "finished" if running else "started", span.key
            ),
            f"{span.key} {kind}",
        )

    def action_skip(self) -> None:
        """Passes over the chosen step."""
        pour = self.pour
        span = self.chosen(pour) if pour else None
        if pour is not None and span is not None:
            self.shop_app.wish(
                lambda: self.session.mark(pour.name, "skipped", span.key),
                f"{span.key} skipped",
            )

    def action_touch(self, feel: str) -> None:
        """Answers a touch test."""
        pour = self.pour
        if pour is None:
            self.shop_app.refuse("no pour is running")
            return
        zone, self._zone = self._zone or self.touched_zone(pour), None
        where: str | StepKey | None = zone
        if zone is None:
            where = self.touched_wait(pour)
            if pour.timeline.curing() and (where is None or self._chosen is None):
                self.try_demould(pour, feel)
                return
        self.shop_app.wish(
            lambda: self.session.touch(pour.name, feel, where), f"{where}: {feel}"
        )

    def try_demould(self, pour: Pour, feel: str) -> None:
        """Answers whether the piece may leave its form, where no zone is waiting."""
        if feel == "ready":
            questions.ask_about(self.shop_app, questions.demould)
        elif feel == "soft":
            self.shop_app.wish(
                lambda: self.session.try_demould(pour.name, ready=False),
                "demould not ready",
            )
        else:
            self.shop_app.refuse("the demould is not ready (s) or ready (r)")

    def action_zone(self, number: int) -> None:
        """Chooses a zone for the next touch."""
        pour = self.pour
        zones = pour.timeline.process.zones if pour else ()
        if number > len(zones):
            self.shop_app.refuse(f"there is no zone {number}")
            return
        wanted = zones[number - 1]
        if pour is None or wanted not in pour.timeline.zones_to_touch():
            self.shop_app.refuse(f"{wanted} is not waiting for lift 1")
            return
        self._zone = wanted
        words = f"zone {number}, {self._zone}: s soft, r ready, g going off, x gone"
        self.shop_app.say(words)
        self.shop_app.show()

    def action_choose(self, by: int) -> None:
        """Moves the choice among the steps still to do."""
        pour = self.pour
        if pour is None:
            return
        todo = [span for span in in_time(pour) if span.status not in OVER]
        chosen = self.chosen(pour)
        if not todo or chosen is None:
            return
        at = todo.index(chosen)
        self._chosen = todo[max(0, min(len(todo) - 1, at + by))].key
        self.shop_app.show()

    def action_undo(self) -> None:
        """Takes the newest mark back."""
        if self.pour is not None:
            name = self.pour.name
            self.shop_app.wish(lambda: self.session.undo(name), "taken back")

    def zone_wish(self, kind: str, words: str) -> None:
        """Records something done to the zone that would be touched next."""
        pour = self.pour
        zone = self.touched_zone(pour) if pour else None
        if pour is None or zone is None:
            self.shop_app.refuse("no sprayed zone is waiting for lift 1")
            return
        self._zone = None
        self.shop_app.wish(
            lambda: self.session.zone_event(pour.name, kind, zone),  # type: ignore[arg-type]
            f"{zone} {words}",
        )

    def action_fog(self) -> None:
        """Records a fogging."""
        self.zone_wish("fogged", "fogged")

    def action_cover(self) -> None:
        """Records plastic over a zone, or its removal."""
        pour = self.pour
        zone = self.touched_zone(pour) if pour else None
        if pour is not None and zone is not None and is_covered(pour, zone):
            self.zone_wish("uncovered", "uncovered")
        else:
            self.zone_wish("covered", "covered")

    def action_respray(self) -> None:
        """Records that a zone was sprayed anew."""
        self.zone_wish("resprayed", "sprayed anew: its clock starts again")

    def action_other(self, by: int) -> None:
        """Shows another pour."""
        self._chosen = self._zone = None
        self.shop_app.other_pour(by)

    def action_note(self) -> None:
        """Asks for a line of text."""
        questions.ask_about(self.shop_app, questions.note)

    def action_defect(self) -> None:
        """Asks what is wrong with the piece, then where."""
        from tui.screens.defectlist import DefectList  # noqa: PLC0415 - opened rarely

        pour = self.pour
        if pour is None:
            self.shop_app.refuse("no pour is running")
            return
        zone, self._zone = self.touched_zone(pour) or "", None

        def chosen(code: str | None) -> None:
            if code is not None:
                questions.ask(
                    self.shop_app, questions.defect(self.shop_app, pour, code, zone)
                )

        self.app.push_screen(DefectList(), chosen)

    def action_read(self) -> None:
        """Asks for a reading."""
        questions.ask_about(self.shop_app, questions.reading)

    def action_hands(self) -> None:
        """Asks who is in."""
        questions.ask_about(self.shop_app, questions.hands)

    def action_correct(self) -> None:
        """Asks for the right time of the newest mark."""
        questions.ask_time(self.shop_app)
