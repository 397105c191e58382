"""What the verbs print: data on standard output, complaints on standard error."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING

from scheduling.clocks import Band
from tui.notify import clean

if TYPE_CHECKING:
    from scheduling.alert import Alert
    from scheduling.ringer import Ring

NARROWEST = 60
WIDEST = 100
"""Columns a table for people takes, whatever the terminal says."""

_LONGEST_LINE = 400


def width() -> int:
    """Returns the columns of the terminal, 80 where there is none."""
    return min(max(shutil.get_terminal_size((80, 24)).columns, NARROWEST), WIDEST)


def line(text: str = "") -> None:
    """Prints one line for people and sends it off at once."""
    sys.stdout.write(clean(text, _LONGEST_LINE).rstrip() + "\n")
    sys.stdout.flush()


def lines(text: str, *, indent: str = "") -> None:
    """Prints a paragraph broken to the terminal, continued under its first word."""
    for part in textwrap.wrap(text, width(), subsequent_indent=indent):
        line(part)


def raw(text: str) -> None:
    """Prints text as it is, such as a whole CSV file."""
    sys.stdout.write(text)
    sys.stdout.flush()


def as_json(value: Mapping[str, object]) -> None:
    """Prints one JSON object on a line of its own and sends it off at once."""
    raw(json.dumps(value, allow_nan=False) + "\n")


def complain(text: str) -> None:
    """Prints to standard error, each line of the text on its own."""
    for part in text.splitlines():
        sys.stderr.write(clean(part, _LONGEST_LINE) + "\n")
    sys.stderr.flush()


def iso(instant: datetime, zone: tzinfo) -> str:
    """Returns an instant as ISO 8601 with the zone's offset, cut to whole seconds."""
    return instant.astimezone(zone).isoformat(timespec="seconds")


def alert(ring: Ring, at: datetime, zone: tzinfo) -> dict[str, object]:
    """Returns one ring of an alert as JSON.

    Args:
        ring: What rings.
        at: Now.
        zone: The shop's.
    """
    late_s = round(ring.late_s, 1)
    return {**about(ring.alert, zone), "at": iso(at, zone), "late_s": late_s}


def about(one: Alert, zone: tzinfo) -> dict[str, object]:
    """Returns what is true of an alert whenever it rings, as JSON."""
    return {
        "type": "alert",
        "kind": one.kind,
        "due": iso(one.due, zone),
        "pour": one.pour,
        "step": one.step or None,
        "zone": one.zone or None,
    }


def call(ring: Ring, at: datetime, zone: tzinfo) -> dict[str, object]:
    """Returns what a command of the user's own is told; arguments as ``alert``."""
    return {**alert(ring, at, zone), "repeat": ring.repeat, "line": ring.alert.line}


def bell(ring: Ring, at: datetime, zone: tzinfo) -> str:
    """Returns one ring of an alert as a line for people; arguments as ``alert``."""
    return f"{stamp(at, zone)}  BELL {ring.alert.word}: {ring.alert.line}"


def stamp(at: datetime, zone: tzinfo) -> str:
    """Returns an instant as the first column of a line for people."""
    local = at.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b %H:%M:%S}"


def band(found: Band | None, zone: tzinfo) -> dict[str, str] | None:
    """Returns a band as JSON, or None."""
    if found is None:
        return None
    return {
        "p10": iso(found.p10, zone),
        "p50": iso(found.p50, zone),
        "p90": iso(found.p90, zone),
    }


def length(minutes: float) -> str:
    """Says a length of time: ``18 min``, ``13 h 39`` or ``1 d 12 h``."""
    whole = round(minutes)
    if whole < 120:
        return f"{whole} min"
    if whole < 48 * 60:
        return f"{whole // 60} h {whole % 60:02d}"
    hours = round(minutes / 60)
    return f"{hours // 24} d {hours % 24} h"


def table(
    headings: Sequence[str], rows: Iterable[Sequence[str]], *, left: int = 1
) -> None:
    """Prints columns, the first ``left`` of them flush left and the others right."""
    for row in columns(headings, rows, left=left):
        line(row)


def parted_table(
    headings: Sequence[str], rows: Iterable[tuple[str, Sequence[str]]]
) -> None:
    """Prints columns parted by what rows have in common, which costs no column.

    Args:
        headings: Of the columns.
        rows: What a row belongs under, and its cells; in order of the former.
    """
    parted = list(rows)
    indented = [(f"  {first}", *cells) for _, (first, *cells) in parted]
    heading, *printed = columns(headings, indented)
    line(heading)
    above = None
    for (part, _), row in zip(parted, printed, strict=True):
        if part != above:
            line(part)
        above = part
        line(row)


def columns(
    headings: Sequence[str], rows: Iterable[Sequence[str]], *, left: int = 1
) -> list[str]:
    """Returns columns as lines, that of the headings first; arguments as ``table``."""
    cells = [tuple(headings), *(tuple(map(clean, row)) for row in rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    return [
        "  ".join(
            cell.ljust(size) if place < left else cell.rjust(size)
            for place, (cell, size) in enumerate(zip(row, widths, strict=True))
        )
        for row in cells
    ]
