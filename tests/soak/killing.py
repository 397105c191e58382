"""S2, L2 to L4 and the first version's log, killed; see DEVELOPERS.md.

``PYTHONPATH=.:tests python tests/soak/killing.py [SHARE]``, on the disk of TMPDIR.
SHARE is a part of the counts, such as 0.1.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

from scheduling.log import Log
from support.killing import Killing
from support.logs import SLAB, event, first_version

ROUNDS, TOLD, LOCKS, INSERTS, KILLS, COMMITS, CARRIED = (
    3000,
    10_000,
    100,
    20_000,
    50,
    1000,
    300,
)


def forked(act, *words):
    """Runs something in a child that does nothing else; its process id."""
    child = os.fork()
    if child == 0:
        try:
            act(*words)
        finally:
            os._exit(0)
    return child


def killed_after(child, seconds):
    """Kills a child."""
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def write(folder, first, count):
    """Appends that many events."""
    log = Log(folder)
    for number in range(first, first + count):
        log.append(event(number % 10_000, id=f"{number:012x}-0000"))


def killed(folder, rounds):
    """S2: kills writers at random moments, more often where few get to a commit."""
    killing = Killing(folder)
    done = 0
    while done < rounds or killing.told < TOLD / ROUNDS * rounds:
        killing.round()
        done += 1
    rounds = done
    print(killing.summary(rounds), flush=True)
    return killing.lost + killing.unreadable + (killing.most_beyond > 1)


def locks(folder, rounds):
    """L2: kills writers and asks for the lock."""
    slowest = 0.0
    for number in range(rounds):
        killed_after(forked(write, folder, number * 10**6, 10**6), 0.02)
        began = time.perf_counter()
        Log(folder).append(event(1, id=f"next {number}"))
        slowest = max(slowest, time.perf_counter() - began)
    print(
        f"L2 lock after kill -9: {rounds} rounds, {rounds} got it, "
        f"slowest {slowest * 1000:.0f} ms",
        flush=True,
    )
    return slowest > 5


def deleted(folder, commits):
    """L3: three writers while whatever is loose in the folder is deleted."""
    folder.mkdir()
    children = [forked(write, folder, n * 10**6, commits) for n in (1, 2, 3)]
    taken = 0
    while children:
        for path in folder.glob("*"):
            if path.is_file():
                path.unlink(missing_ok=True)
                taken += 1
        children = [one for one in children if os.waitpid(one, os.WNOHANG) == (0, 0)]
    log = Log(folder)
    lost = 3 * commits - len(log.events(SLAB))
    print(
        f"L3 files deleted beside writers: {3 * commits} commits of 3 programs, "
        f"{taken} deleted, {lost} lost, {len(log.faults())} damaged",
        flush=True,
    )
    return lost + len(log.faults())


def beside(folder, inserts, kills):
    """L4: reads all the time beside a writer at full speed, and beside killed ones."""
    reader = Log(folder)
    reads = wrong = 0
    seen = []

    def look():
        nonlocal reads, wrong, seen
        found = reader.events(SLAB)
        wrong += found[: len(seen)] != seen or reader.fault(SLAB) is not None
        seen, reads = found, reads + 1

    child = forked(write, folder, 0, inserts)
    while os.waitpid(child, os.WNOHANG) == (0, 0):
        look()
        time.sleep(0.005)
    wrong += len(Log(folder).events(SLAB)) != inserts
    for number in range(1, kills + 1):
        child = forked(write, folder, number * 10**6, 10**6)
        for _ in range(5):
            look()
            time.sleep(0.005)
        killed_after(child, 0)
    print(
        f"L4 beside a writer: {inserts} inserts, {kills} killed, {reads} reads, "
        f"{wrong} inconsistent",
        flush=True,
    )
    return wrong


def carried_over(folder, rounds):
    """The first version's log, its reader killed while it carries it over."""
    lost = unkept = finished = 0
    dice = random.Random(1)
    for number in range(rounds):
        log = folder / str(number)
        log.mkdir(parents=True)
        pours = [f"pour-{pour}.0401" for pour in range(20)]
        old = {pour: [event(each, pour=pour) for each in range(30)] for pour in pours}
        for pour, events in old.items():
            (log / f"{pour}.json").write_text(first_version(events))
        killed_after(forked(write, log, 0, 10**6), 0.005 + dice.random() * 0.15)
        finished += not list(log.glob("pour-*.json"))
        Log(log).append(event(9000, id="after"))
        after = Log(log)
        lost += sum(after.events(pour) != events for pour, events in old.items())
        lost += bool(after.faults())
        kept = {path.read_text() for path in (log / "before-journal").glob("*.json")}
        unkept += sum(first_version(events) not in kept for events in old.values())
    print(
        f"Migration killed: {rounds} kills, {rounds - finished} of them midway, "
        f"{20 * rounds} pours of the first version, {lost} lost, {unkept} not kept",
        flush=True,
    )
    return lost + unkept


def main():
    """Runs them all and prints a line for each."""
    share = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0

    def some(count):
        return max(1, round(count * share))

    with tempfile.TemporaryDirectory() as path:
        folder = Path(path)
        bad = killed(folder / "s2", some(ROUNDS))
        bad += locks(folder / "l2", some(LOCKS))
        bad += deleted(folder / "l3", some(COMMITS))
        bad += beside(folder / "l4", some(INSERTS), some(KILLS))
        bad += carried_over(folder / "first", some(CARRIED))
    raise SystemExit(bool(bad))


if __name__ == "__main__":
    main()
