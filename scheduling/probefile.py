"""Reads the probes of a shop file: what is followed for its temperature, and how."""

from __future__ import annotations

from scheduling.quantities import DURATION
from scheduling.schema import Table
from scheduling.shop import Probe
from scheduling.thresholds import PLACES

MOST_PROBES = 12
MOST_WORDS = 40
"""Words of a probe's command."""

_WAYS = ("file", "command", "sensor")


def read_probes(table: Table) -> tuple[Probe, ...]:
    """Reads the ``[[probe]]`` tables; faults go on the table's list."""
    return tuple(_probe(row) for row in table.tables("probe", MOST_PROBES))


def _probe(row: Table) -> Probe:
    probe = Probe(
        place=row.choice("place", PLACES),
        file=row.text("file", ""),
        command=row.texts("command", MOST_WORDS),
        sensor=row.text("sensor", ""),
        every_min=row.quantity(
            "every", DURATION, Probe("shop").every_min, least="10 s", most="1 d"
        ),
    )
    ways = [way for way in _WAYS if way in row]
    if len(ways) != 1:
        wanted = "wants one of file, command and sensor"
        row.fault(ways[1] if ways else "file", f"{wanted}, and only one")
    return probe
