"""The test bell at the start of a day: rung through the real channels, answered."""

from __future__ import annotations

import platform
from typing import TYPE_CHECKING

from scheduling.clock import SimulatedTime
from scheduling.event import Event
from tui import output
from tui.widgets.shout import ShoutText

if TYPE_CHECKING:
    from tui.chorus import Chorus
    from tui.session import Session

LINE = "This is a test of the bell: did you hear it?"

HEARD = "bell heard"
UNHEARD = 'bell not heard: turn it up, then see "pourbell check"'
"""What is said to each of the answers."""


class BellTest:
    """Asks once a day whether the bell of this machine is heard.

    It never stands in the way: every key goes on working, and whatever really rings
    comes first.
    """

    def __init__(self, session: Session, chorus: Chorus) -> None:
        """Prepares; nothing rings yet.

        Args:
            session: The shop's pours.
            chorus: What the bell is rung with.
        """
        self._session = session
        self._chorus = chorus
        self._machine = ""
        self._wanted = False
        self._rung = False

    @property
    def asking(self) -> bool:
        """Whether it has rung and an answer is awaited."""
        return self._rung and not self._chorus.rings

    def begin(self) -> None:
        """Wants the bell heard if a pour is open and nobody has heard it today."""
        session, bells = self._session, self._session.shop.bells
        self._machine = self._machine or platform.node()
        self._wanted = (
            self._chorus.audible
            and not isinstance(session.time, SimulatedTime)
            and bool(bells.terminal or bells.sound or bells.command)
            and bool(session.open_pours())
            and not session.bell_was_heard(self._machine, session.time.now())
        )

    def look(self) -> None:
        """Rings as soon as nothing else does; call it every second."""
        if not self._session.open_pours():
            self._wanted = self._rung = False
        free = not self._chorus.rings and not self._chorus.muted
        if self._wanted and free:
            self._wanted, self._rung = False, True
            now, zone = self._session.time.now(), self._session.zone
            at = output.iso(now, zone)
            told = {"type": "test", "kind": "test", "at": at, "line": LINE}
            self._chorus.try_out("TEST", LINE, told)

    def answer(self, *, heard: bool) -> Event:
        """Takes the answer in.

        Raises:
            BadInput: No pour is open any more.
        """
        self._rung = False
        self._chorus.sound()
        return self._session.bell_tested(self._machine, heard=heard)

    def text(self) -> ShoutText | None:
        """What the alert block says while an answer is awaited."""
        if not self.asking:
            return None
        failures = self._chorus.failures
        line = f"{LINE} {failures[-1]}" if failures else LINE
        return ShoutText("note", "TEST", line, "ENTER yes   F8 no")
