"""What may be stored: values that come back from a file as they went in."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from math import isfinite

from scheduling.errors import LogFault

Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]
"""A value that may be stored; numbers are finite."""

_MOST_DEPTH = 32
_INTEGER_LIMIT = 2**63
_SURROGATE = re.compile("[\ud800-\udfff]")


def plain_json(value: object, path: str) -> Json:
    """Copies a value, checked to come back equal from the file.

    Tuples become lists. Refused are NaN and infinity, integers beyond 64 bits,
    half characters (a lone surrogate may join its neighbour when read back),
    tables with keys that are not text, and whatever else JSON does not know.

    Args:
        value: What is to be stored; lists and tables at most 32 deep.
        path: What to call it in a fault.

    Raises:
        LogFault: Naming the place and the value.
    """
    if isinstance(value, str) and value.isascii():
        return value
    try:
        return _plain(value, 0)
    except _NotPlain as odd:
        raise LogFault(
            f"{path}{odd.place}: {_shown(odd.value)} cannot be stored; wanted are "
            f"finite numbers, whole text, lists and tables at most {_MOST_DEPTH} deep"
        ) from None


class _NotPlain(Exception):
    """Something that cannot be stored, and where it lies in the whole."""

    def __init__(self, value: object) -> None:
        super().__init__()
        self.value = value
        self.place = ""

    def within(self, place: str) -> _NotPlain:
        self.place = place + self.place
        return self


def _plain(value: object, depth: int) -> Json:
    # Ten years of pours are a million events: what there is most of comes first, and
    # the place of a fault is put together only when there is one.
    if isinstance(value, str):
        if value.isascii() or not _SURROGATE.search(value):
            return value
    elif value is None or isinstance(value, bool):
        return value
    elif isinstance(value, float):
        if isfinite(value):
            return value
    elif isinstance(value, int):
        if abs(value) < _INTEGER_LIMIT:
            return value
    elif depth < _MOST_DEPTH and isinstance(value, dict | Mapping):
        return _plain_table(value, depth + 1)
    elif depth < _MOST_DEPTH and isinstance(value, list | tuple):
        return _plain_list(value, depth + 1)
    raise _NotPlain(value)


def _plain_table(table: Mapping[object, object], depth: int) -> Json:
    copy: dict[str, Json] = {}
    for key, each in table.items():
        if not isinstance(key, str) or _SURROGATE.search(key):
            raise _NotPlain(table)
        try:
            copy[key] = _plain(each, depth)
        except _NotPlain as odd:
            raise odd.within(f".{key}") from None
    return copy


def _plain_list(items: Sequence[object], depth: int) -> Json:
    copy: list[Json] = []
    for number, each in enumerate(items):
        try:
            copy.append(_plain(each, depth))
        except _NotPlain as odd:
            raise odd.within(f"[{number}]") from None
    return copy


def _shown(value: object) -> str:
    # Only what is sure to print: a deep list or a number of 5000 digits does not.
    if isinstance(value, str | float):
        return ascii(value)[:80]
    return f"this {type(value).__name__}"
