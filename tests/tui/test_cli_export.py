"""``export`` and the import of what it printed: every event once, all or nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.clock import SimulatedTime
from scheduling.errors import LogFault
from scheduling.event import event_from_document, event_to_document
from scheduling.folder import ShopFolder
from scheduling.log import Log
from scheduling.pourname import SHOP
from scheduling.shop import Timing
from scheduling.spread import Spread
from tui.accepting import accept
from tui.cli import main
from tui.session import Session

NOW = datetime(2030, 4, 2, 7, 30, tzinfo=UTC)
OPENS = Timing("face opens", "M1", Spread(27.0, 0.2), 9)
WAS = Spread(18.0, 0.54)


class Desk:
    """A shop, and somebody who types."""

    def __init__(self, path, capsys, time):
        self.folder = ShopFolder(path)
        self.folder.adopt_samples()
        text = self.folder.shop_file.read_text()
        self.folder.shop_file.write_text('zone = "UTC"\n' + text)
        self.time = time
        self.capsys = capsys

    @property
    def log(self):
        return Log(self.folder.log)

    def type(self, *words):
        argv = ["--shop", str(self.folder.path), *map(str, words)]
        code = main(argv, time=self.time)
        shown = self.capsys.readouterr()
        return code, shown.out, shown.err

    def json(self, *words):
        code, out, err = self.type(*words, "--json")
        assert (code, err) == (0, ""), (words, err)
        return json.loads(out)

    def export(self, path, *words):
        code, out, err = self.type("export", *words)
        assert (code, err) == (0, "")
        path.write_text(out)
        return [event_from_document(json.loads(line)) for line in out.splitlines()]

    def session(self):
        session = Session(self.folder, self.time, "Ana")
        session.load()
        return session

    def everything(self):
        log = self.log
        return {name: log.events(name) for name in [*log.pours(), SHOP]}

    def files(self):
        found = self.folder.path.rglob("*")
        return {str(one): one.read_bytes() for one in found if one.is_file()}


@pytest.fixture
def time():
    return SimulatedTime(NOW)


@pytest.fixture
def desk(tmp_path, capsys, time):
    """A shop with a pour that is over, one at work, and an accepted timing."""
    desk = Desk(tmp_path / "shop", capsys, time)
    assert desk.type("start", "court-bench")[0] == 0
    time.advance_to(NOW + timedelta(hours=1))
    assert desk.type("start", "bare")[0] == 0
    assert desk.type("note", "court-bench", "cold form")[0] == 0
    session = desk.session()
    session.put_away("court-bench.0402")
    session.settle("court-bench.0402")
    accept(session, OPENS, WAS, (14.0, 26.0))
    assert session.log.open_pours() == ["bare.0402"]
    return desk


@pytest.fixture
def other(tmp_path, capsys, time):
    """A shop of another machine, with nothing in its log."""
    return Desk(tmp_path / "other", capsys, time)


@pytest.fixture
def file(tmp_path):
    return tmp_path / "log.jsonl"


class TestExport:
    def test_prints_every_event_in_the_order_of_the_pours_the_book_last(
        self, desk, file
    ):
        found = desk.export(file)
        log = desk.log
        names = ["court-bench.0402", "bare.0402", SHOP]
        assert found == [one for name in names for one in log.events(name)]

    def test_json_is_the_same(self, desk):
        assert desk.type("export", "--json") == desk.type("export")

    def test_prints_the_named_ones(self, desk, file):
        found = desk.export(file, SHOP, "bare", "bare.0402")
        assert [one.pour for one in found][:2] == [SHOP, "bare.0402"]
        assert {one.pour for one in found} == {SHOP, "bare.0402"}
        code, out, err = desk.type("export", "nobody")
        assert (code, out) == (2, "")
        assert "no such pour" in err

    def test_an_empty_log_is_an_empty_export(self, other):
        assert other.type("export") == (0, "", "")

    def test_what_cannot_be_read_is_named_and_the_rest_printed(self, desk):
        assert desk.type("note", "bare", "a second line")[0] == 0
        path = desk.folder.log / "live" / "bare.0402.jnl"
        path.write_bytes(path.read_bytes().replace(b'"started"', b'"startet"', 1))
        code, out, err = desk.type("export")
        assert code == 1
        assert "bare.0402" in err
        assert {json.loads(line)["pour"] for line in out.splitlines()} >= {
            "court-bench.0402",
            SHOP,
        }


class TestImport:
    def test_another_machine_gets_everything_and_seals_what_is_over(
        self, desk, other, file
    ):
        events = desk.export(file)
        found = other.json("import", file)
        assert (found["added"], found["known"]) == (len(events), 0)
        assert other.everything() == desk.everything()
        assert other.log.open_pours() == ["bare.0402"]
        assert other.session().setting.shop.timings == (OPENS,)
        assert other.type("export") == desk.type("export")

    def test_twice_adds_nothing(self, desk, other, file):
        desk.export(file)
        other.json("import", file)
        before = other.everything()
        code, out, err = other.type("import", file)
        assert (code, err) == (0, "")
        assert "0 events added" in out
        assert "nothing new" in out
        assert other.everything() == before
        assert desk.json("import", file)["added"] == 0

    def test_a_dry_run_says_and_adds_nothing(self, desk, other, file):
        desk.export(file)
        before = other.files()
        found = other.json("import", file, "--dry-run")
        assert [one["pour"] for one in found["pours"]] == [
            "court-bench.0402",
            "bare.0402",
            SHOP,
        ]
        code, out, _ = other.type("import", file, "--dry-run")
        assert code == 0
        assert "would be added" in out
        assert "saved" not in out
        assert other.files() == before

    def test_what_came_later_is_added_to_a_sealed_pour(self, desk, other, file):
        desk.export(file)
        other.json("import", file)
        session = desk.session()
        session.load_one("court-bench.0402")
        session.note("court-bench.0402", "a scratch was found")
        session.settle("court-bench.0402")
        desk.export(file)
        assert other.json("import", file)["added"] == 1
        assert other.everything() == desk.everything()
        assert other.log.open_pours() == ["bare.0402"]

    def test_another_pour_of_the_same_name_gets_the_next_and_only_once(
        self, desk, other, file
    ):
        desk.export(file, "bare.0402")
        assert other.type("start", "bare")[0] == 0
        own = other.log.events("bare.0402")
        found = other.json("import", file)["pours"][0]
        assert (found["pour"], found["in_file"]) == ("bare.0402-2", "bare.0402")
        assert other.log.events("bare.0402") == own
        moved = [
            replace(one, pour="bare.0402-2") for one in desk.log.events("bare.0402")
        ]
        assert other.log.events("bare.0402-2") == moved
        assert other.json("import", file)["added"] == 0
        assert other.log.pours() == ["bare.0402", "bare.0402-2"]

    def test_lines_in_any_order_of_pours_are_sorted_out(self, desk, other, file):
        desk.export(file)
        lines = file.read_text().splitlines()
        file.write_text("\n".join([*lines[1::2], "", *lines[::2]]))
        other.json("import", file)
        for name, events in desk.everything().items():
            assert {one.id for one in other.log.events(name)} == {e.id for e in events}

    def test_every_bad_line_is_named_and_nothing_is_added(self, desk, other, file):
        desk.export(file)
        lines = file.read_text().splitlines()
        bad = [
            lines[0][:-1],
            "[]",
            lines[0].replace('"started"', '"exploded"'),
            lines[0].replace("court-bench.0402", "../court"),
            json.dumps({**json.loads(lines[0]), "at": "2030-04-01T10:00"}),
            '{"a": NaN}',
            "[" * 100_000,
        ]
        file.write_text("\n".join([*lines, *bad]) + "\n")
        before = other.files()
        code, out, err = other.type("import", file)
        assert (code, out) == (2, "")
        for number in range(len(lines) + 1, len(lines) + len(bad) + 1):
            assert f"log.jsonl: line {number}: " in err
        assert len(err.splitlines()) == len(bad)
        assert other.files() == before

    def test_what_is_still_to_come_is_refused(self, desk, other, file):
        desk.export(file)
        early = SimulatedTime(NOW + timedelta(minutes=30))
        other.time = early
        code, _, err = other.type("import", file)
        assert code == 2
        assert "still to come" in err
        assert other.log.pours() == []

    def test_an_event_that_differs_under_its_id_refuses_the_file(
        self, desk, other, file
    ):
        desk.export(file)
        other.json("import", file)
        text = file.read_text().replace("cold form", "warm form")
        file.write_text(text)
        before = other.everything()
        code, _, err = other.type("import", file)
        assert code == 2
        assert "two different events" in err
        assert other.everything() == before

    def test_broken_off_between_two_pours_the_same_import_adds_the_rest(
        self, desk, other, file, monkeypatch
    ):
        desk.export(file)
        whole = Log.append

        def once(log, *events, **options):
            if events[0].pour != "court-bench.0402":
                raise LogFault("NOT SAVED: the disk is full")
            whole(log, *events, **options)

        monkeypatch.setattr(Log, "append", once)
        code, out, err = other.type("import", file)
        assert (code, out) == (1, "")
        assert "NOT SAVED" in err
        assert "adds the rest" in err
        monkeypatch.undo()
        other.json("import", file)
        assert other.everything() == desk.everything()

    def test_a_file_without_an_event_and_none_at_all(self, other, file):
        file.write_text("\n\n")
        assert "at least one event" in other.type("import", file)[2]
        file.unlink()
        code, _, err = other.type("import", file)
        assert code == 2
        assert "No such file" in err

    @settings(
        max_examples=60,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture],
    )
    @given(data=st.data())
    def test_any_lines_are_imported_or_refused(self, desk, other, file, data):
        """Lines of an export, some of them spoilt somewhere."""
        events = [one for name in desk.everything().values() for one in name]
        lines = [json.dumps(event_to_document(one)) for one in events]
        spoilt = st.sampled_from(lines).flatmap(
            lambda line: st.builds(
                lambda at, scrap: line[:at] + scrap + line[at + 1 :],
                st.integers(0, len(line) - 1),
                st.text(max_size=3),
            )
        )
        drawn = data.draw(st.lists(st.sampled_from(lines) | spoilt, max_size=8))
        file.write_text("\n".join(drawn), encoding="utf-8", errors="replace")
        before = other.everything()
        code, out, err = other.type("import", file)
        assert code in (0, 2), err
        assert "unexpected" not in err
        assert "\x1b" not in out + err
        if code == 2:
            assert other.everything() == before
