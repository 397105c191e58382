"""The only reader of wall, boot and monotonic time, and its simulated twin."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from math import inf
from pathlib import Path
from typing import Protocol

STEP_S = 0.5
"""A clock that is this far from where elapsed time would have it was set, seconds."""

UNSURE_S = 5.0
"""A clock this far behind what is written down cannot be right, seconds."""

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


class TimeSource(Protocol):
    """Where the program takes the time from."""

    def now(self) -> datetime:
        """The instant, aware, UTC; it runs steadily whatever is done to the clock."""
        ...

    def wall(self) -> datetime:
        """What the machine's clock says, for timers that go by it."""
        ...

    def boot(self) -> tuple[int, str]:
        """Milliseconds that no change of the clock can move, and whose they are.

        The second value names the run of the machine they count in, its first
        eight characters; "" means that two readings of different programs cannot
        be compared.
        """
        ...

    def placed(self, boot: tuple[int, str]) -> datetime | None:
        """The instant of a boot-clock reading on the scale of ``now``.

        Returns:
            None for a reading of another run of the machine.
        """
        ...

    def step(self) -> float:
        """Takes over a clock that was set; returns by how many seconds, else 0.

        ``now`` follows the clock from here on, and ``placed`` with it.
        """
        ...

    def not_before(self, instant: datetime) -> bool:
        """Keeps ``now`` from standing before something that has happened.

        Returns:
            Whether the clock is behind it, and so cannot be trusted.
        """
        ...

    def real_seconds(self, until: datetime) -> float:
        """Real seconds until an instant at the present speed, 0 when it is past."""
        ...


class WallTime:
    """The machine's own time: its clock as read once, carried on by its boot clock."""

    def __init__(self) -> None:
        self._boot_id = _read_boot_id()
        self._zero = self._clock_zero()
        self._ahead = timedelta(0)

    def now(self) -> datetime:
        """The machine's time, UTC; a step of the clock shows after ``step``."""
        return self._zero + self._since_boot() + self._ahead

    def wall(self) -> datetime:
        """The machine's clock as it is set at the moment, UTC."""
        return datetime.now(UTC)

    def boot(self) -> tuple[int, str]:
        """Time since the machine started, sleep included where it can tell."""
        moment = self._since_boot() // timedelta(milliseconds=1)
        return moment, self._boot_id if hasattr(time, "CLOCK_BOOTTIME") else ""

    def placed(self, boot: tuple[int, str]) -> datetime | None:
        """The instant of a reading of this run of the machine, else None."""
        moment, boot_id = boot
        if not boot_id or boot_id != self._boot_id:
            return None
        return self._zero + timedelta(milliseconds=moment) + self._ahead

    def step(self) -> float:
        """Follows the clock when it was set by more than STEP_S."""
        zero = self._clock_zero()
        moved = (zero - self._zero).total_seconds()
        if abs(moved) <= STEP_S:
            return 0.0
        self._zero = zero
        self._ahead = timedelta(0)
        return moved

    def not_before(self, instant: datetime) -> bool:
        """Counts from an instant that the clock has lost, until the clock is set."""
        behind = instant - self.now()
        if behind.total_seconds() > UNSURE_S:
            self._ahead += behind
        return bool(self._ahead)

    def real_seconds(self, until: datetime) -> float:
        """Seconds until an instant, 0 when it is past."""
        return max((until - self.now()).total_seconds(), 0.0)

    def _since_boot(self) -> timedelta:
        if hasattr(time, "CLOCK_BOOTTIME"):
            since = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
        else:
            since = time.monotonic_ns()
        return timedelta(microseconds=since // 1000)

    def _clock_zero(self) -> datetime:
        """What the clock would have said when the machine started."""
        return self.wall() - self._since_boot()


def stopwatch_s() -> float:
    """Seconds from no particular moment, for timing what takes milliseconds."""
    return time.perf_counter()


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

    def wall(self) -> datetime:
        """The machine's clock, UTC: what waits for this time waits in real seconds."""
        return datetime.now(UTC)

    def placed(self, boot: tuple[int, str]) -> datetime | None:  # noqa: ARG002 - none is
        """Nothing is placed: no run of a simulated clock can be compared."""
        return None

    def step(self) -> float:
        """Nobody sets a simulated clock."""
        return 0.0

    def not_before(self, instant: datetime) -> bool:  # noqa: ARG002 - never behind
        """A simulated clock is always right."""
        return False

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
