"""Reads and parses the text of a TOML file, with one error for all its mishaps."""

from __future__ import annotations

import stat
import tomllib
from pathlib import Path

from scheduling.errors import BadInput, Fault
from scheduling.written import harmless

LARGEST_FILE = 256 * 1024
"""Bytes a job or shop file may have; a real one has about two thousand."""

MOST_POINTS = 100
"""Points in one line, of its dotted keys and its numbers."""


def read_utf8(path: Path) -> str:
    """Reads a file of text.

    Raises:
        BadInput: It is missing, not a plain file, unreadable, too large or not UTF-8.
    """
    try:
        return _read(path).decode("utf-8")
    except UnicodeDecodeError as error:
        want = f"is not UTF-8 text (byte {error.start + 1})"
        raise file_fault(path.name, want) from error


def parsed(text: str, where: str) -> dict[str, object]:
    """Parses TOML text.

    Args:
        text: What the file holds.
        where: The file, as faults name it.

    Raises:
        BadInput: It is too large or not TOML.
    """
    if len(text) > LARGEST_FILE:
        raise file_fault(where, "is larger than 256 kB, too large for such a file")
    if text.startswith("\ufeff"):
        raise file_fault(
            where, "starts with a byte order mark; save it as UTF-8 without one"
        )
    # The parser's time and memory grow with the square of the parts of a key.
    lines = (line for line in text.split("\n") if not line.startswith("#"))
    if any(line.count(".") > MOST_POINTS for line in lines):
        want = f"is not valid here: a line with more than {MOST_POINTS} points"
        raise file_fault(where, want)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise file_fault(where, f"is not valid TOML: {error}") from error
    except RecursionError as error:
        raise file_fault(where, "is not valid TOML: nested too deeply") from error
    except ValueError as error:
        raise file_fault(
            where, "is not valid TOML: a number with too many digits"
        ) from error


def _read(path: Path) -> bytes:
    try:
        mode = path.stat().st_mode
        # A pipe or a device could block or never end.
        if stat.S_ISREG(mode):
            with path.open("rb") as file:
                content = file.read(LARGEST_FILE + 1)
        else:
            raise file_fault(
                str(path),
                "is a folder, not a file" if stat.S_ISDIR(mode) else "is not a file",
            )
    except FileNotFoundError as error:
        raise file_fault(str(path), "no such file") from error
    except OSError as error:
        reason = (error.strerror or "input error").lower()
        raise file_fault(str(path), f"cannot be read: {reason}") from error
    except ValueError as error:
        raise file_fault(str(path), "is not a file name") from error
    if len(content) > LARGEST_FILE:
        raise file_fault(path.name, "is larger than 256 kB, too large for such a file")
    return content


def file_fault(where: str, want: str) -> BadInput:
    """The error about a file as a whole."""
    return BadInput(Fault(harmless(where), "", "", want))
