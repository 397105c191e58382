"""The log: what was planned, what was forecast, what it really took."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import ClassVar

from rich.text import Text
from textual import getters
from textual.widget import Widget
from textual.widgets import DataTable, Static

from scheduling.review import Group, Row, group
from tui.keys import Where
from tui.notify import clean
from tui.questions import ask_time
from tui.screens.base import ShopScreen, put

_GROUPED = ("times", "planned", "actual", "ratio", "from", "to")
_SINGLE = ("step", "zone", "started", "planned", "forecast", "actual", "ratio")
_WIDE = 100
"""Cells from which there is room for the pour's name."""

_MOST_ROWS = 300
"""Lines of single steps; more would keep a key waiting while they are filled in."""

_LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)

_WAYS = ("", "step", "job")
"""Ways to take rows together: not at all, by step, by job."""


class LogScreen(ShopScreen):
    """Actual against planned, by job and by step."""

    WHERE: ClassVar[Where] = "log"
    CSS_PATH = "logscreen.tcss"

    table = getters.query_one("#rows", DataTable)
    about = getters.query_one("#about", Static)

    def __init__(self) -> None:
        super().__init__()
        self._by = ""
        self._only: str | None = None
        self._shown: object = None
        self._again = False
        self._words = ""
        self._rows: list[Row] = []
        self._visible: list[Row] = []

    def body(self) -> Iterable[Widget]:
        """Yields the table and a line about it."""
        yield Static(id="about", markup=False)
        yield DataTable(id="rows", cursor_type="row", zebra_stripes=True)

    def show(self, now: datetime) -> None:
        """Paints the log; the table is made again only when its rows changed."""
        self.put_head("log: actual against planned", now)
        reviewer = self.shop_app.reviewer
        reviewer.look()
        shown = (reviewer.version, self._by, self._only)
        if shown != self._shown:
            rows = reviewer.rows()
            # While years are being read the table is made anew only now and then.
            if not reviewer.reading or len(rows) >= 2 * len(self._rows) or self._again:
                self._shown, self._again = shown, False
                self._rows = rows
                self.fill()
        reading = f" {reviewer.reading};" if reviewer.reading else ""
        put(self.about, Text(reading + self._words))

    def fill(self) -> None:
        """Fills the table anew, the cursor where it was."""
        rows = [row for row in self._rows if self._only in (None, row.step)]
        at = self.table.cursor_row
        self.table.clear(columns=True)
        if self._by:
            self.fill_groups(self._by, group(rows, self._by))
        else:
            self.fill_rows(rows)
        self.table.move_cursor(row=min(at, max(0, self.table.row_count - 1)))
        self.table.focus()
        done = [row for row in rows if row.ratio is not None]
        words = f" {len(rows)} marked, {len(done)} with start and end"
        if self._only:
            words += f", only {self._only}"
        if not self._by and len(rows) > _MOST_ROWS:
            words += f", the newest {_MOST_ROWS} shown"
        jobs = "; ".join(
            f"{one.name} x{one.ratio:.2f}" for one in group(rows, "job")[:4]
        )
        words += "; minutes"
        self._words = words + (f". Actual over planned: {jobs}" if jobs else "")

    def fill_rows(self, rows: list[Row]) -> None:
        """One line for each step and wait, the newest pour first."""
        units = self.shop_app.units
        wide = ("pour",) if self.app.size.width >= _WIDE else ()
        self.table.add_columns(*_SINGLE, units.temperature_unit, *wide)
        self._visible = sorted(
            rows, key=lambda row: row.started or row.finished or _LONG_AGO, reverse=True
        )[:_MOST_ROWS]
        for row in self._visible:
            local = row.started.astimezone(self.session.zone) if row.started else None
            self.table.add_row(
                Text(clean(row.step)),
                Text(clean(row.zone or row.found)),
                Text(f"{local.day} {local:%b %H:%M}" if local else "-"),
                _tenth(row.planned_min),
                _tenth(row.forecast_min),
                _tenth(row.actual_min),
                Text(f"x{row.ratio:.2f}" if row.ratio else "-", justify="right"),
                _tenth(
                    None if row.temp_c is None else units.temperature_value(row.temp_c)
                ),
                *([Text(clean(row.pour))] if wide else []),
            )

    def fill_groups(self, by: str, groups: list[Group]) -> None:
        """One line for each step or each job, all pours together."""
        self.table.add_columns(by, *_GROUPED)
        self._visible = []
        for one in groups:
            self.table.add_row(
                Text(clean(one.name)),
                Text(str(one.count), justify="right"),
                _tenth(one.planned_min),
                _tenth(one.actual_min),
                *(
                    Text(f"x{ratio:.2f}", justify="right")
                    for ratio in (one.ratio, one.low_ratio, one.high_ratio)
                ),
            )

    def again(self) -> None:
        """Fills the table because what is wanted changed."""
        self._again = True
        self._shown = None
        self.shop_app.show()

    # -- keys

    def action_group(self) -> None:
        """Shows every row, then by step, then by job."""
        self._by = _WAYS[(_WAYS.index(self._by) + 1) % len(_WAYS)]
        self.again()

    def action_narrow(self) -> None:
        """Shows only the chosen step, or all again."""
        row = self.row()
        self._only = None if self._only or row is None else row.step
        self.again()

    def row(self) -> Row | None:
        """The row under the cursor."""
        at = self.table.cursor_row
        return self._visible[at] if 0 <= at < len(self._visible) else None

    def action_correct(self) -> None:
        """Asks for the right time of the row's end."""
        row = self.row()
        if row is None or not row.event:
            self.shop_app.refuse("choose a step that was marked; a wait has no mark")
            return
        ask_time(self.shop_app, row)


def _tenth(value: float | None) -> Text:
    """A number to a tenth."""
    if value is None:
        return Text("-", justify="right")
    return Text(f"{value:.1f}", justify="right")
