"""The watch: a small process of its own that rings when the program cannot.

Its one argument is a JSON object: folder, tty, terminal, sound, command. The program
tells it on its standard input, a JSON list a line, what is due and that all is well.
It rings by itself when a bell is overdue that the program has not rung, when the
program has said nothing for a while, and when the program is gone without a farewell.
It reads the log to learn what was answered, and never writes.

    ["due", [[pour, alert, chain, due on the boot clock in s, shape, about], ...]]
    ["beat", whether the program holds the ringer's lock, seconds of silence to come]
    ["rung", pour, alert]    ["ack", pour, alert]    ["bye"]
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import signal
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from scheduling.clock import WallTime

if TYPE_CHECKING:
    from tui.watchnoise import Noise
    from tui.watchreader import Reader

OVERDUE_S = 1.5
"""A bell this late was forgotten by the program, seconds."""
SILENT_S = 5.0
"""A program that says nothing for this long is stuck, seconds."""

LOOK_S = 0.1
"""How often the watch looks, seconds."""

WOKE_S = 2.0
"""A pause this long between two looks means that the machine slept, seconds."""

SOON_S = 3.0
"""A bell as close as this wants all attention, seconds."""

DYING_S = 1.0
"""A lock held this long after its program died has another holder, seconds."""

_AT_ONCE = 65536


class Due(NamedTuple):
    """One alert that is not answered.

    Attributes:
        pour: Name of the pour.
        alert: Its id.
        chain: A later one of the same chain takes its place.
        at_s: When, on the boot clock.
        shape: Which bell.
        about: What a command of the user's own is told of it.
    """

    pour: str
    alert: str
    chain: str
    at_s: float
    shape: str
    about: Mapping[str, object] = {}

    @property
    def key(self) -> tuple[str, str]:
        """What tells it from all others."""
        return self.pour, self.alert


@dataclass
class Watch:
    """What the watch knows, and what it makes of it; it reads no clock.

    Attributes:
        heard_s: When the program last said something, on the boot clock.
        holds: Whether the program holds the ringer's lock.
        gone: Whether the program has ended.
        bye: Whether it said farewell.
        in_log: What the log says is due, once it has been read; else None.
        silent_s: Until when the bells are silenced by the program's word, on the
            boot clock.
        log_silent_s: The same by the log.
    """

    heard_s: float
    holds: bool = False
    gone: bool = False
    bye: bool = False
    in_log: Sequence[Due] | None = None
    silent_s: float = 0.0
    log_silent_s: float = 0.0

    def __post_init__(self) -> None:
        self._told: list[Due] | None = None
        self._rung: set[tuple[str, str]] = set()
        self._looked_s = self._woke_s = self.heard_s

    def look(self, now_s: float) -> None:
        """Notices that the machine slept: the program needs a moment as well."""
        if now_s - self._looked_s > WOKE_S:
            self._woke_s = self.heard_s = now_s
        self._looked_s = now_s

    def hear(self, line: bytes, now_s: float) -> None:
        """Takes in one line; one that cannot be read still says all is well."""
        self.heard_s = now_s
        with contextlib.suppress(ValueError, TypeError, IndexError, KeyError):
            self._take(json.loads(line), now_s)

    def _take(self, told: list[object], now_s: float) -> None:
        match told:
            case ["due", list(rows)]:
                self._told = [Due(*row) for row in rows]
                self._rung &= {due.key for due in self._told}
            case ["beat", bool(holds), int(silent_s) | float(silent_s)]:
                self.holds = holds
                self.silent_s = now_s + silent_s
            case ["rung", str(pour), str(alert)]:
                self._rung.add((pour, alert))
            case ["ack", str(pour), str(alert)]:
                key = (pour, alert)
                self._told = [due for due in self._told or () if due.key != key]
            case ["bye"]:
                self.bye = True

    def alone(self, now_s: float) -> bool:
        """Whether nothing can be expected of the program."""
        return self.gone or now_s - self.heard_s > SILENT_S

    def pending(self, now_s: float) -> Sequence[Due]:
        """What is not answered yet: by the log while alone, else by the program."""
        if self.in_log is not None and self.alone(now_s):
            return self.in_log
        return self._told or ()

    def is_done(self, now_s: float) -> bool:
        """Whether the program is gone and nothing is left to ring, now or later.

        A program may be gone before it said what is due: then the log has to.
        """
        unknown = self._told is None and self.in_log is None
        return self.bye or (self.gone and not unknown and not self.pending(now_s))

    def silenced(self, now_s: float) -> bool:
        """Whether somebody wants no noise: by the log while alone, as ``pending``."""
        by_log = self.in_log is not None and self.alone(now_s)
        return now_s < (self.log_silent_s if by_log else self.silent_s)

    def soon(self, now_s: float) -> bool:
        """Whether something comes due in a moment."""
        return any(0 < due.at_s - now_s <= SOON_S for due in self.pending(now_s))

    def rings(self, now_s: float) -> list[Due]:
        """What the watch itself must ring now."""
        if self.bye:
            return []
        latest: dict[tuple[str, str], Due] = {}
        for due in sorted(self.pending(now_s), key=lambda due: due.at_s):
            if due.at_s <= now_s:
                latest[due.pour, due.chain] = due
        if self.alone(now_s):
            return list(latest.values())
        return [
            due
            for due in latest.values()
            if due.key not in self._rung
            and now_s - max(due.at_s, self._woke_s) > OVERDUE_S
            and self._still(due)
        ]

    def _still(self, due: Due) -> bool:
        """Whether it is unanswered by the log as well, as far as that was read."""
        return self.in_log is None or any(due.key == one.key for one in self.in_log)


class Child:
    """The process: reads its input, looks ten times a second, rings."""

    def __init__(self, source: int, setup: Mapping[str, object]) -> None:
        self.source = source
        self.setup = setup
        self.time = WallTime()
        self.watch = Watch(self.now_s())
        self.rest = b""
        self.noise: Noise | None = None
        self.reader: Reader | None = None

    def now_s(self) -> float:
        """Seconds on the boot clock."""
        return self.time.boot()[0] / 1000

    def run(self) -> None:
        """Watches until there is nothing left to watch."""
        while not self.over():
            self.listen()
            now_s = self.now_s()
            self.watch.look(now_s)
            if self.reader is not None:
                self.watch.in_log = self.reader.due
                self.watch.log_silent_s = self.reader.silent_s
            ringing = self.watch.rings(now_s)
            quiet = self.watch.silenced(now_s) or (ringing and not self.may_ring())
            self.ring([] if quiet else ringing)
            # Opening the log takes a while: not when a bell is just about to ring.
            if ringing or (self.watch.gone and not self.watch.soon(now_s)):
                self.read_log()
        self.ring([])
        if self.noise is not None:
            self.noise.end()

    def listen(self) -> None:
        """Waits a moment for lines."""
        sources = [] if self.watch.gone else [self.source]
        ready, _, _ = select.select(sources, [], [], LOOK_S)
        if not ready:
            return
        got = os.read(self.source, _AT_ONCE)
        if not got:
            self.watch.gone = True
        *lines, self.rest = (self.rest + got).split(b"\n")
        for line in lines:
            self.watch.hear(line, self.now_s())

    def may_ring(self) -> bool:
        """Whether no other process rings; a program that is stuck rings by us."""
        if self.watch.holds and not self.watch.gone:
            return True
        if not self.watch.gone:
            self.read_log()
        return self.reader is None or not self.reader.somebody_rings(self.patience_s)

    @property
    def patience_s(self) -> float:
        """How long the lock of a program that just died may still seem held."""
        return DYING_S if self.watch.holds else 0.0

    def over(self) -> bool:
        """Whether the watch has nothing left to do."""
        if self.watch.is_done(self.now_s()):
            return True
        if not self.watch.gone or self.reader is None:
            return False
        return self.reader.is_not_needed(self.patience_s)

    def ring(self, ringing: list[Due]) -> None:
        """Makes the noise, or ends it."""
        if self.noise is None:
            if not ringing:
                return
            from tui.watchnoise import Noise  # noqa: PLC0415 - seldom needed

            self.noise = Noise(self.setup, self.now_s)
        self.noise.ring(ringing)

    def read_log(self) -> None:
        """Begins to read the log, beside the ringing."""
        if self.reader is None:
            from tui.watchreader import Reader  # noqa: PLC0415 - seldom needed

            self.reader = Reader(str(self.setup["folder"]), self.time)


def main() -> None:
    """Watches over the program at the other end of standard input."""
    for name in ("SIGHUP", "SIGINT", "SIGTERM"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    Child(sys.stdin.fileno(), json.loads(sys.argv[1])).run()


if __name__ == "__main__":
    main()
