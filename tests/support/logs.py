"""Events to write, a working day of a log, and whether nothing of it was lost."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from scheduling.errors import LogFault
from scheduling.event import Event, event_to_document
from scheduling.log import Log
from support.memorydisk import Killed, MemoryDisk

AT = datetime(2030, 4, 1, 5, 30, tzinfo=UTC)
FOLDER = Path("/shop/log")
SLAB, TUB = "slab.0401", "tub.0401"


def event(number=1, *, pour=SLAB, **changes):
    made = Event(
        id=f"{number:012x}-0000",
        at=AT + timedelta(minutes=number),
        recorded_at=AT + timedelta(minutes=number, seconds=3),
        boot=(1000 * number, "0f1e2d3c"),
        zone_name="Europe/Oslo",
        offset_min=120,
        pour=pour,
        kind="note",
        data={"text": f"note {number}"},
    )
    return replace(made, **changes) if changes else made


def first_version(events):
    """A file as the first version of the program wrote it."""
    stored = {str(n): event_to_document(each) for n, each in enumerate(events, 1)}
    return json.dumps({"about": {"1": {"schema": 1}}, "events": stored})


class Day:
    """What one or more programs do to a log, and what was acknowledged."""

    def __init__(self, disk):
        self.disk = disk
        self.asked = {SLAB: [], TUB: []}
        self.told = {SLAB: [], TUB: []}
        self.first = b""

    def append(self, log, *events):
        self.asked[events[0].pour].extend(events)
        log.append(*events)
        self.told[events[0].pour].extend(events)

    def journals(self):
        """Two open pours, and a second program that goes on with them."""
        log = Log(FOLDER, self.disk)
        self.append(log, event(1))
        self.append(log, event(2, data={"text": "long " * 200}), event(3))
        self.append(log, event(4, pour=TUB))
        again = Log(FOLDER, self.disk)
        self.append(again, event(5))
        self.append(log, event(6))
        self.append(again, event(7, pour=TUB))

    def seals(self):
        """A pour that is put away, corrected afterwards, and put away again."""
        log = Log(FOLDER, self.disk)
        self.append(log, event(1))
        self.append(log, event(2), event(3, kind="sealed"))
        log.seal(SLAB)
        again = Log(FOLDER, self.disk)
        self.append(again, event(4, kind="corrected"))
        again.seal(SLAB)
        self.append(log, event(5, pour=TUB))
        self.append(log, event(6))

    def carries_over(self):
        """A pour of the first version is found, goes on, and is put away."""
        quiet, self.disk.before = self.disk.before, lambda _call, _path: None
        old = [event(1), event(2)]
        self.disk.make_folder(FOLDER)
        handle = self.disk.open(FOLDER / f"{SLAB}.json")
        self.first = first_version(old).encode()
        self.disk.append(handle, self.first)
        for node in self.disk.nodes.values():
            self.disk._sync(node)
        for folder in self.disk.folders.values():
            folder.durable = dict(folder.names)
            folder.pending.clear()
        self.asked[SLAB].extend(old)
        self.told[SLAB].extend(old)
        self.disk.before = quiet
        log = Log(FOLDER, self.disk)
        self.append(log, event(4, pour=TUB))
        self.append(log, event(3))
        log.seal(SLAB)
        self.append(log, event(5))
        self.append(log, event(6, pour=TUB))

    def mends(self):
        """A program was killed in the middle of a line; the next one goes on."""
        quiet, self.disk.before = self.disk.before, lambda _call, _path: None
        self.journals()
        path = FOLDER / "live" / f"{SLAB}.jnl"
        handle = self.disk.open(path)
        half = self.disk.read(path).splitlines()[-1][:-60]
        self.disk.append(handle, half)
        self.disk.close(handle)
        self.disk.before = quiet
        self.append(Log(FOLDER, self.disk), event(8))


WORKS = ("journals", "seals", "carries_over", "mends")
"""Names of the days' works that are enumerated."""


