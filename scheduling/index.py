"""What a shop has made, one line a pour, so that ten years need not be read.

The index is derived from the pours and may be deleted at any time: what is missing
in it or no longer true is read anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from tinydb import TinyDB
from tinydb.storages import MemoryStorage

from scheduling.disk import Disk, Stamp
from scheduling.errors import LogFault
from scheduling.plainjson import Json
from scheduling.storage import WholeFileStorage

Entry = Mapping[str, Any]
"""One pour: see ``describe``."""

_SCHEMA = 1


class Index:
    """The file of the index, a TinyDB with one document for each pour."""

    def __init__(self, path: Path, disk: Disk) -> None:
        self._file = WholeFileStorage(path, disk)

    def entries(
        self,
        pours: Mapping[str, Stamp],
        describe_pour: Callable[[str], dict[str, Json]],
    ) -> list[Entry]:
        """Returns an entry for each pour that can be read, by name.

        Args:
            pours: All pours that there are, with the stamps of their files.
            describe_pour: Makes the entry of a pour that is new or has changed.
        """
        known = {
            entry["pour"]: entry
            for entry in self._stored()
            if entry["stamp"] == list(pours.get(entry["pour"], ()))
        }
        fresh: dict[str, Entry] = {}
        for pour in pours.keys() - known.keys():
            with suppress(LogFault):  # it is named by whoever reads the pours
                described = describe_pour(pour)
                fresh[pour] = {**described, "stamp": list(pours[pour])}
        if fresh or len(known) != self._count:
            self._write([*known.values(), *fresh.values()])
        return sorted((known | fresh).values(), key=_pour)

    def mend(
        self,
        pours: Mapping[str, Stamp],
        describe_pour: Callable[[str], dict[str, Json]],
    ) -> bool:
        """Describes every pour and compares; whether the file said the same.

        Args:
            pours: As ``entries`` takes them.
            describe_pour: Likewise.
        """
        before = sorted(self._stored(), key=_pour)
        right: list[Entry] = []
        for pour, stamp in sorted(pours.items()):
            with suppress(LogFault):  # it is named by whoever reads the pours
                right.append({**describe_pour(pour), "stamp": list(stamp)})
        if before != right:
            self._write(right)
        return before == right

    def _stored(self) -> list[Entry]:
        try:
            tables = self._file.read() or {}
        except LogFault:
            tables = {}
        about = list(tables.get("about", {}).values())
        entries = list(tables.get("pours", {}).values())
        self._count = len(entries)
        if about != [{"schema": _SCHEMA}] or not all(map(_is_entry, entries)):
            return []
        return entries

    def _write(self, entries: Sequence[Entry]) -> None:
        tables = TinyDB(storage=MemoryStorage)
        tables.table("about").insert({"schema": _SCHEMA})
        tables.table("pours").insert_multiple(entries)
        with suppress(LogFault):  # it can be derived again at any time
            self._file.write(tables.storage.read() or {})


def describe(
    pour: str, documents: Sequence[Mapping[str, Any]], sha256: str | None
) -> dict[str, Json]:
    """What the index says of a pour.

    Args:
        pour: Its name.
        documents: Its events as they are stored, in the order recorded.
        sha256: Checksum of its sealed file; None while it is open.

    Returns:
        ``pour``, ``sealed`` (bool), ``sha256``, ``job`` (the job's id, "" when no
        start is on record), ``started`` (ISO 8601, UTC; "" likewise), ``events``
        (how many) and ``kinds`` (how many of each kind).
    """
    start = next((each for each in documents if _begins(each)), None)
    kinds = Counter(str(each.get("kind")) for each in documents)
    return {
        "pour": pour,
        "sealed": sha256 is not None,
        "sha256": sha256,
        "job": "" if start is None else _job_id(start),
        "started": "" if start is None else str(start.get("at")),
        "events": len(documents),
        "kinds": dict(sorted(kinds.items())),
    }


def _pour(entry: Entry) -> str:
    return str(entry["pour"])


def _begins(document: Mapping[str, Any]) -> bool:
    return document.get("kind") == "started" and not document.get("step")


def _job_id(start: Mapping[str, Any]) -> str:
    match start.get("data"):
        case {"job": {"id": str(job)}}:
            return job
    return ""


def _is_entry(entry: object) -> bool:
    match entry:
        case {"pour": str(), "stamp": list(), "job": str(), "sealed": bool()}:
            return True
    return False
