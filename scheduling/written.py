"""Single values as a person writes them in a file: texts, words, dates, times, spans.

Every reader raises ``ValueError`` whose message says what would be right, as the end
of a sentence about the value. ``shown`` puts a value into a message without harm.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from datetime import date, time
from difflib import get_close_matches
from typing import TypeVar

from scheduling.quantities import Kind, UnitError

LONGEST_TEXT = 200
"""Characters of one text."""

YEARS = (2020, 2100)
"""First and last year a date may fall in."""

TIME_WANT = 'wants a time of day, such as "07:30"'
"""What a right time of day looks like."""

_BIDI = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_TIME = re.compile(r"([0-9]{1,2}):([0-9]{2})")
_LONGEST_SHOWN = 60

_Choice = TypeVar("_Choice", bound=str)


def shown(value: object) -> str:
    """Puts a value of a file in a message: short, on one line, never harmful."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{visible(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and abs(value) >= 10**15:
        # Python refuses to print an integer of thousands of digits.
        return "a very large number"
    return str(value)


def visible(text: str) -> str:
    """A text with its harmful characters written out, cut to a readable length."""
    short = text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."
    return harmless(short)


def harmless(text: str) -> str:
    """A text, such as a path, with its harmful characters written out."""
    return "".join(f"\\u{ord(sign):04x}" if _harmful(sign) else sign for sign in text)


def _harmful(sign: str) -> bool:
    """Whether a character could move the cursor, turn the text or break the line."""
    return sign in _BIDI or unicodedata.category(sign) in {"Cc", "Cs", "Zl", "Zp"}


def clean_text(text: str) -> str:
    """Tidies a text: no blanks around it, accents in one form (NFC).

    Raises:
        ValueError: It is too long, or has control or text-direction characters;
            the message says which, as the end of a sentence about it.
    """
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"wants at most {LONGEST_TEXT} characters")
    for sign in text:
        if _harmful(sign):
            raise ValueError(
                "wants one line of plain text; "
                f"it holds the control character U+{ord(sign):04X}"
            )
    return unicodedata.normalize("NFC", text).strip()


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """The nearest known word as a question, or all of them when none is near."""
    near = get_close_matches(word, known, n=1)
    if near:
        return f'did you mean "{near[0]}"?'
    return f"known here: {', '.join(known)}"


def read_quantity(
    value: object,
    kind: Kind,
    *,
    above: str | None = None,
    least: str | None = None,
    most: str | None = None,
) -> float:
    """Reads a quantity within limits that are themselves written with units.

    Raises:
        UnitError: It cannot be read, or is outside a limit.
    """
    number = kind.read(value)
    if above is not None and number <= kind.read(above):
        raise UnitError(f"wants {kind.noun} of more than {above}")
    if least is not None and number < kind.read(least):
        raise UnitError(f"wants {kind.noun} of at least {least}")
    if most is not None and number > kind.read(most):
        raise UnitError(f"wants {kind.noun} of at most {most}")
    return number


def listed(options: Sequence[str]) -> str:
    """Some words in quotes, for a message."""
    return ", ".join(f'"{option}"' for option in options)


def one_of(value: object, options: Sequence[_Choice]) -> _Choice:
    """Reads one of some words, exactly as they are spelled."""
    for option in options:
        if value == option:
            return option
    wanted = f"wants one of {listed(options)}"
    near = get_close_matches(value, options, n=1) if isinstance(value, str) else []
    raise ValueError(f'{wanted}; did you mean "{near[0]}"?' if near else wanted)


def read_date(value: object) -> date:
    """Reads a date of TOML, or the same in quotes, within ``YEARS``."""
    if isinstance(value, str) and _DATE.fullmatch(value):
        try:
            value = date.fromisoformat(value)
        except ValueError:
            raise ValueError("wants a date that exists, such as 2030-04-09") from None
    # A date with a time of day is a date to Python, but not to a calendar of work.
    if type(value) is not date:
        raise ValueError("wants a date, such as 2030-04-09")
    if not YEARS[0] <= value.year <= YEARS[1]:
        raise ValueError(f"wants a date in the years {YEARS[0]} to {YEARS[1]}")
    return value


def read_time(value: object) -> time:
    """Reads a time of day: "7:30" in quotes, or TOML's own 07:30:00."""
    if isinstance(value, time):
        return value
    found = _TIME.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise ValueError(TIME_WANT)
    try:
        return time(int(found[1]), int(found[2]))
    except ValueError:
        raise ValueError(TIME_WANT) from None


def read_span(value: object) -> tuple[time, time]:
    """Reads a span of the day such as "12:00-12:30"; the order is not looked at."""
    want = 'wants a span of the day, such as "12:00-12:30"'
    if not isinstance(value, str) or value.count("-") != 1:
        raise ValueError(want)
    start, _, end = value.partition("-")
    try:
        return read_time(start.strip(" ")), read_time(end.strip(" "))
    except ValueError:
        raise ValueError(want) from None
