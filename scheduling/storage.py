"""What may be stored, and the files that are always replaced as a whole.

TinyDB's own storage writes over the old file in place, so a full disk or a power
cut in the middle takes every event with it. Here the new content is complete and
on the disk before the old one gives way; a reader sees one or the other.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from math import isfinite
from pathlib import Path
from typing import Any, NoReturn

from tinydb.storages import Storage
from typing_extensions import override

from scheduling.disk import Disk, replace_whole
from scheduling.errors import LogFault

Tables = dict[str, dict[str, Any]]
"""Documents by table name and document id, as TinyDB hands them over."""

_DOCUMENT_ID = re.compile(r"[0-9]{1,18}")


Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]
"""A value that may be stored; numbers are finite."""

_MOST_DEPTH = 32
_INTEGER_LIMIT = 2**63
_SURROGATE = re.compile("[\ud800-\udfff]")


class WholeFileStorage(Storage):
    """A TinyDB storage that swaps in a complete new file at every write.

    It takes no lock: whoever writes holds the log's lock from the read the change
    is based on to the end of the write.
    """

    def __init__(self, path: Path, disk: Disk | None = None) -> None:
        self._path = path
        self._disk = disk or Disk()

    @override
    def read(self) -> Tables | None:
        """Reads all tables.

        Returns:
            The tables, or None when there is no file yet.

        Raises:
            LogFault: The file cannot be opened, or is not a TinyDB document.
        """
        try:
            raw = self._disk.read(self._path)
        except FileNotFoundError:
            return None
        except OSError as error:
            raise LogFault(
                f"{self._path} cannot be read ({error.strerror}); "
                "see that this user may read it, then try again"
            ) from error
        return tables_of(raw, self._path)

    @override
    def write(self, data: Tables) -> None:
        """Puts new tables in place of the old, on the disk when this returns.

        Raises:
            LogFault: Something in the tables is not JSON (NaN and infinity are
                not), or the disk refused. What was saved before is still there.
        """
        try:
            text = json.dumps(data, allow_nan=False, ensure_ascii=True)
        except (TypeError, ValueError, RecursionError) as error:
            raise LogFault(
                f"NOT SAVED: {self._path}: a value cannot be stored ({error})"
            ) from error
        try:
            replace_whole(self._disk, self._path, text.encode("ascii"))
        except OSError as error:
            raise LogFault(
                f"NOT SAVED: {self._path} could not be written ({error.strerror}); "
                "what was saved before is intact. Make room on the disk or see that "
                "this user may write there, then try again"
            ) from error


def tables_of(raw: bytes, path: Path) -> Tables:
    """Reads the bytes of a TinyDB file.

    Args:
        raw: The whole file.
        path: Where it lies, for the fault.

    Raises:
        LogFault: They are not a TinyDB document.
    """
    try:
        tables = json.loads(raw.decode("utf-8"), parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise LogFault(damaged(path, f"not valid JSON: {error}")) from error
    if not _is_tables(tables):
        raise LogFault(damaged(path, "JSON, but not tables of documents"))
    return dict(tables)


def damaged(path: Path, why: str) -> str:
    """Says that a whole file is damaged, and what to do."""
    return (
        f"{path} is damaged ({why}); it was left as it is. Put a good copy in its "
        "place, or move it out of the folder to go on without this pour"
    )


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


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


def _is_tables(tables: object) -> bool:
    return isinstance(tables, dict) and all(
        isinstance(table, dict)
        and all(
            _DOCUMENT_ID.fullmatch(key) and isinstance(document, dict)
            for key, document in table.items()
        )
        for table in tables.values()
    )
