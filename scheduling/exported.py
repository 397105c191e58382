"""An exported log: JSON lines, an event each, and what of it a log does not have yet.

Ten years of pours are not held at once: of the file where each event begins, of the
events those of one pour.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from scheduling.csvtable import refuse
from scheduling.errors import BadInput, Fault, LogFault
from scheduling.event import Event, event_from_document
from scheduling.log import Log
from scheduling.pourname import SHOP, namesakes, next_pour_name
from scheduling.written import shown

LONGEST_LINE = 16_000_000
"""Bytes of one line; a month of a logger's readings is one of 2 MB."""

FAST_CLOCK = timedelta(minutes=1)
"""How far the clock of whoever wrote the file may be ahead."""


@dataclass(frozen=True, slots=True)
class Addition:
    """What a file adds to one pour, or to the shop's book.

    Attributes:
        pour: Its name in the file.
        target: Its name in the log: another one where that was taken.
        new: Whether the log does not have it yet.
        fresh: How many events are added.
        known: How many the log has already.
    """

    pour: str
    target: str
    new: bool
    fresh: int
    known: int


class ExportedLog:
    """A file of events that was found to be right from end to end.

    Attributes:
        path: The file.
    """

    def __init__(self, path: Path, now: datetime) -> None:
        """Reads the file once, line by line.

        Args:
            path: JSON lines as ``pourbell export`` prints them.
            now: Nothing may have happened later.

        Raises:
            BadInput: What is wrong, each with its line.
        """
        self.path = path
        self._lines: dict[str, list[int]] = {}
        faults: list[Fault] = []
        try:
            self._look(now, faults)
        except OSError as error:
            why = error.strerror or str(error)
            raise BadInput(Fault(shown(str(path)), "", "", why)) from error
        if not self._lines and not faults:
            faults.append(Fault(str(path), "", "", "at least one event"))
        refuse(str(path), faults)

    def _look(self, now: datetime, faults: list[Fault]) -> None:
        with self.path.open("rb") as file:
            number = place = 0
            while line := file.readline(LONGEST_LINE + 1):
                number += 1
                try:
                    event = _event(line)
                    if event is not None:
                        _check_past(event, now)
                        self._lines.setdefault(event.pour, []).append(place)
                except (LogFault, ValueError, RecursionError) as error:
                    want = _why(error)
                    faults.append(Fault(str(self.path), f"line {number}", "", want))
                    if len(line) > LONGEST_LINE:
                        return
                place += len(line)

    @property
    def pours(self) -> list[str]:
        """Names in the file, the shop's book last, so that it never stands alone."""
        return sorted(self._lines, key=lambda name: name == SHOP)

    def events(self, pour: str) -> list[Event]:
        """The events of a pour in the order of the file.

        Raises:
            LogFault: The file is no longer what it was.
        """
        found = []
        try:
            with self.path.open("rb") as file:
                for place in self._lines[pour]:
                    file.seek(place)
                    event = _event(file.readline(LONGEST_LINE + 1))
                    if event is not None and event.pour == pour:
                        found.append(event)
        except (OSError, ValueError, RecursionError) as error:
            raise LogFault(f"{self.path} changed meanwhile: {error}") from error
        if len(found) != len(self._lines[pour]):
            raise LogFault(f"{self.path} changed meanwhile; try again")
        return found


def additions(exported: ExportedLog, log: Log) -> list[Addition]:
    """What a log does not have yet of a file, pour by pour.

    A pour that shares an event with one of the log's is that pour. One of the same name
    that shares none began differently: it gets the next free name, under which it is
    found again.

    Raises:
        BadInput: An event differs from the one that the log has under its id.
        LogFault: The log cannot be read.
    """
    existing = log.pours()
    taken = {*existing, *exported.pours}
    found: list[Addition] = []
    faults: list[Fault] = []
    for pour in exported.pours:
        events = exported.events(pour)
        target = _target(log, pour, events, existing, taken)
        taken.add(target)
        damage = log.fault(target)
        if damage is not None:
            raise damage
        known = {event.id: event for event in log.events(target)}
        fresh = 0
        for event in events:
            moved = replace(event, pour=target)
            before = known.setdefault(event.id, moved)
            fresh += before is moved
            if before != moved:
                want = "two different events have this id"
                faults.append(Fault(str(exported.path), pour, shown(event.id), want))
        new = target != SHOP and target not in existing
        found.append(Addition(pour, target, new, fresh, len(events) - fresh))
    refuse(str(exported.path), faults)
    return found


def _target(
    log: Log, pour: str, events: list[Event], existing: list[str], taken: set[str]
) -> str:
    """The name in the log of a pour that a file calls so."""
    if pour == SHOP or pour not in existing:
        return pour
    ids = {event.id for event in events}
    same = namesakes(pour, existing)
    for name in (pour, *(name for name in same if name != pour)):
        if any(event.id in ids for event in log.events(name)):
            return name
    return next_pour_name(pour, taken)


def add(exported: ExportedLog, log: Log, additions: Iterable[Addition]) -> None:
    """Writes what the log does not have, pour by pour.

    It may be broken off anywhere: the same file once more adds the rest.

    Raises:
        LogFault: NOT SAVED from some pour on.
    """
    saved = 0
    for one in additions:
        if not one.fresh:
            continue
        moved = (replace(event, pour=one.target) for event in exported.events(one.pour))
        try:
            log.append(*moved, new=one.new)
        except LogFault as fault:
            more = "; what came before it is saved, and the same import adds the rest"
            raise LogFault(f"{fault}{more if saved else ''}") from fault
        saved += 1


def _event(line: bytes) -> Event | None:
    """The event of a line; None for an empty one."""
    if len(line) > LONGEST_LINE:
        raise ValueError(f"a line of at most {LONGEST_LINE / 1e6:g} MB")
    text = line.decode("utf-8-sig").strip()
    if not text:
        return None
    document = json.loads(text)
    if not isinstance(document, dict):
        raise ValueError('an event, as "pourbell export" prints it')  # noqa: TRY004 - as any other line
    return event_from_document(document, "this line")


def _check_past(event: Event, now: datetime) -> None:
    late = max(event.at, event.recorded_at)
    if late > now + FAST_CLOCK:
        raise ValueError(f"{late.isoformat()} is still to come; set the clock")


def _why(error: Exception) -> str:
    """What is wrong with a line, in words."""
    if isinstance(error, json.JSONDecodeError):
        return f'no JSON ({error.msg}); an event, as "pourbell export" prints it'
    if isinstance(error, UnicodeDecodeError):
        return "text in UTF-8"
    if isinstance(error, RecursionError):
        return "lists and tables less deep"
    return str(error)
