"""A logger's file in the log: many readings in one event, taken back as one.

The event holds what its columns are and, for each row, the seconds since the event and
the values; so correcting the event's time moves the whole file, as a logger whose clock
was wrong wants it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from functools import lru_cache

from scheduling.climate import Reading
from scheduling.event import Event
from scheduling.plainjson import Json
from scheduling.thresholds import Place

KEPT_EVERY = timedelta(minutes=5)
"""Rows nearer than this to the row kept before are left out (estimate): nothing in a
pour warms or cools so fast that a clock would notice."""

OUTSIDE = timedelta(days=1)
"""How long before a pour its climate can still matter to it (estimate)."""

_COLUMNS = tuple(field.name for field in fields(Reading) if field.name != "at")
_LONGEST_S = 400 * 86400.0
_SECOND = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Sifted:
    """What is new in a logger's file, and where the other rows went.

    Attributes:
        new: Readings the log does not have, in the order of time.
        read: Rows in the file.
        known: Rows the log has already.
        close: Rows nearer than KEPT_EVERY to the one kept before.
        outside: Rows more than OUTSIDE before the pour.
    """

    new: tuple[Reading, ...]
    read: int
    known: int
    close: int
    outside: int


def sift(
    readings: Sequence[Reading], known: Iterable[Reading], begun: datetime
) -> Sifted:
    """Returns what a file adds to a pour.

    The same file gives the same rows however often it is read, and a file that has
    grown gives those it has grown by.

    Args:
        readings: Of the file, in the order of time.
        known: Of the pour.
        begun: When the pour was.
    """
    near = [one for one in readings if one.at >= begun - OUTSIDE]
    kept: list[Reading] = []
    for one in near:
        if not kept or one.at - kept[-1].at >= KEPT_EVERY:
            kept.append(one)
    there = set(known)
    new = tuple(one for one in kept if one not in there)
    return Sifted(
        new=new,
        read=len(readings),
        known=len(kept) - len(new),
        close=len(near) - len(kept),
        outside=len(readings) - len(near),
    )


def at_place(reading: Reading, place: Place) -> Reading:
    """A row of a file, its temperature that of a place (humidity: the shop's)."""
    if place == "shop":
        return reading
    return Reading(reading.at, **{f"{place}_c": reading.shop_c})


def trace_data(readings: Sequence[Reading], source: str) -> dict[str, Json]:
    """Readings as the data of an event that happens at the first of them.

    Args:
        readings: At least one, in the order of time.
        source: What they are from, for people.
    """
    first = readings[0].at
    columns = [
        name
        for name in _COLUMNS
        if any(getattr(one, name) is not None for one in readings)
    ]
    rows: list[Json] = [
        [(one.at - first) / _SECOND, *(getattr(one, name) for name in columns)]
        for one in readings
    ]
    return {"source": source, "columns": list(columns), "rows": rows}


@lru_cache(maxsize=64)  # folded at every key press, and an event never changes
def trace(event: Event) -> tuple[Reading, ...]:
    """The readings of an event that holds a file; rows that make no sense left out."""
    columns, rows = event.data.get("columns"), event.data.get("rows")
    if not isinstance(columns, list) or not isinstance(rows, list):
        return ()
    found = (_reading(event.at, columns, row) for row in rows)
    return tuple(one for one in found if one is not None)


def _reading(at: datetime, columns: list[Json], row: Json) -> Reading | None:
    if not isinstance(row, list) or len(row) != len(columns) + 1:
        return None
    since, *cells = row
    if not _is_number(since) or abs(float(since)) > _LONGEST_S:  # type: ignore[arg-type] # a number
        return None
    values = {
        str(name): float(cell)  # type: ignore[arg-type] # a number, as asked
        for name, cell in zip(columns, cells, strict=True)
        if name in _COLUMNS and _is_number(cell)
    }
    try:
        return Reading(at + float(since) * _SECOND, **values) if values else None  # type: ignore[arg-type] # a number
    except ValueError:
        return None


def _is_number(value: Json) -> bool:
    return type(value) in (int, float)  # true and false are no numbers here
