"""Pours that are over: each one plain TinyDB file, written once, and its place.

A file holds the tables "about" and "events" and opens with stock TinyDB. Its checksum
tells a changed byte. A pour that is corrected later has a small journal beside it
until the two are written as one file again. Files of the first version of the program
lie one level higher, hold the same tables, and are read where they lie.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scheduling.disk import Disk, Stamp, durable_folder, replace_whole
from scheduling.errors import LogFault
from scheduling.pourname import is_pour_name
from scheduling.storage import Tables, damaged, tables_of

Document = dict[str, Any]
"""An event as it is stored."""

SCHEMA = 2
"""Number of the document layout, in the "about" table of every file."""

FIRST_SCHEMA = 1
"""The same number in the files of the first version."""

INDEX = "index.json"

_SUFFIX = ".json"
_BEFORE_EVENTS = b', "events": '


@dataclass(frozen=True, slots=True)
class Sealed:
    """One file of the archive: where it lies and what it was when it was found."""

    path: Path
    stamp: Stamp


class Archive:
    """The sealed files of a log, and those that the first version left."""

    def __init__(self, folder: Path, disk: Disk) -> None:
        """Names the places; nothing is read or made.

        Args:
            folder: The folder of the log.
            disk: The file system.
        """
        self._log = folder
        self._folder = folder / "archive"
        self._before = folder / "before-journal"
        self._disk = disk

    # -- finding; all raise OSError when a folder cannot be read

    def find(self, pour: str) -> Sealed | None:
        """The sealed file of a pour, or None."""
        for year in self._years():
            path = self._folder / year / f"{pour}{_SUFFIX}"
            stamp = self._disk.stamp(path)
            if stamp is not None:
                return Sealed(path, stamp)
        return None

    def find_first(self, pour: str) -> Sealed | None:
        """The file of a pour as the first version left it, or None."""
        path = self._log / f"{pour}{_SUFFIX}"
        stamp = None if path.name == INDEX else self._disk.stamp(path)
        return None if stamp is None else Sealed(path, stamp)

    def names(self) -> list[str]:
        """Names of all sealed pours; no file is looked at."""
        return list(self._paths())

    def pours(self) -> dict[str, Sealed]:
        """The sealed files of all pours."""
        paths = self._paths()
        stamps = {pour: self._disk.stamp(path) for pour, path in paths.items()}
        return {
            pour: Sealed(paths[pour], stamp)
            for pour, stamp in stamps.items()
            if stamp is not None
        }

    def _paths(self) -> dict[str, Path]:
        return {
            pour: self._folder / year / f"{pour}{_SUFFIX}"
            for year in self._years()
            for pour in _pours(self._disk.names(self._folder / year))
        }

    def first_pours(self) -> set[str]:
        """Names of the pours that the first version left."""
        return {
            name
            for name in _pours(self._disk.names(self._log))
            if f"{name}{_SUFFIX}" != INDEX
        }

    def stamp(self) -> Stamp:
        """Something that differs whenever a pour was sealed, or sealed again."""
        stamps = (self._disk.stamp(self._folder / year) for year in self._years())
        return tuple(stamp[0] for stamp in stamps if stamp is not None)

    def _years(self) -> list[str]:
        return [name for name in self._disk.names(self._folder) if name.isdigit()]

    # -- reading

    def read(self, sealed: Sealed) -> dict[str, Document]:
        """The documents of a sealed file by number, in the order they were recorded.

        Raises:
            LogFault: The file cannot be read, or is not what was written.
        """
        return self._verified(sealed, self._raw(sealed.path))

    def read_summed(self, sealed: Sealed) -> tuple[dict[str, Document], str]:
        """The same, and the SHA-256 of the whole file, hexadecimal."""
        raw = self._raw(sealed.path)
        return self._verified(sealed, raw), _sha256(raw)

    def _verified(self, sealed: Sealed, raw: bytes) -> dict[str, Document]:
        tables = tables_of(raw, sealed.path)
        about = _about(tables, sealed.path, SCHEMA)
        _, found, rest = raw.partition(_BEFORE_EVENTS)
        if not found or about.get("sha256") != _sha256(rest[:-1]):
            raise LogFault(damaged(sealed.path, "not as it was sealed"))
        return _in_order(tables)

    def read_first(self, sealed: Sealed) -> dict[str, Document]:
        """The documents of a file of the first version; raises as ``read`` does."""
        tables = tables_of(self._raw(sealed.path), sealed.path)
        if any(tables.values()):
            _about(tables, sealed.path, FIRST_SCHEMA)
        return _in_order(tables)

    def _raw(self, path: Path) -> bytes:
        try:
            return self._disk.read(path)
        except OSError as error:
            raise LogFault(
                f"{path} cannot be read ({error.strerror or error}); "
                "see that this user may read it, then try again"
            ) from error

    # -- writing, under the writers' lock

    def write(self, pour: str, documents: Sequence[Document]) -> None:
        """Writes the file of a pour, reads it back and compares.

        Args:
            pour: Its name.
            documents: Its events in the order recorded, the first with its "at".

        Raises:
            LogFault: What was read back differs.
            OSError: The disk refused.
        """
        sealed = self.find(pour)
        year = str(documents[0]["at"])[:4]
        path = sealed.path if sealed else self._folder / year / f"{pour}{_SUFFIX}"
        durable_folder(self._disk, self._folder)
        durable_folder(self._disk, path.parent)
        content = _content(documents)
        replace_whole(self._disk, path, content)
        if self._raw(path) != content:
            raise LogFault(damaged(path, "it does not read as it was written"))
        written = self.find(pour)
        if written is None or list(self.read(written).values()) != list(documents):
            raise LogFault(damaged(path, "its events are not those that were written"))

    def put_by(self, pour: str) -> None:
        """Puts a file of the first version out of the way, to be kept.

        It is copied and then taken away: a power cut in the midst of a move from one
        folder to another may leave it in neither.

        Raises:
            LogFault: It cannot be read.
            OSError: The disk refused.
        """
        path = self._log / f"{pour}{_SUFFIX}"
        content = self._raw(path)
        number, target = 1, self._before / path.name
        while (stamp := self._disk.stamp(target)) and self._raw(target) != content:
            number += 1
            target = self._before / f"{pour}-{number}{_SUFFIX}"
        if stamp is None:
            durable_folder(self._disk, self._before)
            replace_whole(self._disk, target, content)
        else:  # by a program that may have died before its name was on the disk
            self._disk.sync_folder(self._before)
        self._disk.unlink(path)
        self._disk.sync_folder(self._log)


def _sha256(raw: bytes) -> str:
    from hashlib import sha256  # noqa: PLC0415 - after the first paint

    return sha256(raw).hexdigest()


def _content(documents: Sequence[Document]) -> bytes:
    numbered = {str(number): each for number, each in enumerate(documents, 1)}
    events = json.dumps(numbered, allow_nan=False).encode("ascii")
    about = json.dumps({"1": {"schema": SCHEMA, "sha256": _sha256(events)}})
    return b'{"about": ' + about.encode("ascii") + _BEFORE_EVENTS + events + b"}"


def _about(tables: Tables, path: Path, schema: int) -> Document:
    about: Document = next(iter(tables.get("about", {}).values()), {})
    if about.get("schema") != schema:
        raise LogFault(other_schema(path, about.get("schema"), schema))
    return about


def other_schema(path: Path, found: object, want: int) -> str:
    """Says that a file was written by another version."""
    return (
        f"{path} has schema {found!a} and this program reads {want}; "
        "use the version that wrote it, or a newer one"
    )


def _in_order(tables: Tables) -> dict[str, Document]:
    events = tables.get("events", {})
    return {key: events[key] for key in sorted(events, key=int)}


def _pours(names: Sequence[str]) -> set[str]:
    stems = (name[: -len(_SUFFIX)] for name in names if name.endswith(_SUFFIX))
    return {stem for stem in stems if is_pour_name(stem)}
