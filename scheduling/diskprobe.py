"""The disk of the log: how long a sync takes, how much room there is, whose it is."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from scheduling.clock import stopwatch_s
from scheduling.disk import BALLAST_BYTES, Ballast, Disk
from scheduling.finding import Finding, Standing
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


_LITTLE_BYTES = 50_000_000
"""Room below which a disk will soon be full."""


def disk_findings(folder: Path, log: Path, disk: Disk) -> Iterator[Finding]:
    """Looks at the disk of a shop folder.

    Args:
        folder: The shop folder.
        log: The folder of its log, in it.
        disk: The file system.
    """
    kind = disk.network(log)
    if kind:
        words, _, do = on_network(log, kind).partition(". ")
        yield _disk("place", "look", words, do)
    else:
        yield _disk("place", "ok", f"{folder} is on a disk of this machine")
    there = next((path for path in (log, folder) if disk.stamp(path)), None)
    if there is None:
        yield _disk("sync", "ok", "not timed: there is no shop folder yet")
        return
    yield _syncs(there, disk)
    yield from _room(there, disk, kept=there == log)


def _disk(
    about: str, standing: Standing, found: str, do: str = "", **values: float
) -> Finding:
    return Finding("disk", about, standing, found, do, values)


def _syncs(folder: Path, disk: Disk) -> Finding:
    try:
        times = sync_times(folder, disk)
    except OSError as error:
        found = f"nothing can be written to {folder} ({error.strerror or error})"
        do = "no mark is saved until this user may write there"
        return _disk("sync", "look", found, do)
    found = (
        f"a mark is on the disk in {times.p50_ms:g} ms, 19 in 20 in {times.p95_ms:g}"
    )
    standing: Standing = "ok"
    do = ""
    if times.slow:
        standing, found = "look", f"slow: {found}"
        do = "keep the shop folder on a quicker disk, or expect a pause at every mark"
    return _disk("sync", standing, found, do, p50_ms=times.p50_ms, p95_ms=times.p95_ms)


def _room(folder: Path, disk: Disk, *, kept: bool) -> Iterator[Finding]:
    free = disk.free(folder)
    found = f"{free / 1e9:.1f} GB free" if free > 1e9 else f"{free / 1e6:.0f} MB free"
    if free < _LITTLE_BYTES:
        do = "make room: a full disk takes no marks"
        yield _disk("room", "look", found, do, free_bytes=free)
    else:
        yield _disk("room", "ok", found, free_bytes=free)
    if not kept:
        return
    if disk.stamp(Ballast(disk, folder).path) is not None:
        words = f"{BALLAST_BYTES // 1024} kB are held for some hundred marks more"
        yield _disk("reserve", "ok", f"{words} on a full disk")
    else:
        words = "nothing is held for marks on a full disk"
        do = "nothing where there is room: the next mark makes it again"
        yield _disk("reserve", "look", words, do)