def trouble(disk, day, extra=900):
    """What is wrong with a log after a crash, in words; "" when nothing is.

    Everything acknowledged is there, in order, beside nothing that nobody wrote; and
    the log takes more, seals, and comes back the same.
    """
    asked = {pour: list(events) for pour, events in day.asked.items()}
    told = {pour: list(events) for pour, events in day.told.items()}
    try:
        for pour in (SLAB, TUB):
            found = Log(FOLDER, disk).events(pour)
            if found[: len(told[pour])] != told[pour]:
                return f"{pour}: acknowledged events are lost"
            if found != asked[pour][: len(found)]:
                return f"{pour}: there is what nobody wrote"
            more = event(extra, pour=pour)
            log = Log(FOLDER, disk)
            log.append(more)
            if Log(FOLDER, disk).events(pour) != [*found, more]:
                return f"{pour}: what was appended is not there"
            if pour == SLAB:
                log.seal(pour)
                if Log(FOLDER, disk).events(pour) != [*found, more]:
                    return f"{pour}: what was sealed is not what was there"
        if faults := Log(FOLDER, disk).faults():
            return str(faults)
        if day.first and not is_kept(disk, day.first):
            return "the file of the first version is gone"
    except LogFault as fault:
        return str(fault)
    return ""


def is_kept(disk, content):
    """Whether the first version's file is there, where it lay or put by."""
    places = (FOLDER, FOLDER / "before-journal")
    paths = [folder / name for folder in places for name in disk.names(folder)]
    return any(disk.read(path) == content for path in paths if disk.stamp(path)[1])


def power_cuts(kind, work, *, every=1, again=0):
    """Cuts the power between any two calls of a day's work.

    Args:
        kind: The class of the disk.
        work: Name of a method of Day.
        every: Check each so many-th state only.
        again: Cut the power a second time in the recovery from each so many-th state;
            0 is never.

    Returns:
        States, those that went wrong, states of second cuts, and those that went
        wrong.
    """
    counts = [0, 0, 0, 0]
    seen = set()
    disk = kind()
    disk.room = 10**6  # too little for a ballast, whose states would say nothing
    day = Day(disk)

    def cut(_call=None, _path=None):
        for left in disk.crashes():
            key = left.fingerprint(), sum(map(len, day.told.values()))
            if key in seen:
                continue
            seen.add(key)
            if len(seen) % every:
                continue
            counts[0] += 1
            if again and counts[0] % again == 0:
                second, wrong = second_cuts(left, day)
                counts[2] += second
                counts[3] += wrong
            counts[1] += bool(trouble(left, day))

    disk.before = cut
    try:
        getattr(day, work)()
    except LogFault:
        counts[1] += 1
    disk.before = lambda _call, _path: None
    cut()
    return tuple(counts)


def second_cuts(disk, day):
    """Cuts the power between any two calls of the recovery from a first cut."""
    counts = [0, 0]
    seen = set()
    disk = disk.survivor()

    def cut(_call, _path):
        for left in disk.crashes():
            key = left.fingerprint()
            if key not in seen:
                seen.add(key)
                counts[0] += 1
                counts[1] += bool(recovered_badly(left, day))

    disk.before = cut
    trouble(disk, day)
    return counts


def recovered_badly(disk, day):
    """Whether something acknowledged before the first cut is not there any more."""
    try:
        for pour in (SLAB, TUB):
            log = Log(FOLDER, disk)
            found = log.events(pour)
            if found[: len(day.told[pour])] != day.told[pour]:
                return True
            log.append(event(901, pour=pour))
            if Log(FOLDER, disk).last(pour) != event(901, pour=pour):
                return True
    except LogFault:
        return True
    return False


def kills(work):
    """Kills the program at every call of a day's work, and in the middle of a write.

    Returns:
        Kill points by the name of the call, and what went wrong, in words.
    """
    points, wrong = {}, []
    number, half = 0, False
    while True:
        disk = MemoryDisk()
        day = Day(disk)
        calls = []

        def kill(call, path, disk=disk, calls=calls, number=number, half=half):
            calls.append((call, path))
            if len(calls) == number + 1 and (call == "append" or not half):
                disk.cut_short = half
                if not half:
                    disk.kill()

        disk.before = kill
        with suppress(Killed):
            getattr(day, work)()
            if not half:
                return points, wrong
        if not half or not disk.alive:
            name = f"{'half ' * half}{calls[-1][0]}"
            points[name] = points.get(name, 0) + 1
            found = trouble(disk.survivor(), day)
            if found:
                wrong.append(f"{work}: {name} {calls[-1][1]}: {found}")
        number, half = (number + 1, False) if half else (number, True)
