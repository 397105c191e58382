"""Pours that are over, pours of the first version, and the index of them all."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest
from tinydb import TinyDB

from scheduling.disk import Disk
from scheduling.errors import LogFault
from scheduling.event import event_from_document
from scheduling.folder import ShopFolder
from scheduling.lines import written
from scheduling.log import Log
from support.logs import AT, SLAB, TUB, event, first_version
from tui.pours import Pours
from tui.session import Session

EVENTS = [event(number) for number in range(8)]


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "log"


@pytest.fixture
def log(folder):
    return Log(folder)


def sealed(folder, pour=SLAB):
    (path,) = (folder / "archive").glob(f"*/{pour}.json")
    return path


class TestSealing:
    def test_a_plain_file_takes_the_place_of_the_journal(self, log, folder):
        log.append(*EVENTS)
        log.append(event(1, pour=TUB))
        log.seal(SLAB)
        assert sealed(folder).parent.name == "2030"
        assert [path.name for path in (folder / "live").iterdir()] == [f"{TUB}.jnl"]
        for reader in (log, Log(folder)):
            assert reader.open_pours() == [TUB]
            assert reader.pours() == [SLAB, TUB]
            assert reader.events(SLAB) == EVENTS
            assert reader.last(SLAB) == EVENTS[-1]
            assert reader.faults() == {}

    def test_stock_tinydb_opens_it_and_finds_what_the_journal_held(self, log, folder):
        log.append(*EVENTS[:3])
        log.append(*EVENTS[3:])
        log.seal(SLAB)
        with TinyDB(sealed(folder)) as stock:
            stored = stock.table("events").all()
            (about,) = stock.table("about").all()
        assert [each.doc_id for each in stored] == [*range(1, 9)]
        assert [event_from_document(each) for each in stored] == EVENTS
        assert about["schema"] == 2

    def test_sealing_again_or_what_is_not_there_changes_nothing(self, log, folder):
        log.seal("unknown.0101")
        assert not folder.exists()
        log.append(*EVENTS)
        log.seal(SLAB)
        stamp = log.stamp(SLAB)
        log.seal(SLAB)
        Log(folder).seal(SLAB)
        assert log.stamp(SLAB) == stamp

    def test_a_correction_lies_beside_it_and_is_merged_by_sealing_again(
        self, log, folder
    ):
        log.append(*EVENTS)
        other = Log(folder)
        assert other.events(SLAB) == EVENTS
        log.seal(SLAB)
        before = sealed(folder).read_bytes()
        other.append(event(20, kind="corrected"))  # its journal is gone
        assert sealed(folder).read_bytes() == before
        more = [*EVENTS, event(20, kind="corrected")]
        for reader in (log, other, Log(folder)):
            assert reader.events(SLAB) == more
            assert reader.open_pours() == reader.pours() == [SLAB]
        log.append(event(20, kind="corrected"))  # a second try adds nothing
        log.seal(SLAB)
        for reader in (log, other, Log(folder)):
            assert reader.events(SLAB) == more
            assert reader.open_pours() == []

    def test_stamps_tell_every_step(self, log, folder):
        stamps = [log.stamp(SLAB)]
        archive = [log.archive_stamp()]
        for act in (
            lambda: log.append(*EVENTS),
            lambda: log.seal(SLAB),
            lambda: log.append(event(20)),
            lambda: log.seal(SLAB),
        ):
            act()
            stamps.append(Log(folder).stamp(SLAB))
            archive.append(Log(folder).archive_stamp())
        assert len(set(stamps)) == 5
        assert len(set(archive)) == 3

    def test_the_year_is_that_of_the_first_event_for_ever(self, log, folder):
        log.append(event(1))
        log.seal(SLAB)
        log.append(event(2, at=AT + timedelta(days=400)))
        log.seal(SLAB)
        assert sealed(folder).parent.name == "2030"

    def test_no_flipped_bit_is_silently_wrong(self, log, folder):
        log.append(*EVENTS)
        log.seal(SLAB)
        path = sealed(folder)
        raw = path.read_bytes()
        random = Random(2)
        noticed = 0
        for _ in range(300):
            flipped = bytearray(raw)
            flipped[random.randrange(len(raw))] ^= 1 << random.randrange(8)
            path.write_bytes(flipped)
            fault = Log(folder).fault(SLAB)
            if fault is None:  # a space became another one
                assert Log(folder).events(SLAB) == EVENTS
            else:
                assert str(path) in str(fault)
                noticed += 1
        assert noticed > 290
        with pytest.raises(LogFault, match="NOT SAVED"):
            Log(folder).append(event(30))


class TestFirstVersion:
    """The file in first_version/ was written by the code of the first version."""

    @pytest.fixture
    def first(self, folder):
        folder.mkdir()
        source = Path(__file__).parent / "first_version" / "slab.0401.json"
        target = folder / "slab.0401.json"
        target.write_bytes(source.read_bytes())
        return target

    def test_the_file_is_that_of_the_first_version(self, first):
        assert first.read_text() == first_version(EVENTS)

    def test_is_read_where_it_lies_and_nothing_is_written(self, first, folder, log):
        raw = first.read_bytes()
        assert log.events(SLAB) == EVENTS
        assert log.pours() == log.open_pours() == [SLAB]
        assert [entry["pour"] for entry in log.index()] == [SLAB]
        assert first.read_bytes() == raw
        assert not (folder / "live").exists()

    def test_is_carried_over_by_the_first_commit_and_kept(self, first, folder, log):
        raw = first.read_bytes()
        log.append(event(1, pour=TUB))
        assert not first.exists()
        kept = folder / "before-journal" / first.name
        assert kept.read_bytes() == raw
        assert (folder / "live" / f"{SLAB}.jnl").exists()
        log.append(event(50))
        for reader in (log, Log(folder)):
            assert reader.events(SLAB) == [*EVENTS, event(50)]
            assert reader.faults() == {}
        assert "carried over" in log.notes[0]

    def test_sealing_carries_it_over_straight_away(self, first, folder, log):
        log.seal(SLAB)
        assert Log(folder).events(SLAB) == EVENTS
        assert log.open_pours() == []
        assert sealed(folder).exists()
        assert (folder / "before-journal" / first.name).exists()

    def test_one_that_comes_back_is_merged_and_kept_beside_the_other(
        self, first, folder, log
    ):
        raw = first.read_bytes()
        log.append(event(50))
        first.write_text(first_version([*EVENTS, event(60)]))
        again = Log(folder)
        again.append(event(70))
        assert {each.id for each in again.events(SLAB)} == {
            each.id for each in (*EVENTS, event(50), event(60), event(70))
        }
        kept = folder / "before-journal"
        assert (kept / "slab.0401.json").read_bytes() == raw
        assert (kept / "slab.0401-2.json").exists()

    @pytest.mark.parametrize(
        "content", [b"{", b'{"about": {"1": {"schema": 7}}, "events": {}}']
    )
    def test_one_that_cannot_be_read_stays_where_it_is(self, first, log, content):
        first.write_bytes(content)
        log.append(event(1, pour=TUB))
        assert first.read_bytes() == content
        assert list(log.faults()) == [SLAB]
        with pytest.raises(LogFault, match="NOT SAVED"):
            log.append(event(1))


class TestSchema:
    def test_a_journal_of_a_newer_version_is_neither_read_nor_written(
        self, log, folder
    ):
        log.append(event(1))
        path = folder / "live" / f"{SLAB}.jnl"
        newer = written(
            0, [["p", "about", "1", {"schema": 3}], ["p", "events", "1", {}]]
        )
        path.write_bytes(newer)
        log = Log(folder)
        assert "has schema 3 and this program reads 2" in str(log.fault(SLAB))
        with pytest.raises(LogFault, match=r"NOT SAVED: .*schema 3"):
            log.append(event(2))
        assert path.read_bytes() == newer


def started(number, pour, job):
    return event(number, pour=pour, kind="started", data={"job": {"id": job}})


class TestIndex:
    def filled(self, folder, count=6):
        log = Log(folder)
        for number in range(count):
            pour = f"pour-{number}.0401"
            log.append(started(1, pour, f"job-{number % 2}"), event(2, pour=pour))
            if number % 3:
                log.seal(pour)
        return log

    def test_has_a_line_for_every_pour(self, folder):
        log = self.filled(folder)
        entries = log.index()
        assert [entry["pour"] for entry in entries] == log.pours()
        assert [entry["sealed"] for entry in entries] == [False, True, True] * 2
        first = entries[1]
        assert first["job"] == "job-1"
        assert first["started"] == started(1, "x.0401", "").at.isoformat()
        assert first["events"] == 2
        assert first["kinds"] == {"note": 1, "started": 1}
        assert len(first["sha256"]) == 64
        assert entries[0]["sha256"] is None

    @pytest.mark.parametrize(
        "content",
        [None, b"", b"{", b"[]", b'{"pours": {"1": {"pour": 3}}}', b'{"pours": {}}'],
    )
    def test_may_be_lost_or_damaged_at_any_time(self, folder, content):
        before = self.filled(folder).index()
        path = folder / "index.json"
        if content is None:
            path.unlink()
        else:
            path.write_bytes(content)
        log = Log(folder)
        assert log.index() == before
        assert Log(folder).pours() == [entry["pour"] for entry in before]
        with TinyDB(path) as stock:
            assert len(stock.table("pours")) == 6

    def test_follows_what_others_do(self, folder):
        log = self.filled(folder)
        log.index()
        other = Log(folder)
        other.append(event(3, pour="pour-1.0401"))
        entry = log.index()[1]
        assert (entry["sealed"], entry["events"]) == (False, 3)
        other.seal("pour-1.0401")
        entry = log.index()[1]
        assert (entry["sealed"], entry["events"]) == (True, 3)
        sealed(folder, "pour-2.0401").unlink()
        assert "pour-2.0401" not in [entry["pour"] for entry in log.index()]

    def test_only_what_changed_is_read(self, folder, monkeypatch):
        log = self.filled(folder)
        log.index()
        log.append(event(9, pour="pour-0.0401"))
        reads = []
        read = Disk.read

        def counted(disk, path, offset=0):
            reads.append(path.name)
            return read(disk, path, offset)

        monkeypatch.setattr(Disk, "read", counted)
        log.index()
        assert reads == ["index.json"]
        reads.clear()
        Log(folder).index()
        assert reads == ["index.json"]

    def test_a_pour_that_cannot_be_read_is_left_out(self, folder):
        log = self.filled(folder)
        sealed(folder, "pour-1.0401").write_bytes(b"{")
        assert "pour-1.0401" not in [entry["pour"] for entry in log.index()]
        assert len(log.index()) == 5


class TestProgram:
    """The session puts a pour that is over into the archive, and starts without it."""

    def made(self, shop_folder, open_session, jobs):
        session = open_session(shop_folder)
        name = session.start(jobs["bare"])
        session.put_away(name)
        session.settle(name)
        return session, name

    @pytest.fixture
    def shop_folder(self, tmp_path):
        folder = ShopFolder(tmp_path / "shop")
        folder.adopt_samples()
        return folder

    def test_putting_away_seals_and_undo_brings_it_back(
        self, shop_folder, open_session, jobs
    ):
        session, name = self.made(shop_folder, open_session, jobs)
        assert session.log.open_pours() == []
        again = open_session(shop_folder)
        assert again.pours == {}
        again.load_one(name)
        assert again.pours[name].over
        session.undo(name)
        session.settle(name)
        assert session.log.open_pours() == [name]
        third = open_session(shop_folder)
        assert [pour.name for pour in third.open_pours()] == [name]
        again.load()
        assert again.pours[name].state == third.pours[name].state
        third.put_away(name)
        third.settle(name)
        assert third.log.open_pours() == []
        again.load()
        assert again.pours[name].over

    def test_what_was_left_half_sealed_is_finished_at_the_next_start(
        self, shop_folder, open_session, jobs, monkeypatch
    ):
        def broken_off(_log, _pour):
            raise LogFault("the disk is full")

        with monkeypatch.context() as patched:
            patched.setattr(Log, "seal", broken_off)
            session, name = self.made(shop_folder, open_session, jobs)
        assert session.log.open_pours() == [name]
        watch = Pours(shop_folder, session.time, writes=False)
        watch.load()
        assert watch.pours[name].over
        assert session.log.open_pours() == [name]  # whoever only reads leaves it
        assert open_session(shop_folder).log.open_pours() == []

    def test_a_start_reads_no_file_of_the_archive(
        self, shop_folder, open_session, jobs, monkeypatch
    ):
        self.made(shop_folder, open_session, jobs)
        reads = []
        monkeypatch.setattr(Disk, "read", lambda *found: reads.append(found))
        open_session(shop_folder)
        assert reads == []

    def test_castings_count_those_in_the_archive(self, shop_folder, open_session, jobs):
        job = next(job for job in jobs.values() if job.castings > 1)
        castings = []
        for _ in range(2):
            session = open_session(shop_folder)
            name = session.start(job)
            castings.append(session.pour(name).state.casting)
            session.put_away(name)
            session.settle(name)
        assert castings == [1, 2]

    def test_a_damaged_journal_is_named_and_shown(
        self, shop_folder, open_session, jobs
    ):
        session = open_session(shop_folder)
        name = session.start(jobs["bare"])
        for number in range(3):
            session.note(name, f"note {number}")
            session.settle(name)
        path = shop_folder.log / "live" / f"{name}.jnl"
        raw = path.read_bytes()
        path.write_bytes(raw.replace(b"note 1", b"note 7"))
        again = open_session(shop_folder)
        assert "damaged (line 3 at byte" in again.faults[name]
        assert len(again.pour(name).state.notes) == 2
        again.note(name, "more")
        with pytest.raises(LogFault, match="NOT SAVED"):
            again.settle(name)

    def test_the_session_of_the_first_version_goes_on(
        self, shop_folder, open_session, jobs
    ):
        session = open_session(shop_folder)
        name = session.start(jobs["bare"])
        state = session.pour(name).state
        (shop_folder.log / f"{name}.json").write_text(
            first_version(session.events(name))
        )
        (shop_folder.log / "live" / f"{name}.jnl").unlink()
        again = Session(shop_folder, session.time)
        again.load()
        assert again.pour(name).state == state
        again.note(name, "still here")
        again.settle(name)
        assert open_session(shop_folder).pour(name).state.notes[-1].text == "still here"
        assert json.loads(
            (shop_folder.log / "before-journal" / f"{name}.json").read_text()
        )
