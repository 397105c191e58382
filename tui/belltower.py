"""What rings in the program: the ringer, the noise, and what the alert block says."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Coroutine
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from scheduling.alerts import Alert
from tui.notify import Notifier, terminal_writer
from tui.widgets.shout import ShoutText

if TYPE_CHECKING:
    from scheduling.ringer import Ring, Ringer
    from tui.app import PourbellApp

_LOUDEST = ("closes", "opens", "note")
"""Shapes of alert, the one that must be heard first leading."""


class BellTower:
    """Rings for one program: what is due is seen, heard and logged."""

    def __init__(self, app: PourbellApp) -> None:
        self._app = app
        self._rings: dict[tuple[str, str], Ring] = {}
        self._ringer: Ringer | None = None
        self._notifier: Notifier | None = None
        self._sounding: tuple[str, str] | None = None
        self._unsettled: set[str] = set()
        self._waiting = False
        self._chores: set[asyncio.Task[None]] = set()

    def start(self) -> None:
        """Starts ringing in the running loop."""
        from scheduling.ringer import Ringer  # noqa: PLC0415 - after the first paint

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
        )
        self._ringer.start()

    def every(
        self, seconds: float, chore: Callable[[], Awaitable[None]], name: str
    ) -> None:
        """Has something done again and again beside the ringing."""
        if self._ringer is not None:
            self._ringer.every(seconds, chore, name)

    def stop(self) -> None:
        """Falls silent."""
        if self._ringer is not None:
            self._ringer.stop()
        if self._notifier is not None:
            self._chore(self._notifier.stop())

    def check(self) -> None:
        """Rings what is due now and sets the fine timer to what comes next."""
        if self._ringer is not None:
            self._ringer.check(asyncio.get_running_loop().time())
            self._ringer.arm()

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
            late = f"LATE by {minutes} min {seconds:02d} s: "
        more = f"   {len(self._rings) - 1} more" if len(self._rings) > 1 else ""
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
        self._rings[alert.pour, alert.id] = ring
        if ring.repeat == 0 and not rang:
            self._app.session.rang(alert, ring.late_s)
            self._unsettled.add(alert.pour)
        self._later()

    def _on_quiet(self, alert: Alert) -> None:
        """Takes an alert down that was answered elsewhere or no longer matters."""
        self._rings.pop((alert.pour, alert.id), None)
        self._later()

    def _later(self) -> None:
        """Sounds, shows and writes once for all that one check brought."""
        if not self._waiting:
            self._waiting = True
            self._app.call_later(self._flush)

    def _flush(self) -> None:
        self._waiting = False
        self._sound()
        self._app.show()
        unsettled, self._unsettled = self._unsettled, set()
        for pour in sorted(unsettled):
            self._app.call_after_refresh(self._app.settle, pour)

    def _sound(self) -> None:
        """Sounds the loudest alert, or falls silent."""
        notifier = self._notifier
        if notifier is None:
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
        return list(self._notifier.failures) if self._notifier else []

    def _chore(self, work: Coroutine[Any, Any, None]) -> None:
        """Runs something in the background and keeps hold of it."""
        task = asyncio.get_running_loop().create_task(work)
        self._chores.add(task)
        task.add_done_callback(self._chores.discard)
