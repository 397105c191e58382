"""A TinyDB whose changes are appended to a journal, one line for each commit.

TinyDB reads and writes the whole database at every insert. Here ``JournalTable``
overrides the one method through which every change goes, so that a commit costs what
it adds and nothing else. Queries, searches, updates and tables are TinyDB's own.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, MutableMapping
from contextlib import contextmanager
from copy import deepcopy
from pathlib import Path
from typing import Any

from tinydb import TinyDB
from tinydb.table import Table
from typing_extensions import override

from scheduling.journal import JournalStorage
from scheduling.lines import Op


class JournalTable(Table):
    """A TinyDB table whose changes are committed as operations."""

    @override
    def _update_table(
        self, updater: Callable[[dict[int, Mapping[str, Any]]], None]
    ) -> None:
        storage = self.storage
        assert isinstance(storage, JournalStorage)
        tables = storage.read()
        recorder = _Recorder(tables.get(self.name, {}), self.name)
        try:
            updater(recorder)  # type: ignore[arg-type]  # all a dict is used for
            ops = recorder.ops(new=self.name not in tables)
            if ops:
                storage.commit(ops)
        except BaseException:
            self.forget()
            raise
        finally:
            self.clear_cache()

    def forget(self) -> None:
        """Forgets what it knew of a journal that has changed beneath it."""
        self._next_id = None
        self.clear_cache()


class JournalDB(TinyDB):
    """A TinyDB on a journal; takes the arguments of ``JournalStorage``."""

    table_class = JournalTable
    default_storage_class = JournalStorage  # type: ignore[assignment]  # mistyped there

    @property
    def journal(self) -> JournalStorage:
        """The storage beneath."""
        assert isinstance(self.storage, JournalStorage)
        return self.storage

    def catch_up(self) -> None:
        """Takes in what others appended; raises as the journal does."""
        with self._watching():
            self.journal.catch_up()

    def make_ready(self) -> Path | None:
        """Prepares for writing, under the writers' lock, as the journal does."""
        with self._watching():
            return self.journal.make_ready()

    @contextmanager
    def _watching(self) -> Iterator[None]:
        before = self.journal.version
        try:
            yield
        finally:
            if self.journal.version != before:
                for table in self._tables.values():
                    assert isinstance(table, JournalTable)
                    table.forget()


class _Recorder(MutableMapping[int, Any]):
    """A table as TinyDB's updaters see it; remembers what they do to it."""

    def __init__(self, raw: Mapping[str, Any], name: str) -> None:
        self._raw = raw
        self._name = name
        self._given: dict[int, Any] = {}
        self._put: dict[int, Any] = {}
        self._gone: set[int] = set()
        self._order: list[Op] = []
        self._cleared = False

    def _stored(self, key: int) -> bool:
        return not self._cleared and key not in self._gone and str(key) in self._raw

    @override
    def __contains__(self, key: object) -> bool:
        return isinstance(key, int) and (key in self._put or self._stored(key))

    @override
    def __getitem__(self, key: int) -> Any:
        if key in self._put:
            return self._put[key]
        if not self._stored(key):
            raise KeyError(key)
        # A copy, because an updater changes documents in place.
        return self._given.setdefault(key, deepcopy(self._raw[str(key)]))

    @override
    def __setitem__(self, key: int, document: Any) -> None:
        self._given.pop(key, None)
        self._put[key] = document
        self._order.append(["p", self._name, str(key)])

    @override
    def __delitem__(self, key: int) -> None:
        if key not in self:
            raise KeyError(key)
        self._given.pop(key, None)
        self._put.pop(key, None)
        self._gone.add(key)
        self._order.append(["d", self._name, str(key)])

    @override
    def clear(self) -> None:
        self._given.clear()
        self._put.clear()
        self._cleared = True
        self._order = [["z", self._name]]

    @override
    def __iter__(self) -> Iterator[int]:
        stored = (key for key in map(int, self._raw) if self._stored(key))
        yield from (key for key in stored if key not in self._put)
        yield from self._put

    @override
    def __len__(self) -> int:
        return sum(1 for _ in self)

    def ops(self, *, new: bool) -> list[Op]:
        """What happened, in order; documents given out count if they differ now."""
        ops: list[Op] = [["z", self._name]] if new and not self._cleared else []
        for op in self._order:
            if op[0] != "p":
                ops.append(op)
            elif int(op[2]) in self._put:
                ops.append([*op, self._put[int(op[2])]])
        ops.extend(
            ["p", self._name, str(key), document]
            for key, document in self._given.items()
            if _text(document) != _text(self._raw[str(key)])
        )
        return ops


def _text(document: object) -> str:
    # Not by ==: 1, 1.0 and true are equal and are not the same.
    return json.dumps(document)
