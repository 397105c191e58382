"""The journal beside TinyDB's default storage; run on demand.

``PYTHONPATH=.:tests python tests/bench/log_bench.py``; on the disk of TMPDIR.
Printed are an acknowledged insert at 100, 10 000 and 200 000 documents, the
bytes it writes, and the time to open ten years of pours. TinyDB's default storage
does not sync unless it is told to; here it is not.
"""

from __future__ import annotations

import json
import os
import tempfile
import time
from pathlib import Path
from statistics import median

from tinydb import TinyDB

from scheduling.disk import Disk
from scheduling.event import event_to_document
from scheduling.journaldb import JournalDB
from scheduling.lines import written
from scheduling.log import Log
from support.logs import event
from support.years import make_years

SIZES = (100, 10_000, 200_000)
PARTS = 5


def document(number):
    """About 150 bytes, as in an earlier measurement of both."""
    return {"n": number, "kind": "reading", "text": "a" * 100}


def default_file(path, size):
    """A TinyDB file with that many documents."""
    held = {str(number): document(number) for number in range(1, size + 1)}
    path.write_text(json.dumps({"_default": held}))


def journal_file(path, size):
    """A journal with that many documents, 500 in a line."""
    with path.open("wb") as file:
        for line, first in enumerate(range(1, size + 1, 500)):
            numbers = range(first, min(first + 500, size + 1))
            ops = [["p", "_default", str(n), document(n)] for n in numbers]
            file.write(written(line, ops))


def process_bytes():
    """Bytes this process has written, where the system tells."""
    try:
        text = Path("/proc/self/io").read_text()
    except OSError:
        return 0
    return int(text.split("wchar: ")[1].split()[0])


def insert(db, count):
    """Median milliseconds and mean bytes of some inserts; the first does not count."""
    db.insert(document(0))
    before, times = process_bytes(), []
    for number in range(count):
        began = time.perf_counter()
        db.insert(document(number))
        times.append((time.perf_counter() - began) * 1e3)
    return median(times), (process_bytes() - before) // count


def opened(make):
    """Milliseconds to open a database and count its documents, and the database."""
    began = time.perf_counter()
    db = make()
    len(db)
    return (time.perf_counter() - began) * 1e3, db


def journal(path):
    """A journal ready to be written to."""
    db = JournalDB(path, Disk())
    db.make_ready()
    return db


def main():
    """Measures and prints."""
    row = "{:>9} {:<16} {:>11} {:>14} {:>10}"
    print(row.format("documents", "storage", "insert ms", "bytes/insert", "open ms"))
    with tempfile.TemporaryDirectory() as path:
        folder = Path(path)
        for size in SIZES:
            default_file(folder / "default.json", size)
            journal_file(folder / "journal.jnl", size)
            for name, make in (
                ("TinyDB default", lambda: TinyDB(folder / "default.json")),
                ("journal, synced", lambda: journal(folder / "journal.jnl")),
            ):
                ms, db = opened(make)
                count = PARTS if size > 1000 and "default" in name else 100
                took, wrote = insert(db, count)
                db.close()
                print(row.format(size, name, f"{took:.2f}", wrote, f"{ms:.1f}"))
            os.sync()
        ten_years(folder)


def ten_years(folder):
    """The program's start after ten years, and one TinyDB file that held it all."""
    make_years(folder / "log", pours=2500, readings=288)
    began = time.perf_counter()
    log = Log(folder / "log")
    names = log.open_pours()
    events = sum(len(log.events(name)) for name in names)
    ms = (time.perf_counter() - began) * 1e3
    print(f"ten years, as the log keeps them: {ms:.0f} ms ({len(names)} open pours, "
          f"{events} events read of 870 000)")  # fmt: skip
    one = event_to_document(event(1))
    held = {str(number): one for number in range(1, 870_001)}
    (folder / "all.json").write_text(json.dumps({"_default": held}))
    ms, db = opened(lambda: TinyDB(folder / "all.json"))
    began = time.perf_counter()
    db.insert(one)
    took = time.perf_counter() - began
    print(f"ten years in one default file: {ms:.0f} ms, one insert {took:.1f} s")


if __name__ == "__main__":
    main()
