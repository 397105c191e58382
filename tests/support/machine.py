"""A journal beside TinyDB's own memory: the same after every step."""

from __future__ import annotations

from pathlib import Path

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from tinydb import TinyDB, where
from tinydb.operations import add, delete, increment
from tinydb.storages import MemoryStorage
from tinydb.table import Document

from scheduling.errors import LogFault
from scheduling.journaldb import JournalDB
from support.memorydisk import MemoryDisk

PATH = Path("/shop/db.jnl")

names = st.sampled_from(["events", "about"])
values = st.sampled_from([0, 1, 2, True, 1.0, None, "", "a\tb\nc", "å\u2028", [1, [2]]])
documents = st.dictionaries(st.sampled_from("kvw"), values, max_size=3)
ids = st.integers(1, 12)


def _shifted(document):
    document["v"] = [document.get("v")]


class JournalBesideMemory(RuleBasedStateMachine):
    """Does the same to both, and expects the same answers, errors and tables."""

    def __init__(self):
        super().__init__()
        self.disk = MemoryDisk()
        self.ours = JournalDB(PATH, self.disk)
        self.theirs = TinyDB(storage=MemoryStorage)

    def both(self, act):
        answers = []
        for db in (self.ours, self.theirs):
            try:
                answers.append(act(db))
            except Exception as error:  # noqa: BLE001 - any, if it is the same
                answers.append(type(error))
        assert answers[0] == answers[1]

    @rule(name=names, document=documents)
    def insert(self, name, document):
        self.both(lambda db: db.table(name).insert(document))

    @rule(name=names, document=documents, number=ids)
    def insert_numbered(self, name, document, number):
        self.both(lambda db: db.table(name).insert(Document(document, number)))

    @rule(name=names, many=st.lists(documents, max_size=4))
    def insert_multiple(self, name, many):
        self.both(lambda db: db.table(name).insert_multiple(many))

    @rule(name=names, document=documents)
    def insert_multiple_of_which_one_fails(self, name, document):
        many = [document, "no document"]
        for db in (self.ours, self.theirs):
            try:
                db.table(name).insert_multiple(many)
            except ValueError:
                continue
            raise AssertionError
        # TinyDB has used up a number for the document it did not keep.
        self.theirs.table(name)._next_id = None

    @rule(name=names, fields=documents, key=st.sampled_from("kvw"), value=values)
    def update_where(self, name, fields, key, value):
        self.both(lambda db: db.table(name).update(fields, where(key) == value))

    @rule(name=names, fields=documents, numbers=st.lists(ids, max_size=3))
    def update_numbered(self, name, fields, numbers):
        self.both(lambda db: db.table(name).update(fields, doc_ids=numbers))

    @rule(name=names)
    def update_all_by_a_function(self, name):
        self.both(lambda db: db.table(name).update(_shifted))

    @rule(name=names, key=st.sampled_from("kvw"))
    def update_several(self, name, key):
        pairs = [({key: 1}, where(key).exists()), (delete(key), where(key) == 0)]
        self.both(lambda db: db.table(name).update_multiple(pairs))

    @rule(name=names, act=st.sampled_from([increment("n"), add("n", 2)]))
    def count(self, name, act):
        self.both(lambda db: db.table(name).upsert({"n": 1}, where("n").exists()))
        self.both(lambda db: db.table(name).update(act, where("n").exists()))

    @rule(name=names, document=documents, value=values)
    def upsert(self, name, document, value):
        self.both(lambda db: db.table(name).upsert(document, where("k") == value))

    @rule(name=names, document=documents, number=ids)
    def upsert_numbered(self, name, document, number):
        self.both(lambda db: db.table(name).upsert(Document(document, number)))

    @rule(name=names, key=st.sampled_from("kvw"), value=values)
    def remove_where(self, name, key, value):
        self.both(lambda db: db.table(name).remove(where(key) == value))

    @rule(name=names, numbers=st.lists(ids, max_size=2, unique=True))
    def remove_numbered(self, name, numbers):
        there = [n for n in numbers if self.theirs.table(name).contains(doc_id=n)]
        self.both(lambda db: db.table(name).remove(doc_ids=there))

    @rule(name=names)
    def truncate(self, name):
        self.both(lambda db: db.table(name).truncate())

    @rule(name=names)
    def drop_table(self, name):
        self.both(lambda db: db.drop_table(name))

    @rule()
    def drop_tables(self):
        self.both(lambda db: db.drop_tables())

    @rule(name=names)
    def not_a_number_is_never_written(self, name):
        before = self.disk.written
        for many in ([{"v": float("nan")}], [{"v": 1}, {"v": {2}}]):
            try:
                self.ours.table(name).insert_multiple(many)
            except LogFault:
                continue
            raise AssertionError
        assert self.disk.written == before
        self.theirs.table(name)._next_id = None

    @rule()
    def another_program_goes_on(self):
        self.ours = JournalDB(PATH, self.disk)
        self.ours.make_ready()
        self.theirs._tables.clear()

    @rule(name=names, document=documents)
    def another_program_writes(self, name, document):
        other = JournalDB(PATH, self.disk)
        other.make_ready()
        number = other.table(name).insert(document)
        self.ours.make_ready()
        # Ours reads the next number anew from what is there, in every table.
        for each in ("events", "about"):
            self.theirs.table(each)._next_id = None
        assert self.theirs.table(name).insert(document) == number
        self.theirs.table(name)._next_id = None

    @invariant()
    def the_same(self):
        assert self.ours.tables() == self.theirs.tables()
        for name in ("events", "about"):
            found = [
                [(each.doc_id, repr(dict(each))) for each in db.table(name)]
                for db in (self.ours, self.theirs)
            ]
            assert found[0] == found[1]
            once = where("k") == 1
            assert self.ours.table(name).search(once) == self.theirs.table(name).search(
                once
            )

    def teardown(self):
        again = JournalDB(PATH, self.disk)
        again.catch_up()
        assert again.journal.damage == ""
        assert again.journal.read() == (self.theirs.storage.read() or {})
