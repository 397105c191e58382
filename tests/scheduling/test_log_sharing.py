"""Several programs at one log, and programs that are killed while they write.

A kill takes nothing out of the page cache, so that these run on a disk in memory
where there is one; what a power cut leaves is in test_power_cuts.py.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from tempfile import mkdtemp

import pytest

from scheduling import disk as disk_module
from scheduling.clock import SimulatedTime
from scheduling.disk import Disk
from scheduling.errors import LogFault, NameTaken
from scheduling.folder import ShopFolder
from scheduling.log import Log
from support.killing import Killing
from support.logs import SLAB, event
from tui.session import Session


@pytest.fixture
def folder():
    memory = Path("/dev/shm")  # noqa: S108 - a folder of our own in it
    path = Path(mkdtemp(dir=memory if os.access(memory, os.W_OK) else None))
    yield path / "log"
    shutil.rmtree(path)


def forked(act, *found):
    """Runs something in a child that does nothing else; its process id."""
    child = os.fork()
    if child:
        return child
    try:
        act(*found)
    finally:
        os._exit(1)


def kill(child):
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def write_for_ever(folder, first):
    log = Log(folder)
    number = first
    while True:
        log.append(event(number % 10_000, id=f"{number:012x}-0000"))
        number += 1


class TestKilled:
    def test_at_any_moment_nothing_acknowledged_is_lost(self, folder):
        """120 rounds; the long count is in tests/soak/killing.py."""
        killing = Killing(folder)
        for _ in range(120):
            killing.round(longest_s=0.03)
        assert killing.told > 200  # far more on a machine that is not busy
        assert (killing.lost, killing.unreadable) == (0, 0)
        assert killing.most_beyond <= 1

    def test_the_next_program_gets_the_lock_at_once(self, folder):
        """L2, 60 kills: with a child of the dead program still alive."""
        slowest = 0.0
        for number in range(60):
            child = forked(_write_beside_a_sleeper, folder, number * 1000)
            time.sleep(0.002 + number % 10 / 1000)
            kill(child)
            began = time.perf_counter()
            Log(folder).append(event(9000, id=f"next {number}"))
            slowest = max(slowest, time.perf_counter() - began)
        assert slowest < 2
        assert Log(folder).faults() == {}

    def test_in_the_middle_of_a_line_and_a_reader_never_sees_half(self, folder):
        """L4: 20 writers killed beside a reader that looks all the time."""
        Log(folder).append(event(0))
        reader = Log(folder)
        stop = threading.Event()
        looks, wrong = [], []

        def look():
            seen = []
            while not stop.is_set():
                found = reader.events(SLAB)
                if found[: len(seen)] != seen or reader.fault(SLAB):
                    wrong.append(len(found))
                seen = found
                looks.append(len(found))
                time.sleep(0.0005)

        thread = threading.Thread(target=look)
        thread.start()
        for number in range(20):
            child = forked(write_for_ever, folder, 1 + number * 1000)
            time.sleep(0.03)
            kill(child)
        stop.set()
        thread.join()
        assert wrong == []
        assert len(looks) >= 100
        assert looks[-1] > 20


def _write_beside_a_sleeper(folder, first):
    # It goes on when its parent is dead, and must not have the lock.
    subprocess.Popen([sys.executable, "-S", "-c", "import time; time.sleep(0.5)"])
    write_for_ever(folder, first)


class TestTogether:
    def test_two_programs_write_and_each_sees_the_other_at_its_next_look(self, folder):
        """L1 and L5: the program looks once a second, so that this is the lag."""
        ours, theirs = Log(folder), Log(folder)
        for number in range(50):
            writer, reader = (ours, theirs) if number % 2 else (theirs, ours)
            stamp = reader.stamp(SLAB)
            writer.append(event(number))
            assert reader.stamp(SLAB) != stamp
            assert reader.last(SLAB) == event(number)
        assert Log(folder).events(SLAB) == [event(number) for number in range(50)]

    def test_three_programs_at_full_speed_lose_none(self, folder):
        children = [
            subprocess.Popen([sys.executable, "-c", MANY, str(folder), name])
            for name in "abc"
        ]
        reader = Log(folder)
        seen = []
        while any(child.poll() is None for child in children):
            found = reader.events(SLAB)
            assert found[: len(seen)] == seen
            seen = found
        assert [child.wait() for child in children] == [0, 0, 0]
        found = Log(folder).events(SLAB)
        for name in "abc":
            own = [each.id for each in found if each.by == name]
            assert own == [f"{name} {number}" for number in range(200)]

    def test_sealing_beside_writers_loses_none(self, folder):
        """One seals all the time, one writes, one reads; all see the same."""
        child = subprocess.Popen([sys.executable, "-c", MANY, str(folder), "a"])
        log, reader = Log(folder), Log(folder)
        seals = 0
        while child.poll() is None:
            log.seal(SLAB)
            seals += 1
            found = [each.id for each in reader.events(SLAB)]
            assert found == [f"a {number}" for number in range(len(found))]
        log.seal(SLAB)
        assert child.wait() == 0
        assert len(Log(folder).events(SLAB)) == 200
        assert seals > 5

    def test_a_mark_from_a_script_is_seen_by_the_running_session(
        self, tmp_path, open_session, jobs
    ):
        shop = ShopFolder(tmp_path / "shop")
        running = open_session(shop)
        name = running.start(jobs["bare"])
        time_of_script = SimulatedTime(running.time.now())
        script = Session(shop, time_of_script)
        script.load_one(name)
        script.note(name, "from a foot switch")
        script.settle(name)
        assert running.load() == [name]
        assert running.pour(name).state.notes[-1].text == "from a foot switch"


MANY = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from scheduling.event import Event
from scheduling.log import Log

log, name = Log(Path(sys.argv[1])), sys.argv[2]
at = datetime(2030, 4, 1, tzinfo=UTC)
for number in range(200):
    log.append(Event(f"{name} {number}", at, at, (1, ""), "UTC", 0, "slab.0401",
                     "note", by=name))
"""


