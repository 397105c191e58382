"""The loop that rings: APScheduler for the fine timing, a tick that trusts nothing.

What is ringing is asked anew at every check; the ringer only remembers what it is
making a noise about. A check can be called at any time, from anywhere, any number
of times.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from math import isfinite
from typing import TYPE_CHECKING

from scheduling.alert import Alert
from scheduling.calls import counted_s, pause_s
from scheduling.clock import STEP_S, TimeSource

if TYPE_CHECKING:
    from apscheduler.schedulers.asyncio import AsyncIOScheduler

LATE_S = 5.0
"""An alert this many seconds past its due time is called late."""

_TICK_S = 1.0
_JOB = "next-alert"
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Ring:
    """One ring of one alert.

    Attributes:
        alert: What rings.
        late_s: Seconds past its due time at the first ring, 0 when in time.
        repeat: 0 for the first ring, then 1, 2, ...
        slept: Whether it is late because the machine slept.
    """

    alert: Alert
    late_s: float
    repeat: int
    slept: bool = False


@dataclass(slots=True)
class _Sounding:
    ring: Ring
    again: float


class Ringer:
    """Rings what is due until it no longer is.

    ``source`` says what is ringing at an instant, ``next_due`` when the next alert
    comes; ``on_ring`` makes the noise and logs it, ``on_quiet`` ends it, ``on_step``
    hears by how many seconds the clock was set.
    """

    def __init__(
        self,
        time: TimeSource,
        *,
        source: Callable[[datetime], Sequence[Alert]],
        next_due: Callable[[datetime], datetime | None],
        on_ring: Callable[[Ring], None],
        on_quiet: Callable[[Alert], None],
        on_step: Callable[[float], None] = lambda _seconds: None,
    ) -> None:
        self._time = time
        self._source = source
        self._next_due = next_due
        self._on_ring = on_ring
        self._on_quiet = on_quiet
        self._on_step = on_step
        self._sounding: dict[tuple[str, str], _Sounding] = {}
        self._checked: datetime | None = None
        self._scheduler: AsyncIOScheduler | None = None
        self._ticking: asyncio.Task[None] | None = None
        self._armed: datetime | None = None
        self._asleep_s = 0.0
        self._slept = False

    def check(self, real_s: float = 0.0) -> None:
        """Rings what has come due, repeats what is unanswered, ends what is over.

        An alert whose ringing fails is tried again at the next check and keeps no
        other from ringing.

        Args:
            real_s: A monotonic time in seconds; repeats are counted on it.
        """
        now = self._time.now()
        due = {(alert.pour, alert.id): alert for alert in self._source(now)}
        for key in [key for key in self._sounding if key not in due]:
            self._on_quiet(self._sounding.pop(key).ring.alert)
        for key, alert in due.items():
            sounding = self._sounding.get(key)
            if sounding is None:
                # Due before the last check but new in it: a forecast that moved back.
                moved = self._checked is not None and alert.due <= self._checked
                late = 0.0 if moved else (now - alert.due).total_seconds()
                is_late = late > LATE_S
                slept = is_late and self._slept
                ring = Ring(alert, late if is_late else 0.0, 0, slept=slept)
            elif real_s >= sounding.again:
                ring = replace(sounding.ring, repeat=sounding.ring.repeat + 1)
            else:
                continue
            try:
                self._on_ring(ring)
            except Exception:  # noqa: BLE001 - the others must ring
                _log.exception("ringing %s of %s failed", alert.id, alert.pour)
            else:
                rung_s = counted_s(sounding.again if sounding else real_s, real_s)
                again = rung_s + pause_s(ring.repeat)
                self._sounding[key] = _Sounding(ring, again)
        self._checked = now

    def start(self) -> None:
        """Starts the loop in the running asyncio loop and rings what is due."""
        loop = asyncio.get_running_loop()
        self._asleep_s = self._asleep(loop.time())
        self._ticking = loop.create_task(self._tick())
        try:
            self._scheduler = _scheduler()
        except Exception:  # noqa: BLE001 - the tick rings without it
            _log.exception("no fine timing of the alerts")
        self.now()

    def every(
        self, seconds: float, chore: Callable[[], Awaitable[None]], name: str
    ) -> None:
        """Has something else done again and again in the loop, at once and then on.

        A turn that comes while the last is still at work is left out.

        Args:
            seconds: Real seconds between two turns.
            chore: Made anew for each turn.
            name: Of its own; a second of that name takes the place of the first.
        """
        if self._scheduler is None:
            _log.error("no timer for %s", name)
            return
        self._scheduler.add_job(
            chore,
            "interval",
            seconds=seconds,
            id=name,
            next_run_time=self._time.wall(),
            replace_existing=True,
        )

    def stop(self) -> None:
        """Stops the loop; nothing rings after it."""
        if self._ticking is not None:
            self._ticking.cancel()
            self._ticking = None
        if self._scheduler is not None and self._scheduler.running:
            self._scheduler.shutdown(wait=False)
        self._scheduler = None

    def now(self) -> None:
        """Looks at the clock, rings what is due and sets the fine timer.

        Whatever fails is written down and no more: the next second tries again.
        """
        real_s = asyncio.get_running_loop().time()
        try:
            self._look(real_s)
            self.check(real_s)
            self.arm()
        except Exception:  # noqa: BLE001 - nothing may end the ticking
            _log.exception("a check of the alerts failed; the next tick tries again")

    def _look(self, real_s: float) -> None:
        """Notices that the clock was set or that the machine slept."""
        asleep_s = self._asleep(real_s)
        self._slept = asleep_s - self._asleep_s > STEP_S
        self._asleep_s = asleep_s
        moved = self._time.step()
        if moved:
            _log.warning("clock-step: the clock was set by %+.1f s", moved)
            self._checked = None
            self._on_step(moved)
        if moved or self._slept:
            self._armed = None

    def _asleep(self, real_s: float) -> float:
        """Seconds the machine has slept, give or take a constant."""
        return self._time.boot()[0] / 1000 - real_s

    def arm(self) -> None:
        """Sets the fine timer to the next alert; call it after every change."""
        if self._scheduler is None or not self._scheduler.running:
            return
        due = self._next_due(self._time.now())
        if due is None or due == self._armed:
            return
        wait = self._time.real_seconds(due)
        if not isfinite(wait):
            return
        run_at = self._time.wall() + timedelta(seconds=wait)
        self._scheduler.add_job(
            self._fire, "date", run_date=run_at, id=_JOB, replace_existing=True
        )
        self._armed = due

    async def _fire(self) -> None:
        self._armed = None
        self.now()

    async def _tick(self) -> None:
        """Checks once a second past APScheduler, which nothing may stop."""
        while True:
            await asyncio.sleep(_TICK_S)
            self.now()


def _scheduler() -> AsyncIOScheduler:
    # Imported here: the first screen must not wait for it.
    from apscheduler.schedulers.asyncio import AsyncIOScheduler  # noqa: PLC0415

    scheduler = AsyncIOScheduler(
        timezone=UTC,
        job_defaults={
            "misfire_grace_time": None,
            "coalesce": True,
            "max_instances": 1,
        },
    )
    scheduler.start()
    return scheduler
