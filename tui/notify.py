"""The one door for making noise: terminal bell, sound, desktop notification.

None of these is relied on: the alarm itself is a state of the screen that stays
until it is acknowledged. A channel that fails says so in ``Notifier.failures`` and
leaves the others alone. Where there is no sound the terminal bell rings in its place,
even if the shop has turned it off.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import sys
import unicodedata
from typing import TYPE_CHECKING

from tui.sound import PLAYER_NAMES, ROUNDS, find_players, sound_file, sounds_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

    from textual.app import App

    from scheduling.shop import Bells
    from tui.sound import Player, Shape

PAUSE_S = 1.0
"""Silence between two rounds of a bell, seconds."""

LONGEST_PLAY_S = 6.0
"""A player that takes longer than this for a 1.2 s sound is stuck, seconds."""

_BIDI = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
_BREAKS = frozenset("\t\n\v\f\r\x85\u2028\u2029")


def clean(text: str, limit: int = 200) -> str:
    """Make text that a person or a file supplied safe to send to a terminal.

    Drops C0 and C1 controls, DEL, bidirectional controls and lone surrogates,
    turns tabs and line breaks into a space, and composes accents (NFC).

    Args:
        text: Anything.
        limit: Longest result, characters.
    """
    if text.isascii() and text.isprintable():  # nearly always
        return text[:limit]
    kept = "".join(_printable(text))
    return unicodedata.normalize("NFC", kept)[:limit]


def _printable(text: str) -> Iterator[str]:
    for char in text:
        if char in _BREAKS:
            yield " "
        elif char not in _BIDI and unicodedata.category(char) not in {"Cc", "Cs"}:
            yield char


def desktop_escape(title: str, body: str, env: Mapping[str, str]) -> str:
    """Return the escape sequence for a desktop notification.

    OSC 777, or OSC 9 where TERM_PROGRAM says that is what is understood; inside
    tmux wrapped so that it passes through (its ``allow-passthrough`` must be on).

    Args:
        title: Short, plain.
        body: One line, plain.
        env: The environment.
    """
    # A semicolon would end the field it stands in.
    head, rest = (clean(text).replace(";", ",") for text in (title, body))
    if env.get("TERM_PROGRAM") == "iTerm.app":
        escape = f"\x1b]9;{head}: {rest}\x07"
    else:
        escape = f"\x1b]777;notify;{head};{rest}\x07"
    if env.get("TMUX"):
        doubled = escape.replace("\x1b", "\x1b\x1b")
        return f"\x1bPtmux;{doubled}\x1b\\"
    return escape


def terminal_writer(app: App[object]) -> Callable[[str], None]:
    """Return a function that writes escape sequences to the app's terminal.

    Textual has no public way to do so; no other place touches its driver. Without
    a terminal (headless, or the app not running) nothing is written.
    """

    def write(text: str) -> None:
        driver = app._driver  # noqa: SLF001 - no public way to send an escape sequence
        if driver is not None and not driver.is_headless:
            driver.write(text)

    return write


class Notifier:
    """Rings one bell at a time, until it is over or told to stop.

    Attributes:
        failures: Why channels of the latest ring could not be used, in plain
            words for a banner; empty when all is well.
        beeped: Whether the terminal bell was rung in the last round.
        player: The program that last played the sound, "" when none could.
        deaf: Whether neither sound nor terminal bell can be heard, as far as is
            known.
    """

    def __init__(
        self,
        bells: Bells,
        *,
        write: Callable[[str], None],
        bell: Callable[[], None] | None,
        folder: Path | None = None,
    ) -> None:
        """Prepare the channels; nothing sounds yet.

        Args:
            bells: Which channels the shop wants.
            write: Sends an escape sequence to the terminal.
            bell: Rings the terminal bell; None where there is no terminal.
            folder: Where sound files are kept; the user's cache folder by default.
        """
        self.failures: list[str] = []
        self.beeped = False
        self.player = ""
        self.deaf = not bells.sound and not (bells.terminal and bell)
        self._found: list[str] = []
        self._bells = bells
        self._write = write
        self._bell = bell
        self._folder = folder or sounds_folder()
        self._task: asyncio.Task[None] | None = None
        self._turn = asyncio.Lock()

    @property
    def ringing(self) -> bool:
        """Whether a bell is sounding now."""
        return self._task is not None and not self._task.done()

    async def start(self, shape: Shape, title: str, body: str) -> None:
        """Begin one ring, in place of whatever rings now.

        Args:
            shape: Which bell.
            title: Of the desktop notification.
            body: Of the desktop notification.
        """
        async with self._turn:
            await self._silence()
            self._found = []
            if self._bells.desktop:
                escape = desktop_escape(title, body, os.environ)
                self._attempt("The desktop notification", lambda: self._write(escape))
            self._task = asyncio.create_task(self._ring(shape), name=f"bell {shape}")

    async def stop(self) -> None:
        """Fall silent; the player is gone when this returns."""
        async with self._turn:
            await self._silence()

    async def _silence(self) -> None:
        task, self._task = self._task, None
        if task is not None:
            task.cancel()
            await asyncio.wait({task})

    async def _ring(self, shape: Shape) -> None:
        players = list(find_players()) if self._bells.sound else []
        if self._bells.sound and not players:
            looked = ", ".join(PLAYER_NAMES)
            self._fail(f"No sound: none of {looked} is installed.")
        for number in range(ROUNDS[shape]):
            if number:
                await asyncio.sleep(PAUSE_S)
            self.beeped = self._bells.terminal and self._beep()
            if players:
                await self._sound(shape, players)
            if self._bells.sound and not players:
                self.beeped = self.beeped or self._beep()
            self.deaf = not (self.beeped or players)
            self.failures = list(self._found)

    def _beep(self) -> bool:
        """Ring the terminal bell; return whether there is one that takes it."""
        bell = self._bell
        return bell is not None and self._attempt("The terminal bell", bell)

    async def _sound(self, shape: Shape, players: list[Player]) -> None:
        """Play one round; a player that fails gives way to the next for good."""
        try:
            path = await asyncio.to_thread(sound_file, shape, self._folder)
        except OSError as fault:
            self._fail(f"No sound: its file could not be written ({fault}).")
            players.clear()
            return
        self.player = ""
        troubles: list[str] = []
        while players and not self.player:
            trouble = await _play(players[0], path)
            if trouble is None:
                self.player = players[0].name
            else:
                troubles.append(f"{players.pop(0).name} {trouble}")
        told = ", ".join(troubles)
        if troubles and self.player:
            self._fail(f"{told}; {self.player} plays instead.")
        elif troubles:
            self._fail(f"No sound: {told}.")

    def _attempt(self, channel: str, act: Callable[[], None]) -> bool:
        try:
            act()
        except Exception as fault:  # noqa: BLE001 - one dead channel must not silence the rest
            self._fail(f"{channel} failed: {fault}.")
            return False
        return True

    def _fail(self, words: str) -> None:
        for told in (self._found, self.failures):
            if words not in told:
                told.append(words)


async def _play(player: Player, sound: Path) -> str | None:
    """Play a file to its end; return what went wrong, or None."""
    try:
        process = await asyncio.create_subprocess_exec(
            *player.command(sound),
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError as fault:
        return f"could not be started ({fault})"
    try:
        status = await asyncio.wait_for(process.wait(), LONGEST_PLAY_S)
    except TimeoutError:
        return f"was still busy after {LONGEST_PLAY_S:g} s"
    finally:
        await _end(process)
    return f"ended with {status}" if status else None


async def _end(process: asyncio.subprocess.Process) -> None:
    """Kill a player and whatever it started, and wait until it is gone."""
    if process.returncode is not None:
        return
    if sys.platform == "win32":
        process.kill()
    else:
        # It may have ended by itself a moment ago.
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
    await process.wait()
