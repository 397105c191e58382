"""A log on a disk that is full, failing or not ours: it says so, and loses nothing."""

from __future__ import annotations

import errno
import os
import re
import shutil
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path

import pytest

from scheduling.disk import BALLAST_BYTES, Disk
from scheduling.errors import LogFault
from scheduling.log import Log
from support.logs import FOLDER, SLAB, TUB, Day, event
from support.memorydisk import MemoryDisk

CALLS = ("append", "sync", "truncate", "replace", "sync_folder", "open")


@pytest.fixture
def disk():
    return MemoryDisk()


class TestFailingDisk:
    @pytest.mark.parametrize("number", range(1, 13))
    @pytest.mark.parametrize("call", CALLS)
    @pytest.mark.parametrize("work", ["journals", "seals"])
    def test_after_an_error_earlier_events_are_there_and_none_is_told_falsely(
        self, disk, work, call, number
    ):
        seen = []
        day = Day(disk)

        def fail(made, _path):
            seen.extend([made] if made == call else [])
            if made == call and len(seen) == number:
                raise OSError(errno.EIO, "Input/output error")

        disk.before = fail
        with suppress(LogFault):
            getattr(day, work)()
        disk.before = lambda _call, _path: None
        for pour in (SLAB, TUB):
            found = Log(FOLDER, disk).events(pour)
            assert found[: len(day.told[pour])] == day.told[pour]
            assert found == day.asked[pour][: len(found)]

    @pytest.mark.parametrize("call", ["append", "sync", "sync_folder"])
    def test_a_failed_sync_refuses_all_that_follows_until_it_is_opened_anew(
        self, disk, call
    ):
        log = Log(FOLDER, disk)
        old = [event(1)] if call != "sync_folder" else []
        log.append(event(1, pour=TUB))
        if old:
            log.append(*old)

        def fail(made, path):
            if made == call and path.name in (f"{SLAB}.jnl", "live"):
                raise OSError(errno.EIO, "Input/output error")

        disk.before = fail
        with pytest.raises(LogFault, match=r"NOT SAVED: .*start it again"):
            log.append(event(2))
        disk.before = lambda _call, _path: None
        for _ in range(3):
            with pytest.raises(LogFault, match=r"NOT SAVED: .*start it again"):
                log.append(event(2))
        assert log.events(SLAB) == old
        log.append(event(2, pour=TUB))  # another file, and its sync did not fail
        again = Log(FOLDER, disk)
        assert again.events(SLAB) == old
        again.append(event(2))
        assert again.events(SLAB) == [*old, event(2)]

    def test_a_truncate_that_fails_refuses_too_and_the_next_program_mends(self, disk):
        log = Log(FOLDER, disk)
        log.append(event(1))

        def fail(made, path):
            if made == "truncate" and path.name == f"{SLAB}.jnl":
                raise OSError(errno.EIO, "Input/output error")

        disk.before = fail
        disk.room = 100
        with pytest.raises(LogFault, match="NOT SAVED"):
            log.append(event(2))
        disk.before = lambda _call, _path: None
        disk.room = 10**6
        with pytest.raises(LogFault, match="start it again"):
            log.append(event(2))
        again = Log(FOLDER, disk)
        again.append(event(3))
        assert again.events(SLAB) == [event(1), event(3)]
        assert any("set aside" in note for note in again.notes)


def until_it_is_full(log):
    """Writes events until one is refused; its number, and the words."""
    for number in range(1, 10_000):
        try:
            log.append(event(number))
        except LogFault as fault:
            return number, str(fault)
    pytest.fail("it never was")


