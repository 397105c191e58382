"""Reads the file of a temperature logger: the air of the shop, row by row.

All faults of the rows are reported together, each with its line.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from datetime import UTC, datetime, tzinfo
from io import StringIO
from pathlib import Path

from scheduling.climate import Reading
from scheduling.errors import BadInput, Fault
from scheduling.hours import wall_instant

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
_NUMBER = re.compile(r"[-+]?\d+(\.\d*)?", re.ASCII)
_PROBE_FAULTS = (-127.0, 85.0)


def read_climate_csv(path: Path, tz: tzinfo) -> list[Reading]:
    """Reads the shop air that a logger recorded.

    Columns are found by their heading: time or timestamp (or date, or date and time
    apart), temp or temperature (degC; temp_f is Fahrenheit), rh or humidity (%), wind
    (km/h); units in brackets do no harm and other columns are passed over. Cells are
    parted by comma, semicolon or tab; with the latter two a decimal comma is read.

    Args:
        path: A text file of at most 5 MB, UTF-8.
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
    where = str(path)
    rows = _rows(where, _text(path))
    columns = _columns(where, next(rows, (1, []))[1])
    readings: list[Reading] = []
    faults: list[Fault] = []
    for line, row in rows:
        cells = {name: row[i] if i < len(row) else "" for name, i in columns.items()}
        try:
            reading = _reading(cells, tz, readings[-1].at if readings else None)
        except _CellError as error:
            faults.append(Fault(where, f"line {line}", error.value, error.want))
        else:
            readings.append(reading)
    if not readings and not faults:
        raise BadInput(Fault(where, "", "", "at least one row under the headings"))
    return readings, faults


class _CellError(Exception):
    """One cell of one row is wrong."""

    def __init__(self, value: str, want: str) -> None:
        super().__init__(value, want)
        self.value = value
        self.want = want


def _text(path: Path) -> str:
    where = str(path)
    try:
        if not path.is_file():
            raise BadInput(Fault(where, "", "", "a file that is there"))
        if path.stat().st_size > CSV_LIMIT_BYTES:
            raise BadInput(Fault(where, "", "", "a file of at most 5 MB"))
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(Fault(where, "", "", "text in UTF-8")) from error
    except OSError as error:
        raise BadInput(Fault(where, "", "", str(error.strerror))) from error
    if "\0" in text:
        raise BadInput(Fault(where, "", "", "text in UTF-8, without NUL characters"))
    return text


def _rows(where: str, text: str) -> Iterator[tuple[int, list[str]]]:
    """Line number and stripped cells of every row that is not empty."""
    heading = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(";\t,", key=heading.count)
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if delimiter != ",":
                cells = [cell.replace(",", ".") for cell in cells]
            if any(cells):
                yield reader.line_num, cells
    except csv.Error as error:
        raise BadInput(
            Fault(where, f"line {reader.line_num}", "", f"a readable row ({error})")
        ) from error


def _columns(where: str, header: list[str]) -> dict[str, int]:
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


def _reading(cells: dict[str, str], tz: tzinfo, after: datetime | None) -> Reading:
    stamp = " ".join(cells[name] for name in ("date", "time") if name in cells)
    at = _instant(stamp, tz, after)
    if after is not None and at <= after:
        raise _CellError(stamp, "a time later than the row before")
    if "temp_f" in cells:
        shown = cells["temp_f"]
        temp_c = round((_number(shown) - 32) / 1.8, 6)
    else:
        shown = cells["temp_c"]
        temp_c = _number(shown)
    if temp_c in _PROBE_FAULTS:
        raise _CellError(shown, "a temperature; this is what a faulty probe sends")
    rh_pct = _number(cells["rh"]) if cells.get("rh") else None
    wind_kmh = _number(cells["wind"]) if cells.get("wind") else None
    try:
        return Reading(at, shop_c=temp_c, rh_pct=rh_pct, wind_kmh=wind_kmh)
    except ValueError as error:
        value, _, want = str(error).partition(": want ")
        raise _CellError(value, want) from error


def _number(text: str) -> float:
    if not _NUMBER.fullmatch(text):
        raise _CellError(text, "a number")
    return float(text)


def _instant(text: str, tz: tzinfo, after: datetime | None) -> datetime:
    want = "a time such as 2030-04-01 07:30, between 2000 and 2100"
    try:
        stamp = datetime.fromisoformat(text)
    except ValueError as error:
        raise _CellError(text, want) from error
    if not 2000 <= stamp.year <= 2100:
        raise _CellError(text, want)
    if stamp.tzinfo is not None:
        return stamp.astimezone(UTC)
    first = wall_instant(stamp, tz)
    if after is None or first > after:
        return first
    return max(first, stamp.replace(tzinfo=tz, fold=1).astimezone(UTC))
