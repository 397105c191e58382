"""What rings in the program: the ringer, the noise, and what the alert block says."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from scheduling.alert import Alert
from scheduling.ringlock import RingLock
from tui import output
from tui.awake import StayAwake
from tui.belltest import BellTest
from tui.chorus import Chorus
from tui.hook import Hook
from tui.notify import Notifier, terminal_writer
from tui.widgets.shout import ShoutText

if TYPE_CHECKING:
    from scheduling.ringer import Ring, Ringer
    from tui.app import PourbellApp
    from tui.watchfeed import WatchFeed


HEARD_S = 0.2
"""A ring counts as made when the program still runs this long after it, seconds."""

_MINUTES_FROM_S = 120.0
"""A clock set by less is said in seconds."""


class BellTower:
    """Rings for one program: what is due is seen, heard and logged.

    Of several programs on one log one makes the noise; the others show what rings.
    """

    def __init__(self, app: PourbellApp, *, watched: bool) -> None:
        """Prepares; nothing rings yet.

        Args:
            app: The program.
            watched: Whether a process of its own watches over it.
        """
        self._app = app
        session = app.session
        self._lock = RingLock(session.folder.log)
        self._watched = watched and os.name == "posix"
        self._feed: WatchFeed | None = None
        self._awake = StayAwake()
        bells = session.shop.bells
        self.chorus = Chorus(
            Notifier(bells, write=terminal_writer(app), bell=app.bell),
            Hook(bells.command) if bells.command else None,
            told=lambda ring: output.call(ring, session.time.now(), session.zone),
        )
        self.test = BellTest(session, self.chorus)
        self._ringer: Ringer | None = None
        self._fresh: set[tuple[str, str]] = set()
        self._unsettled: set[str] = set()
        self._waiting = False

    def start(self) -> None:
        """Starts ringing in the running loop."""
        from scheduling.ringer import Ringer  # noqa: PLC0415 - after the first paint
        from tui.watchfeed import WatchFeed  # noqa: PLC0415 - after the first paint

        session = self._app.session
        if self._watched:
            self._feed = WatchFeed(session.folder.path, session.shop.bells)
        self._ringer = Ringer(
            session.time,
            source=session.ringing,
            next_due=session.next_due,
            on_ring=self._on_ring,
            on_quiet=self._on_quiet,
            on_step=self._on_step,
        )
        self.chorus.audible = self._lock.take()
        self._ringer.start()
        self.test.begin()

    def every(
        self, seconds: float, chore: Callable[[], Awaitable[None]], name: str
    ) -> None:
        """Has something done again and again beside the ringing."""
        if self._ringer is not None:
            self._ringer.every(seconds, chore, name)

    async def stop(self, *, bye: bool) -> None:
        """Falls silent.

        Args:
            bye: Whether the program is left on purpose; the watch goes home then.
        """
        if self._ringer is not None:
            self._ringer.stop()
        if self._feed is not None:
            self._feed.bye() if bye else self._feed.leave()
        self._lock.release()
        self._awake.end()
        await self.chorus.end()

    def check(self) -> None:
        """Rings what is due now and sets the fine timer to what comes next."""
        if self._ringer is None:
            return
        was, self.chorus.audible = self.chorus.audible, self._lock.take()
        if self.chorus.audible and not was:
            for ring in self.chorus.rings:
                self._write_down(ring)
            self._later()
        session = self._app.session
        now = session.time.now()
        until = session.silent_until(now)
        if self.chorus.muted != (until is not None):
            self.chorus.muted = until is not None
            self._later()
        self._ringer.now()
        self.chorus.call(asyncio.get_running_loop().time())
        self.test.look()
        if self._watched:
            self._awake.look(wanted=bool(session.open_pours()))
        if self._feed is not None:
            from tui.watchreader import pending  # noqa: PLC0415 - after the first paint

            silent_s = (until - now).total_seconds() if until else 0.0
            due = pending(session)
            self._feed.beat(due, holds=self.chorus.audible, silent_s=silent_s)

    def loudest(self) -> Ring | None:
        """The ring that the screen shows: closing before opening before a word."""
        return self.chorus.loudest()

    def silence(self, alert: Alert) -> None:
        """Takes an alert down that was just answered."""
        self.chorus.drop(alert)
        self.chorus.sound()
        if self._feed is not None:
            self._feed.answered(alert.pour, alert.id)

    def shout_text(self, *, several: bool) -> ShoutText | None:
        """What the alert block says.

        Args:
            several: Whether the pour has to be named.
        """
        ring = self.loudest()
        if ring is None:
            return self.test.text()
        alert = ring.alert
        late = ""
        if ring.late_s:
            minutes, seconds = divmod(round(ring.late_s), 60)
            why = ", the machine slept" if ring.slept else ""
            late = f"LATE by {minutes} min {seconds:02d} s{why}: "
        others = len(self.chorus.rings) - 1
        more = f"   {others} more" if others else ""
        if not self.chorus.audible:
            more += "   another program rings"
        if self.chorus.failures:
            more += f"   {self.chorus.failures[-1]}"
        where = f"{alert.pour}: " if several else ""
        return ShoutText(
            alert.shape,
            alert.word,
            f"{late}{where}{alert.line}",
            f"ENTER heard{more}",
            ring.repeat,
        )

    def _on_ring(self, ring: Ring) -> None:
        """Makes an alert seen and heard; its first ring goes into the log."""
        alert = ring.alert
        rang = alert.id in self._app.session.pour(alert.pour).state.rang
        if rang:  # before the program was left, or in another one: not late
            ring = replace(ring, late_s=0.0)
        self.chorus.put(ring)
        self._fresh.add((alert.pour, alert.id))
        if ring.repeat == 0 and self.chorus.audible:
            self._write_down(ring)
        self._later()

    def _write_down(self, ring: Ring) -> None:
        """Writes into the log that an alert rang, once."""
        alert, session = ring.alert, self._app.session
        if alert.id not in session.pour(alert.pour).state.rang:
            session.rang(alert, ring.late_s)
            self._unsettled.add(alert.pour)

    def _on_quiet(self, alert: Alert) -> None:
        """Takes an alert down that was answered elsewhere or no longer matters."""
        self.chorus.drop(alert)
        if self._feed is not None:
            self._feed.answered(alert.pour, alert.id)
        self._later()

    def _later(self) -> None:
        """Sounds, shows and writes once for all that one check brought."""
        if not self._waiting:
            self._waiting = True
            self._app.call_later(self._flush)

    def _flush(self) -> None:
        self._waiting = False
        self.chorus.sound()
        self._app.show()
        unsettled, self._unsettled = self._unsettled, set()
        for pour in sorted(unsettled):
            self._app.call_after_refresh(self._app.settle, pour)
        fresh, self._fresh = self._fresh, set()
        if self._feed is not None:
            # Not at once: painting may block before anything is heard.
            loop = asyncio.get_running_loop()
            for pour, alert in fresh:
                loop.call_later(HEARD_S, self._feed.rung, pour, alert)

    def _on_step(self, seconds: float) -> None:
        """Says that the clock was set; what is due keeps its real time."""
        session = self._app.session
        if self.chorus.audible:
            session.clock_was_set(seconds)
            for pour in session.open_pours():
                self._app.call_after_refresh(self._app.settle, pour.name)
        else:
            session.look_at_clock()
        way = "forward" if seconds > 0 else "back"
        by = abs(seconds)
        much = f"{by:.1f} s" if by < _MINUTES_FROM_S else output.length(by / 60)
        self._app.say(
            f"the clock was set {way} by {much}; bells keep their real time", bad=True
        )

    @property
    def failures(self) -> list[str]:
        """What is wrong with the bells, in plain words; empty when all is well."""
        watch = self._feed.trouble if self._feed is not None else ""
        troubles = filter(None, [self._awake.trouble, watch])
        return [*self.chorus.failures, *troubles]
