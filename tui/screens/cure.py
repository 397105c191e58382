"""The cure: what the piece has become, what it will be, and what tonight changes."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterable
from datetime import datetime
from typing import ClassVar, get_args

from rich.text import Text
from textual import getters
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import Static

from scheduling.climate import COLDEST_C, WARMEST_C
from scheduling.cure import Cure, WhatIf
from scheduling.errors import PourbellError
from scheduling.shell import CoverName
from tui.curechart import ZOOMS, chart
from tui.curewords import SHORT, band, degrees, demould, strength
from tui.inmemory import Pour
from tui.keys import Where
from tui.output import length
from tui.screens.base import ShopScreen, pour_title, put
from tui.states import State
from tui.widgets.bigclock import BigClock
from tui.widgets.plot import Plot

COVERS: tuple[CoverName, ...] = get_args(CoverName)

SLOW_S = 0.1
"""How long an answer may take, s, before the screen says that it is being computed."""

_TALL = 30
"""Rows of the terminal from which there is room for more than must be."""

_WIDE = 100
"""Columns of the terminal from which the thresholds have room beside their times."""

_WHEN = 26
"""Cells of a time with its band."""

_LABEL = 15
_CELL = 15
"""Cells of the what-if table: its first column, and each cover's."""

_log = logging.getLogger(__name__)


