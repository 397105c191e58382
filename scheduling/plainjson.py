"""What may be stored: values that come back from a file as they went in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import isfinite

from scheduling.errors import LogFault

Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]
"""A value that may be stored; numbers are finite."""

_MOST_DEPTH = 32
_INTEGER_LIMIT = 2**63
_SURROGATE = re.compile("[\ud800-\udfff]")


def plain_json(value: object, path: str, depth: int = 0) -> Json:
    """Copies a value, checked to come back equal from the file.

    Tuples become lists. Refused are NaN and infinity, integers beyond 64 bits,
    half characters (a lone surrogate may join its neighbour when read back),
    tables with keys that are not text, and whatever else JSON does not know.

    Args:
        value: What is to be stored.
        path: What to call it in a fault.
        depth: How deep inside the whole it lies, at most 32.

    Raises:
        LogFault: Naming the place and the value.
    """
    if type(value) is str and value.isascii():  # nearly all there is: the quick way
        return value
    match value:
        case None | bool():
            return value
        case int() if abs(value) < _INTEGER_LIMIT:
            return value
        case float() if isfinite(value):
            return value
        case str() if not _SURROGATE.search(value):
            return value
        case list() | tuple() if depth < _MOST_DEPTH:
            return [
                plain_json(each, f"{path}[{number}]", depth + 1)
                for number, each in enumerate(value)
            ]
        case Mapping() if depth < _MOST_DEPTH and all(map(_is_key, value)):
            return {
                key: plain_json(each, f"{path}.{key}", depth + 1)
                for key, each in value.items()
            }
        case _:
            raise LogFault(
                f"{path}: {_shown(value)} cannot be stored; wanted are finite "
                f"numbers, whole text, lists and tables at most {_MOST_DEPTH} deep"
            )


def _shown(value: object) -> str:
    # Only what is sure to print: a deep list or a number of 5000 digits does not.
    if isinstance(value, str | float):
        return ascii(value)[:80]
    return f"this {type(value).__name__}"


def _is_key(key: object) -> bool:
    return isinstance(key, str) and not _SURROGATE.search(key)
