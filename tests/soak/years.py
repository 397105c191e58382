"""S9, S10: ``PYTHONPATH=.:tests python tests/soak/years.py [POURS]``.

Ten years of a shop (2500 pours of 60 events and 288 readings) unless told otherwise.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path
from statistics import median, quantiles

from scheduling.clock import WallTime
from scheduling.folder import BARE, ShopFolder
from scheduling.journaldb import JournalDB
from scheduling.log import Log
from support.logs import event
from support.years import Quick, make_years
from tui.reviewing import oldest_first, reviewed
from tui.session import Session

ALL_YEARS_S = 15


def memory_mb():
    """Most memory this process has had, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def took(act):
    """Seconds that something takes, and what it returns."""
    began = time.perf_counter()
    found = act()
    return time.perf_counter() - began, found


def start(folder):
    """What the log does when the program starts."""
    log = Log(folder)
    return [log.events(pour) for pour in log.open_pours()]


def read(folder):
    """Every event of every pour, one pour after the other."""
    log = Log(folder)
    return sum(len(log.events(pour)) for pour in log.pours())


def review(session):
    """Actual against planned of every pour, as ``pourbell log`` has it."""
    found = (reviewed(session, name) for name in oldest_first(session.log))
    return sum(len(each.rows) for each in found)


def marks(session, name):
    """Milliseconds of each of some marks, from the key to the disk."""
    times = []
    for number in range(60):
        session.note(name, f"note {number}")
        times.append(took(lambda: session.settle(name))[0] * 1e3)
    return times


def seals(log):
    """Milliseconds of sealing each of some pours again."""
    times = []
    for number in range(20):
        pour = log.pours()[number]
        log.append(event(5000 + number, pour=pour))
        times.append(took(lambda pour=pour: log.seal(pour))[0] * 1e3)
    return times


def insert_times(folder, count, disk=None):
    """Milliseconds of each of that many inserts."""
    db = JournalDB(folder / f"{count}.jnl", disk)
    return [took(lambda: db.insert({"text": "a" * 120}))[0] * 1e3 for _ in range(count)]


def main():
    """Makes, measures and prints a line for each."""
    pours = int(sys.argv[1]) if len(sys.argv) > 1 else 2500
    with tempfile.TemporaryDirectory() as path:
        folder = Path(path) / "log"
        quick = insert_times(Path(path), 2200, Quick())
        short, long = median(quick[100:300]), median(quick[2000:])
        print(f"S9 no sync: p50 {short:.3f} ms at 100, {long:.3f} ms at 2000 documents")
        synced = insert_times(Path(path), 5000)
        cuts = quantiles(synced, n=100)
        print(f"S9 synced: 5000 inserts, p50 {cuts[49]:.2f} ms, p99 {cuts[98]:.2f} ms")
        events = make_years(folder, pours=pours, readings=288)
        before = memory_mb()
        seconds, opened = took(lambda: start(folder))
        print(
            f"S10 start: {pours} pours, {events} events; {seconds * 1e3:.0f} ms for "
            f"{len(opened)} open pours, +{memory_mb() - before:.0f} MB"
        )
        before = memory_mb()
        cpu = time.process_time()
        seconds, seen = took(lambda: read(folder))
        cpu, grown = time.process_time() - cpu, memory_mb() - before
        print(
            f"S10 all years: {seen} events read in {seconds:.1f} s, of these "
            f"{cpu:.1f} s of the processor, +{grown:.0f} MB"
        )
        log = Log(folder)
        seconds, old = took(log.index)
        print(f"S10 index: {len(old)} pours read in {seconds * 1e3:.0f} ms")
        (folder / "index.json").unlink()
        seconds, new = took(Log(folder).index)
        print(f"S10 index rebuilt: {seconds:.1f} s, equal: {old == new}")
        session = Session(ShopFolder(Path(path)), WallTime())
        before, began = memory_mb(), time.process_time()
        rows = review(session)
        print(
            f"S10 review: {rows} rows, {time.process_time() - began:.1f} s of the "
            f"processor, +{memory_mb() - before:.0f} MB; the program does it beside "
            "the keys"
        )
        times = sorted(seals(log))
        print(
            f"S10 sealing one of {pours} pours: p50 {median(times):.1f} ms, "
            f"max {times[-1]:.1f} ms"
        )
        seconds, name = took(lambda: session.start(BARE))
        times = sorted(marks(session, name))
        looks = sorted(took(session.load)[0] * 1e3 for _ in range(20))
        print(
            f"S10 keys with {pours} pours: a start {seconds * 1e3:.0f} ms, a mark p50 "
            f"{median(times):.1f} ms, max {times[-1]:.1f} ms; the look each second "
            f"{median(looks):.1f} ms"
        )
    raise SystemExit(seen != events or old != new or cpu > ALL_YEARS_S)


if __name__ == "__main__":
    main()
