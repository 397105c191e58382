"""Keeps the machine from going to sleep while a pour is open: asleep it cannot ring."""

from __future__ import annotations

import contextlib
import logging
import shutil
import subprocess

KEEP_OPEN = "Keep the lid open: a sleeping machine cannot ring."
"""What somebody ought to know where the machine cannot be kept awake."""

GOING_S = 0.2
"""How long its end is waited for, seconds; it takes a few milliseconds."""

_KEEPERS: dict[str, tuple[str, ...]] = {
    "systemd-inhibit": (
        "--what=sleep:handle-lid-switch",
        "--who=pourbell",
        "--why=a pour is open and its bells must ring",
        "--mode=block",
        "cat",
    ),
    "caffeinate": ("-i", "cat"),
}
"""Programs that keep a machine awake as long as the command behind them runs; that
one ends when this program does, however it ends, for its input is closed then."""

_log = logging.getLogger(__name__)


class StayAwake:
    """A child that keeps the machine awake.

    Attributes:
        trouble: What somebody ought to know because it cannot, or "".
    """

    def __init__(self) -> None:
        self.trouble = ""
        self._child: subprocess.Popen[bytes] | None = None

    def look(self, *, wanted: bool) -> None:
        """Begins, goes on or ends; call it every second, it hardly waits."""
        if not wanted:
            self.trouble = ""
            self.end()
            return
        if self._child is not None and self._child.poll() is not None:
            _log.info("the keeper awake ended with %s", self._child.returncode)
            self.trouble = KEEP_OPEN
            self.end()
        if self._child is None and not self.trouble:
            self._begin()

    def end(self) -> None:
        """Lets the machine sleep again."""
        child, self._child = self._child, None
        if child is not None and child.stdin is not None:
            with contextlib.suppress(OSError):
                child.stdin.close()
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(GOING_S)

    def _begin(self) -> None:
        argv = _keeper()
        if argv is None:
            self.trouble = KEEP_OPEN
            return
        try:
            self._child = subprocess.Popen(  # noqa: S603 - found on this machine
                argv,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        except OSError:
            _log.exception("the keeper awake cannot be started")
            self.trouble = KEEP_OPEN


def _keeper() -> tuple[str, ...] | None:
    for name, flags in _KEEPERS.items():
        path = shutil.which(name)
        if path is not None:
            return path, *flags
    return None
