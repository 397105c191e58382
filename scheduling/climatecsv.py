"""Reads the file of a temperature logger: the air of the shop, row by row.

All faults of the rows are reported together, each with its line.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, tzinfo
from pathlib import Path

from scheduling.climate import Reading
from scheduling.csvtable import PROBE_FAULTS_C, CellError, Table, read_table
from scheduling.errors import BadInput, Fault
from scheduling.stamps import local_instant

CSV_LIMIT_BYTES = 5_000_000
"""Largest temperature file that is read."""

_MEANINGS = {
    "time": "time",
    "timestamp": "time",
    "datetime": "time",
    "date_time": "time",
    "date": "date",
    "temp": "temp_c",
    "temp_c": "temp_c",
    "temperature": "temp_c",
    "temperature_c": "temp_c",
    "temp_f": "temp_f",
    "temperature_f": "temp_f",
    "rh": "rh",
    "humidity": "rh",
    "wind": "wind",
    "wind_kmh": "wind",
    "wind_km_h": "wind",
}
_IDLE_WORDS = ("deg", "speed", "pct", "relative")


def read_climate_csv(path: Path, tz: tzinfo) -> list[Reading]:
    """Reads the shop air that a logger recorded.

    Columns are found by their heading: time or timestamp (or date, or date and time
    apart), temp or temperature (degC; temp_f is Fahrenheit), rh or humidity (%), wind
    (km/h); units in brackets do no harm and other columns are passed over. Cells are
    parted by comma, semicolon or tab; with the latter two a decimal comma is read.

    Args:
        path: A text file of at most 5 MB, UTF-8 or UTF-16.
        tz: Zone of the times that name none. In the hour that comes twice in autumn
            the second one is meant when the first would go back.

    Returns:
        At least one reading, in the order of time.

    Raises:
        BadInput: Everything that is wrong, each with its line.
    """
    readings, faults = read_climate_rows(path, tz)
    if faults:
        raise BadInput(*faults)
    return readings


def read_climate_rows(path: Path, tz: tzinfo) -> tuple[list[Reading], list[Fault]]:
    """As ``read_climate_csv``, with the bad rows beside the good ones.

    Raises:
        BadInput: The file cannot be read at all, or has no row.
    """
    table = read_table(path, CSV_LIMIT_BYTES, _understood)
    where = table.where
    columns = _columns(where, table.headings)
    readings: list[Reading] = []
    faults: list[Fault] = []
    for line, row in table.rows():
        cells = {name: row[i] if i < len(row) else "" for name, i in columns.items()}
        try:
            reading = _reading(table, cells, tz, readings[-1].at if readings else None)
        except CellError as error:
            faults.append(Fault(where, f"line {line}", error.value, error.want))
        else:
            readings.append(reading)
    if not readings and not faults:
        raise BadInput(Fault(where, "", "", "at least one row under the headings"))
    return readings, faults


def _understood(headings: Sequence[str]) -> bool:
    try:
        _columns("", headings)
    except BadInput:
        return False
    return True


def _columns(where: str, header: Sequence[str]) -> dict[str, int]:
    """Where each meaning stands in a row."""
    found: dict[str, int] = {}
    faults = []
    for index, title in enumerate(header):
        words = re.findall(r"[a-z]+", title.lower())
        name = "_".join(word for word in words if word not in _IDLE_WORDS)
        meaning = _MEANINGS.get(name)
        if meaning in found:
            faults.append(Fault(where, "headings", title, f"one {meaning} column"))
        elif meaning is not None:
            found[meaning] = index
        elif words[:1] == ["wind"]:
            faults.append(Fault(where, "headings", title, "wind in km/h (wind_kmh)"))
    shown = ", ".join(header)
    if not found.keys() & {"time", "date"}:
        faults.append(Fault(where, "headings", shown, "a time column"))
    if len(found.keys() & {"temp_c", "temp_f"}) != 1:
        faults.append(Fault(where, "headings", shown, "one temp_c or temp_f column"))
    if faults:
        raise BadInput(*faults)
    return found


def _reading(
    table: Table, cells: dict[str, str], tz: tzinfo, after: datetime | None
) -> Reading:
    stamp = " ".join(cells[name] for name in ("date", "time") if name in cells)
    at = _instant(stamp, tz, after)
    if after is not None and at <= after:
        raise CellError(stamp, "a time later than the row before")
    if "temp_f" in cells:
        shown = cells["temp_f"]
        temp_c = round((table.number(shown) - 32) / 1.8, 6)
    else:
        shown = cells["temp_c"]
        temp_c = table.number(shown)
    if temp_c in PROBE_FAULTS_C:
        raise CellError(shown, "a temperature; this is what a faulty probe sends")
    rh_pct = table.number(cells["rh"]) if cells.get("rh") else None
    wind_kmh = table.number(cells["wind"]) if cells.get("wind") else None
    try:
        return Reading(at, shop_c=temp_c, rh_pct=rh_pct, wind_kmh=wind_kmh)
    except ValueError as error:
        value, _, want = str(error).partition(": want ")
        raise CellError(value, want) from error


def _instant(text: str, tz: tzinfo, after: datetime | None) -> datetime:
    want = "a time such as 2030-04-01 07:30, between 2000 and 2100"
    try:
        stamp = datetime.fromisoformat(text)
    except ValueError as error:
        raise CellError(text, want) from error
    if not 2000 <= stamp.year <= 2100:
        raise CellError(text, want)
    return local_instant(stamp, tz, after)
