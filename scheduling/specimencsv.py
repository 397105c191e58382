"""Reads strength tests: age, strength and curing temperature of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from scheduling.csvtable import CellError, Table, read_table, refuse
from scheduling.errors import BadInput, Fault
from scheduling.headings import (
    Probe,
    elapsed_unit,
    find_age,
    find_probes,
    find_strength,
    strength_unit,
)
from scheduling.history import COLDEST_C, WARMEST_C
from scheduling.written import shown

LIMIT_BYTES = 1_000_000
"""Largest file that is read."""

OLDEST_D = 3653.0
WEAKEST_MPA = 0.1
STRONGEST_MPA = 250.0
"""Ages (d) and strengths (MPa) beyond these are taken for a slip."""

_AGE_WANT = 'an age column with its unit, such as "Age (h)" or "Age (d)"'
_STRENGTH_WANT = (
    'a strength column with its unit, such as "Strength (MPa)" or "Strength (psi)"'
)


@dataclass(frozen=True, slots=True)
class Specimens:
    """The tests of a file.

    Attributes:
        tests: Ages (d) and strengths (MPa) by curing temperature, degC; by None where
            the file has no temperatures.
        age_heading: Heading of the column of ages.
    """

    tests: dict[float | None, tuple[list[float], list[float]]]
    age_heading: str


@dataclass(frozen=True, slots=True)
class _Columns:
    age: int
    age_d: float
    strength: int
    strength_mpa: float
    probe: Probe | None


def read_specimens(path: Path) -> Specimens:
    """Reads strength tests from a CSV file.

    Args:
        path: At most 1 MB, with an age in h or d, a strength in MPa or psi, and perhaps
            the curing temperature in degC or degF, each named by its heading.

    Raises:
        BadInput: What is wrong, each with its line.
    """
    table = read_table(path, LIMIT_BYTES, _understood)
    columns = _columns(table)
    tests: dict[float | None, tuple[list[float], list[float]]] = {}
    faults = []
    for line, row in table.rows():
        try:
            temp_c, age_d, strength = _test(table, columns, row)
        except CellError as error:
            faults.append(
                Fault(table.where, f"line {line}", shown(error.value), error.want)
            )
        else:
            ages, strengths = tests.setdefault(temp_c, ([], []))
            ages.append(age_d)
            strengths.append(strength)
    if not tests and not faults:
        faults.append(Fault(table.where, "", "", "tests under the headings"))
    refuse(table.where, faults)
    return Specimens(tests, table.headings[columns.age])


def _test(
    table: Table, columns: _Columns, row: Sequence[str]
) -> tuple[float | None, float, float]:
    """Temperature (degC), age (d) and strength (MPa) of one row."""
    age_d = _value(table, row, columns.age, columns.age_d, (0.0, OLDEST_D), "d")
    limits = (WEAKEST_MPA, STRONGEST_MPA)
    per = columns.strength_mpa
    strength = _value(table, row, columns.strength, per, limits, "MPa")
    if not age_d > 0:
        raise CellError(_cell(row, columns.age), "an age above 0")
    if columns.probe is None:
        return None, age_d, strength
    text = _cell(row, columns.probe.column)
    temp_c = table.number(text)
    if columns.probe.fahrenheit:
        temp_c = round((temp_c - 32) / 1.8, 3)
    if not COLDEST_C <= temp_c <= WARMEST_C:
        raise CellError(text, f"{COLDEST_C:g} to {WARMEST_C:g} degC")
    return temp_c, age_d, strength


def _value(
    table: Table,
    row: Sequence[str],
    column: int,
    unit: float,
    limits: tuple[float, float],
    name: str,
) -> float:
    text = _cell(row, column)
    value = table.number(text) * unit
    low, high = limits
    if not low <= value <= high:
        raise CellError(text, f"{low:g} to {high:g} {name}")
    return value


def _understood(headings: Sequence[str]) -> bool:
    try:
        return find_age(headings) is not None and find_strength(headings) is not None
    except ValueError:  # too many columns are still headings
        return True


def _columns(table: Table) -> _Columns:
    faults = []
    where, titles = table.where, table.headings
    found = []
    for find, want in ((find_age, _AGE_WANT), (find_strength, _STRENGTH_WANT)):
        try:
            column = find(titles)
        except ValueError as error:
            faults.append(Fault(where, "headings", shown(str(error)), "one of them"))
            continue
        if column is None:
            faults.append(Fault(where, "headings", shown(", ".join(titles)), want))
        else:
            found.append(column)
    probes = [one for one in find_probes(titles) if one.column not in found]
    if len(probes) > 1:
        names = ", ".join(probe.name for probe in probes)
        faults.append(Fault(where, "headings", shown(names), "one of them"))
    elif probes and not probes[0].told:
        want = 'its unit in the heading, such as "Curing temp (°C)"'
        faults.append(Fault(where, "headings", shown(probes[0].name), want))
    if faults:
        raise BadInput(*faults)
    age, strength = found
    age_h, mpa = elapsed_unit(titles[age]), strength_unit(titles[strength])
    if not age_h:
        faults.append(Fault(where, "headings", shown(titles[age]), _AGE_WANT))
    if mpa is None:
        faults.append(Fault(where, "headings", shown(titles[strength]), _STRENGTH_WANT))
    if not age_h or mpa is None:
        raise BadInput(*faults)
    return _Columns(age, age_h / 24, strength, mpa, probes[0] if probes else None)


def _cell(row: Sequence[str], column: int) -> str:
    return row[column] if column < len(row) else ""
