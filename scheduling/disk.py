"""The file-system calls that the log makes, all in one place.

Whoever writes says here what reaches the disk and in which order. A test puts another
disk in its place: one that fails at any call, or that loses its power after it.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from scheduling.errors import LogFault

Stamp = tuple[int, ...]
"""Modification time in ns, size in bytes and inode of a file."""

LOCK_WAIT_S = 5.0
"""How long a commit waits for another program's commit, s; they take a few ms."""

FULL = (errno.ENOSPC, errno.EDQUOT)
"""Errors that say no more than that there is no room just now."""

BALLAST_BYTES = 256 * 1024
"""Room kept for a full disk: about 700 events."""

_LOCK_POLL_S = 0.001  # about one commit: a busy writer must not keep a key press out


class Disk:
    """The machine's own file system. Every method raises OSError as the system does."""

    # -- looking

    def stamp(self, path: Path) -> Stamp | None:
        """Something that differs whenever a file does; None when there is none."""
        try:
            found = path.stat()
        except FileNotFoundError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def names(self, folder: Path) -> list[str]:
        """Names in a folder, sorted; none when there is no folder."""
        try:
            return sorted(os.listdir(folder))  # noqa: PTH208 - names, not paths
        except FileNotFoundError:
            return []

    def read(self, path: Path, offset: int = 0) -> bytes:
        """A file's bytes from an offset on."""
        with path.open("rb") as file:
            file.seek(offset)
            return file.read()

    def free(self, folder: Path) -> int:
        """Bytes that can still be written to the disk a folder is on."""
        import shutil  # noqa: PLC0415 - after the first paint

        return shutil.disk_usage(folder).free

    def network(self, folder: Path) -> str:
        """The kind of network file system a folder is on; "" when it is on none."""
        from scheduling.mounts import network_file_system  # noqa: PLC0415 - after the first paint

        return network_file_system(folder)

    # -- writing; no child process inherits a handle

    def open(self, path: Path) -> int:
        """Opens a file for appending, makes it when there is none; its handle."""
        flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
        return os.open(path, flags, 0o666)

    def size(self, handle: int) -> int:
        """How long an open file is, bytes."""
        return os.fstat(handle).st_size

    def append(self, handle: int, data: bytes) -> None:
        """Writes at the end of a file, all of it."""
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(handle, rest) :]

    def sync(self, handle: int) -> None:
        """Returns when what was written to a file is on the disk."""
        # macOS and Windows have no call for the content alone.
        getattr(os, "fdatasync", os.fsync)(handle)

    def truncate(self, handle: int, size: int) -> None:
        """Cuts a file short."""
        os.ftruncate(handle, size)

    def close(self, handle: int) -> None:
        """Closes a file."""
        os.close(handle)

    def replace(self, source: Path, target: Path) -> None:
        """Gives a file the name of another, which is gone at the same instant."""
        source.replace(target)

    def unlink(self, path: Path) -> None:
        """Takes a name away; one that is gone already is no error."""
        path.unlink(missing_ok=True)

    def make_folder(self, path: Path) -> None:
        """Makes a folder in an existing one, unless it is there."""
        path.mkdir(exist_ok=True)

    def sync_folder(self, folder: Path) -> None:
        """Returns when the names in a folder are on the disk."""
        if os.name != "posix":  # Windows cannot open a folder to sync it
            return
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)

    # -- taking turns

    @contextmanager
    def alone(self, folder: Path) -> Iterator[None]:
        """Keeps every other writer out of a folder while it lasts.

        It is the folder itself that is locked: a lock file can be deleted by hand, and
        then two would write. The system frees the lock of a program that is dead.

        Raises:
            LogFault: Another program writes for longer than LOCK_WAIT_S.
            OSError: There is no such folder.
        """
        if sys.platform == "win32":  # there an open file cannot be deleted
            with _locked_file(folder):
                yield
            return
        import fcntl  # noqa: PLC0415 - Windows has none

        # No child process inherits the handle, so that none can keep the lock.
        handle = os.open(folder, os.O_RDONLY)
        try:
            for _ in range(round(LOCK_WAIT_S / _LOCK_POLL_S)):
                try:
                    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                    break
                except BlockingIOError:
                    time.sleep(_LOCK_POLL_S)
            else:
                raise LogFault(_busy(folder))
            yield
        finally:
            os.close(handle)


@contextmanager
def _locked_file(folder: Path) -> Iterator[None]:
    from filelock import FileLock, Timeout  # noqa: PLC0415 - after the first paint

    # A lock of its own for each commit: two threads exclude each other as well.
    lock = FileLock(folder / ".writer.lock")
    try:
        lock.acquire(timeout=LOCK_WAIT_S, poll_interval=_LOCK_POLL_S)
    except Timeout as error:
        raise LogFault(_busy(folder)) from error
    try:
        yield
    finally:
        lock.release()


def _busy(folder: Path) -> str:
    return (
        f"NOT SAVED: another program has been writing to {folder} for "
        f"{LOCK_WAIT_S:g} s; try again, or end that program"
    )


def durable_folder(disk: Disk, folder: Path) -> None:
    """Makes a folder and those above it, and sees their names onto the disk.

    The name of the folder itself is synced even if it exists: the program that made
    it may have died before it did so.

    Raises:
        OSError: The disk refused.
    """
    wanted = [folder]
    while disk.stamp(wanted[-1].parent) is None and wanted[-1] != wanted[-1].parent:
        wanted.append(wanted[-1].parent)
    for each in reversed(wanted):
        disk.make_folder(each)
        disk.sync_folder(each.parent)


def replace_whole(disk: Disk, path: Path, content: bytes) -> None:
    """Puts new content in a file's place, on the disk when this returns.

    A reader sees the old content or the new; a power cut leaves one or the other.

    Raises:
        OSError: The disk refused; the old content is there, or the new one whole.
    """
    # A name of its own, so that two writers can never fill the same file; the
    # leading dot keeps a left-over out of the list of pours.
    fresh = path.with_name(f".{path.name}.{os.getpid()}-{os.urandom(4).hex()}.tmp")
    try:
        handle = disk.open(fresh)
        try:
            disk.append(handle, content)
            disk.sync(handle)
        finally:
            disk.close(handle)
        disk.replace(fresh, path)
    except BaseException:
        with suppress(OSError):
            disk.unlink(fresh)
        raise
    disk.sync_folder(path.parent)


def free_name(disk: Disk, path: Path) -> Path:
    """A path, or the same with a number after it when the name is taken."""
    number, free = 1, path
    while disk.stamp(free) is not None:
        number += 1
        free = path.with_name(f"{path.name}-{number}")
    return free


class Ballast:
    """A file that is given up when the disk is full, so that the marks go on."""

    def __init__(self, disk: Disk, folder: Path) -> None:
        """Names it; it appears with ``keep``.

        Args:
            disk: The file system.
            folder: Where it lies.
        """
        self.path = folder / ".ballast"
        self._disk = disk

    def keep(self) -> None:
        """Makes the ballast unless it is there or the disk is nearly full."""
        with suppress(OSError):  # without it a full disk is full at once
            if self._disk.stamp(self.path) is not None:
                return
            if self._disk.free(self.path.parent) > 4 * BALLAST_BYTES:
                # Not zeros: some file systems do not store those.
                content = b"ballast\n" * (BALLAST_BYTES // 8)
                replace_whole(self._disk, self.path, content)

    def give_up(self) -> bool:
        """Makes room; whether there was any ballast left.

        Raises:
            OSError: The disk refused.
        """
        if self._disk.stamp(self.path) is None:
            return False
        self._disk.unlink(self.path)
        return True
