"""The program's end of the watch: starts it, tells it what is due, replaces it."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from scheduling.shop import Bells

if TYPE_CHECKING:
    from tui.watch import Due

MOST_UNSENT = 200_000
"""Bytes a watch may leave unread before it is taken to be stuck."""

GOING_S = 1.0
"""How long the program waits for its watch to go home, seconds."""

REPLACED = "The watch over the bells had died and was started again."
NO_WATCH = "No watch over the bells: it cannot be started"

_ROOT = Path(__file__).resolve().parent.parent
_log = logging.getLogger(__name__)


class WatchFeed:
    """Keeps one watch running and well informed.

    Attributes:
        trouble: What somebody ought to know of it, in plain words, or "".
    """

    def __init__(self, shop: Path, bells: Bells) -> None:
        """Prepares; nothing is started yet.

        Args:
            shop: The shop folder.
            bells: Which channels the shop wants.
        """
        self.trouble = ""
        setup = {
            "folder": str(shop.absolute()),
            "tty": _terminal(),
            "terminal": bells.terminal,
            "sound": bells.sound,
            "command": bells.command,
        }
        self._argv = (sys.executable, "-P", "-m", "tui.watch", json.dumps(setup))
        self._process: subprocess.Popen[bytes] | None = None
        self._unsent = b""
        self._due: list[Due] | None = None
        self._rung: set[tuple[str, str]] = set()

    @property
    def pid(self) -> int | None:
        """The watch's process id, or None while there is none."""
        return self._process.pid if self._process else None

    def beat(self, due: Sequence[Due], *, holds: bool, silent_s: float = 0.0) -> None:
        """Says that all is well, and what is due where that has changed.

        Args:
            due: Everything that is not answered.
            holds: Whether this program holds the ringer's lock.
            silent_s: How long from now the bells are to be silent.
        """
        if self._process is None or self._process.poll() is not None:
            self._begin()
            for pour, alert in self._rung:
                self._say("rung", pour, alert)
        if list(due) != self._due:
            self._due = list(due)
            self._rung &= {one.key for one in due}
            self._say("due", self._due)
        self._say("beat", holds, round(silent_s, 1))

    def rung(self, pour: str, alert: str) -> None:
        """Says that the program has rung an alert."""
        self._rung.add((pour, alert))
        self._say("rung", pour, alert)

    def answered(self, pour: str, alert: str) -> None:
        """Says that an alert was answered."""
        self._say("ack", pour, alert)

    def bye(self) -> None:
        """Sends the watch home: the program is left on purpose."""
        self._say("bye")
        process = self._process
        self.leave()
        if process is not None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(GOING_S)

    def leave(self) -> None:
        """Leaves the watch to itself; it rings on when there is something to ring."""
        process, self._process = self._process, None
        if process is not None and process.stdin is not None:
            with contextlib.suppress(OSError):
                process.stdin.close()

    def _begin(self) -> None:
        if self._process is not None:
            self.trouble = REPLACED
            _log.warning("the watch had ended, status %s", self._process.returncode)
            self._end()
        path = os.pathsep.join(filter(None, (str(_ROOT), os.environ.get("PYTHONPATH"))))
        try:
            self._process = subprocess.Popen(  # noqa: S603 - this very program
                self._argv,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
                bufsize=0,
                env={**os.environ, "PYTHONPATH": path},
            )
        except OSError as fault:
            self.trouble = f"{NO_WATCH} ({fault.strerror})."
            return
        assert self._process.stdin is not None
        os.set_blocking(self._process.stdin.fileno(), False)
        self._unsent, self._due = b"", None

    def _say(self, *told: object) -> None:
        if self._process is None or self._process.stdin is None:
            return
        self._unsent += json.dumps(told).encode() + b"\n"
        try:
            sent = os.write(self._process.stdin.fileno(), self._unsent)
        except BlockingIOError:
            sent = 0
        except OSError:  # it died: the next beat begins another
            sent = len(self._unsent)
        self._unsent = self._unsent[sent:]
        if len(self._unsent) > MOST_UNSENT:
            self._process.kill()

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            if process.stdin is not None:
                with contextlib.suppress(OSError):
                    process.stdin.close()


def _terminal() -> str:
    """The terminal the program is on, or ""."""
    for stream in (sys.__stdout__, sys.__stderr__):
        with contextlib.suppress(OSError, ValueError, AttributeError):
            return os.ttyname(stream.fileno())  # type: ignore[union-attr]
    return ""
