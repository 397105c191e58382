"""The noise of the watch: the terminal's bell and a player, without a program."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tui.sound import Player, Shape, find_players, sound_file, sounds_folder

if TYPE_CHECKING:
    from tui.watch import Due

ROUND_S = 2.5
"""Seconds from one round of the bell to the next."""

INSTEAD = "POURBELL_WATCH_FILE"
"""Names a file that is told of every ring instead of making a noise, for tests."""

_SHAPES: tuple[Shape, ...] = ("closes", "opens", "note")


class Noise:
    """Rings in rounds until there is nothing left to ring."""

    def __init__(self, setup: Mapping[str, object], now_s: Callable[[], float]) -> None:
        """Prepares the channels; nothing sounds yet.

        Args:
            setup: What the watch was started with.
            now_s: Seconds on the boot clock.
        """
        self._now_s = now_s
        self._tty = str(setup.get("tty") or "") if setup.get("terminal") else ""
        self._players = list(find_players()) if setup.get("sound") else []
        self._instead = os.environ.get(INSTEAD)
        self._keys: frozenset[tuple[str, str]] = frozenset()
        self._again_s = 0.0
        self._playing: subprocess.Popen[bytes] | None = None

    def ring(self, ringing: Sequence[Due]) -> None:
        """Rings, goes on ringing or falls silent; call it several times a second."""
        keys = frozenset(due.key for due in ringing)
        fresh = keys - self._keys
        changed, self._keys = keys != self._keys, keys
        now_s = self._now_s()
        if self._instead is not None:
            if changed:
                self._tell(now_s)
        elif not keys:
            self._stop()
        elif fresh or now_s >= self._again_s:
            self._again_s = now_s + ROUND_S
            shapes = {due.shape for due in ringing}
            self._round(next(shape for shape in _SHAPES if shape in shapes))

    def _tell(self, now_s: float) -> None:
        line = json.dumps({"at_s": now_s, "rings": sorted(self._keys)})
        with Path(str(self._instead)).open("a", encoding="utf-8") as told:
            told.write(line + "\n")

    def _round(self, shape: Shape) -> None:
        self._beep()
        if self._playing is not None and self._playing.poll():
            del self._players[:1]  # it cannot play here: the next one, for good
        self._stop()
        if self._players:
            self._play(self._players[0], shape)

    def _beep(self) -> None:
        """Rings the terminal's bell, unless the terminal takes nothing any more."""
        if not self._tty:
            return
        with contextlib.suppress(OSError):
            handle = os.open(self._tty, os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK)
            try:
                os.write(handle, b"\a")
            finally:
                os.close(handle)

    def _play(self, player: Player, shape: Shape) -> None:
        with contextlib.suppress(OSError):
            self._playing = subprocess.Popen(  # noqa: S603 - a player found on this machine
                player.command(sound_file(shape, sounds_folder())),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )

    def _stop(self) -> None:
        """Ends a player and whatever it started."""
        playing, self._playing = self._playing, None
        if playing is None or playing.poll() is not None:
            return
        with contextlib.suppress(OSError):
            if hasattr(os, "killpg"):
                os.killpg(playing.pid, signal.SIGKILL)
            else:
                playing.kill()
        playing.wait()
