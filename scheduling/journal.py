"""A journal: a file to which every commit appends one line, and its tables in memory.

A commit is on the disk before it is acknowledged and before memory has it. Whatever a
power cut, a full disk or a failing one leaves behind is told apart here: the torn end
of a line, a damaged middle, a write that can be tried again, one that can not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from tinydb.storages import Storage
from typing_extensions import override

from scheduling.disk import FULL, Disk, Stamp, free_name, replace_whole
from scheduling.errors import LogFault
from scheduling.lines import Op, Scan, scan, written
from scheduling.storage import Tables


class JournalStorage(Storage):
    """The tables of one journal in memory, and the way of a change into the file.

    It takes no lock: whoever writes holds the writers' lock from ``make_ready`` to
    the end of the last ``commit``. Reading needs none.

    Attributes:
        damage: Where the file is damaged in its middle; "" when it is not.
        fault: Why nothing more can be written until it is opened anew; "" when it can.
        loads: Changes whenever what was read before no longer counts.
    """

    def __init__(
        self,
        path: Path,
        disk: Disk | None = None,
        *,
        about: Mapping[str, Any] | None = None,
        make_room: Callable[[], bool] = lambda: False,
    ) -> None:
        """Opens the journal, which appears with the first commit.

        Args:
            path: Its file, in a folder that exists when something is written.
            disk: The file system.
            about: A document for the table "about" in the first line of a new file.
            make_room: Called when the disk is full; whether it freed anything.
        """
        self.path = path
        self.damage = ""
        self.fault = ""
        self.loads = 0
        self._disk = disk or Disk()
        self._about = about
        self._make_room = make_room
        self._synced: int | None = None
        self._forget()

    def _forget(self) -> None:
        self.loads += 1
        self._tables: Tables = {}
        self._stamp: Stamp | None = None
        self._end = 0
        self._number = 0
        self._last = b""
        self.damage = ""

    # -- reading

    @override
    def read(self) -> Tables:
        """The tables as they stand in memory; only a commit may change a table."""
        return dict(self._tables)

    @property
    def version(self) -> tuple[int, int]:
        """Differs whenever the tables may differ."""
        return self.loads, self._number

    @property
    def tail(self) -> int:
        """Bytes at the end that are no whole line: torn, or just being written."""
        return 0 if self._stamp is None else self._stamp[1] - self._end

    def catch_up(self) -> None:
        """Takes in the verified lines that others appended, and nothing else.

        Raises:
            OSError: The file cannot be read.
        """
        stamp = self._disk.stamp(self.path)
        if stamp == self._stamp:
            return
        if stamp is None:
            self._forget()
            return
        if self._stamp is not None and stamp[-1] != self._stamp[-1]:
            self._forget()
        try:
            data = self._read_on()
        except FileNotFoundError:  # put into the archive just now
            self._forget()
            return
        found = scan(data[len(self._last) :], self._number, self._end)
        self._take(found)
        self._stamp = stamp

    def _read_on(self) -> bytes:
        # The last line again: a writer that could not sync it may have taken it back.
        data = self._disk.read(self.path, self._end - len(self._last))
        if data.startswith(self._last):
            return data
        self._forget()
        return self._disk.read(self.path)

    def _take(self, found: Scan) -> None:
        for line in found.lines:
            for op in line.ops:
                _apply(self._tables, op)
        if found.lines:
            self._number = found.lines[-1].number + 1
            self._last = found.last
            self._end += found.end
        self.damage = self.damage or found.damage

    # -- writing

    def make_ready(self) -> Path | None:
        """Catches up, sets a torn tail aside, sees to it that all of it is durable.

        Returns:
            Where a torn tail is kept, None when there was none.

        Raises:
            LogFault: The journal is damaged, or nothing may be written to it.
            OSError: The disk refused.
        """
        self._check()
        stamp = self._disk.stamp(self.path)
        if stamp is not None and stamp[-1] != self._synced:
            # Before it is read: what another program wrote and could not sync any
            # more must not be built upon.
            self._sync_whole(stamp)
        self.catch_up()
        self._check()
        if self._stamp is None or self._stamp[1] == self._end:
            return None
        return self._set_tail_aside()

    def _check(self) -> None:
        if self.fault:
            raise LogFault(
                f"{self.path} takes nothing more since the disk failed "
                f"({self.fault}); leave the program and start it again"
            )
        if self.damage:
            raise LogFault(damaged_journal(self.path, self.damage))

    def _sync_whole(self, stamp: Stamp) -> None:
        handle = self._disk.open(self.path)
        try:
            self._disk.sync(handle)
            self._disk.sync_folder(self.path.parent)
        except OSError as error:
            self._fail(error)
            raise
        finally:
            self._disk.close(handle)
        self._synced = stamp[-1]

    def _set_tail_aside(self) -> Path:
        name = f"{self.path.name}.torn-{self._end}"
        aside = free_name(self._disk, self.path.with_name(name))
        replace_whole(self._disk, aside, self._disk.read(self.path, self._end))
        handle = self._disk.open(self.path)
        try:
            self._disk.truncate(handle, self._end)
            self._disk.sync(handle)
        except OSError as error:
            self._fail(error)
            raise
        finally:
            self._disk.close(handle)
        self._stamp = self._disk.stamp(self.path)
        return aside

    @override
    def write(self, data: Tables) -> None:
        """Commits whole tables, as TinyDB does to drop one; a commit like any other."""
        ops: list[Op] = [["x", name] for name in self._tables if name not in data]
        for name, table in data.items():
            if table is not self._tables.get(name):
                ops.append(["z", name])
                ops.extend(["p", name, key, value] for key, value in table.items())
        if ops:
            self.commit(ops)

    def commit(self, ops: Sequence[Op]) -> None:
        """Appends one line, all of it or nothing; on the disk when this returns.

        Raises:
            LogFault: NOT SAVED, with the reason; the file is as it was.
        """
        self._check()
        if self._end == 0 and self._about is not None:
            ops = [["p", "about", "1", self._about], *ops]
        line, read = self._written(ops)
        try:
            self._put(line)
        except OSError as error:
            raise LogFault(
                f"NOT SAVED: {self.path} could not be written "
                f"({error.strerror or error}); what was saved before is intact. "
                f"{self._what_to_do(error)}, then try again"
            ) from error
        self._take(read)
        with suppress(OSError):  # saved all the same; the next look reads once more
            self._stamp = self._disk.stamp(self.path)

    def _written(self, ops: Sequence[Op]) -> tuple[bytes, Scan]:
        """The line, and what reading it back gives: that is what memory holds."""
        try:
            line = written(self._number, ops)
        except (TypeError, ValueError, RecursionError) as error:
            raise LogFault(
                f"NOT SAVED: {self.path}: a value cannot be stored ({error})"
            ) from error
        read = scan(line, self._number, self._end)
        if not read.lines:
            raise LogFault(f"NOT SAVED: {self.path}: it would not be read back")
        return line, read

    def _put(self, line: bytes) -> None:
        try:
            self._append(line)
        except OSError as error:
            if error.errno not in FULL or self.fault or not self._make_room():
                raise
            self._append(line)

    def _append(self, line: bytes) -> None:
        handle = self._disk.open(self.path)
        try:
            if self._disk.size(handle) != self._end:
                raise LogFault(
                    f"NOT SAVED: {self.path} was changed by a program that does not "
                    "hold the lock; close that program, then try again"
                )
            self._append_to(handle, line)
        finally:
            self._disk.close(handle)

    def _append_to(self, handle: int, line: bytes) -> None:
        try:
            self._disk.append(handle, line)
            self._disk.sync(handle)
            if self._end == 0:
                self._disk.sync_folder(self.path.parent)
                found = self._disk.stamp(self.path)
                self._synced = found[-1] if found else None
        except OSError as error:
            if error.errno not in FULL:
                # A failed sync may have marked pages as written that are not.
                self._fail(error)
            self._take_back(handle)
            raise

    def _take_back(self, handle: int) -> None:
        try:
            self._disk.truncate(handle, self._end)
        except OSError as error:
            self._fail(error)
        if self._end == 0:
            with suppress(OSError):
                self._disk.unlink(self.path)

    def _fail(self, error: OSError) -> None:
        self.fault = self.fault or error.strerror or str(error)

    def _what_to_do(self, error: OSError) -> str:
        if self.fault:
            return "Leave the program and start it again"
        if error.errno in FULL:
            return "Make room on the disk"
        return "See that this user may write there"


def damaged_journal(path: Path, where: str) -> str:
    """Says that a journal is damaged in its middle, and what to do."""
    return (
        f"{path} is damaged ({where}); what can be read of it is shown, and it takes "
        "no more. Put a good copy in its place, or go on without what cannot be read: "
        f"pourbell check --set-aside {path.stem}"
    )


def _apply(tables: Tables, op: Op) -> None:
    match op:
        case ["p", name, key, document]:
            tables.setdefault(name, {})[key] = document
        case ["d", name, key]:
            tables.setdefault(name, {}).pop(key, None)
        case ["z", name]:
            tables[name] = {}
        case ["x", name]:
            tables.pop(name, None)
