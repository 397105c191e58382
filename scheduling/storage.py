"""The file beneath the log: one JSON document, always replaced as a whole.

TinyDB's own storage writes over the old file in place, so a full disk or a power
cut in the middle takes every event with it. Here the new content is complete and
on the disk before the old one gives way; a reader sees one or the other.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from contextlib import suppress
from math import isfinite
from pathlib import Path
from typing import Any, NoReturn

from tinydb.storages import Storage
from typing_extensions import override

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

    def __init__(self, path: Path) -> None:
        self._path = path

    @override
    def read(self) -> Tables | None:
        """Reads all tables.

        Returns:
            The tables, or None when there is no file yet.

        Raises:
            LogFault: The file cannot be opened, or is not a TinyDB document.
        """
        try:
            raw = self._path.read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise LogFault(
                f"{self._path} cannot be read ({error.strerror}); "
                "see that this user may read it, then try again"
            ) from error
        try:
            tables = json.loads(raw.decode("utf-8"), parse_constant=_refuse_constant)
        except (ValueError, RecursionError) as error:
            raise LogFault(_damaged(self._path, f"not valid JSON: {error}")) from error
        if not _is_tables(tables):
            raise LogFault(_damaged(self._path, "JSON, but not tables of documents"))
        return dict(tables)

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
            _replace_whole(self._path, text.encode("ascii"))
        except OSError as error:
            raise LogFault(
                f"NOT SAVED: {self._path} could not be written ({error.strerror}); "
                "what was saved before is intact. Make room on the disk or see that "
                "this user may write there, then try again"
            ) from error


class Draft(Storage):
    """The tables of a file in memory until ``commit`` writes them, all at once.

    TinyDB reads its storage at every touch of a table and writes it at every
    insert; over a draft the file is read once and replaced once.
    """

    def __init__(self, file: Storage) -> None:
        """Reads the file; raises as its ``read`` does."""
        self._file = file
        self._tables: Tables = file.read() or {}

    @override
    def read(self) -> Tables:
        """The tables as they stand in memory."""
        return self._tables

    @override
    def write(self, data: Tables) -> None:
        """Takes new tables into memory only."""
        self._tables = data

    def commit(self) -> None:
        """Writes the tables to the file; raises as its ``write`` does."""
        self._file.write(self._tables)


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


def sync_folder(folder: Path) -> None:
    """Makes the names in a folder durable, where the system can do that.

    Raises:
        OSError: The disk refused.
    """
    if os.name != "posix":  # Windows cannot open a folder to sync it
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _replace_whole(path: Path, content: bytes) -> None:
    # A name of its own, so that two writers can never fill the same file; the
    # leading dot keeps a left-over out of the list of pours.
    fresh = path.with_name(f".{path.name}.{os.getpid()}-{os.urandom(4).hex()}.tmp")
    try:
        with fresh.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except BaseException:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def _damaged(path: Path, why: str) -> str:
    return (
        f"{path} is damaged ({why}); it was left as it is. Put a good copy in its "
        "place, or move it out of the folder to go on without this pour"
    )


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
