"""A machine whose time is moved by hand, and an event loop that lives on it.

``run`` lets time pass, ``sleep_machine`` closes the lid, ``step`` sets the clock,
``reboot`` starts the machine anew. Nothing waits: a loop that would sleep moves the
machine's time on instead.
"""

from __future__ import annotations

import asyncio
import selectors
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from unittest.mock import patch

from scheduling.clock import WallTime

START = datetime(2030, 4, 1, 7, 30, tzinfo=UTC)
US = timedelta(microseconds=1)


class Machine:
    """A machine: ``real`` is the true time, which nobody on it can see."""

    def __init__(self, start=START):
        self.start = start
        self.real = 0.0
        self.mono = 100.0
        self.since_boot = 100.0
        self.wrong = 0.0
        self.boots = 1
        self.awake = []
        """Spells in which programs ran, (from, to) in real seconds; the last open."""
        self._woke = 0.0

    def run(self, seconds):
        self.real += seconds
        self.mono += seconds
        self.since_boot += seconds

    def sleep_machine(self, seconds):
        self.off()
        self.real += seconds
        self.since_boot += seconds
        self.on()

    def step(self, seconds):
        self.wrong += seconds

    def reboot(self, seconds, wrong=0.0):
        """Off for a while, then on again with a clock wrong by so much."""
        self.off()
        self.real += seconds
        self.mono = self.since_boot = 5.0
        self.wrong = wrong
        self.boots += 1
        self.on()

    def off(self):
        """No program runs from here on."""
        self.awake.append((self._woke, self.real))

    def on(self):
        self._woke = self.real

    def wall(self):
        return self.start + timedelta(seconds=self.real + self.wrong)

    def could_act(self, due):
        """The real second from which on a program ran, from due on, for a second."""
        for begun, ended in (*self.awake, (self._woke, float("inf"))):
            if ended - max(begun, due) > 1.1:
                return max(begun, due)
        raise AssertionError


class VirtualTime(WallTime):
    """The program's own time, on a machine moved by hand."""

    def __init__(self, machine):
        self.machine = machine
        self._boot_id = f"boot{machine.boots:04}"
        self._zero = self._clock_zero()
        self._ahead = timedelta(0)

    def wall(self):
        return self.machine.wall()

    def _since_boot(self):
        return round(self.machine.since_boot * 1e6) * US

    def boot(self):
        return self._since_boot() // timedelta(milliseconds=1), self._boot_id


class _Selector(selectors.DefaultSelector):
    def __init__(self, machine):
        super().__init__()
        self.machine = machine

    def select(self, timeout=None):
        ready = super().select(0)
        if ready or timeout == 0:
            return ready
        if timeout is None:  # only another thread can wake this loop
            return super().select(5)
        self.machine.run(timeout)
        return []


class VirtualLoop(asyncio.SelectorEventLoop):
    """An event loop that never waits."""

    def __init__(self, machine):
        super().__init__(_Selector(machine))
        self.machine = machine
        self._clock_resolution = 1e-6

    def time(self):
        return self.machine.mono


@contextmanager
def scheduler_on(machine):
    """Lets APScheduler and Textual read the machine's clock, not the real one."""

    class Clock(datetime):
        @classmethod
        def now(cls, tz=None):
            return machine.wall().astimezone(tz)

    with (
        patch("apscheduler.schedulers.base.datetime", Clock),
        patch("apscheduler.executors.base.datetime", Clock),
        patch("textual._time.get_time", lambda: machine.mono),
    ):
        yield


def run_on(machine, work):
    """Runs a coroutine on a loop that lives on a machine."""
    with (
        scheduler_on(machine),
        asyncio.Runner(loop_factory=lambda: VirtualLoop(machine)) as runner,
    ):
        return runner.run(work)
