"""The journal: TinyDB to whoever uses it, whole lines on the disk, damage located."""

from __future__ import annotations

import errno
import inspect
import json
from pathlib import Path
from random import Random
from zlib import crc32

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test
from tinydb import TinyDB, where
from tinydb.table import Table

from scheduling.errors import LogFault
from scheduling.journaldb import JournalDB, JournalTable
from scheduling.lines import read_line, scan, written
from support.machine import JournalBesideMemory
from support.memorydisk import MemoryDisk

PATH = Path("/shop/db.jnl")


@pytest.fixture
def disk():
    return MemoryDisk()


@pytest.fixture
def db(disk):
    return JournalDB(PATH, disk)


def content(disk, raw):
    """Puts other bytes into the journal, as a fault of the disk would."""
    node = disk.nodes[disk._node(PATH)]
    node.data = node.durable = raw
    disk.ticks += 1
    node.changed = disk.ticks


def reopened(disk):
    db = JournalDB(PATH, disk)
    db.catch_up()
    return db


class TestContract:
    def test_the_same_as_tinydb_in_memory_after_every_step(self):
        """500 runs of 50 steps; the long count is in tests/soak/contract.py."""
        run_state_machine_as_test(
            JournalBesideMemory,
            settings=settings(
                max_examples=500,
                stateful_step_count=50,
                deadline=None,
                database=None,
                derandomize=True,
                suppress_health_check=list(HealthCheck),
            ),
        )

    def test_every_change_of_tinydb_goes_through_the_one_method_we_override(self):
        """``_update_table`` is a private name: a new TinyDB may not have it."""
        assert "_update_table" in vars(JournalTable)
        changes = ("insert", "insert_multiple", "update", "update_multiple")
        for name in (*changes, "upsert", "remove", "truncate"):
            source = inspect.getsource(getattr(Table, name))
            assert "_update_table(" in source or "self.update(" in source
            assert "storage.write" not in source
        own = [name for name in vars(JournalTable) if name in vars(Table)]
        assert [name for name in own if not name.startswith("__")] == ["_update_table"]

    def test_a_reader_gets_copies_of_the_documents(self, db):
        db.insert({"v": 1})
        db.all()[0]["v"] = 2
        assert db.get(doc_id=1) == {"v": 1}

    def test_one_and_true_are_not_the_same(self, db, disk):
        db.insert({"v": 1})
        db.update({"v": True})
        assert reopened(disk).all()[0]["v"] is True


class TestLines:
    def test_a_line_is_readable_with_cat_and_has_a_checksum(self, db, disk):
        db.table("events").insert({"note": "støpt\t😀\n"})
        raw = disk.read(PATH)
        assert raw.isascii()
        assert raw.count(b"\n") == raw.count(b"\t") == 1
        text, _, checksum = raw.rstrip().partition(b"\t")
        assert json.loads(text) == {
            "n": 0,
            "o": [["z", "events"], ["p", "events", "1", {"note": "støpt\t😀\n"}]],
        }
        assert len(checksum) == 8

    def test_several_documents_are_one_line_and_one_sync(self, db, disk):
        db.insert({})
        calls = []
        disk.before = lambda call, _path: calls.append(call)
        db.insert_multiple({"n": number} for number in range(500))
        assert calls == ["open", "append", "sync"]
        assert disk.read(PATH).count(b"\n") == 2

    def test_a_new_file_and_its_name_are_on_the_disk_before_it_is_acknowledged(
        self, db, disk
    ):
        calls = []
        disk.before = lambda call, _path: calls.append(call)
        db.insert({})
        assert calls == ["open", "append", "sync", "sync_folder"]

    @pytest.mark.parametrize(
        "text",
        [
            *(b'{"n":0,"o":[["q","t"]]}', b'{"n":"0","o":[]}', b'{"o":[]}', b"{}"),
            *(b'{"n":0,"o":[["p","t","x",{}]]}', b'{"n":0,"o":[["p","t","1",2]]}'),
            b'{"n":0,"o":{}}',
        ],
    )
    def test_other_records_are_not_taken(self, text):
        assert read_line(b"%s\t%08x\n" % (text, crc32(text))) is None

    def test_unverified_at_the_end_is_a_tail_and_before_a_line_it_is_damage(self):
        first, second = written(0, []), written(1, [])
        assert scan(first + second[:-1], 0, 0).damage == ""
        assert scan(first + second[:-1], 0, 0).end == len(first)
        assert scan(b"\0" * 9 + b"\n" + first, 0, 5).damage.startswith(
            "line 1 at byte 5 "
        )
        assert scan(second, 0, 0).damage.startswith("line 1 at byte 0 is missing")
        assert scan(first + first, 0, 0).damage.startswith(
            f"line 2 at byte {len(first)} "
        )


