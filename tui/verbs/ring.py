"""``ring``: the bells of a shop folder without the program, until it is told to end."""

from __future__ import annotations

import argparse
import asyncio
import signal
import sys
from contextlib import suppress

from scheduling.alert import Alert
from scheduling.errors import LogFault
from scheduling.ringer import Ring, Ringer
from scheduling.ringlock import RingLock
from tui import output
from tui.awake import StayAwake
from tui.chorus import Chorus
from tui.hook import Hook
from tui.notify import Notifier
from tui.session import Session
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import open_session

ELSEWHERE = "another program rings for this shop; waiting until it ends"

_EVERY_S = 0.5


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs,
        "ring",
        "ring every bell as it comes due, until it is told to end",
        json="print one JSON object for each alert",
    )
    parser.add_argument(
        "--run",
        dest="command",
        metavar="CMD",
        nargs=argparse.REMAINDER,
        help="at each ring (at once, after 20 and 40 s, then every 30 s) run this "
        "command, the rest of the line, in place of the shop's own; the alert is JSON "
        "on its input and ALERT_... in its environment",
    )
    parser.add_argument(
        "--test",
        action="store_true",
        help="ring once through every channel, say which worked, and end",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Rings until SIGINT, SIGTERM or SIGHUP."""
    session, command = open_session(args), args.command or []
    if args.test:
        from tui.verbs.ringtest import try_out  # noqa: PLC0415 - seldom needed

        own = command or session.shop.bells.command
        beep = _beep if sys.stderr.isatty() else None
        notifier = Notifier(session.shop.bells, write=_to_terminal, bell=beep)
        return asyncio.run(try_out(session, notifier, own, as_json=args.json))
    bells = Bells(session, as_json=args.json, command=command, awake=StayAwake())
    asyncio.run(bells.live())
    return 0


class Bells:
    """The bells of one shop folder."""

    def __init__(
        self,
        session: Session,
        *,
        as_json: bool = False,
        command: list[str],
        awake: StayAwake | None = None,
    ) -> None:
        """Prepares; nothing rings yet.

        Args:
            session: The shop's pours.
            as_json: Whether alerts are printed for programs.
            command: What to run at each ring, in place of the shop's own; empty is
                nothing.
            awake: Keeps the machine awake while a pour is open, if anything does.
        """
        self._awake = awake
        own = session.shop.bells.command
        self._session = session
        self._as_json = as_json
        self._hook = Hook(command) if command else None
        self._hooked: set[asyncio.Task[None]] = set()
        self._lock = RingLock(session.folder.log)
        beep = _beep if sys.stderr.isatty() else None
        self._chorus = Chorus(
            Notifier(session.shop.bells, write=_to_terminal, bell=beep),
            Hook(own) if own and not command else None,
            told=self._told,
        )
        self._said: set[str] = set()
        self._ringer = Ringer(
            session.time,
            source=session.ringing,
            next_due=session.next_due,
            on_ring=self._on_ring,
            on_quiet=self._on_quiet,
            on_step=session.clock_was_set,
        )

    async def live(self) -> None:
        """Rings until a signal says to end, or this is cancelled."""
        ended = asyncio.Event()
        loop = asyncio.get_running_loop()
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            with suppress(AttributeError, NotImplementedError, RuntimeError):
                loop.add_signal_handler(getattr(signal, name), ended.set)
        try:
            while not ended.is_set():
                self._tick()
                with suppress(TimeoutError):
                    await asyncio.wait_for(ended.wait(), _EVERY_S)
        finally:
            self._ringer.stop()
            await self._chorus.end()
            for task in self._hooked:
                task.cancel()
            self._lock.release()
            if self._awake is not None:
                self._awake.end()

    def _tick(self) -> None:
        """Reads what others wrote, and rings if nobody else does."""
        self._session.load()
        for note in self._session.log.notes:  # what was put right in the log
            self._complain(note)
        if not self._chorus.audible:
            if not self._session.folder.log.is_dir():
                return  # nothing can ring yet, and there is nothing to lock
            if not self._lock.take():
                self._complain(ELSEWHERE)
                return
            self._chorus.audible = True
            self._ringer.start()
        until = self._session.silent_until(self._session.time.now())
        if self._chorus.muted != (until is not None):
            self._chorus.muted = until is not None
            self._chorus.sound()
        self._ringer.now()
        self._chorus.call(asyncio.get_running_loop().time())
        for name in [pour.name for pour in self._session.open_pours() if pour.unsaved]:
            self._settle(name)
        for words in self._chorus.failures:
            self._complain(words)
        if self._awake is not None:
            self._awake.look(wanted=bool(self._session.open_pours()))
            self._complain(self._awake.trouble)

    def _on_ring(self, ring: Ring) -> None:
        self._chorus.put(ring)
        self._chorus.sound()
        if ring.repeat == 0:
            self._tell(ring)
        if self._hook is not None and not self._chorus.muted:
            work = self._run(self._hook, self._told(ring))
            task = asyncio.get_running_loop().create_task(work)
            self._hooked.add(task)
            task.add_done_callback(self._hooked.discard)

    def _on_quiet(self, alert: Alert) -> None:
        self._chorus.drop(alert)
        self._chorus.sound()

    def _told(self, ring: Ring) -> dict[str, object]:
        return output.call(ring, self._session.time.now(), self._session.zone)

    def _tell(self, ring: Ring) -> None:
        """Prints an alert and writes into the log that it rang."""
        session = self._session
        if ring.alert.id not in session.pour(ring.alert.pour).state.rang:
            session.rang(ring.alert, ring.late_s)
        try:
            now, zone = session.time.now(), session.zone
            if self._as_json:
                output.as_json(output.alert(ring, now, zone))
            else:
                output.line(output.bell(ring, now, zone))
        except OSError as fault:  # nobody reads, but somebody may hear
            self._complain(f"standard output: {fault.strerror}")

    async def _run(self, hook: Hook, alert: dict[str, object]) -> None:
        trouble = await hook.run(alert)
        if trouble is not None:
            self._complain(trouble)

    def _settle(self, name: str) -> None:
        """Writes down what rang; it is tried again when the disk refuses."""
        try:
            self._session.settle(name)
        except LogFault as fault:
            self._complain(str(fault))

    def _complain(self, words: str) -> None:
        """Says something on standard error, once."""
        if words and words not in self._said:
            self._said.add(words)
            output.complain(words)


def _beep() -> None:
    _to_terminal("\a")


def _to_terminal(text: str) -> None:
    if sys.stderr.isatty():
        sys.stderr.write(text)
        sys.stderr.flush()
