"""What may be written on the command line, read strictly.

Every fault is a ``BadInput`` that names the flag and what would be right.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from difflib import get_close_matches
from functools import partial
from typing import Any, NoReturn

from scheduling.climate import COLDEST_C, WARMEST_C
from scheduling.errors import BadInput, Fault
from scheduling.written import shown

MOST_CHARACTERS = 500
"""Length of a note on the command line."""

LONGEST_NAME = 40

_FEW = 8

_NUMBER = re.compile(r"[-+]?[0-9]{1,6}(\.[0-9]{1,6})?", re.ASCII)
_WHOLE = re.compile(r"[0-9]{1,9}", re.ASCII)
_ABOUT = re.compile(r"argument ([^:]+): (.*)", re.DOTALL)
_CHOICE = re.compile(r"invalid choice: '(.*)' \(choose from (.*)\)", re.DOTALL)


class Parser(argparse.ArgumentParser):
    """An argument parser whose complaints are one line, like all the others."""

    def __init__(self, **options: Any) -> None:  # noqa: ANN401 - argparse's own
        wide = partial(argparse.HelpFormatter, max_help_position=28)
        super().__init__(**options, formatter_class=wide, allow_abbrev=False)
        self._sorting = False

    def parse_known_args(self, *args: Any, **options: Any) -> Any:  # noqa: ANN401 - argparse's own
        """Reads words and flags in any order; the verb comes before its words.

        Argparse alone takes a word that may be left out for left out as soon as a flag
        follows: POUR in "import POUR --as piece FILE".
        """
        if self._subparsers is not None or self._sorting:
            return super().parse_known_args(*args, **options)
        self._sorting = True  # it comes back here, for the flags and for the words
        try:
            return self.parse_known_intermixed_args(*args, **options)
        finally:
            self._sorting = False

    def error(self, message: str) -> NoReturn:
        """Refuses what was written.

        Raises:
            BadInput: Always.
        """
        key, value, want = "", "", message
        if about := _ABOUT.fullmatch(message):
            key, want = about.groups()
        if choice := _CHOICE.fullmatch(want):
            value = choice[1]
            known = re.findall(r"[a-z][a-z0-9 -]*", choice[2])
            near = get_close_matches(value, known, n=1)
            want = f"one of {', '.join(known)}"
            if near:
                want = f'did you mean "{near[0]}"?'
            elif len(known) > _FEW:
                want = f'no such thing; see "{self.prog} --help"'
        raise BadInput(Fault(self.prog, key, shown(value) if value else "", want))


Verbs = argparse._SubParsersAction  # noqa: SLF001 - argparse has no public name for it


def number(flag: str, low: float, high: float, unit: str) -> Callable[[str], float]:
    """Returns a reader of a plain number in a range, both ends included."""
    want = f"a number from {low:g} to {high:g} ({unit})"

    def read(text: str) -> float:
        if _NUMBER.fullmatch(text) is None or not low <= float(text) <= high:
            raise BadInput(Fault(flag, "", shown(text), want))
        return float(text)

    return read


def whole(flag: str, low: int, high: int) -> Callable[[str], int]:
    """Returns a reader of a whole number in a range, both ends included."""
    want = f"a whole number from {low} to {high}"

    def read(text: str) -> int:
        if _WHOLE.fullmatch(text) is None or not low <= int(text) <= high:
            raise BadInput(Fault(flag, "", shown(text), want))
        return int(text)

    return read


def words(flag: str, most: int) -> Callable[[str], str]:
    """Returns a reader of text that a person wrote."""

    def read(text: str) -> str:
        try:
            text.encode("utf-8")
        except UnicodeEncodeError:
            raise BadInput(Fault(flag, "", shown(text), "UTF-8")) from None
        if not text.strip() or len(text) > most:
            want = f"1 to {most} characters"
            raise BadInput(Fault(flag, "", shown(text), want))
        return text.strip()

    return read


def temperature(flag: str) -> Callable[[str], float]:
    """Returns a reader of a temperature in degC."""
    return number(flag, COLDEST_C, WARMEST_C, "degC")


def humidity(flag: str = "--rh") -> Callable[[str], float]:
    """Returns a reader of a relative humidity in percent."""
    return number(flag, 0, 100, "%")


def wind(flag: str = "--wind") -> Callable[[str], float]:
    """Returns a reader of an air speed in km/h."""
    return number(flag, 0, 200, "km/h")


def add_everywhere(parser: argparse.ArgumentParser, *, default: object) -> None:
    """Adds what may stand before or after every verb."""
    parser.add_argument(
        "--shop",
        metavar="DIR",
        default=default,
        help="the shop folder, instead of POURBELL_SHOP or the usual one",
    )
    parser.add_argument(
        "--by",
        metavar="NAME",
        type=words("--by", LONGEST_NAME),
        default=default,
        help="who marks what is written to the log",
    )


def add_verb(
    verbs: Verbs[Parser],
    name: str,
    what: str,
    *,
    json: str = "print JSON for programs",
) -> Parser:
    """Adds a verb with what every verb has.

    Args:
        verbs: Where it is added.
        name: As it is typed.
        what: One line for the list of verbs.
        json: What ``--json`` prints.
    """
    parser = verbs.add_parser(
        name,
        help=what,
        description=f"{what[0].upper()}{what[1:]}.",
    )
    # Left out when it is not given, so that one before the verb still counts.
    add_everywhere(parser, default=argparse.SUPPRESS)
    parser.add_argument("--json", action="store_true", help=json)
    return parser
