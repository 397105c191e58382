"""What the log teaches on the command line: listed, decided, tried on the past."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import BARE, ShopFolder
from scheduling.learned import Learned
from scheduling.process import StepKey
from scheduling.spread import Spread
from support.taughtshop import ZONE, work_pours
from tui.accepting import accept, take_back
from tui.cli import main
from tui.output import NARROWEST
from tui.session import Session

BEGUN = datetime(2030, 4, 1, 8, 0, tzinfo=UTC)
POURS = 7


class Desk:
    """A shop folder with worked pours, and somebody who types."""

    def __init__(self, path, now, capsys):
        self.folder, self.capsys = ShopFolder(path), capsys
        self.time = SimulatedTime(now)

    def type(self, *words):
        argv = ["--shop", str(self.folder.path), "--by", "Ines", "timings", *words]
        code = main(argv, time=self.time)
        shown = self.capsys.readouterr()
        return code, shown.out, shown.err

    def json(self, *words):
        code, out, err = self.type(*words, "--json")
        assert (code, err) == (0, ""), (words, err)
        return json.loads(out)

    def opens(self):
        """The face window of a pour that would begin now: minutes, and from what."""
        session = Session(self.folder, self.time)
        session.load()
        process = session.setting.process(BARE, on=self.time.now())
        gap = process.step(StepKey("lift-1", ZONE)).gap
        return round(gap.opens.spread.p50, 2), gap.opens.standing

    def roll_work(self):
        session = Session(self.folder, self.time)
        session.load()
        process = session.setting.process(BARE, on=self.time.now())
        return process.step(StepKey("roll-1", ZONE)).work


@pytest.fixture(scope="module")
def worked(tmp_path_factory):
    folder = ShopFolder(tmp_path_factory.mktemp("worked") / "shop")
    folder.adopt_samples()
    time = SimulatedTime(BEGUN)
    work_pours(folder, time, POURS)
    return folder.path, time.now()


@pytest.fixture
def desk(worked, tmp_path, capsys):
    path, now = worked
    shutil.copytree(path, tmp_path / "shop")
    return Desk(tmp_path / "shop", now, capsys)


@pytest.fixture
def empty(tmp_path, capsys):
    folder = ShopFolder(tmp_path / "shop")
    folder.adopt_samples()
    return Desk(folder.path, BEGUN, capsys)


def test_a_log_without_pours_teaches_nothing_and_says_so(empty):
    code, out, err = empty.type()
    assert (code, err) == (0, "")
    assert "nothing learned yet" in out
    assert empty.json() == {"timings": [], "work": []}
    assert empty.json("--backtest")["backtest"] == []


def test_json_has_the_shape_that_is_promised(desk):
    found = {one["name"]: one for one in desk.json()["timings"]}
    opens = found["face opens"]
    assert (opens["mix"], opens["unit"], opens["pours"]) == (
        "M1",
        "reference_min",
        POURS,
    )
    assert set(opens["default"]) == set(opens["learned"]) == {"p10", "p50", "p90"}
    assert opens["default"]["p50"] == 18
    low, high = opens["temp_range_c"]
    assert low <= high
    energy = opens["activation_energy_kj_mol"]
    assert set(energy) == {"p10", "p50", "p90", "prior", "told"}
    assert opens["accepted"] is False
    assert opens["bracketed"] == POURS
    assert opens["state"] == "learned"
    assert opens["learned"]["p10"] < opens["learned"]["p50"] < opens["learned"]["p90"]
    assert opens["learned"]["p50"] < 0.8 * opens["default"]["p50"]


def test_work_is_learned_for_the_shop_and_each_of_its_people(desk):
    found = {one["step"]: one for one in desk.json("--work")["work"]}
    roll = found["roll"]
    assert roll["castings"] == POURS
    assert {one["name"]: one["castings"] for one in roll["people"]} == {
        "Ines": 5,
        "Otto": 2,
    }
    assert 0.7 < roll["learned"]["p50"] < 0.85
    by = {one["per"]: one for one in roll["rates"]}
    assert by["flat"]["unit"] == "min_per_m2"
    assert by["flat"]["learned_min"] == pytest.approx(4 * roll["learned"]["p50"], 1e-2)


def test_for_people_everything_stands_in_columns_within_80(desk):
    code, out, _ = desk.type()
    assert code == 0
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80
    (opens,) = [line for line in lines if line.startswith("  face opens ")]
    assert opens.split()[2:4] == ["18.0", "min"]
    assert opens.endswith("learned")
    rates = lines[lines.index(next(x for x in lines if x.startswith("roll "))) + 1]
    assert "min/m² flat" in rates
    assert " -> " in rates


def test_a_shop_that_counts_in_feet_is_told_in_feet(desk):
    text = desk.folder.shop_file.read_text(encoding="utf-8")
    text = text.replace('units = "si"', 'units = "us"')
    desk.folder.shop_file.write_text(text, encoding="utf-8")
    _, out, _ = desk.type()
    assert "min/ft² flat" in out
    assert "°F" in out
    assert "°C" not in out


def test_accepting_changes_the_next_pour_and_taking_back_puts_it_as_it_was(desk):
    assert desk.opens()[0] == 18.0
    learned = desk.json("--name", "face opens")["timings"][0]["learned"]["p50"]
    code, out, _ = desk.type("--accept", "face opens")
    assert code == 0
    assert "18.0 min" in out
    assert f"learned from {POURS} pours" in out
    assert "on the wall instead of" in out
    minutes, standing = desk.opens()
    assert minutes == pytest.approx(learned, abs=0.01)
    assert standing == f"learned from {POURS} pours"
    again = desk.json("--name", "face opens")["timings"][0]
    assert (again["accepted"], again["state"]) == (True, "accepted")
    assert again["learned"]["p50"] == learned, "accepted values are no evidence"
    assert "accepted by Ines" in desk.type()[1]
    code, out, _ = desk.type("--take-back", "face opens")
    assert code == 0
    assert "accepted no longer" in out
    assert desk.opens()[0] == 18.0
    assert desk.json("--name", "face opens")["timings"][0]["state"] == "learned"


def test_an_accepted_pace_shortens_the_work(desk):
    before = desk.roll_work()
    event = desk.json("--accept", "roll")
    assert (event["kind"], event["by"]) == ("accepted", "Ines")
    factor = event["data"]["pace"]["factor"]["p50"]
    assert desk.roll_work() == pytest.approx(before * factor)
    found = desk.json("--name", "roll")["work"][0]
    assert (found["accepted"], found["state"]) == (True, "accepted")


def test_a_value_accepted_early_stays_in_force_beside_what_is_learned_by_now(desk):
    desk.type("--accept", "face opens")
    accepted = desk.json("--name", "face opens")["timings"][0]
    early = accepted["learned"]
    assert accepted["in_force"] == early
    value = accepted["accepted_value"]
    assert {name: value[name] for name in early} == early
    assert (value["learned_from"], value["by"]) == (POURS, "Ines")
    work_pours(desk.folder, desk.time, 3, opens=(20,))
    later = desk.json("--name", "face opens")["timings"][0]
    assert later["learned"]["p50"] > early["p50"] + 0.5
    assert later["in_force"] == early
    assert f"accepted {early['p50']:.1f}" in desk.type()[1]
    _, out, _ = desk.type("--refuse", "face opens")
    before = next(line for line in out.splitlines() if line.startswith("  before"))
    assert f"{early['p50']:.1f} min" in before
    kept = desk.json("--name", "face opens")["timings"][0]
    assert (kept["state"], kept["in_force"]) == ("kept", early)
    shown = " ".join(desk.type()[1].split())
    assert f"kept {early['p50']:.1f}" in shown
    assert f"accepted {early['p50']:.1f}, newer refused by Ines" in shown


def test_what_is_accepted_is_taken_back_and_not_refused(desk):
    desk.type("--accept", "face opens")
    code, out, err = desk.type("--refuse", "face opens")
    assert (code, out) == (1, "")
    assert "--take-back" in err


def test_without_an_accepted_value_the_default_is_in_force(desk):
    opens = desk.json("--name", "face opens")["timings"][0]
    assert opens["in_force"] == opens["default"]
    assert opens["accepted_value"] is None


def test_what_tells_no_more_than_the_default_cannot_be_accepted(desk, monkeypatch):
    monkeypatch.setattr(Learned, "tells", False)
    code, out, err = desk.type("--accept", "face opens")
    assert (code, out) == (1, "")
    said = f"no more than the default yet: {POURS} of {POURS} waits known from both"
    assert said in err
    assert desk.json("--name", "face opens")["timings"][0]["state"] == "default"
    assert "nothing new" in desk.type("--name", "face opens")[1]


def test_refusing_changes_nothing_until_more_pours_speak_for_it(desk):
    code, out, _ = desk.type("--refuse", "face opens")
    assert (code, "nothing changes" in out) == (0, True)
    assert desk.opens()[0] == 18.0
    assert desk.json("--name", "face opens")["timings"][0]["state"] == "refused"
    work_pours(desk.folder, desk.time, 1)
    assert desk.json("--name", "face opens")["timings"][0]["state"] == "learned"


def test_what_the_program_accepted_is_not_refused_for_its_last_digits(desk):
    desk.type("--accept", "face opens")
    session = Session(desk.folder, desk.time)
    session.load()
    ((key, said),) = session.book.accepted.items()
    take_back(session, said.event.id)
    spread = said.value.spread
    program = Spread(spread.p50 * 1.0001, spread.sigma * 1.015)
    accept(session, replace(said.value, spread=program), said.was)
    for flag, words in (("--accept", "already"), ("--refuse", "takes that back")):
        code, out, err = desk.type(flag, "face opens")
        assert (code, out) == (1, "")
        assert words in err
    session.read_book()
    assert session.book.accepted[key].value.spread == program
    assert session.book.refused == {}


def test_the_same_decision_twice_is_said_and_not_written(desk):
    desk.type("--accept", "face opens")
    code, out, err = desk.type("--accept", "face opens")
    assert (code, out) == (1, "")
    assert "already" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--accept", "face open"), 'did you mean "face opens"?'),
        (("--accept", "rol"), 'did you mean "roll"?'),
        (("--accept", "face opens", "--mix", "M2"), '--mix "M1"'),
        (("--accept", "face opens", "--work"), '--mix "M1"'),
        (("--take-back", "face opens"), "nothing is accepted or refused"),
        (("--accept", "lift", "--refuse", "lift"), "not allowed with"),
        (("--name", "\x1b[2J"), "nothing of that name"),
        (("--work", "--mix", "M1"), "without --mix"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_what_can(desk, words, said):
    code, out, err = desk.type(*words)
    assert (code, out) == (2, "")
    assert said in err
    assert "\x1b" not in err


def test_the_past_is_forecast_with_what_was_known_before_it(desk):
    found = desk.json("--backtest")
    (opens,) = [one for one in found["backtest"] if one["name"] == "face opens"]
    assert opens["windows"] >= 5
    assert opens["learned"]["error_min"] < opens["default"]["error_min"]
    assert set(opens["average"]) == {"windows", "error_min", "late_min", "covered"}
    assert opens["average"]["covered"] is None
    code, out, _ = desk.type("--backtest", "--name", "face opens")
    assert code == 0
    assert "actual (up) against forecast (across), min" in out
    assert "o learned   x default   a average   . as forecast" in out
    plotted = out.split("(across), min")[1].split("o learned")[0]
    assert "a" in plotted
    assert "The weather of each day is taken as known." in out
    assert max(map(len, out.splitlines())) <= 80


def test_work_is_forecast_again_where_it_is_asked_for(desk):
    plain = {one["name"] for one in desk.json("--backtest")["backtest"]}
    assert "roll" not in plain
    found = {one["name"]: one for one in desk.json("--backtest", "--work")["backtest"]}
    assert "face opens" not in found
    roll = found["roll"]
    assert roll["mix"] == "work"
    assert roll["windows"] == POURS - 1
    assert roll["learned"]["error_min"] < roll["default"]["error_min"]
    code, out, _ = desk.type("--backtest", "--name", "roll")
    assert code == 0
    assert "roll, work: actual (up) against forecast (across), min" in out
    assert "weather" not in out


def test_a_narrow_terminal_cuts_nothing(desk, monkeypatch):
    wide = desk.type()[1]
    monkeypatch.setenv("COLUMNS", str(NARROWEST))
    narrow = desk.type()[1]
    assert narrow.split() == wide.split()


def test_a_pour_that_cannot_be_read_is_named_and_the_others_teach(desk):
    (damaged, *_) = sorted((desk.folder.path / "log" / "archive").rglob("*.json"))
    damaged.write_text("{", encoding="utf-8")
    code, out, err = desk.type("--json")
    assert code == 1
    assert damaged.stem in err
    (opens,) = [
        one for one in json.loads(out)["timings"] if one["name"] == "face opens"
    ]
    assert opens["pours"] == POURS - 1


def test_an_absurd_pour_is_shown_with_its_weight_and_hardly_counts(desk):
    """A touch forgotten for an hour and a half, steps at twelve times their rate."""
    (name,) = work_pours(desk.folder, desk.time, 1, opens=(96,), paces=(12,))
    found = desk.json()
    (opens,) = [one for one in found["timings"] if one["name"] == "face opens"]
    (odd,) = opens["odd"]
    assert (odd["pour"], odd["zone"]) == (name, ZONE)
    assert (odd["after_min"], odd["before_min"]) == (93, 96)
    assert odd["weight"] < 0.1
    assert opens["learned"]["p50"] < 14
    (roll,) = [one for one in found["work"] if one["step"] == "roll"]
    assert [one["pour"] for one in roll["odd"]] == [name]
    assert roll["castings"] == POURS
    _, out, _ = desk.type()
    assert f"counted 0.0: {name} {ZONE}, between 93 min and 96 min" in out
    assert f"counted 0.0: {name}, roll by" in out
    assert max(map(len, out.splitlines())) <= 80


def test_what_was_left_out_is_counted_with_why(desk):
    work_pours(desk.folder, desk.time, 2, paces=(0,))
    (roll,) = [one for one in desk.json()["work"] if one["step"] == "roll"]
    assert roll["castings"] == POURS
    (why,) = {one["why"] for one in roll["left_out"]}
    assert f"left out: {why} (2)" in " ".join(desk.type()[1].split())


def test_nothing_learned_of_a_step_is_nothing_to_accept(empty):
    work_pours(empty.folder, empty.time, 1, paces=(0,))
    code, out, err = empty.type("--accept", "roll")
    assert (code, out) == (1, "")
    assert "nothing learned yet" in err


def test_weather_that_nobody_read_is_not_said_to_be_measured(empty):
    work_pours(empty.folder, empty.time, 2, read={})
    _, out, _ = empty.type()
    opens = next(line for line in out.splitlines() if "face opens" in line)
    assert "not measured" in opens
    found = {one["name"]: one for one in empty.json()["timings"]}["face opens"]
    assert (found["pours"], found["temp_range_c"]) == (2, None)
    assert found["activation_energy_kj_mol"]["told"] is False
