"""Finds the columns of a file by their headings, as makers of loggers write them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta, timezone, tzinfo

PSI_MPA = 0.45359237 * 9.80665 / 0.0254**2 / 1e6
"""Megapascals in a pound-force per square inch, exact by definition."""

_CELSIUS = {"c", "degc", "celsius", "centigrade", "tempc"}
_FAHRENHEIT = {"f", "degf", "fahrenheit", "tempf"}
_OTHER_TEMPERATURES = {
    *("dew", "dewpoint", "bulb", "chill", "index", "feels", "wind"),
    *("alarm", "limit", "set", "setpoint", "min", "max", "minimum", "maximum"),
}
"""A temperature with one of these words is not what the probe reads."""

_DATE = {"date", "datum", "fecha", "dato", "datetime", "timestamp", "stamp"}
_TIME = {"time", "zeit", "uhrzeit", "hora", "tid", "datetime", "timestamp", "stamp"}
_IDLE = {
    *("and", "at", "of", "local", "utc", "gmt", "iso", "z", "am", "pm"),
    *("log", "logged", "logger", "measured", "reading", "recorded", "sample"),
    *("d", "dd", "m", "mm", "y", "yy", "yyyy", "h", "hh", "s", "ss"),
}
"""Words that may stand beside those of a date or a time."""

_ELAPSED = {
    *("elapsed", "age", "time", "t", "te", "equivalent", "relative", "since", "start"),
    *("test", "curing", "mm", "ss"),
}
_UNITS_H = {
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 1.0),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 1 / 60),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1 / 3600),
    **dict.fromkeys(("d", "day", "days"), 24.0),
}
_STRENGTH = {"strength", "fc"}
_MPA = {"mpa"}
_PSI = {"psi"}
_MM2 = re.compile(r"\bn ?/ ?mm", re.IGNORECASE)
_OFFSET = re.compile(r"(?:gmt|utc) ?([+-])(1[0-4]|0?\d):?([0-5]\d)?", re.IGNORECASE)
_WORD = re.compile(r"[^\W\d_]+")


@dataclass(frozen=True, slots=True)
class Probe:
    """A column of temperatures.

    Attributes:
        column: Where it stands in a row.
        name: Its heading.
        fahrenheit: Whether it is in degF.
        told: Whether the heading names the unit; degC is taken where it does not.
    """

    column: int
    name: str
    fahrenheit: bool
    told: bool


@dataclass(frozen=True, slots=True)
class TimeColumns:
    """Where the time of a row stands.

    Attributes:
        columns: The columns that make a time stamp together, or one of time elapsed.
        elapsed: Whether it is time elapsed.
        unit_h: Hours in one unit of time elapsed; None where the heading names none.
        zone: The zone that the heading of a time stamp names, if it does.
    """

    columns: tuple[int, ...]
    elapsed: bool = False
    unit_h: float | None = None
    zone: tzinfo | None = None


def words(title: str) -> list[str]:
    """The words of a heading in small letters; a unit is a word as well."""
    return _WORD.findall(unicodedata.normalize("NFKC", title).casefold())


def find_probes(headings: Sequence[str]) -> list[Probe]:
    """Returns every column of temperatures, in the order of the columns."""
    found = []
    for column, title in enumerate(headings):
        parts = set(words(title))
        unit = bool(parts & (_CELSIUS | _FAHRENHEIT))
        named = any(part.startswith("temp") for part in parts)
        if (unit or named) and not parts & _OTHER_TEMPERATURES:
            found.append(Probe(column, title, bool(parts & _FAHRENHEIT), unit))
    return found


def find_time(headings: Sequence[str]) -> TimeColumns | None:
    """Returns where the time stands, or None; a time stamp is preferred to an age.

    Raises:
        ValueError: Two columns could be meant; the message is their headings.
    """
    stamp = _only(headings, _is_stamp)
    date, time = _only(headings, _is_date), _only(headings, _is_time)
    columns = (stamp,) if stamp is not None else (date, time)
    found = tuple(column for column in columns if column is not None)
    if found:
        return TimeColumns(found, zone=_zone(" ".join(headings[one] for one in found)))
    age = find_age(headings)
    if age is None:
        return None
    unit = elapsed_unit(headings[age])
    return TimeColumns((age,), elapsed=True, unit_h=unit or None)


def elapsed_unit(title: str) -> float | None:
    """Hours in one unit of a heading of time elapsed, such as "Age (d)".

    Returns:
        0 where it names no unit, None where it is no such heading.
    """
    parts = words(title)
    units = [_UNITS_H[part] for part in parts if part in _UNITS_H]
    rest = {part for part in parts if part not in _UNITS_H}
    if len(units) > 1 or not rest <= _ELAPSED:
        return None
    if not units:
        return 0.0 if {"elapsed", "age"} & rest else None
    return units[0]


def find_age(headings: Sequence[str]) -> int | None:
    """Returns the column of ages, or None.

    Raises:
        ValueError: Two columns could be meant; the message is their headings.
    """
    return _only(headings, lambda title: elapsed_unit(title) is not None)


def find_strength(headings: Sequence[str]) -> int | None:
    """Returns the column of strengths, or None.

    Raises:
        ValueError: Two columns could be meant; the message is their headings.
    """

    def fits(title: str) -> bool:
        return strength_unit(title) is not None or bool(_STRENGTH & set(words(title)))

    return _only(headings, fits)


def strength_unit(title: str) -> float | None:
    """MPa in one unit of a heading of strengths; None where it names no unit."""
    parts = set(words(title))
    if parts & _MPA or _MM2.search(title):
        return 1.0
    return PSI_MPA if parts & _PSI else None


def _only(headings: Sequence[str], fits: Callable[[str], bool]) -> int | None:
    found = [place for place, title in enumerate(headings) if fits(title)]
    if len(found) > 1:
        raise ValueError(", ".join(headings[place] for place in found))
    return found[0] if found else None


def _is_stamp(title: str) -> bool:
    parts = set(words(title))
    return _is_clock(parts) and bool(parts & _DATE) and bool(parts & _TIME)


def _is_date(title: str) -> bool:
    parts = set(words(title))
    return _is_clock(parts) and bool(parts & _DATE) and not parts & _TIME


def _is_time(title: str) -> bool:
    parts = set(words(title))
    plain = _is_clock(parts) and bool(parts & _TIME) and not parts & _DATE
    return plain and elapsed_unit(title) is None


def _is_clock(parts: set[str]) -> bool:
    return bool(parts) and parts <= _DATE | _TIME | _IDLE


def _zone(title: str) -> tzinfo | None:
    found = _OFFSET.search(title)
    if found is not None:
        sign, hours, minutes = found.groups(default="0")
        offset = timedelta(hours=int(hours), minutes=int(minutes))
        return timezone(-offset if sign == "-" else offset)
    return UTC if {"utc", "gmt"} & set(words(title)) else None
