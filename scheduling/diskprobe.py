"""How long the disk of the log takes until something is really on it."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from scheduling.clock import stopwatch_s
from scheduling.disk import Disk
from scheduling.mounts import on_network

SYNCS = 20
"""How many are timed, each of about the bytes of an event."""

SLOW_MS = 100.0
"""From here on, milliseconds, somebody at the keys notices every mark."""

_PATIENCE_S = 4.0
"""A disk so slow that this passes is known well enough."""

_EVENT = b"x" * 320 + b"\n"


@dataclass(frozen=True, slots=True)
class SyncTimes:
    """Milliseconds of a write and its sync: the middle, and 19 in 20 by ``p95_ms``."""

    p50_ms: float
    p95_ms: float

    @property
    def slow(self) -> bool:
        """Whether somebody at the keys notices."""
        return self.p95_ms > SLOW_MS


def sync_times(folder: Path, disk: Disk) -> SyncTimes:
    """Times the syncs of a scratch file, which is gone afterwards.

    Raises:
        OSError: The folder cannot be written to.
    """
    path = folder / f".probe.{os.getpid()}-{os.urandom(4).hex()}.tmp"
    times: list[float] = []
    try:
        handle = disk.open(path)
        try:
            while len(times) < SYNCS and sum(times) < _PATIENCE_S:
                began = stopwatch_s()
                disk.append(handle, _EVENT)
                disk.sync(handle)
                times.append(stopwatch_s() - began)
        finally:
            disk.close(handle)
    finally:
        with suppress(OSError):
            disk.unlink(path)
    times.sort()
    middle, high = times[len(times) // 2], times[len(times) * 19 // 20]
    return SyncTimes(round(middle * 1000, 2), round(high * 1000, 2))


def slow_words(times: SyncTimes) -> str:
    """Says that a disk is slow, in one line."""
    return f"the disk is slow: 19 marks in 20 are saved within {times.p95_ms:.0f} ms"


def disk_trouble(folder: Path, disk: Disk) -> str:
    """What somebody should know of the disk of the log before a pour, or ""."""
    kind = disk.network(folder)
    if kind:
        return on_network(folder, kind)
    try:
        times = sync_times(folder, disk)
    except OSError:  # no log yet, or not ours: the first mark says so
        return ""
    return slow_words(times) if times.slow else ""
