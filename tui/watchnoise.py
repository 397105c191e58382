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

from scheduling.calls import counted_s, pause_s
from tui.sound import ROUNDS, Player, Shape, find_players, sound_file, sounds_folder

if TYPE_CHECKING:
    from tui.watch import Due
    from tui.watchcall import Caller

ROUND_S = 2.5
"""Seconds from one round of the bell to the next."""

INSTEAD = "POURBELL_WATCH_FILE"
"""Names a file that is told of every ring instead of making a noise, for tests."""

_SHAPES: tuple[Shape, ...] = ("closes", "opens", "note")


class Noise:
    """Rings by the timetable, in rounds, until there is nothing left to ring."""

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
        self._told: list[tuple[str, str]] = []
        self._rings: dict[tuple[str, str], tuple[int, float]] = {}
        """Of each alert how often it has rung, and when it rings again."""
        self._rounds = 0
        self._round_s = 0.0
        self._argv = list(setup.get("command") or ())  # type: ignore[call-overload] # texts
        self._caller: Caller | None = None
        self._playing: subprocess.Popen[bytes] | None = None

    def ring(self, ringing: Sequence[Due]) -> None:
        """Rings, goes on ringing or falls silent; call it several times a second."""
        now_s = self._now_s()
        if self._instead is not None:
            self._tell(sorted(due.key for due in ringing), now_s)
            return
        if not ringing:
            self._rings, self._rounds = {}, 0
            self._stop()
        else:
            shapes = {due.shape for due in ringing}
            shape = next(shape for shape in _SHAPES if shape in shapes)
            if self._is_time(ringing, now_s):
                self._rounds, self._round_s = ROUNDS[shape], now_s
            if self._rounds and now_s >= self._round_s:
                self._rounds -= 1
                self._round_s += ROUND_S
                self._round(shape)
        self._call(ringing, now_s)

    def end(self) -> None:
        """Ends for good; a command that still runs is waited for."""
        self._stop()
        if self._caller is not None:
            self._caller.end()

    def _is_time(self, ringing: Sequence[Due], now_s: float) -> bool:
        """Whether something rings for the first time, or again."""
        rings = {due.key: self._rings.get(due.key, (0, now_s)) for due in ringing}
        due = {key for key, (_, at_s) in rings.items() if at_s <= now_s}
        for key in due:
            repeat, at_s = rings[key]
            rings[key] = repeat + 1, counted_s(at_s, now_s) + pause_s(repeat)
        self._rings = rings
        return bool(due)

    def _call(self, ringing: Sequence[Due], now_s: float) -> None:
        """Lets the user's own command run for what nobody answers."""
        if not self._argv or (self._caller is None and not ringing):
            return
        if self._caller is None:
            from tui.watchcall import Caller  # noqa: PLC0415 - seldom needed

            self._caller = Caller(self._argv)
        deaf = not self._tty and not self._players
        self._caller.look(ringing, now_s, deaf=deaf)

    def _tell(self, rings: list[tuple[str, str]], now_s: float) -> None:
        if rings == self._told:
            return
        self._told = rings
        line = json.dumps({"at_s": now_s, "rings": rings})
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
