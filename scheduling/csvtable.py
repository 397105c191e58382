"""Rows of a CSV file as loggers and spreadsheets write them, whatever their dialect.

Delimiter and heading row are found together: they are the first that give headings
the caller understands, so that title lines above and commas in a title do no harm.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from io import StringIO
from itertools import islice
from pathlib import Path

from scheduling.errors import BadInput, Fault
from scheduling.written import shown

DELIMITERS = (";", "\t", ",")
"""In the order in which they are tried: a comma may also be a decimal mark."""

TITLE_LINES = 40
"""Lines within which the headings must stand."""

MOST_FAULTS = 8
"""Wrong rows that are told one by one."""

PROBE_FAULTS_C = {-127.0: "it is cut off", 85.0: "it was only just reset"}
"""What the usual 1-wire probe sends instead of a temperature, degC, and why."""

_NUMBER = re.compile(r"[-+]?(\d{1,9}(\.\d*)?|\.\d+)", re.ASCII)
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_MARKS = ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_TEXT_WANT = "text in UTF-8 or UTF-16"


class CellError(Exception):
    """One cell of one row is wrong.

    Attributes:
        value: What was written there.
        want: What would be right.
    """

    def __init__(self, value: str, want: str) -> None:
        super().__init__(value, want)
        self.value = value
        self.want = want


@dataclass(frozen=True, slots=True)
class Table:
    """A file with its headings found and its rows still to be read.

    Attributes:
        where: The file, for messages.
        headings: Those of the columns, stripped.
        delimiter: What parts the cells.
        text: From the row of the headings on.
        line: Line of the headings.
    """

    where: str
    headings: tuple[str, ...]
    delimiter: str
    text: str
    line: int

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Line number and stripped cells of every row that is not empty.

        Raises:
            BadInput: A row cannot be read.
        """
        return islice(_rows(self.where, self.text, self.delimiter, self.line), 1, None)

    def number(self, text: str) -> float:
        """Reads a cell as a number, with a decimal comma where none parts the cells.

        Raises:
            CellError: It is none.
        """
        plain = text if self.delimiter == "," else text.replace(",", ".")
        if not _NUMBER.fullmatch(plain):
            raise CellError(text, "a number")
        return float(plain)


def read_table(
    path: Path, limit_bytes: int, understood: Callable[[Sequence[str]], bool]
) -> Table:
    """Reads a CSV file and finds its headings.

    UTF-8 and UTF-16 are read; what is neither is taken for the one-byte text of older
    loggers, in which only signs such as that of the degree are at stake.

    Args:
        path: The file.
        limit_bytes: Largest size that is read.
        understood: Whether some headings have what is looked for.

    Returns:
        The table; where nothing was understood, its first row passes for headings.

    Raises:
        BadInput: There is no such file, it is too large, or not of text.
    """
    where = str(path)
    text = _text(path, limit_bytes)
    place = 0
    first = ""
    lines = islice(StringIO(text, newline=""), TITLE_LINES)
    for line, content in enumerate(lines, 1):
        first = first or content.strip()
        for delimiter in DELIMITERS:
            headings = _cells(content, delimiter)
            if understood(headings):
                return Table(where, headings, delimiter, text[place:], line)
        place += len(content)
    delimiter = max(DELIMITERS, key=first.count)
    return Table(where, _cells(first, delimiter), delimiter, text, 1)


def refuse(where: str, faults: Sequence[Fault]) -> None:
    """Refuses a file with faults, telling the first of them.

    Raises:
        BadInput: There are any.
    """
    if not faults:
        return
    rest = len(faults) - MOST_FAULTS
    more = [Fault(where, "", "", f"and {rest} more wrong rows")] if rest > 0 else []
    raise BadInput(*faults[:MOST_FAULTS], *more)


def _text(path: Path, limit_bytes: int) -> str:
    where = str(path)
    try:
        if not path.is_file():
            raise BadInput(Fault(where, "", "", "a file that is there"))
        if path.stat().st_size > limit_bytes:
            want = f"a file of at most {limit_bytes / 1e6:g} MB"
            raise BadInput(Fault(where, "", "", want))
        data = path.read_bytes()
    except (OSError, ValueError) as error:  # a NUL in the path is a ValueError
        why = getattr(error, "strerror", None) or str(error)
        raise BadInput(Fault(shown(where), "", "", why)) from error
    text = _decoded(where, data)
    found = _CONTROL.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        sign = "NUL" if found[0] == "\0" else "control"
        want = f"{_TEXT_WANT}, without {sign} characters"
        raise BadInput(Fault(where, f"line {line}", "", want))
    return text


def _decoded(where: str, data: bytes) -> str:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError as error:
                raise BadInput(Fault(where, "", "", _TEXT_WANT)) from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _cells(line: str, delimiter: str) -> tuple[str, ...]:
    """The cells of one line; none where it cannot be read."""
    try:
        row = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return ()
    return tuple(cell.strip() for cell in row)


def _rows(
    where: str, text: str, delimiter: str, line: int
) -> Iterator[tuple[int, list[str]]]:
    source = StringIO(text, newline="")
    reader = csv.reader(source, delimiter=delimiter, strict=True, skipinitialspace=True)
    begins = line
    try:
        for row in reader:
            # A quote that nobody closed swallows lines up to the next quote.
            if reader.line_num + line - 1 > begins:
                raise BadInput(
                    Fault(where, f"line {begins}", "", "quotes closed on their line")
                )
            cells = [cell.strip() for cell in row]
            if any(cells):
                yield begins, cells
            begins = reader.line_num + line
    except csv.Error as error:
        raise BadInput(
            Fault(where, f"line {begins}", "", f"a readable row ({error})")
        ) from error
