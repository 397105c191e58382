"""Everything that rings at one time, of which the loudest is heard."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine, Mapping
from typing import TYPE_CHECKING, Any

from scheduling.alert import Alert
from scheduling.calls import Calls
from tui.notify import Notifier

if TYPE_CHECKING:
    from scheduling.ringer import Ring
    from tui.hook import Hook

_LOUDEST = ("closes", "opens", "note")
"""Shapes of alert, the one that must be heard first leading."""


class Chorus:
    """What rings now; closing is heard before opening, opening before a word.

    Attributes:
        audible: Whether this program is the one that makes the noise.
        muted: Whether somebody has silenced the bells.
    """

    def __init__(
        self,
        notifier: Notifier,
        hook: Hook | None = None,
        *,
        told: Callable[[Ring], Mapping[str, object]],
    ) -> None:
        """Prepares; nothing rings yet.

        Args:
            notifier: Makes the noise.
            hook: The shop's own command, if it has one.
            told: What that command is told of a ring.
        """
        self.audible = False
        self.muted = False
        self.notifier = notifier
        self.hook = hook
        self._told = told
        self._calls = Calls()
        self._rings: dict[tuple[str, str], Ring] = {}
        self._fresh = False
        self._sounding: tuple[str, str] | None = None
        self._trouble = ""
        self._chores: set[asyncio.Task[None]] = set()

    @property
    def rings(self) -> list[Ring]:
        """All that rings."""
        return list(self._rings.values())

    @property
    def failures(self) -> list[str]:
        """Why a channel could not be used, in plain words; empty when all is well."""
        return [*self.notifier.failures, *filter(None, [self._trouble])]

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
        self._fresh = True

    def drop(self, alert: Alert) -> None:
        """Takes an alert out that no longer rings; ``sound`` ends its noise."""
        self._rings.pop((alert.pour, alert.id), None)

    def sound(self) -> None:
        """Sounds the loudest if one joined or rings once more, or falls silent."""
        ring = self.loudest() if self.audible and not self.muted else None
        fresh, self._fresh = self._fresh, False
        if ring is None:
            self._sounding = None
            self._chore(self.notifier.stop())
            return
        key = (ring.alert.pour, ring.alert.id)
        if key != self._sounding or (fresh and not self.notifier.ringing):
            self._sounding = key
            title = f"{ring.alert.word}: {ring.alert.pour}"
            shape, line = ring.alert.shape, ring.alert.line
            self._chore(self.notifier.start(shape, title, line))

    def call(self, real_s: float) -> None:
        """Runs the shop's own command for what nobody answers; call it every second.

        Args:
            real_s: A monotonic time in seconds.
        """
        if self.hook is None or self.muted or not self.audible:
            return
        for key in self._calls.due(self._rings, real_s, at_once=self.notifier.deaf):
            self._chore(self._run(self.hook, self._told(self._rings[key])))

    def try_out(self, title: str, line: str, told: Mapping[str, object]) -> None:
        """Rings once through every channel, for somebody to say whether it is heard.

        Args:
            title: One word.
            line: One sentence.
            told: What the shop's own command is told.
        """
        self._chore(self.notifier.start("opens", title, line))
        if self.hook is not None:
            self._chore(self._run(self.hook, told))

    async def _run(self, hook: Hook, alert: Mapping[str, object]) -> None:
        self._trouble = await hook.run(alert) or ""

    async def end(self) -> None:
        """Falls silent for good; every player is gone when this returns."""
        self.audible = False
        for chore in self._chores:
            chore.cancel()
        await self.notifier.stop()

    def _chore(self, work: Coroutine[Any, Any, None]) -> None:
        """Runs something in the background and keeps hold of it."""
        task = asyncio.get_running_loop().create_task(work)
        self._chores.add(task)
        task.add_done_callback(self._chores.discard)
