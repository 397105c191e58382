"""S2 and L4 at length: ``PYTHONPATH=.:tests python tests/soak/killing.py [ROUNDS]``.

On the disk of TMPDIR.
"""

from __future__ import annotations

import os
import signal
import sys
import tempfile
import time
from pathlib import Path

from scheduling.log import Log
from support.killing import Killing
from support.logs import SLAB, event


def killed(folder, rounds):
    """Kills writers at random moments."""
    killing = Killing(folder / "log")
    for _ in range(rounds):
        killing.round()
    print(killing.summary(rounds))
    return killing.lost + killing.unreadable


def beside(folder, events):
    """Reads all the time beside a writer at full speed."""
    child = os.fork()
    if child == 0:
        log = Log(folder / "beside")
        for number in range(events):
            log.append(event(number % 10_000, id=f"{number:012x}-0000"))
        os._exit(0)
    reader = Log(folder / "beside")
    reads = wrong = 0
    seen = []
    while os.waitpid(child, os.WNOHANG) == (0, 0):
        found = reader.events(SLAB)
        wrong += found[: len(seen)] != seen or reader.fault(SLAB) is not None
        seen = found
        reads += 1
        time.sleep(0.005)
    wrong += len(Log(folder / "beside").events(SLAB)) != events
    print(f"L4 beside a writer: {events} events, {reads} reads, {wrong} inconsistent")
    return wrong


def locks(folder, rounds):
    """Kills writers and asks for the lock."""
    slowest = 0.0
    for number in range(rounds):
        child = os.fork()
        if child == 0:
            log = Log(folder / "locks")
            for each in range(10**6):
                log.append(event(each % 10_000, id=f"{number} {each}"))
        time.sleep(0.01)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        began = time.perf_counter()
        Log(folder / "locks").append(event(1, id=f"next {number}"))
        slowest = max(slowest, time.perf_counter() - began)
    print(f"L2 lock after kill -9: {rounds} rounds, slowest {slowest * 1000:.0f} ms")
    return slowest > 5


def main():
    """Runs them all and prints a line for each."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3000
    with tempfile.TemporaryDirectory() as path:
        bad = killed(Path(path), rounds)
        bad += beside(Path(path), 7 * rounds)
        bad += locks(Path(path), max(100, rounds // 30))
    raise SystemExit(bool(bad))


if __name__ == "__main__":
    main()
