"""The columns of a shop's paper: which there are, and how their numbers become SI."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from scheduling.csvtable import CellError, Table
from scheduling.errors import BadInput, Fault
from scheduling.pastwindow import TOUCHES
from scheduling.written import shown

PLAUSIBLE_C = (0.0, 45.0)
"""Between these, degC, a face coat is sprayed; outside it is a slip (estimate)."""

DRIEST_PCT = 2.0
"""Under this, percent, no shop's air is; what is written so is a share (estimate)."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A column of numbers: what it is of, and how it becomes SI."""

    field: str
    low: float
    high: float
    unit: str
    scale: float = 1.0
    zero: float = 0.0

    def read(self, table: Table, text: str) -> float:
        """Reads a cell of the column, SI.

        Raises:
            CellError: It is no number, or out of its range.
        """
        value = table.number(text)
        if not self.low <= value <= self.high:
            want = f"{self.low:g} to {self.high:g} {self.unit}"
            raise CellError(text, f"{want}{self._slip(value)}")
        return round((value - self.zero) * self.scale, 6)

    def _slip(self, value: float) -> str:
        """What a value out of range probably was to be, or ""."""
        low, high = PLAUSIBLE_C
        if self.unit == "degF" and low <= value <= high:
            meant = (value - self.zero) * self.scale
            column = self.field.replace("_c", "_f")
            said = f"this is {meant:.0f} degC"
            return f", and {said}: was it written in degC under {column}?"
        if self.unit == "degC" and low <= (value - 32) / 1.8 <= high:
            return f": was it written in degF under {self.field}?"
        if self.unit == "%" and 0 < value <= 1:
            return ": percent, not a share"
        return ""


def _celsius(field: str) -> Measure:
    return Measure(field, *PLAUSIBLE_C, "degC")


def _fahrenheit(field: str) -> Measure:
    low, high = (each * 1.8 + 32 for each in PLAUSIBLE_C)
    return Measure(field, low, high, "degF", 1 / 1.8, 32.0)


MEASURES = {
    "temp_c": _celsius("temp_c"),
    "temp_f": _fahrenheit("temp_c"),
    "form_c": _celsius("form_c"),
    "form_f": _fahrenheit("form_c"),
    "rh_pct": Measure("rh_pct", DRIEST_PCT, 100, "%"),
    "wind_kmh": Measure("wind_kmh", 0, 200, "km/h"),
    "wind_mph": Measure("wind_kmh", 0, 124, "mph", 1.609344),
}
CLOCKS = ("sprayed", *TOUCHES)
_NAMES = ("date", "mix", "zone", *MEASURES, *CLOCKS)
_MARK = {"date", "mix", "sprayed"}
"""Headings by which such a file is known."""

HEADINGS = (
    "date, mix, zone, temp_c or temp_f, rh_pct, wind_kmh or wind_mph, sprayed, "
    "last_soft, first_ready, first_going_off, first_gone"
)
"""The columns, for people."""


def understood(headings: Sequence[str]) -> bool:
    """Whether headings are those of such a file."""
    return set(map(_name, headings)) >= _MARK


def find_columns(table: Table) -> tuple[dict[str, int], tuple[str, ...]]:
    """Where each column stands, and the headings that mean nothing.

    Raises:
        BadInput: Columns are missing, double, or misspelt; all of them.
    """
    found: dict[str, int] = {}
    fields: dict[str, str] = {}
    passed_over = []
    faults = []
    for place, title in enumerate(table.headings):
        name = _name(title)
        if name in _NAMES:
            field = _field(name)
            if field in fields:
                faults.append((f"{fields[field]}, {title}", "one of them"))
            fields[field] = title
            found[name] = place
        elif near := _near(name):
            faults.append((title, f'did you mean "{near}"?'))
        elif title:
            passed_over.append(title)
    faults.extend((", ".join(table.headings), want) for want in _missing(fields))
    if faults:
        where = table.where
        raise BadInput(*(Fault(where, "headings", shown(a), b) for a, b in faults))
    return found, tuple(passed_over)


def _name(title: str) -> str:
    return re.sub(r"\s+", "_", title.strip().casefold())


def _field(name: str) -> str:
    return MEASURES[name].field if name in MEASURES else name


def _missing(fields: Iterable[str]) -> list[str]:
    there = set(fields)
    wants = [f"a column {name}" for name in sorted(_MARK - there)]
    if "temp_c" not in there:
        wants.append("a column temp_c or temp_f")
    if not there & set(TOUCHES):
        wants.append(f"at least one column of {', '.join(TOUCHES)}")
    return wants


def _near(name: str) -> str:
    """The column that a heading was probably to be, or ""."""
    if not name:
        return ""
    without_unit = [known for known in _NAMES if known.startswith(f"{name}_")]
    return next(iter([*without_unit, *get_close_matches(name, _NAMES, 1, 0.8)]), "")
