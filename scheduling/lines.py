"""The lines of a journal: JSON, a tab, its CRC; what is whole and what is not.

A line is ``{"n":17,"o":[...]}`` with ``n`` counting from 0 in each file and ``o`` the
operations of one commit. It is ASCII, readable with ``cat`` and rescued with ``grep``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any
from zlib import crc32

Op = list[Any]
"""What happened to a table.

``["p", table, id, document]`` puts a document, ``["d", table, id]`` deletes it,
``["z", table]`` empties the table or makes it, ``["x", table]`` drops it.
"""

_LINE = re.compile(rb"(\{.*\})\t([0-9a-f]{8})\n")


@dataclass(frozen=True, slots=True)
class Line:
    """One verified line: its number in the file, and its operations."""

    number: int
    ops: list[Op]


@dataclass(slots=True)
class Scan:
    """What a piece of a journal holds.

    Attributes:
        lines: The verified lines, in order.
        end: Where the last of them ends, bytes from the beginning of the piece.
        last: The bytes of that line; b"" when there is none.
        damage: Where and how the piece is damaged in its middle; "" when it is not.
    """

    lines: list[Line] = field(default_factory=list)
    end: int = 0
    last: bytes = b""
    damage: str = ""


def written(number: int, ops: Sequence[Op]) -> bytes:
    """A line as it stands in the file.

    Raises:
        TypeError: Something in it is not JSON.
        ValueError: NaN, infinity, or a loop.
    """
    text = json.dumps(
        {"n": number, "o": ops},
        allow_nan=False,
        ensure_ascii=True,
        separators=(",", ":"),
    ).encode("ascii")
    return b"%s\t%08x\n" % (text, crc32(text))


def read_line(line: bytes) -> Line | None:
    """Reads one line with its newline; None unless it is whole and its CRC is right."""
    found = _LINE.fullmatch(line)
    if found is None or crc32(found[1]) != int(found[2], 16):
        return None
    try:
        record = json.loads(found[1])
    except (ValueError, RecursionError):
        return None
    match record:
        case {"n": int(number), "o": list(ops)} if all(map(_is_op, ops)):
            return Line(number, ops)
    return None


def scan(data: bytes, number: int, offset: int) -> Scan:
    """Reads a piece of a journal.

    What cannot be verified and has no verified line after it is a tail: torn by a
    power cut, or still being written. With a verified line after it, or where a
    number is missing or comes twice, it is damage.

    Args:
        data: The piece, beginning at a line.
        number: The number that the first line should have.
        offset: Where the piece begins in the file, for the words of the damage.
    """
    found = Scan()
    position, bad = 0, -1
    while (stop := data.find(b"\n", position) + 1) > 0:
        text = data[position:stop]
        line = read_line(text)
        if line is None:
            bad = position if bad < 0 else bad
        else:
            if line.number != number and not found.damage:
                at = offset + (position if bad < 0 else bad)
                what = "is missing" if bad < 0 else "cannot be read"
                found.damage = (
                    f"line {number + 1} at byte {at} {what}; "
                    f"line {line.number + 1} comes next"
                )
            elif bad >= 0 and not found.damage:
                at = offset + bad
                found.damage = f"line {number + 1} at byte {at} cannot be read"
            bad = -1
            found.lines.append(line)
            found.end, found.last = stop, text
            number = line.number + 1
        position = stop
    return found


def _is_op(op: object) -> bool:
    match op:
        case ["p", str(), str(key), dict()] | ["d", str(), str(key)]:
            return key.isascii() and key.isdigit()
        case ["z" | "x", str()]:
            return True
    return False