class TestDamage:
    def filled(self, disk):
        db = JournalDB(PATH, disk)
        for number in range(12):
            db.insert({"n": number, "text": "a" * number})
        return disk.read(PATH), db.all()

    def test_every_shorter_file_opens_with_what_came_before(self, disk):
        raw, documents = self.filled(disk)
        for length in range(len(raw)):
            content(disk, raw[:length])
            db = reopened(disk)
            found = db.all()
            assert found == documents[: len(found)]
            assert len(found) == raw[:length].count(b"\n")
            assert db.journal.damage == ""
            db.make_ready()
            db.insert({"n": 99})
            assert reopened(disk).all() == [*found, {"n": 99}]

    def test_a_torn_tail_is_kept_beside_it(self, disk):
        raw, _ = self.filled(disk)
        content(disk, raw + b"half a li")
        db = reopened(disk)
        assert db.make_ready() == PATH.with_name(f"db.jnl.torn-{len(raw)}")
        assert disk.read(PATH) == raw
        content(disk, raw + b"another")
        aside = reopened(disk).make_ready()
        assert disk.read(PATH.with_name(f"db.jnl.torn-{len(raw)}")) == b"half a li"
        assert disk.read(aside) == b"another"

    def test_a_reader_leaves_a_tail_alone(self, disk):
        raw, documents = self.filled(disk)
        content(disk, raw + b'{"n":12,"o":[')
        db = reopened(disk)
        assert db.all() == documents
        assert disk.read(PATH) == raw + b'{"n":12,"o":['

    def test_no_flipped_bit_is_silently_wrong(self, disk):
        raw, documents = self.filled(disk)
        random = Random(1)
        located = set_aside = 0
        for _ in range(600):
            flipped = bytearray(raw)
            flipped[random.randrange(len(raw))] ^= 1 << random.randrange(8)
            content(disk, bytes(flipped))
            db = reopened(disk)
            found = db.all()
            assert [each for each in documents if each in found] == found
            assert found != documents
            if db.journal.damage:
                located += 1
                assert len(found) >= len(documents) - 2  # the rest is there
                with pytest.raises(LogFault, match=r"damaged \(line .*--set-aside db"):
                    db.make_ready()
                with pytest.raises(LogFault, match=r"damaged \(line "):
                    db.insert({})
            else:
                set_aside += 1
                # A flipped end of a line makes one of the last two.
                assert found in (documents[:-1], documents[:-2])
                assert db.make_ready() is not None
        assert located > set_aside > 0

    def test_a_missing_line_is_located(self, disk):
        raw, documents = self.filled(disk)
        lines = raw.splitlines(keepends=True)
        content(disk, b"".join(lines[:3] + lines[4:]))
        db = reopened(disk)
        assert (
            f"line 4 at byte {len(b''.join(lines[:3]))} is missing" in db.journal.damage
        )
        assert db.all() == documents[:3] + documents[4:]


class TestCatchingUp:
    def test_another_programs_lines_are_read_and_no_others(self, disk, db):
        other = JournalDB(PATH, disk)
        for number in range(20):
            writer, reader = (db, other) if number % 2 else (other, db)
            writer.make_ready()
            writer.insert({"n": number})
            reader.catch_up()
            assert reader.all() == [{"n": n} for n in range(number + 1)]

    def test_the_query_cache_is_cleared(self, disk, db):
        db.insert({"n": 1})
        other = reopened(disk)
        assert len(other.search(where("n") == 1)) == 1
        db.insert({"n": 1})
        other.catch_up()
        assert len(other.search(where("n") == 1)) == 2

    def test_a_line_that_its_writer_took_back_is_forgotten(self, disk, db):
        db.insert({"n": 1})
        reader = JournalDB(PATH, disk)

        def fail(call, _path):
            if call == "sync":
                reader.catch_up()  # sees it before it is on the disk
                raise OSError(errno.ENOSPC, "No space left on device")

        disk.before = fail
        with pytest.raises(LogFault, match="NOT SAVED"):
            db.insert({"n": 2})
        disk.before = lambda _call, _path: None
        assert len(reader.all()) == 2
        db.insert({"other": "and longer than the one before it"})
        reader.catch_up()
        assert reader.all() == db.all()
        assert reader.journal.damage == ""

    def test_a_writer_without_the_lock_is_noticed(self, disk, db):
        db.insert({"n": 1})
        other = reopened(disk)
        db.insert({"n": 2})
        with pytest.raises(LogFault, match="does not hold the lock"):
            other.insert({"n": 3})
        assert len(reopened(disk).all()) == 2


def test_stock_tinydb_is_the_yardstick_and_writes_what_we_never_write(tmp_path):
    """TinyDB's default stores NaN; ours refuses it."""
    with TinyDB(tmp_path / "stock.json") as stock:
        stock.insert({"v": float("nan")})
        assert "NaN" in (tmp_path / "stock.json").read_text()