class TestFullDisk:
    def test_the_ballast_is_given_up_and_the_same_program_goes_on(self, disk):
        log = Log(FOLDER, disk)
        log.append(event(0))
        disk.room = 0
        taken, words = until_it_is_full(log)
        assert re.match("NOT SAVED: .*No space left.*Make room", words)
        assert taken > 500
        assert any("DISK IS FULL" in note for note in log.notes)
        told = [event(number) for number in range(taken)]
        assert log.events(SLAB) == Log(FOLDER, disk).events(SLAB) == told
        disk.room = 10 * BALLAST_BYTES
        log.append(event(taken))
        assert Log(FOLDER, disk).events(SLAB) == [*told, event(taken)]
        assert disk.stamp(FOLDER / ".ballast") is not None  # room is kept again

    def test_what_was_half_written_is_taken_back(self, disk):
        disk.room = 700
        log = Log(FOLDER, disk)
        log.append(event(1))
        before = disk.read(FOLDER / "live" / f"{SLAB}.jnl")
        with pytest.raises(LogFault, match="No space left"):
            log.append(event(2, data={"text": "long " * 100}))
        assert disk.read(FOLDER / "live" / f"{SLAB}.jnl") == before

    def test_a_new_pour_that_had_no_room_is_no_pour(self, disk):
        disk.room = 50
        log = Log(FOLDER, disk)
        with pytest.raises(LogFault, match="No space left"):
            log.append(event(1))
        assert log.pours() == []
        disk.room = 10**6
        log.append(event(1))
        assert log.events(SLAB) == [event(1)]

    def test_sealing_without_room_leaves_the_journal(self, disk):
        log = Log(FOLDER, disk)
        log.append(event(1), event(2))
        disk.room = 100
        with pytest.raises(LogFault, match="No space left"):
            log.seal(SLAB)
        assert Log(FOLDER, disk).events(SLAB) == [event(1), event(2)]
        disk.room = 10**6
        log.seal(SLAB)
        assert Log(FOLDER, disk).events(SLAB) == [event(1), event(2)]

    def test_on_a_real_file_system(self, tmp_path):
        """The same on a tmpfs of 2 MB, where this user may mount one."""
        disk = tmp_path / "disk"
        disk.mkdir()
        mount = shutil.which("mount")
        command = [mount, "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(disk)]
        if mount is None or subprocess.call(command, stderr=subprocess.DEVNULL):
            pytest.skip("this user may not mount a file system")
        try:
            log = Log(disk / "log")
            log.append(event(0))
            (disk / "filler").write_bytes(b"x" * (Disk().free(disk) - 4096))
            taken, words = until_it_is_full(log)
            assert "No space left" in words
            told = [event(number) for number in range(taken)]
            assert Log(disk / "log").events(SLAB) == told
            assert taken > 500
            (disk / "filler").unlink()
            log.append(event(taken))
            assert Log(disk / "log").last(SLAB) == event(taken)
        finally:
            subprocess.run(["umount", str(disk)], check=True)


class TestReadOnly:
    def test_a_folder_of_somebody_else_is_read_and_not_written(self):
        """In a child that is not root, with a folder that it may not write to."""
        with tempfile.TemporaryDirectory() as path:
            folder = Path(path) / "log"
            Log(folder).append(event(1))
            for each in (Path(path), *Path(path).rglob("*")):
                each.chmod(0o555 if each.is_dir() else 0o444)
            child = os.fork()
            if child == 0:
                os._exit(_read_only(folder))
            assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
            for each in (Path(path), *Path(path).rglob("*")):
                each.chmod(0o755)

    def test_a_read_only_disk_is_said(self, disk):
        Log(FOLDER, disk).append(event(1))

        def refuse(_call, _path):
            raise OSError(errno.EROFS, "Read-only file system")

        disk.before = refuse
        log = Log(FOLDER, disk)
        assert log.events(SLAB) == [event(1)]
        assert len(log.index()) == 1
        for act in (lambda: log.append(event(2)), lambda: log.seal(SLAB)):
            with pytest.raises(LogFault, match="Read-only file system"):
                act()
        assert log.events(SLAB) == [event(1)]


def _read_only(folder):
    """Exit status of the child: 0 when it can read, and is told it cannot write."""
    try:
        if os.getuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        log = Log(folder)
        if log.events(SLAB) != [event(1)] or log.faults():
            return 1
        try:
            log.append(event(2))
        except LogFault as fault:
            return 0 if "NOT SAVED: cannot write" in str(fault) else 2
    except BaseException:  # noqa: BLE001 - a child must not run the other tests
        return 4
    return 3
