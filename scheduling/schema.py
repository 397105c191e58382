"""A small strict reader of TOML files that reports every fault of a file at once.

A ``Table`` hands out values by key and type. What is wrong goes on one list and a
stand-in is returned, so that the reading goes on; ``finish`` raises them together.
A bad quantity reads as NaN, so that no comparison with it adds a second fault; NaN
cannot leave, because ``finish`` has raised by then.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, time
from math import nan
from pathlib import Path
from typing import TypeVar

from scheduling.errors import BadInput, Fault
from scheduling.quantities import Kind
from scheduling.tomltext import file_fault, parsed, read_utf8
from scheduling.written import (
    TIME_WANT,
    clean_text,
    did_you_mean,
    harmless,
    listed,
    one_of,
    read_date,
    read_quantity,
    read_span,
    read_time,
    shown,
    visible,
)

MOST_FAULTS = 50
"""Faults reported for one file; past that it is not a job file at all."""

_INDEX = re.compile(r"\[[0-9]+\]")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")

_Choice = TypeVar("_Choice", bound=str)
_Value = TypeVar("_Value")


def load_toml(path: Path, *, may_be_empty: bool = False) -> Table:
    """Reads a TOML file.

    Args:
        path: The file.
        may_be_empty: Whether a file with nothing in it is right.

    Raises:
        BadInput: It is missing, unreadable, too large, not UTF-8, not TOML or empty.
    """
    return parse_toml(read_utf8(path), path.name, may_be_empty=may_be_empty)


def parse_toml(text: str, where: str, *, may_be_empty: bool = False) -> Table:
    """Reads TOML text.

    Args:
        text: What the file holds.
        where: The file, as faults name it.
        may_be_empty: Whether nothing at all is right.

    Raises:
        BadInput: It is too large, not TOML or empty.
    """
    data = parsed(text, where)
    if not data and not may_be_empty:
        raise file_fault(where, "is empty")
    return Table(data, harmless(where))


class Table:
    """One table of a TOML file, read key by key.

    Attributes:
        where: The file, as faults name it.
        path: Of this table inside the file, such as ``piece.legs[0]``; "" at the top.
    """

    def __init__(
        self,
        data: dict[str, object],
        where: str,
        path: str = "",
        faults: list[Fault] | None = None,
    ) -> None:
        self.where = where
        self.path = path
        self._data = data
        self._faults: list[Fault] = [] if faults is None else faults
        self._known: dict[str, None] = {}
        self._children: list[Table] = []

    # What is there

    def __contains__(self, key: str) -> bool:
        return key in self._data

    def names(self) -> list[str]:
        """Every key of this table as written, for tables with names of the shop's."""
        return list(self._data)

    def holds_table(self, key: str) -> bool:
        """Whether a table stands under a key."""
        return isinstance(self._data.get(key), dict)

    def written(self, key: str, otherwise: str) -> str:
        """A value as it stands in the file, for messages about another one."""
        if key not in self._data:
            return otherwise
        return f"{self.key_path(key)} {shown(self._data[key])}"

    def key_path(self, key: str) -> str:
        """The whole path of a key of this table."""
        name = visible(key)
        if not _BARE_KEY.fullmatch(key):
            name = f'"{name}"'
        return f"{self.path}.{name}" if self.path else name

    # Faults

    def fault(self, key: str, want: str) -> None:
        """Adds a fault about a key; its value is shown as written."""
        value = shown(self._data[key]) if key in self._data else ""
        self.fault_at(self.key_path(key), value, want)

    def fault_at(self, path: str, value: str, want: str) -> None:
        """Adds a fault about a place given by its whole path."""
        if len(self._faults) <= MOST_FAULTS:
            self._faults.append(Fault(self.where, path, value, want))

    def faulty(self, key: str) -> bool:
        """Whether a fault about a key was found already."""
        path = self.key_path(key)
        return any(fault.key == path for fault in self._faults)

    def finish(self) -> None:
        """Raises all that was found, after looking for keys that nobody asked for.

        Raises:
            BadInput: With every fault of the file, at most ``MOST_FAULTS`` of them.
        """
        self._find_unknown()
        if not self._faults:
            return
        first = self._faults[:MOST_FAULTS]
        if len(self._faults) > MOST_FAULTS:
            first.append(Fault(self.where, "", "", "and more faults like these"))
        raise BadInput(*first)

    def _find_unknown(self) -> None:
        for key in self._data:
            if len(self._faults) > MOST_FAULTS:
                return
            if key not in self._known:
                nearest = did_you_mean(key, list(self._known))
                self.fault_at(self.key_path(key), "", f"no such key; {nearest}")
        for child in self._children:
            child._find_unknown()  # noqa: SLF001 - a table like this one

    # Values

    def _get(
        self,
        key: str,
        want: str,
        read: Callable[[object], _Value],
        stand_in: _Value,
        default: _Value | None,
    ) -> _Value:
        """Reads one value; ``read`` raises ValueError with what would be right."""
        self._known[key] = None
        if key not in self._data:
            if default is not None:
                return default
            self.fault(key, f"missing; {want}")
            return stand_in
        try:
            return read(self._data[key])
        except ValueError as error:
            self.fault(key, str(error))
            return stand_in

    def text(
        self, key: str, default: str | None = None, *, may_be_empty: bool = False
    ) -> str:
        """One line of text; a bad one reads as ""."""
        want = "wants a text in quotes"

        def read(value: object) -> str:
            if not isinstance(value, str):
                raise ValueError(want)  # noqa: TRY004 - one error for all faults
            text = clean_text(value)
            if not text and not may_be_empty:
                raise ValueError("wants a text that is not empty")
            return text

        return self._get(key, want, read, "", default)

    def choice(
        self, key: str, options: Sequence[_Choice], default: _Choice | None = None
    ) -> _Choice:
        """One of some words; a bad one reads as the first of them."""
        want = f"wants one of {listed(options)}"
        return self._get(
            key, want, lambda value: one_of(value, options), options[0], default
        )

    def choices(
        self,
        key: str,
        options: Sequence[_Choice],
        default: tuple[_Choice, ...] = (),
        *,
        may_be_empty: bool = True,
    ) -> tuple[_Choice, ...]:
        """A list of different words out of some."""
        want = f"wants a list of words out of {listed(options)}"
        words = self._list(
            key, lambda word: one_of(word, options), default, want, len(options)
        )
        if len(set(words)) < len(words):
            self.fault(key, "wants each word once")
        if not may_be_empty and self._data.get(key) == []:
            self.fault(key, want)
        return words

    def texts(self, key: str, most: int) -> tuple[str, ...]:
        """A list of texts, it and they not empty; () when it is missing or bad."""

        def read(value: object) -> str:
            if not isinstance(value, str):
                raise ValueError("wants a text in quotes")  # noqa: TRY004 - one error for all faults
            text = clean_text(value)
            if not text:
                raise ValueError("wants a text that is not empty")
            return text

        want = f"wants a list of 1 to {most} texts in quotes"
        if self._data.get(key) == []:
            self.fault(key, want)
        return self._list(key, read, (), want, most)

    def whole(self, key: str, least: int, most: int, default: int | None = None) -> int:
        """A whole number within limits; a bad one reads as the least."""
        want = f"wants a whole number from {least} to {most}"

        def read(value: object) -> int:
            if isinstance(value, bool) or not isinstance(value, int):
                raise ValueError(want)  # noqa: TRY004 - one error for all faults
            if not least <= value <= most:
                raise ValueError(want)
            return value

        return self._get(key, want, read, least, default)

    def number(self, key: str, *, above: float, most: float) -> float:
        """A number without a unit, within limits; a bad one reads as NaN."""
        want = f"wants a number of more than {above:g} and at most {most:g}"

        def read(value: object) -> float:
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise ValueError(want)  # noqa: TRY004 - one error for all faults
            if not above < value <= most:
                raise ValueError(want)
            return float(value)

        return self._get(key, want, read, nan, None)

    def flag(self, key: str, *, default: bool) -> bool:
        """A yes or no; a bad one reads as the default."""
        want = "wants true or false, without quotes"

        def read(value: object) -> bool:
            if not isinstance(value, bool):
                raise ValueError(want)  # noqa: TRY004 - one error for all faults
            return value

        return self._get(key, want, read, default, default)

    def quantity(
        self,
        key: str,
        kind: Kind,
        default: float | None = None,
        *,
        above: str | None = None,
        least: str | None = None,
        most: str | None = None,
    ) -> float:
        """A quantity with its unit; a bad one reads as NaN.

        Args:
            key: Its key.
            kind: What it is.
            default: SI value when the key is missing; None when it must be there.
            above: Limit it must be more than, as written in a file.
            least: Limit it may just reach from above.
            most: Limit it may just reach from below.
        """

        def read(value: object) -> float:
            return read_quantity(value, kind, above=above, least=least, most=most)

        return self._get(key, kind.want, read, nan, default)

    def day(self, key: str) -> date | None:
        """A date, or None when it is missing or bad."""
        self._known[key] = None
        if key not in self._data:
            return None
        try:
            return read_date(self._data[key])
        except ValueError as error:
            self.fault(key, str(error))
            return None

    def days(self, key: str, most: int) -> tuple[date, ...]:
        """A list of dates; () when it is missing or bad."""
        want = f"wants a list of at most {most} dates, such as [2030-12-24]"
        return self._list(key, read_date, (), want, most)

    def clock_time(self, key: str, default: time) -> time:
        """A time of day; a bad one reads as the default."""
        return self._get(key, TIME_WANT, read_time, default, default)

    def spans(
        self, key: str, default: tuple[tuple[time, time], ...], most: int
    ) -> tuple[tuple[time, time], ...]:
        """A list of spans of the day, each written ``12:00-12:30``; bad: ()."""
        want = f'wants a list of at most {most} spans, such as ["12:00-12:30"]'
        return self._list(key, read_span, default, want, most)

    def arguments(self, key: str, most: int) -> tuple[str, ...]:
        """A program and its arguments as they are; () when missing or bad."""
        want = f'wants a list of at most {most} texts, such as ["siren", "--on"]'

        def read(value: object) -> str:
            if not isinstance(value, str) or not value or "\0" in value:
                raise ValueError(want)
            return value

        return self._list(key, read, (), want, most)

    def _list(
        self,
        key: str,
        read: Callable[[object], _Value],
        default: tuple[_Value, ...],
        want: str,
        most: int,
    ) -> tuple[_Value, ...]:
        """Reads a list item by item; a bad one is a fault and left out."""
        self._known[key] = None
        if key not in self._data:
            return default
        items = self._data[key]
        if not isinstance(items, list) or len(items) > most:
            self.fault(key, want)
            return ()
        values = []
        for number, item in enumerate(items):
            try:
                values.append(read(item))
            except ValueError as error:
                path = f"{self.key_path(key)}[{number}]"
                self.fault_at(path, shown(item), str(error))
        return tuple(values)

    # Tables inside

    def table(self, key: str) -> Table:
        """A table inside this one; an empty one when it is missing or bad."""
        self._known[key] = None
        data = self._data.get(key, {})
        if isinstance(data, dict):
            return self._child(data, self.key_path(key))
        self.fault(key, f"wants a table, written [{self._heading(key)}]")
        # One fault is enough: what is missing inside it goes on a list of its own.
        return Table({}, self.where, self.key_path(key))

    def tables(self, key: str, most: int) -> list[Table]:
        """A list of tables inside this one, at most so many; [] if missing or bad."""
        self._known[key] = None
        data = self._data.get(key, [])
        want = f"wants at most {most} tables, each written [[{self._heading(key)}]]"
        if not isinstance(data, list) or len(data) > most:
            self.fault(key, want)
            return []
        if not all(isinstance(row, dict) for row in data):
            self.fault(key, want)
            return []
        return [
            self._child(row, f"{self.key_path(key)}[{number}]")
            for number, row in enumerate(data)
        ]

    def _heading(self, key: str) -> str:
        return _INDEX.sub("", self.key_path(key))

    def _child(self, data: dict[str, object], path: str) -> Table:
        child = Table(data, self.where, path, self._faults)
        self._children.append(child)
        return child
