"""Reads the temperatures that a logger recorded, one history for each of its probes.

All or nothing: a file with a wrong row is refused, and what was taken for granted about
one that is read is said in its notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from itertools import compress, pairwise
from pathlib import Path

import numpy as np

from scheduling.csvtable import PROBE_FAULTS_C, CellError, Table, read_table, refuse
from scheduling.errors import BadInput, Fault
from scheduling.headings import Probe, TimeColumns, find_probes, find_time
from scheduling.history import COLDEST_C, GAP_H, WARMEST_C, History
from scheduling.stamps import Stamped, elapsed_hours, read_stamps
from scheduling.written import shown

LIMIT_BYTES = 50_000_000
"""Largest file that is read: some two million rows."""


@dataclass(frozen=True, slots=True)
class Channel:
    """What one probe recorded.

    Attributes:
        name: The heading of its column.
        history: Its readings.
    """

    name: str
    history: History


@dataclass(frozen=True, slots=True)
class Recording:
    """A logger's file, read.

    Attributes:
        channels: One for each probe with readings, in the order of the columns.
        notes: What was taken for granted or passed over, in sentences.
        local: Whether times without an offset were taken in the given zone.
    """

    channels: tuple[Channel, ...]
    notes: tuple[str, ...]
    local: bool


def read_recording(
    path: Path, tz: tzinfo, *, limit_h: float = GAP_H, only: str | None = None
) -> Recording:
    """Reads the temperature histories in a logger's CSV file.

    Columns are found by their headings. The time stands in one column, in a date and
    a time, or as time elapsed with its unit; every column with a temperature in degC or
    degF is a probe, but for dew points, alarms, lows and highs. A blank cell is no
    reading. Rows may run newest first. A row earlier than the one before is put in its
    place, a row that repeats another counts once, and two temperatures of one probe
    at one time are refused. Time stamps are read as ``read_stamps`` says.

    Args:
        path: A text file of at most 50 MB; cells parted by comma, semicolon or tab.
        tz: Zone of the times that name none.
        limit_h: Longest time between two readings that is counted, h.
        only: Heading of the one probe to read, or how it begins; None reads all.

    Returns:
        The recording, with at least one channel.

    Raises:
        BadInput: What is wrong, each with its line.
    """
    table = read_table(path, LIMIT_BYTES, _understood)
    time, probes = _columns(table)
    if only is not None:
        probes = [_chosen(table.where, probes, only)]
    rows = list(table.rows())
    reader = _Rows(table, time, probes, tz)
    reader.read(rows)
    channels = [
        Channel(series.probe.name, series.history(limit_h, dated=not time.elapsed))
        for series in reader.series
        if len(series.at_s) > 1
    ]
    if not channels:
        want = "at least two readings under the headings"
        raise BadInput(Fault(table.where, "", "", want))
    return Recording(tuple(channels), tuple(reader.notes()), reader.local)


@dataclass(slots=True)
class _Series:
    """The readings of one probe on their way to a history."""

    probe: Probe
    at_s: list[float] = field(default_factory=list)
    temps_c: list[float] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    blank: int = 0
    moved: int = 0
    repeated: int = 0

    def settle(self) -> tuple[int, int] | None:
        """Puts the readings in order; returns the lines of two that disagree."""
        if all(early < late for early, late in pairwise(self.at_s)):
            return None
        self.moved = sum(early > late for early, late in pairwise(self.at_s))
        order = sorted(range(len(self.at_s)), key=self.at_s.__getitem__)
        keep = [True] * len(order)
        for place, (this, other) in enumerate(pairwise(order), 1):
            if self.at_s[this] == self.at_s[other]:
                if self.temps_c[this] != self.temps_c[other]:
                    early, late = sorted((self.lines[this], self.lines[other]))
                    return early, late
                keep[place] = False
        kept = list(compress(order, keep))
        self.repeated = len(order) - len(kept)
        self.at_s = [self.at_s[place] for place in kept]
        self.temps_c = [self.temps_c[place] for place in kept]
        return None

    def history(self, limit_h: float, *, dated: bool) -> History:
        start = datetime.fromtimestamp(self.at_s[0], UTC) if dated else None
        hours = (np.array(self.at_s) - self.at_s[0]) / 3600
        return History(hours, self.temps_c, limit_h=limit_h, start=start)


class _Rows:
    """Goes through the rows of a table once."""

    def __init__(
        self, table: Table, time: TimeColumns, probes: Sequence[Probe], tz: tzinfo
    ) -> None:
        self.table = table
        self.time = time
        self.tz = time.zone or tz
        self.series = [_Series(probe) for probe in probes]
        self.faults: list[Fault] = []
        self.stamped: Stamped | None = None

    @property
    def local(self) -> bool:
        """Whether some time was taken in the zone that the caller gave."""
        stamped = self.stamped
        return stamped is not None and stamped.local and self.time.zone is None

    def read(self, rows: list[tuple[int, list[str]]]) -> None:
        texts = [
            " ".join(_cell(row, column) for column in self.time.columns)
            for _, row in rows
        ]
        if self.time.elapsed:
            instants = [self.elapsed_s(text) for text in texts]
        else:
            self.stamped = read_stamps(texts, self.tz)
            instants = self.stamped.instants
            if self.stamped.backwards:
                rows, instants = rows[::-1], instants[::-1]
        for (line, row), at_s in zip(rows, instants, strict=True):
            try:
                if isinstance(at_s, CellError):
                    raise at_s
                for series in self.series:
                    self.add(series, line, at_s, _cell(row, series.probe.column))
            except CellError as error:
                self.fault(line, shown(error.value), error.want)
        for series in self.series:
            if not self.faults and (clash := series.settle()):
                early, late = clash
                want = f"one temperature at one time, and line {early} has another"
                self.fault(late, shown(series.probe.name), want)
        refuse(self.table.where, self.faults)

    def add(self, series: _Series, line: int, at_s: float, text: str) -> None:
        if not text:
            series.blank += 1
            return
        series.temps_c.append(self.temperature(series.probe, text))
        series.at_s.append(at_s)
        series.lines.append(line)

    def elapsed_s(self, text: str) -> float | CellError:
        hours = elapsed_hours(text)
        if hours is None:
            try:
                number = self.table.number(text)
            except CellError as error:
                return error
            if self.time.unit_h is None:
                want = 'its unit in the heading, such as "Elapsed (h)"'
                return CellError(text, want)
            hours = number * self.time.unit_h
        return hours * 3600

    def temperature(self, probe: Probe, text: str) -> float:
        low, high, unit = COLDEST_C, WARMEST_C, "degC"
        if probe.fahrenheit:
            low, high, unit = low * 1.8 + 32, high * 1.8 + 32, "degF"
        want = f"a temperature from {low:g} to {high:g} {unit}, the number alone"
        try:
            value = self.table.number(text)
        except CellError as error:
            raise CellError(text, want) from error
        temp_c = round((value - 32) / 1.8, 6) if probe.fahrenheit else value
        if temp_c in PROBE_FAULTS_C:
            raise CellError(text, "a temperature; this is what a faulty probe sends")
        if not low <= value <= high:
            raise CellError(text, want)
        return temp_c

    def fault(self, line: int, value: str, want: str) -> None:
        self.faults.append(Fault(self.table.where, f"line {line}", value, want))

    def notes(self) -> list[str]:
        """What was taken for granted or passed over."""
        said = []
        if self.stamped is not None and self.stamped.order is not None:
            said.append(f"dates are read as {self.stamped.order}")
        if self.stamped is not None and self.stamped.kept is not None:
            kept = self.stamped.kept
            said.append(f"the logger's clock was not changed, it kept {kept}")
        for series in self.series:
            name = series.probe.name
            if not series.probe.told:
                said.append(f"{name}: no unit in the heading, degC is taken")
            for count, what in (
                (series.blank, "without a reading, passed over"),
                (series.moved, "earlier than the one before, put in order"),
                (series.repeated, "the same as another, counted once"),
            ):
                if count:
                    rows = "1 row" if count == 1 else f"{count} rows"
                    said.append(f"{name}: {rows} {what}")
            if len(series.at_s) < 2:
                said.append(f"{name}: fewer than two readings, left out")
        return said


def _understood(headings: Sequence[str]) -> bool:
    if not find_probes(headings):
        return False
    try:
        return find_time(headings) is not None
    except ValueError:  # too many columns of time are still headings
        return True


def _columns(table: Table) -> tuple[TimeColumns, list[Probe]]:
    def fault(value: str, want: str) -> BadInput:
        return BadInput(Fault(table.where, "headings", shown(value), want))

    try:
        time = find_time(table.headings)
    except ValueError as error:
        raise fault(str(error), "one time column") from error
    probes = find_probes(table.headings)
    if time is None or not probes:
        lacking = []
        if time is None:
            lacking.append('a time column ("Time", "Date" and "Time", "Elapsed (h)")')
        if not probes:
            lacking.append('a temperature column ("Temp (°C)", "Temp (°F)")')
        raise fault(", ".join(table.headings), " and ".join(lacking))
    return time, probes


def _chosen(where: str, probes: Sequence[Probe], name: str) -> Probe:
    wanted = name.casefold()
    exact = [probe for probe in probes if probe.name.casefold() == wanted]
    begun = [probe for probe in probes if probe.name.casefold().startswith(wanted)]
    found = exact or begun
    if len(found) != 1:
        known = ", ".join(f'"{probe.name}"' for probe in probes)
        raise BadInput(Fault(where, "channel", shown(name), f"one of {known}"))
    return found[0]


def _cell(row: Sequence[str], column: int) -> str:
    return row[column] if column < len(row) else ""
