"""The verbs that write to the log, and the log they leave behind."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from scheduling.process import StepKey
from tui.cli import main
from tui.session import Session

NOW = datetime(2030, 4, 2, 7, 0, tzinfo=UTC)  # Tuesday 09:00 in Oslo
MINUTE = timedelta(minutes=1)


class Desk:
    """A shop folder, a clock that stands still, and somebody who types."""

    def __init__(self, path, capsys):
        self.folder = ShopFolder(path)
        self.folder.adopt_samples()
        text = self.folder.shop_file.read_text(encoding="utf-8")
        text = text.replace('# zone = "Europe/Oslo"', 'zone = "Europe/Oslo"')
        self.folder.shop_file.write_text(text, encoding="utf-8")
        self.time = SimulatedTime(NOW)
        self.capsys = capsys

    def type(self, *words):
        argv = ["--shop", str(self.folder.path), *map(str, words)]
        code = main(argv, time=self.time)
        shown = self.capsys.readouterr()
        return code, shown.out, shown.err

    def json(self, *words):
        code, out, err = self.type(*words, "--json")
        assert (code, err) == (0, ""), (words, err)
        return json.loads(out)

    def wait(self, minutes):
        self.time.advance_to(self.time.now() + minutes * MINUTE)

    def session(self):
        session = Session(self.folder, self.time)
        session.load()
        return session


@pytest.fixture
def desk(tmp_path, capsys):
    return Desk(tmp_path / "shop", capsys)


@pytest.fixture
def sprayed(desk):
    """A bare pour whose face coat was sprayed a moment ago."""
    desk.pour = desk.json("start", "bare", "--from", "face coat")["pour"]
    for step in ("mix-face", "flow-check", "spray"):
        desk.json("mark", desk.pour, step, "started")
        desk.wait(7)
        desk.json("mark", desk.pour, step, "finished")
    return desk


def test_a_pour_from_start_to_review(desk):
    pour = desk.json("start", "potting-bench-slab", "--from", "weigh-off")["pour"]
    assert pour == "potting-bench-slab.0402"
    ids = []
    for step in ("set-up", "mix-face", "spray"):
        ids.append(desk.json("mark", pour, step, "started", "--by", "Ines"))
        desk.wait(10)
        ids.append(desk.json("mark", pour, step, "finished"))
    desk.wait(15)
    ids.append(desk.json("touch", pour, "slab", "soft"))
    ids.append(desk.json("reading", pour, "--temp", 19.5, "--rh", 45, "--wind", 3))
    desk.wait(6)
    ids.append(desk.json("touch", pour, "slab", "ready"))
    ids.append(desk.json("fogged", pour, "slab"))
    ids.append(desk.json("hands", pour, "Ines, Bo"))
    ids.append(desk.json("note", pour, "a", "little", "stiff"))
    assert all(set(one) == {"event"} for one in ids)

    found = desk.json("log")
    assert set(found) == {"pours"}
    (held,) = found["pours"]
    assert set(held) == {
        "pour",
        "job",
        "started",
        "events",
        "demould_tries",
        "steps",
    }
    assert held["started"] == "2030-04-02T09:00:00+02:00"
    for event in held["events"]:
        assert set(event) == {"id", "at", "kind", "step", "zone", "data"}
    recorded = [event["id"] for event in held["events"]]
    assert recorded[-len(ids) :] == [one["event"] for one in ids]
    note = held["events"][-1]
    assert (note["kind"], note["data"]["text"]) == ("note", "a little stiff")
    for step in held["steps"]:
        assert set(step) == {
            "step",
            "phase",
            "zone",
            "planned_min",
            "forecast_min",
            "actual_min",
            "ratio",
            "temp_c",
        }
    rows = {(row["step"], row["zone"]): row for row in held["steps"]}
    assert rows["set-up", None]["actual_min"] == 10
    assert rows["spray", "slab"]["ratio"] == pytest.approx(
        10 / rows["spray", "slab"]["planned_min"], abs=0.01
    )
    assert rows["face wait", "slab"]["actual_min"] == 21


def test_people_are_told_what_was_saved_and_when(desk):
    code, out, _ = desk.type("start", "two-legged-desk")
    assert code == 0
    assert out == (
        "two-legged-desk.0402: started from the form, "
        "Tue 2 April 2030 09:00 Europe/Oslo (UTC+02:00), now\n"
    )
    code, out, err = desk.type("mark", "two", "base", "started", "--at", "-5")
    assert err == (
        "--at -5: Tue 2 April 2030 08:55 Europe/Oslo (UTC+02:00), 5 min ago\n"
    )
    assert out == (
        "two-legged-desk.0402: base started - saved, "
        "Tue 2 April 2030 08:55 Europe/Oslo (UTC+02:00), 5 min ago\n"
    )


def test_a_second_program_sees_the_same_pour(sprayed):
    sprayed.json("touch", sprayed.pour, "field", "soft")
    first, second = sprayed.session(), sprayed.session()
    assert first.pours[sprayed.pour].state == second.pours[sprayed.pour].state
    assert first.events(sprayed.pour) == second.events(sprayed.pour)
    second.mark(sprayed.pour, "started", StepKey("mix-back-1"))
    second.settle(sprayed.pour)
    assert first.load() == [sprayed.pour]
    assert first.pours[sprayed.pour].state == second.pours[sprayed.pour].state
    kinds = [e["kind"] for e in sprayed.json("log")["pours"][0]["events"]]
    assert kinds[-2:] == ["touch", "started"]


def test_one_pour_is_found_by_how_its_name_begins(desk):
    desk.json("start", "two-legged-desk")
    desk.json("start", "trough-vanity")
    assert desk.type("note", "two", "hello")[0] == 0
    code, out, err = desk.type("note", "t", "hello")
    assert (code, out) == (2, "")
    assert "trough-vanity.0402, two-legged-desk.0402" in err
    again = desk.json("start", "two-legged-desk")["pour"]
    assert again == "two-legged-desk.0402-2"
    assert desk.type("note", "two-legged-desk.0402", "the first")[0] == 0


def test_two_soft_touches_move_the_opening_past_them(sprayed):
    sprayed.wait(25)
    before = sprayed.session().pours[sprayed.pour].timeline
    sprayed.json("touch", sprayed.pour, "field", "soft")
    after = sprayed.session().pours[sprayed.pour].timeline
    lift = StepKey("lift-1", "field")
    now = sprayed.time.now()
    assert before.wait_for(lift).opens.p50 < now < after.wait_for(lift).opens.p10


def test_undo_takes_back_the_newest_mark(sprayed):
    before = sprayed.session().pours[sprayed.pour].state.touches
    sprayed.json("touch", sprayed.pour, "field", "gone")
    code, out, _ = sprayed.type("undo", sprayed.pour)
    assert code == 0
    assert "taken back: touch lift-1 field" in out
    assert sprayed.session().pours[sprayed.pour].state.touches == before


def test_a_plastic_sheet_goes_on_and_comes_off(sprayed):
    sprayed.json("covered", sprayed.pour, "field")
    sprayed.wait(5)
    sprayed.json("uncovered", sprayed.pour, "field")
    (cover,) = sprayed.session().pours[sprayed.pour].state.covers["field"]
    assert cover[1] - cover[0] == 5 * MINUTE


class TestAck:
    def test_answers_everything_that_rings(self, sprayed):
        sprayed.wait(14)
        found = sprayed.json("ack", sprayed.pour)
        assert set(found) == {"event", "events"}
        assert found["event"] == found["events"][0]
        assert len(found["events"]) == 2  # mix the back batch, touch the field
        code, out, err = sprayed.type("ack", sprayed.pour, "--json")
        assert (code, out) == (1, "")
        assert err == f"{sprayed.pour}: nothing rings now\n"

    def test_answers_one_by_its_kind(self, sprayed):
        sprayed.wait(14)
        assert set(sprayed.json("ack", sprayed.pour, "touch-test")) == {"event"}
        code, _, err = sprayed.type("ack", sprayed.pour, "touch-test")
        assert (code, err) == (1, f"{sprayed.pour}: touch-test is not ringing now\n")
        assert set(sprayed.json("ack", sprayed.pour)) == {"event"}

    def test_an_alert_nobody_knows_is_bad_input(self, sprayed):
        code, _, err = sprayed.type("ack", sprayed.pour, "fire")
        assert code == 2
        assert "touch-test" in err


class TestLog:
    def test_an_empty_log_is_no_fault(self, desk):
        assert desk.json("log") == {"pours": []}
        assert desk.type("log")[:2] == (0, "no pour in the log yet\n")

    def test_csv_has_a_row_for_each_marked_step(self, sprayed):
        code, out, _ = sprayed.type("log", "--csv")
        rows = list(csv.DictReader(io.StringIO(out)))
        assert code == 0
        assert [row["step"] for row in rows] == ["mix-face", "flow-check", "spray"]
        assert {row["actual_min"] for row in rows} == {"7.0"}

    def test_steps_and_jobs_together(self, sprayed):
        found = sprayed.json("log", "--by-job")
        assert found["by"] == "job"
        assert [one["name"] for one in found["groups"]] == ["bare"]
        _, out, _ = sprayed.type("log", "--by-step")
        assert [row.split()[0] for row in out.splitlines()] == [
            "step",
            "mix-face",
            "flow-check",
            "spray",
        ]

    def test_only_one_way_to_print_it(self, desk):
        for words in (("--csv", "--json"), ("--csv", "--by-step")):
            assert desk.type("log", *words)[0] == 2
        assert desk.type("log", "--by-step", "--by-job")[0] == 2

    def test_a_journal_damaged_in_its_middle_is_named_and_shown(self, sprayed):
        (journal,) = (sprayed.folder.log / "live").glob("*.jnl")
        lines = journal.read_bytes().splitlines(keepends=True)
        lines[-2] = b"?" + lines[-2][1:]
        journal.write_bytes(b"".join(lines))
        code, out, err = sprayed.type("log", "--json")
        assert code == 1
        assert [one["pour"] for one in json.loads(out)["pours"]] == [sprayed.pour]
        assert str(journal) in err

    def test_a_damaged_pour_is_named_and_the_others_are_shown(self, sprayed):
        damaged = sprayed.folder.log / "trough-vanity.0401.json"
        damaged.write_text('{"events": ', encoding="utf-8")
        code, out, err = sprayed.type("log", "--json")
        assert code == 1
        assert [one["pour"] for one in json.loads(out)["pours"]] == [sprayed.pour]
        assert str(damaged) in err
        code, out, err = sprayed.type("note", "trough", "hello")
        assert (code, out) == (1, "")
        assert str(damaged) in err

    def test_a_pour_without_its_start_is_named(self, sprayed):
        (sprayed.folder.log / "lost.0401.json").write_text("{}", encoding="utf-8")
        code, _, err = sprayed.type("log")
        assert code == 1
        assert "lost.0401: its start is not on record" in err


def test_what_could_not_be_written_is_not_said_to_be_saved(desk):
    desk.folder.log.write_text("a file in the place of the log")
    code, out, err = desk.type("start", "bare", "--json")
    assert (code, out) == (1, "")
    assert err


class TestCoverOfThePiece:
    @pytest.fixture
    def cast(self, sprayed):
        sprayed.json("mark", sprayed.pour, "screed", "finished")
        return sprayed

    def covers(self, shop):
        return [name for _, name in shop.session().pours[shop.pour].state.piece_covers]

    def test_it_is_written_down(self, cast):
        code, out, _ = cast.type("covered", cast.pour, "--with", "heated tent")
        assert code == 0
        assert "piece under heated tent - saved" in out
        cast.json("uncovered", cast.pour)
        cast.json("covered", cast.pour)
        assert self.covers(cast) == ["heated tent", "open", "plastic"]

    def test_it_moves_the_demould(self, cast):
        def demould():
            return cast.session().pours[cast.pour].timeline.demould.p50

        for step in ("cover", "blankets"):  # what is planned would come on again
            cast.json("mark", cast.pour, step, "finished")
        warm = demould()
        cast.json("uncovered", cast.pour)
        assert demould() > warm

    def test_before_casting_and_with_a_zone_it_is_refused(self, sprayed):
        code, _, err = sprayed.type("covered", sprayed.pour, "--with", "blanket")
        assert code == 2
        assert "not cast yet" in err
        words = ("covered", sprayed.pour, "field", "--with", "blanket")
        code, _, err = sprayed.type(*words)
        assert code == 2
        assert "whole piece" in err
        code, _, err = sprayed.type("covered", sprayed.pour, "--with", "straw")
        assert code == 2
        assert "plastic" in err
        assert self.covers(sprayed) == []


def test_the_session_s_cure_is_the_timeline_s(sprayed):
    sprayed.json("mark", sprayed.pour, "screed", "finished")
    session = sprayed.session()
    session.load()
    found = session.cure(sprayed.pour)
    assert found.marks[0].at == session.pour(sprayed.pour).timeline.demould
    colder = session.cure(sprayed.pour, low_c=2.0, cover="plastic")
    assert colder.low_c == pytest.approx(2.0)
    assert colder.marks[0].at.p50 > found.marks[0].at.p50