class TestLock:
    """L3: whatever is deleted by hand while programs run, only one writes at a time."""

    def test_commits_exclude_each_other_while_everything_loose_is_deleted(self, folder):
        children = [
            subprocess.Popen([sys.executable, "-c", MANY, str(folder), name])
            for name in "abc"
        ]
        while any(child.poll() is None for child in children):
            for path in folder.glob("*"):
                if path.is_file():  # locks, the ballast, the index
                    path.unlink(missing_ok=True)
        assert [child.wait() for child in children] == [0, 0, 0]
        assert len(Log(folder).events(SLAB)) == 600
        assert Log(folder).faults() == {}

    def test_nobody_gets_in_in_the_midst_of_a_commit(self, folder, monkeypatch):
        monkeypatch.setattr(disk_module, "LOCK_WAIT_S", 0.05)
        kept_out = []

        class Careless(Disk):
            def sync(self, handle):
                for path in folder.glob("*"):
                    if path.is_file():
                        path.unlink()
                try:
                    Log(folder).append(event(2))
                except LogFault as fault:
                    kept_out.append(str(fault))
                super().sync(handle)

        Log(folder).append(event(1))
        Log(folder, Careless()).append(event(3))
        assert "another program has been writing" in kept_out[0]
        Log(folder).append(event(2))
        assert Log(folder).events(SLAB) == [event(1), event(3), event(2)]


START = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from scheduling import disk as disk_module
from scheduling.clock import SimulatedTime
from scheduling.folder import BARE, ShopFolder
from tui.session import Session

session = Session(ShopFolder(Path(sys.argv[1])), SimulatedTime(datetime(2030, 4, 1, 9,
                                                                        tzinfo=UTC)))
name = session.begin(BARE)
print(name, flush=True)
sys.stdin.readline()
print(session.settle(name), session.pour(name).name if name in session.pours else "",
      flush=True)
"""


class TestOneName:
    """Two programs that begin the same job in the same instant make two pours."""

    def test_of_programs_that_chose_the_same_name_each_gets_its_own(self, tmp_path):
        children = [
            subprocess.Popen(
                [sys.executable, "-c", START, str(tmp_path)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
            for _ in range(3)
        ]
        chosen = [child.stdout.readline().strip() for child in children]
        assert chosen == ["bare.0401"] * 3
        for child in children:
            child.stdin.write("\n")
            child.stdin.flush()
        got = {child.communicate()[0].split()[0] for child in children}
        assert got == {"bare.0401", "bare.0401-2", "bare.0401-3"}
        log = Log(tmp_path / "log")
        assert set(log.pours()) == got
        assert {len(log.events(name)) for name in got} == {1}

    def test_it_takes_its_marks_along_and_says_so(self, folder_of_two, jobs):
        ours, theirs = folder_of_two
        job = next(job for job in jobs.values() if job.castings > 1)
        name = ours.begin(job)
        ours.note(name, "kept")
        assert theirs.start(job) == name
        fresh = ours.settle(name)
        assert fresh == f"{name}-2"
        assert ours.renamed == {name: fresh}
        assert [note.text for note in ours.pour(fresh).state.notes] == ["kept"]
        assert ours.pour(fresh).state.casting == 2
        ours.load()
        theirs.load()
        for session in (ours, theirs):
            assert sorted(session.pours) == [name, fresh]
            assert session.pour(name).state.notes == ()
            assert session.faults == {}

    def test_also_when_the_disk_had_refused_it_and_the_other_is_seen_first(
        self, folder_of_two, jobs, monkeypatch
    ):
        ours, theirs = folder_of_two

        def full(*_events, **_options):
            raise LogFault("NOT SAVED: the disk is full")

        with monkeypatch.context() as patched:
            patched.setattr(ours.log, "append", full)
            name = ours.begin(jobs["bare"])
            with pytest.raises(LogFault):
                ours.settle(name)
        theirs.start(jobs["bare"])
        ours.load()
        assert sorted(ours.pours) == [name, f"{name}-2"]
        assert ours.pour(f"{name}-2").unsaved == 1
        ours.settle(f"{name}-2")
        theirs.load()
        assert sorted(theirs.pours) == [name, f"{name}-2"]

    def test_a_second_try_with_the_same_events_is_no_other_pour(self, folder):
        log = Log(folder)
        log.append(event(1), new=True)
        log.append(event(1), event(2), new=True)
        with pytest.raises(NameTaken):
            log.append(event(3), new=True)
        log.seal(SLAB)
        with pytest.raises(NameTaken):
            Log(folder).append(event(3), new=True)
        assert log.events(SLAB) == [event(1), event(2)]

    @pytest.fixture
    def folder_of_two(self, tmp_path, open_session):
        shop = ShopFolder(tmp_path / "shop")
        return open_session(shop), open_session(shop)
