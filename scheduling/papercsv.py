"""Reads past pours as a shop keeps them on paper: a row for each face-coat window.

All faults of the file are reported together, each with its line and column.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from functools import partial
from pathlib import Path
from typing import TypeVar

from scheduling.csvtable import CellError, Table, read_table, refuse
from scheduling.errors import Fault
from scheduling.papercolumns import CLOCKS, MEASURES, Measure, find_columns, understood
from scheduling.pastwindow import (
    LONGEST,
    TOUCHES,
    YEARS,
    PastWindow,
    apart,
    equal,
    same,
)
from scheduling.shop import Shop
from scheduling.times import left_out, shown_as
from scheduling.written import shown

_Read = TypeVar("_Read")

LIMIT_BYTES = 5_000_000
"""Largest file that is read."""

LONGEST_ZONE = 80
"""Characters of a zone's name."""

LOG = "the log"
"""Where a row may be known from, besides another line."""


_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Paper:
    """What a file holds.

    Attributes:
        fresh: Windows that are not in the log yet, each once.
        changed: Windows that take the place of what the log has of them.
        known: How many rows are in the log already, or stand in the file twice.
        assumed: In how many rows a value is the typical day's, by its name.
        passed_over: Headings of the columns that mean nothing here.
    """

    fresh: tuple[PastWindow, ...]
    changed: tuple[PastWindow, ...]
    known: int
    assumed: Mapping[str, int]
    passed_over: tuple[str, ...]

    @property
    def pours(self) -> int:
        """How many pours the fresh windows are of."""
        return len({window.pour for window in self.fresh})


def is_paper(path: Path) -> bool:
    """Whether a file has the headings of one.

    Raises:
        BadInput: There is no such file, it is too large, or not of text.
    """
    return understood(read_table(path, LIMIT_BYTES, understood).headings)


def read_paper(
    path: Path,
    shop: Shop,
    zone: tzinfo,
    *,
    now: datetime,
    known: Iterable[PastWindow] = (),
    replacing: bool = False,
) -> Paper:
    """Reads past pours from a CSV file.

    Args:
        path: At most 5 MB; columns as in HEADINGS, of which date, mix, a temperature,
            sprayed and one of the touches must be there.
        shop: Its mixes are known; its typical day stands in for humidity and wind.
        zone: Of the clock on the wall.
        now: Nothing may be later.
        known: Windows that the log has.
        replacing: Whether a row that the log has with other values is to take the place
            of what it has; else that is a fault.

    Raises:
        BadInput: Everything that is wrong, each with its line and column.
    """
    table = read_table(path, LIMIT_BYTES, understood)
    columns, passed_over = find_columns(table)
    rows = _Rows(table, columns, shop, zone, now)
    in_log = {window.key: window for window in known}
    in_file: dict[object, tuple[PastWindow, int]] = {}
    fresh: list[PastWindow] = []
    changed: list[PastWindow] = []
    repeated = 0
    for line, cells in table.rows():
        window = rows.read(line, cells)
        if window is None:
            continue
        before, first = in_file.setdefault(window.key, (window, line))
        if before is not window:
            repeated += 1
            if not same(before, window):
                rows.clash(line, window, before, f"line {first}")
            continue
        logged = in_log.get(window.key)
        if logged is None:
            fresh.append(window)
        elif replacing and not equal(logged, window):
            changed.append(window)
        elif replacing or same(logged, window):
            repeated += 1
        else:
            rows.clash(line, window, logged, LOG)
    if not rows.read_any:
        rows.faults.append(Fault(table.where, "", "", "rows under the headings"))
    refuse(table.where, rows.faults)
    return Paper(tuple(fresh), tuple(changed), repeated, rows.assumed, passed_over)


