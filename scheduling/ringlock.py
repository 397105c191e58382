"""Who rings: one process at a time for one log, the others stay silent."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filelock import BaseFileLock

RINGER = "ringer.lock"
"""Held by the process that rings."""
WATCH = "watch.lock"
"""Held by the watch that is left over from a program that died."""


class RingLock:
    """A lock in the log's folder, let go by the system when its holder dies."""

    def __init__(self, folder: Path, name: str = RINGER) -> None:
        """Prepares the lock; nothing is held or made yet.

        Args:
            folder: The log's.
            name: Which of the locks.
        """
        self._folder = folder
        self._path = folder / name
        self._lock: BaseFileLock | None = None
        self._file: tuple[int, int] | None = None

    @property
    def held(self) -> bool:
        """Whether this object holds the lock, and others would find it held."""
        locked = self._lock is not None and self._lock.is_locked
        return locked and self._file == _identity(self._path)

    def take(self) -> bool:
        """Takes the lock unless another process has it; returns whether to ring.

        Where the folder takes no lock file, two processes ringing are better than
        none: then it is True although nothing is held. A lock whose file somebody
        deleted keeps nobody out; it is taken anew.
        """
        if self.held:
            return True
        if not self._folder.is_dir():
            return True
        from filelock import FileLock, Timeout  # noqa: PLC0415 - after the first paint

        self.release()
        self._lock = self._lock or FileLock(self._path)
        try:
            self._lock.acquire(timeout=0)
        except Timeout:
            return False
        except OSError:
            return True
        self._file = _identity(self._path)
        return True

    def is_free(self) -> bool:
        """Whether nobody else holds it; for an instant it is taken to find out."""
        free = self.take()
        self.release()
        return free

    def release(self) -> None:
        """Lets go; nothing happens when it is not held."""
        if self._lock is not None:
            self._lock.release()


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
