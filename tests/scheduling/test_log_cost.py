"""What a commit and a start cost, whatever has been recorded before."""

from __future__ import annotations

import time
from statistics import median

from scheduling.disk import Disk
from scheduling.journaldb import JournalDB
from scheduling.log import Log
from support.logs import FOLDER, event
from support.memorydisk import MemoryDisk
from support.years import Quick, make_years


def test_an_event_costs_a_few_hundred_bytes_and_one_sync():
    disk = MemoryDisk()
    log = Log(FOLDER, disk)
    log.append(event(0))
    calls = []
    disk.before = lambda call, _path: calls.append(call)
    before = disk.written
    for number in range(1, 101):
        log.append(event(number, step="roll-1", zone="field", by="Ines"))
    assert (disk.written - before) / 100 <= 400
    assert calls == ["open", "append", "sync"] * 100


def test_many_events_at_once_cost_one_sync():
    disk = MemoryDisk()
    log = Log(FOLDER, disk)
    log.append(event(0))
    calls = []
    disk.before = lambda call, _path: calls.append(call)
    log.append(*(event(number) for number in range(1, 501)))
    assert calls == ["open", "append", "sync"]


def test_an_insert_reads_nothing_and_takes_no_longer_in_a_long_journal(tmp_path):
    path = tmp_path / "db.jnl"
    reads = []

    class Counting(Quick):
        def read(self, path, offset=0):
            reads.append(path)
            return super().read(path, offset)

    db = JournalDB(path, Counting())
    took = []
    for number in range(2200):
        began = time.perf_counter()
        db.insert({"n": number, "text": "a" * 100})
        took.append(time.perf_counter() - began)
    assert reads == []
    # Twenty times as many documents would be twenty times as long; half as much
    # again is asked for in tests/soak/years.py, on a machine that does nothing else.
    assert median(took[2000:]) < 3 * median(took[100:300])


def test_a_start_after_a_year_reads_the_open_pours_only(tmp_path, monkeypatch):
    folder = tmp_path / "log"
    make_years(folder, pours=250, readings=12)
    reads = []
    read = Disk.read

    def counted(disk, path, offset=0):
        reads.append(path.name)
        return read(disk, path, offset)

    monkeypatch.setattr(Disk, "read", counted)
    log = Log(folder)
    events = [log.events(pour) for pour in log.open_pours()]
    assert [len(each) for each in events] == [72] * 3
    assert sorted(reads) == [f"{pour}.jnl" for pour in log.open_pours()]
    assert [pour[:9] for pour in log.open_pours()] == [
        "pour-247.",
        "pour-248.",
        "pour-249.",
    ]
    before = log.index()
    assert len(before) == 250
    (folder / "index.json").unlink()
    assert Log(folder).index() == before
