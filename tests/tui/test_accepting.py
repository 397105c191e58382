"""What the shop accepts counts for new pours, here and in every other program."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from scheduling.errors import BadInput, LogFault
from scheduling.log import Log
from scheduling.pourname import SHOP
from scheduling.process import StepKey
from scheduling.shop import Pace, Timing
from scheduling.shopbook import key_of
from scheduling.spread import Spread
from scheduling.thresholds import DEFAULTS, ESTIMATE
from tui import cli
from tui.accepting import accept, refuse, take_back
from tui.reviewing import oldest_first

OPENS = Timing("face opens", "M1", Spread(27.0, 0.2), 9, 44.5, 0.35)
WAS = DEFAULTS["face opens"].spread
HONE = Pace("hone", Spread(0.5, 0.1), 12)
LIFT = StepKey("lift-1", "field")


@pytest.fixture
def session(folder, open_session):
    return open_session(folder, by="Ana")


def lift_opens(session, name):
    """Reference minutes after which lift 1 of a pour opens, and their standing."""
    wait = session.pour(name).timeline.wait_for(LIFT)
    return round(wait.reference_min, 6), wait.standing


def test_a_new_pour_uses_it_and_one_under_way_keeps_what_it_began_with(session, jobs):
    before = session.start(jobs["bare"])
    event = accept(session, OPENS, WAS, (14.0, 26.0))
    after = session.start(jobs["bare"])
    session.load()
    assert (event.pour, event.kind, event.by) == (SHOP, "accepted", "Ana")
    assert lift_opens(session, before)[0] == round(WAS.p50, 6)
    assert lift_opens(session, after) == (27.0, "learned from 9 pours")
    assert session.pour(after).state.shop.timings == (OPENS,)
    assert session.plan(after).wait_for(LIFT).standing == "learned from 9 pours"
    assert session.shop.timings == ()  # as the file has it


def test_a_pace_shortens_its_step(session, jobs):
    def hone():
        plan = session.setting.plan(jobs["potting-bench-slab"], session.time.now())
        return sum(s.minutes for s in plan.steps() if s.key.step.startswith("hone"))

    before = hone()
    accept(session, HONE, Spread(1.0, 0.3))
    assert hone() == pytest.approx(before / 2)


def test_it_is_on_the_disk_when_the_call_returns(session, folder, open_session):
    event = accept(session, OPENS, WAS)
    assert Log(folder.log).events(SHOP) == [event]
    again = open_session(folder)
    assert again.book.accepted[key_of(OPENS)].event == event
    assert again.setting.shop.timings == (OPENS,)


def test_each_program_sees_what_the_other_accepted(session, folder, open_session):
    other = open_session(folder, by="Bo")
    accept(session, OPENS, WAS)
    assert other.load() == []  # no pour has changed
    assert other.setting.shop.timings == (OPENS,)
    later = replace(OPENS, spread=Spread(25.0, 0.2), pours=12)
    event = accept(other, later, WAS)
    session.load()
    assert session.setting.shop.timings == (later,)
    take_back(other, event.id)
    session.load()
    assert session.setting.shop.timings == (OPENS,)


def test_what_is_taken_back_is_nothing_to_take_back_again(session):
    event = accept(session, OPENS, WAS)
    take_back(session, event.id)
    assert session.book.timings == ()
    for unknown in (event.id, "nothing"):
        with pytest.raises(BadInput, match="nothing to take back"):
            take_back(session, unknown)


def test_an_older_decision_that_comes_in_later_does_not_count(session):
    """As when the log of another machine is imported."""
    older = accept(session, OPENS, WAS)
    take_back(session, older.id)
    session.time.advance_to(session.time.now() + timedelta(hours=1))
    newer = replace(OPENS, pours=10)
    accept(session, newer, WAS)
    session.log.append(replace(older, id="from-elsewhere"))
    session.load()
    assert session.book.timings == (newer,)


def test_a_decision_counts_although_the_clock_was_set_back(
    session, folder, open_session
):
    earlier = open_session(folder)
    session.time.advance_to(session.time.now() + timedelta(hours=2))
    accept(session, OPENS, WAS)
    newer = replace(OPENS, pours=10)
    accept(earlier, newer, WAS)
    assert earlier.time.now() < session.time.now()
    session.load()
    assert earlier.book.timings == session.book.timings == (newer,)


def test_refused_stays_refused_after_reopening(session, folder, open_session):
    refuse(session, OPENS, WAS)
    again = open_session(folder)
    assert not again.book.offers(OPENS)
    assert again.book.offers(replace(OPENS, pours=10))
    assert again.setting.shop.timings == ()


def test_a_value_that_could_not_be_read_back_is_refused(session):
    with pytest.raises(BadInput, match="within its range"):
        accept(session, replace(OPENS, energy=400.0), WAS)
    assert session.log.events(SHOP) == []


def test_a_disk_that_refuses_is_said_and_nothing_counts(session, folder):
    folder.log.mkdir()
    (folder.log / "live").write_text("in the way")
    with pytest.raises(LogFault, match="NOT SAVED"):
        accept(session, OPENS, WAS)
    assert session.setting.shop.timings == ()


def test_a_damaged_book_is_named_and_what_can_be_read_goes_on(
    session, folder, open_session, jobs
):
    accept(session, OPENS, WAS)
    accept(session, HONE, Spread(1.0, 0.3))
    path = folder.log / "live" / "shop.jnl"
    path.write_bytes(path.read_bytes().replace(b"hone", b"hona"))
    again = open_session(folder)
    assert SHOP not in again.pours
    assert again.start(jobs["bare"]) in again.pours


def test_the_shops_book_is_no_pour_anywhere(session, jobs):
    name = session.start(jobs["bare"])
    accept(session, OPENS, WAS)
    session.load()
    assert list(session.pours) == [name]
    assert oldest_first(session.log) == session.logged() == [name]
    session.load_one(SHOP)
    assert list(session.pours) == [name]


def test_the_shop_file_read_again_keeps_what_was_accepted(session):
    accept(session, OPENS, WAS)
    session.reload_shop()
    assert session.setting.shop.timings == (OPENS,)


# -- on the command line


@pytest.fixture
def typed(session, capsys):
    def run(*words):
        argv = ["--shop", str(session.folder.path), *words]
        status = cli.main(argv, time=session.time)
        shown = capsys.readouterr()
        return status, shown.out, shown.err

    return run


def test_a_timeline_of_no_pour_says_where_it_is_from(session, typed, monkeypatch):
    accept(session, OPENS, WAS)
    status, out, err = typed("timeline", "bare", "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    said = {one["name"]: one["standing"] for one in found["thresholds"]}
    assert said["face opens"] == "learned from 9 pours"
    assert said["face closes"] == ESTIMATE
    steps = {(s["step"], s["zone"]): s for s in found["steps"]}
    wait = steps["face wait", "field"]
    assert (wait["reference_min"], wait["standing"]) == (27.0, "learned from 9 pours")
    monkeypatch.setenv("COLUMNS", "80")
    status, out, _ = typed("timeline", "bare")
    assert status == 0
    assert "\n  face opens: learned from 9 pours\n" in out
    assert max(map(len, out.splitlines())) <= 80


def test_a_takeoff_reckons_with_the_shops_pace(session, typed):
    def hours():
        return json.loads(typed("takeoff", "potting-bench-slab", "--json")[1])[
            "hands_on_h"
        ]

    before = hours()
    accept(session, HONE, Spread(1.0, 0.3))
    assert hours() < before


def test_a_rehearsal_uses_it_and_leaves_the_shop_alone(session, typed):
    def sprayed_to_lift():
        _, out, _ = typed("rehearse", "bare", "--headless", "--json")
        lines = [json.loads(line) for line in out.splitlines()]
        at = {
            (one["kind"], one.get("step")): one["at"]
            for one in lines
            if one["type"] == "alert"
        }
        return at["window-open", "lift-1"]

    before = sprayed_to_lift()
    accept(session, replace(OPENS, spread=Spread(40.0, 0.1)), WAS)
    events = session.log.events(SHOP)
    assert sprayed_to_lift() > before
    assert session.log.events(SHOP) == events
    assert session.log.pours() == []


def test_its_damage_can_be_set_aside_by_its_name(session, typed, folder):
    accept(session, OPENS, WAS)
    accept(session, HONE, Spread(1.0, 0.3))
    path = folder.log / "live" / "shop.jnl"
    path.write_bytes(path.read_bytes().replace(b"face opens", b"face opena"))
    assert typed("check", "--json")[0] == 1
    status, _, err = typed("timeline", "bare")
    assert status == 0
    assert "shop.jnl" in err
    status, out, _ = typed("check", "--set-aside", "shop", "--json")
    assert status == 0
    assert json.loads(out)["pour"] == SHOP
    assert typed("check", "--json")[0] == 0
    assert typed("log", "shop")[0] == 2


def test_a_book_that_could_not_be_read_for_a_while_is_no_fault_later(session):
    accept(session, OPENS, WAS)
    path = session.folder.log / "live" / "shop.jnl"
    content = path.read_bytes()
    path.unlink()
    path.mkdir()
    session.load()
    assert SHOP in session.faults
    assert session.setting.shop.timings == (OPENS,)
    path.rmdir()
    path.write_bytes(content)
    session.load()
    assert session.faults == {}
    assert session.setting.shop.timings == (OPENS,)


KILLED = """
import os, sys
from pathlib import Path
from scheduling.clock import WallTime
from scheduling.folder import ShopFolder
from scheduling.shop import Timing
from scheduling.spread import Spread
from tui.accepting import accept
from tui.session import Session
session = Session(ShopFolder(Path(sys.argv[1])), WallTime(), "Ana")
timing = Timing("face opens", "M1", Spread(27.0, 0.2), 9)
accept(session, timing, Spread(18.0, 0.5))
os.kill(os.getpid(), 9)
"""


def test_a_program_killed_as_the_call_returns_has_written_it(folder, open_session):
    root = Path(__file__).parents[2]
    words = [sys.executable, "-c", KILLED, str(folder.path)]
    assert subprocess.run(words, cwd=root, check=False).returncode != 0
    again = open_session(folder)
    assert [one.spread.p50 for one in again.setting.shop.timings] == [27.0]
    assert again.faults == {}