class CureScreen(ShopScreen):
    """One pour's temperature and strength, and the coming night under each cover."""

    WHERE: ClassVar[Where] = "cure"
    CSS_PATH = "cure.tcss"

    piece = getters.query_one(BigClock)
    top = getters.query_one("#top", Horizontal)
    empty = getters.query_one("#empty", Static)
    facts = getters.query_one("#facts", Static)
    marks = getters.query_one("#marks", Static)
    plot = getters.query_one(Plot)
    warnings = getters.query_one("#warnings", Static)
    what_if = getters.query_one("#whatif", Static)

    def __init__(self) -> None:
        super().__init__()
        self._zoom = 1
        self._low_c: float | None = None
        self._under: CoverName | None = None
        self._asked: Pour | None = None
        self._cure: Cure | None = None
        self._fault = ""
        self._slow = False
        self._drawn: tuple[Cure, int, int] | None = None

    def body(self) -> Iterable[Widget]:
        """Yields the figures, the plot and the what-if table."""
        with Horizontal(id="top"):
            yield BigClock(state=State.READY, id="piece")
            yield Static(id="facts", markup=False)
            yield Static(id="marks", markup=False)
        yield Plot()
        yield Static(id="empty", markup=False)
        yield Static(id="warnings", markup=False)
        yield Static(id="whatif", markup=False)

    @property
    def cure(self) -> Cure | None:
        """The cure on the screen, None where there is none to show."""
        cure = self._cure
        return None if cure is None or cure.cast_at is None else cure

    # -- working it out

    def show(self, now: datetime) -> None:
        """Paints what is known of the pour in hand; asks anew where it has changed."""
        pour = self.shop_app.pour
        if pour is None:
            self._asked = self._cure = None
            self.put_head("cure", now)
            self.paint()
            return
        self.put_head(f"cure: {pour_title(pour)}", now)
        if self._asked is None or self._asked.name != pour.name:
            self._low_c = self._under = self._cure = None
        if self._asked is not pour:
            self._asked = pour
            self.ask()
        self.paint()

    def ask(self) -> None:
        """Has the cure of the pour in hand worked out, beside what the screen does."""
        if self._asked is not None:
            self.run_worker(self.work_out(self._asked), group="cure", exclusive=True)

    async def work_out(self, pour: Pour) -> None:
        """Works the cure out in a thread, and paints it."""
        low_c, cover = self._low_c, self._under
        late = self.set_timer(SLOW_S, self.own_up)
        try:
            found = await asyncio.to_thread(
                self.session.cure, pour.name, low_c=low_c, cover=cover
            )
        except PourbellError as error:
            self._cure, self._fault = None, str(error)
        except Exception as error:  # noqa: BLE001 - the bells must go on
            _log.exception("the cure of %s cannot be worked out", pour.name)
            self._cure, self._fault = None, f"cannot be worked out ({error})"
        else:
            self._cure, self._fault = found, ""
        finally:
            late.stop()
        self._slow = False
        self.paint()

    def own_up(self) -> None:
        """Says that the figures on the screen are not those that were asked for."""
        self._slow = True
        self.paint()

    # -- painting

    def paint(self) -> None:
        """Paints everything below the head."""
        if not self.ready:
            return
        self.set_class(self.app.size.height >= _TALL, "-tall")
        pour, cure = self._asked, self.cure
        self.top.display = self.plot.display = cure is not None
        self.empty.display = cure is None
        self.warnings.display = bool(cure and cure.warnings)
        self.what_if.display = bool(cure and cure.what_if)
        if pour is None or cure is None:
            put(self.empty, self.empty_words(pour))
            return
        value = self.shop_app.units.temperature_value(cure.piece_c)
        self.piece.text = f"{value:.0f}"
        put(self.facts, self.fact_words(cure))
        put(self.marks, self.mark_words(cure))
        put(self.warnings, Text("\n".join(f"! {one}" for one in cure.warnings)))
        put(self.what_if, self.what_if_words(pour, cure))
        self.draw(pour, cure)

    def draw(self, pour: Pour, cure: Cure) -> None:
        """Draws the chart where it is not the one on the screen."""
        width = self.app.size.width
        drawn = self._drawn
        if drawn and drawn[0] is cure and drawn[1:] == (self._zoom, width):
            return
        self._drawn = (cure, self._zoom, width)
        self.plot.show(
            chart(
                cure,
                ZOOMS[self._zoom],
                zone=self.session.zone,
                units=self.shop_app.units,
                hours=pour.setting.hours,
                width=width,
            )
        )

    def empty_words(self, pour: Pour | None) -> Text:
        """Why there is no cure to show."""
        if pour is None:
            words = "No pour is running. Press p to start one."
        elif self._fault:
            words = f"! {self._fault}"
        elif self._cure is not None:
            words = "Not cast yet: the cure begins when the last coat is on."
        else:
            words = "computing ..." if self._slow else ""
        return Text(f"\n  {words}", style="bold")

    def fact_words(self, cure: Cure) -> Text:
        """What the piece is now."""
        units = self.shop_app.units
        text = Text(no_wrap=True)
        text.append(f"piece {units.temperature(cure.piece_c)}\n", style="bold")
        text.append(f"{strength(cure.strength_mpa, units)}\n", style="bold")
        text.append(f"equivalent age {_hours(cure.equivalent_age_h)}\n")
        text.append(f"age {_hours(cure.age_h)}\n")
        text.append("computing ..." if self._slow else "figures are indicative")
        return text

    def mark_words(self, cure: Cure) -> Text:
        """When the piece is ready for what, P50 and the band."""
        wide = self.app.size.width >= _WIDE
        text = Text(no_wrap=True)
        for mark in cure.marks:
            at, ends = band(mark.at, cure.at, self.session.zone)
            text.append(f"{mark.what:<8}")
            text.append(at, style="bold")
            text.append(f" {ends}".ljust(_WHEN - len(at)) if wide else f" {ends}")
            text.append(f"{mark.words}\n" if wide else "\n")
        text.rstrip()
        return text

    def what_if_words(self, pour: Pour, cure: Cure) -> Text:
        """The coming night under each cover, side by side."""
        units, zone, hours = self.shop_app.units, self.session.zone, pour.setting.hours
        low_c = cure.low_c if self._low_c is None else self._low_c
        chosen = self._under or cure.cover
        ready = [demould(one, cure.at, hours, zone) for one in cure.what_if]
        rows = [
            (
                f"tonight {degrees(units, low_c)}",
                [_marked(one, chosen) for one in cure.what_if],
            ),
            ("demould", [when for when, _ in ready]),
            ("opening", [opening for _, opening in ready]),
        ]
        if self.has_class("-tall"):
            ends = [(one.coldest_c, one.warmest_c) for one in cure.what_if]
            rows.append(("piece", [degrees(units, *both) for both in ends]))
        text = Text(no_wrap=True)
        for number, (label, cells) in enumerate(rows):
            text.append(f"{label:<{_LABEL}}", style="" if number else "bold")
            for one, words in zip(cure.what_if, cells, strict=True):
                style = "bold" if one.cover == chosen else ""
                text.append(f"{words:<{_CELL}}", style=style)
            text.append("\n")
        text.rstrip()
        return text

    # -- keys

    def action_low(self, by: int) -> None:
        """Supposes another low of tonight, by whole degrees of the shop's units."""
        cure, units = self.in_form(), self.shop_app.units
        if cure is None:
            return
        low_c = cure.low_c if self._low_c is None else self._low_c
        value = round(units.temperature_value(low_c)) + by
        low_c = units.from_temperature_value(value)
        if not COLDEST_C <= low_c <= WARMEST_C:
            self.shop_app.refuse(f"{units.temperature(low_c)} is no night's low")
            return
        self._low_c = low_c
        self.paint()
        self.ask()

    def in_form(self) -> Cure | None:
        """The cure on the screen, where there is still something to suppose of it."""
        if self.cure is not None and not self.cure.what_if:
            self.shop_app.refuse("demoulded: nothing to suppose any more")
            return None
        return self.cure

    def action_cover(self) -> None:
        """Supposes the next cover over the piece."""
        cure = self.in_form()
        if cure is None:
            return
        chosen = self._under or cure.cover
        self._under = COVERS[(COVERS.index(chosen) + 1) % len(COVERS)]
        self.paint()
        self.ask()

    def action_as_it_is(self) -> None:
        """Supposes nothing any more."""
        self._low_c = self._under = None
        self.ask()

    def action_zoom(self, by: int) -> None:
        """Shows more or less time."""
        self._zoom = max(0, min(len(ZOOMS) - 1, self._zoom - by))
        self.paint()

    def action_other(self, by: int) -> None:
        """Shows another pour."""
        self.shop_app.other_pour(by)

    def action_why(self) -> None:
        """Says what the figures are worth."""
        from tui.screens.why import Why  # noqa: PLC0415 - opened rarely

        cure = self.cure
        if cure is None:
            return
        title = "The figures are indicative, and this is why."
        # Warnings are said whole here, as no line of the screen has room.
        parts = (*(f"! {one}" for one in cure.warnings), *cure.explanation)
        rows = (f"{one.what:<8}{one.words}: {one.standing}" for one in cure.marks)
        self.app.push_screen(Why(title, parts, "Thresholds", rows))

    def action_back(self) -> None:
        """Goes back to the screen that was up before."""
        self.shop_app.go_back()


def _hours(hours: float) -> str:
    return length(hours * 60)


def _marked(one: WhatIf, chosen: CoverName) -> str:
    name = SHORT[one.cover]
    return f"[{name}]" if one.cover == chosen else f" {name}"
