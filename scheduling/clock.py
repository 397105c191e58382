"""The only reader of wall, boot and monotonic time, and its simulated twin."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from math import inf
from pathlib import Path
from typing import Protocol

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


class TimeSource(Protocol):
    """Where the program takes the time from."""

    def now(self) -> datetime:
        """The instant, aware, UTC."""
        ...

    def boot(self) -> tuple[int, str]:
        """Milliseconds that no change of the clock can move, and whose they are.

        The second value names the run of the machine they count in, its first
        eight characters; "" means that two readings of different programs cannot
        be compared.
        """
        ...

    def real_seconds(self, until: datetime) -> float:
        """Real seconds until an instant at the present speed, 0 when it is past."""
        ...


class WallTime:
    """The machine's own time."""

    def __init__(self) -> None:
        self._boot_id = _read_boot_id()

    def now(self) -> datetime:
        """The machine's time, UTC."""
        return datetime.now(UTC)

    def boot(self) -> tuple[int, str]:
        """Time since the machine started, sleep included where it can tell."""
        if hasattr(time, "CLOCK_BOOTTIME"):
            since = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
            return since // 1_000_000, self._boot_id
        return time.monotonic_ns() // 1_000_000, ""

    def real_seconds(self, until: datetime) -> float:
        """Seconds until an instant, 0 when it is past."""
        return max((until - self.now()).total_seconds(), 0.0)


def _read_boot_id() -> str:
    try:
        return _BOOT_ID.read_text(encoding="ascii").strip()[:8]
    except (OSError, UnicodeDecodeError):
        return ""


class SimulatedTime:
    """Time that stands still or runs faster than real, and never goes back."""

    def __init__(self, start: datetime, speed: float = 0.0) -> None:
        """Starts the simulated time.

        Args:
            start: Its first instant, aware.
            speed: Simulated seconds in a real one; 0 stands still.

        Raises:
            ValueError: The start is naive or the speed is not 0 or more.
        """
        if start.tzinfo is None:
            raise ValueError(f"start {start}: want a time with its zone")
        if not 0 <= speed < inf:
            raise ValueError(f"speed {speed}: want 0 or more")
        self._start = start.astimezone(UTC)
        self._speed = speed
        self._shown = self._start
        self._shown_at = time.monotonic()

    def now(self) -> datetime:
        """The simulated instant, UTC."""
        passed = time.monotonic() - self._shown_at
        return self._shown + timedelta(seconds=passed * self._speed)

    def boot(self) -> tuple[int, str]:
        """Simulated milliseconds since the start, comparable with no other run."""
        return (self.now() - self._start) // timedelta(milliseconds=1), ""

    def real_seconds(self, until: datetime) -> float:
        """Real seconds until an instant; infinite while the time stands still."""
        wait = (until - self.now()).total_seconds()
        if wait <= 0:
            return 0.0
        return wait / self._speed if self._speed else inf

    def advance_to(self, instant: datetime) -> None:
        """Jumps forward to an instant; one that is already past changes nothing."""
        now = self.now()
        self._shown = max(instant.astimezone(UTC), now)
        self._shown_at = time.monotonic()
