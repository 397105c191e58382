"""What rings in the program: the ringer, the noise, and what the alert block says."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Coroutine
from typing import TYPE_CHECKING, Any

from scheduling.alerts import Alert
from scheduling.ringer import Ring, Ringer
from scheduling.ringlock import RingLock
from tui.notify import Notifier, terminal_writer
from tui.watchfeed import WatchFeed
from tui.watchreader import pending
from tui.widgets.shout import ShoutText

if TYPE_CHECKING:
    from tui.app import PourbellApp

_LOUDEST = ("closes", "opens", "note")
"""Shapes of alert, the one that must be heard first leading."""


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
        folder = app.session.folder
        self._lock = RingLock(folder.log)
        self._feed: WatchFeed | None = None
        if watched and os.name == "posix":
            self._feed = WatchFeed(folder.path, app.session.shop.bells)
        self._rings: dict[tuple[str, str], Ring] = {}
        self._ringer: Ringer | None = None
        self._notifier: Notifier | None = None
        self._rings_here = False
        self._sounding: tuple[str, str] | None = None
        self._chores: set[asyncio.Task[None]] = set()

    def start(self) -> None:
        """Starts ringing in the running loop."""
        session = self._app.session
        self._notifier = Notifier(
            session.shop.bells,
            write=terminal_writer(self._app),
            bell=self._app.bell,
        )
        self._ringer = Ringer(
            session.time,
            source=session.ringing,
            next_due=session.next_due,
            on_ring=self._on_ring,
            on_quiet=self._on_quiet,
            on_step=self._on_step,
        )
        self._ringer.start()

    def stop(self, *, bye: bool) -> None:
        """Falls silent.

        Args:
            bye: Whether the program is left on purpose; the watch goes home then.
        """
        if self._ringer is not None:
            self._ringer.stop()
        if self._notifier is not None:
            self._chore(self._notifier.stop())
        if self._feed is not None:
            self._feed.bye() if bye else self._feed.leave()
        self._lock.release()

    def check(self) -> None:
        """Rings what is due now and sets the fine timer to what comes next."""
        if self._ringer is None:
            return
        held, self._rings_here = self._rings_here, self._lock.take()
        if self._rings_here and not held:
            for ring in list(self._rings.values()):
                self._write_down(ring)
            self._sound()
        self._ringer.now()
        if self._feed is not None:
            self._feed.beat(pending(self._app.session), holds=self._rings_here)

    def loudest(self) -> Ring | None:
        """The ring that the screen shows: closing before opening before a word."""
        return min(
            self._rings.values(),
            key=lambda ring: (
                _LOUDEST.index(ring.alert.shape),
                -ring.alert.due.timestamp(),
            ),
            default=None,
        )

    def silence(self, alert: Alert) -> None:
        """Takes an alert down that was just answered."""
        self._rings.pop((alert.pour, alert.id), None)
        if self._feed is not None:
            self._feed.answered(alert.pour, alert.id)
        self._sound()

    def shout_text(self, *, several: bool) -> ShoutText | None:
        """What the alert block says.

        Args:
            several: Whether the pour has to be named.
        """
        ring = self.loudest()
        if ring is None:
            return None
        alert = ring.alert
        late = ""
        if ring.late_s:
            minutes, seconds = divmod(round(ring.late_s), 60)
            why = ", the machine slept" if ring.slept else ""
            late = f"LATE by {minutes} min {seconds:02d} s{why}: "
        more = f"   {len(self._rings) - 1} more" if len(self._rings) > 1 else ""
        if not self._rings_here:
            more += "   another program rings"
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
        self._rings[alert.pour, alert.id] = ring
        if self._feed is not None:
            self._feed.rung(alert.pour, alert.id)
        if ring.repeat == 0 and self._rings_here:
            self._write_down(ring)
        self._sound()
        self._app.show()

    def _write_down(self, ring: Ring) -> None:
        """Writes into the log that an alert rang, once."""
        alert, session = ring.alert, self._app.session
        if alert.id not in session.pour(alert.pour).state.rang:
            session.rang(alert, ring.late_s)
            self._app.call_after_refresh(self._app.settle, alert.pour)

    def _on_quiet(self, alert: Alert) -> None:
        """Takes an alert down that was answered elsewhere or no longer matters."""
        self.silence(alert)
        self._app.show()

    def _on_step(self, seconds: float) -> None:
        """Says that the clock was set; what is due keeps its real time."""
        session = self._app.session
        if self._rings_here:
            session.clock_was_set(seconds)
            for pour in session.open_pours():
                self._app.call_after_refresh(self._app.settle, pour.name)
        else:
            session.look_at_clock()
        way = "forward" if seconds > 0 else "back"
        minutes, rest = divmod(round(abs(seconds)), 60)
        self._app.say(
            f"the clock was set {way} by {minutes} min {rest:02d} s; "
            "bells keep their real time",
            bad=True,
        )

    def _sound(self) -> None:
        """Sounds the loudest alert, or falls silent."""
        notifier = self._notifier
        if notifier is None or not self._rings_here:
            return
        ring = self.loudest()
        if ring is None:
            self._sounding = None
            self._chore(notifier.stop())
            return
        key = (ring.alert.pour, ring.alert.id)
        if key != self._sounding or not notifier.ringing:
            self._sounding = key
            title = f"{ring.alert.word}: {ring.alert.pour}"
            self._chore(notifier.start(ring.alert.shape, title, ring.alert.line))

    @property
    def failures(self) -> list[str]:
        """Why a channel could not be used, in plain words; empty when all is well."""
        failures = list(self._notifier.failures) if self._notifier else []
        if self._feed is not None and self._feed.trouble:
            failures.append(self._feed.trouble)
        return failures

    def _chore(self, work: Coroutine[Any, Any, None]) -> None:
        """Runs something in the background and keeps hold of it."""
        task = asyncio.get_running_loop().create_task(work)
        self._chores.add(task)
        task.add_done_callback(self._chores.discard)
