"""The user's own command, run by the watch: a loop of its own beside the watch's."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Sequence
from concurrent.futures import Future
from typing import TYPE_CHECKING

from scheduling.calls import Calls
from scheduling.clock import WallTime
from tui.ending import ENDING_S
from tui.hook import LONGEST_S, Hook

if TYPE_CHECKING:
    from tui.watch import Due

_log = logging.getLogger(__name__)


class Caller:
    """Runs the command by its timetable; it never keeps the watch from looking."""

    def __init__(self, argv: Sequence[str]) -> None:
        """Begins a loop in a thread.

        Args:
            argv: The program and its arguments.
        """
        self._hook = Hook(argv)
        self._calls = Calls()
        self._loop = asyncio.new_event_loop()
        self._running: list[Future[str | None]] = []
        threading.Thread(target=self._loop.run_forever, daemon=True).start()

    def look(self, ringing: Sequence[Due], now_s: float, *, deaf: bool) -> None:
        """Runs the command for what has gone unanswered long enough.

        Args:
            ringing: What rings.
            now_s: Seconds on the boot clock.
            deaf: Whether nothing else can be heard.
        """
        rings = {due.key: due for due in ringing}
        for key in self._calls.due(rings, now_s, at_once=deaf):
            due = rings[key]
            at = WallTime().now().isoformat(timespec="seconds")
            late_s = round(now_s - due.at_s, 1)
            told = {**due.about, "at": at, "late_s": late_s, "repeat": 0}
            run = asyncio.run_coroutine_threadsafe(self._hook.run(told), self._loop)
            self._running.append(run)

    def end(self) -> None:
        """Waits for what still runs, no longer than a command may."""
        for run in self._running:
            try:
                trouble = run.result(LONGEST_S + 2 * ENDING_S)
            except TimeoutError:
                trouble = "it does not end"
            if trouble:
                _log.warning("the command of the bells: %s", trouble)
