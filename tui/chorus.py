"""Everything that rings at one time, of which the loudest is heard."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import TYPE_CHECKING, Any

from scheduling.alert import Alert
from tui.notify import Notifier

if TYPE_CHECKING:
    from scheduling.ringer import Ring

_LOUDEST = ("closes", "opens", "note")
"""Shapes of alert, the one that must be heard first leading."""


class Chorus:
    """What rings now; closing is heard before opening, opening before a word.

    Attributes:
        audible: Whether this program is the one that makes the noise.
    """

    def __init__(self, notifier: Notifier) -> None:
        self.audible = False
        self._notifier = notifier
        self._rings: dict[tuple[str, str], Ring] = {}
        self._sounding: tuple[str, str] | None = None
        self._chores: set[asyncio.Task[None]] = set()

    @property
    def rings(self) -> list[Ring]:
        """All that rings."""
        return list(self._rings.values())

    @property
    def failures(self) -> list[str]:
        """Why a channel could not be used, in plain words; empty when all is well."""
        return list(self._notifier.failures)

    def loudest(self) -> Ring | None:
        """The ring to be seen and heard, or None."""
        return min(
            self._rings.values(),
            key=lambda ring: (
                _LOUDEST.index(ring.alert.shape),
                -ring.alert.due.timestamp(),
            ),
            default=None,
        )

    def put(self, ring: Ring) -> None:
        """Lets an alert join, or ring once more; ``sound`` makes it heard."""
        self._rings[ring.alert.pour, ring.alert.id] = ring

    def drop(self, alert: Alert) -> None:
        """Takes an alert out that no longer rings; ``sound`` ends its noise."""
        self._rings.pop((alert.pour, alert.id), None)

    def sound(self) -> None:
        """Sounds the loudest alert, or falls silent."""
        ring = self.loudest() if self.audible else None
        if ring is None:
            self._sounding = None
            self._chore(self._notifier.stop())
            return
        key = (ring.alert.pour, ring.alert.id)
        if key != self._sounding or not self._notifier.ringing:
            self._sounding = key
            title = f"{ring.alert.word}: {ring.alert.pour}"
            shape, line = ring.alert.shape, ring.alert.line
            self._chore(self._notifier.start(shape, title, line))

    async def end(self) -> None:
        """Falls silent for good; every player is gone when this returns."""
        self.audible = False
        await self._notifier.stop()

    def _chore(self, work: Coroutine[Any, Any, None]) -> None:
        """Runs something in the background and keeps hold of it."""
        task = asyncio.get_running_loop().create_task(work)
        self._chores.add(task)
        task.add_done_callback(self._chores.discard)