class _Rows:
    """The rows of a file while they are read.

    Attributes:
        faults: What is wrong with them.
        assumed: In how many of them a value is the typical day's.
        read_any: Whether there was any.
    """

    def __init__(
        self,
        table: Table,
        columns: Mapping[str, int],
        shop: Shop,
        zone: tzinfo,
        now: datetime,
    ) -> None:
        self.faults: list[Fault] = []
        self.assumed: Counter[str] = Counter()
        self.read_any = False
        self._table = table
        self._columns = columns
        self._shop = shop
        self._zone = zone
        self._now = now

    def fault(self, line: int, column: str, value: str, want: str) -> None:
        place = f"line {line}, {column}" if column else f"line {line}"
        self.faults.append(Fault(self._table.where, place, shown(value), want))

    def clash(
        self, line: int, window: PastWindow, before: PastWindow, where: str
    ) -> None:
        """Refuses a row whose window is known with other values."""
        want = f"{where} has {apart(before, window, self._zone)}: one of them is wrong"
        if where == LOG:
            want += "; write --replace if the file is right"
        self.fault(line, "", apart(window, before, self._zone), want)

    def read(self, line: int, row: Sequence[str]) -> PastWindow | None:
        """The window of a row, or None where something is wrong with it."""
        self.read_any = True
        before = len(self.faults)
        if any(row[len(self._table.headings) :]):
            want = f"{len(self._table.headings)} cells, as there are headings"
            self.fault(line, "", f"{len(row)} cells", want)
            return None
        cells = {
            name: row[place] if place < len(row) else ""
            for name, place in self._columns.items()
        }

        def take(column: str, reader: Callable[[str], _Read]) -> _Read | None:
            try:
                return reader(cells[column])
            except CellError as error:
                self.fault(line, column, error.value, error.want)
                return None

        day = take("date", _day)
        mix = take("mix", self._mix)
        name = take("zone", _zone_name) if "zone" in cells else ""
        measured = {
            measure.field: take(column, partial(measure.read, self._table))
            for column, measure in self._measured(cells)
        }
        times = self._times(line, cells, day) if day is not None else {}
        if len(self.faults) > before:
            return None
        typical = self._shop.climate
        usual = {"rh_pct": typical.rh_pct, "wind_kmh": typical.wind_kmh}
        assumed = usual.keys() - measured.keys()
        self.assumed.update(assumed)
        values = {**usual, **measured, **times, "rh_assumed": "rh_pct" in assumed}
        try:
            return PastWindow(day=day, mix=mix, zone=name, **values)  # type: ignore[arg-type] # all were read
        except ValueError as error:
            self.fault(line, "", "", str(error))
            return None

    def _measured(self, cells: Mapping[str, str]) -> list[tuple[str, Measure]]:
        """The columns whose number counts: a temperature must be there."""
        return [
            (column, measure)
            for column, measure in MEASURES.items()
            if column in cells and (cells[column] or measure.field == "temp_c")
        ]

    def _mix(self, text: str) -> str:
        if text not in self._shop.mixes:
            names = ", ".join(sorted(self._shop.mixes))
            raise CellError(text, f"one of the shop's mixes: {names}")
        return text

    def _times(
        self, line: int, cells: Mapping[str, str], day: date
    ) -> dict[str, datetime]:
        """The instants of a row; each not before the one before it."""
        clocks: dict[str, time] = {}
        for name in CLOCKS:
            text = cells.get(name, "")
            found = _CLOCK.fullmatch(text)
            if found is not None:
                clocks[name] = time(int(found[1]), int(found[2]))
            elif text or name == "sprayed":
                self.fault(line, name, text, "a time of the day such as 09:05 or 14:30")
        begun = clocks.get("sprayed")
        if begun is None:
            return {}
        if len(clocks) == 1 and not any(cells.get(name) for name in TOUCHES):
            self.fault(line, "", "", f"a time in one of {', '.join(TOUCHES)}")
        times: dict[str, datetime] = {}
        for name, clock in clocks.items():
            rolled = day + timedelta(days=clock < begun)
            try:
                at = self._instant(datetime.combine(rolled, clock))
                self._check(at, times, cells)
            except CellError as error:
                self.fault(line, name, cells[name], error.want)
            else:
                times[name] = at
        return times

    def _check(
        self, at: datetime, times: Mapping[str, datetime], cells: Mapping[str, str]
    ) -> None:
        sprayed = times.get("sprayed", at)
        if at - sprayed > LONGEST:
            hours = LONGEST // timedelta(hours=1)
            want = f"at most {hours} h after sprayed, {cells['sprayed']}"
            raise CellError("", f"{want}; what is earlier is of the next day")
        last = max(times, key=lambda name: times[name], default="")
        if last and at < times[last]:
            raise CellError("", f"not before {last}, {cells[last]}")
        if at > self._now:
            raise CellError("", "a time that has passed")

    def _instant(self, wall: datetime) -> datetime:
        instants = shown_as(wall, self._zone)
        if len(instants) == 1:
            return instants[0]
        if not instants:
            raise CellError("", left_out(wall, self._zone))
        local = (one.astimezone(self._zone) for one in instants)
        both = " or ".join(one.isoformat(timespec="minutes") for one in local)
        raise CellError("", f"comes twice that day: {both}; leave it out")


def _day(text: str) -> date:
    want = f"a date such as 2030-04-01, {YEARS[0]} to {YEARS[-1]}"
    try:
        day = date.fromisoformat(text) if _DATE.fullmatch(text) else None
    except ValueError:
        day = None
    if day is None or day.year not in YEARS:
        raise CellError(text, want)
    return day


def _zone_name(text: str) -> str:
    if len(text) > LONGEST_ZONE:
        raise CellError(text, f"a name of at most {LONGEST_ZONE} characters")
    return text
