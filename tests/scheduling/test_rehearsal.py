"""The simulated hands of a rehearsal: what they do next, and that it makes sense."""

from __future__ import annotations

from datetime import timedelta

import pytest

from scheduling.alert import ringing, upcoming
from scheduling.process import StepKey
from scheduling.rehearsal import ANSWER, Hands


def do(pour, act):
    """Writes an act of the hands into a scripted pour."""
    minutes = pour.minutes(act.at)
    if act.kind == "touch":
        pour.touch(act.feel, minutes, act.key.zone)
    elif act.kind == "acknowledged":
        pour.add("acknowledged", minutes, alert=act.alert.id)
    else:
        pour.add(act.kind, minutes, act.key.step, act.key.zone)
    return minutes


def next_act(pour, hands, minutes):
    state, now = pour.state, pour.at(minutes)
    alerts = pour.alerts(minutes)
    heard = [*ringing(alerts, state, now), *upcoming(alerts, now)]
    left = [alert for alert in heard if alert.id not in state.answered]
    return hands.next_act(pour.timeline(minutes), state, left, now)


def work(pour, seed, until=None):
    """Lets the hands work a pour; returns what they did."""
    hands, acts, now = Hands(seed), [], 0.0
    for _ in range(2000):
        act = next_act(pour, hands, now)
        if act is None or (act.kind == "started" and act.key == until):
            return acts
        assert act.at >= pour.at(now) - timedelta(milliseconds=1)
        now = max(now, do(pour, act))
        acts.append(act)
    pytest.fail("the hands never come to an end")


@pytest.fixture(scope="module")
def rehearsed(scripted):
    pour = scripted()
    return pour, work(pour, seed=3)


def test_the_whole_pour_is_worked_to_its_end(rehearsed):
    pour, acts = rehearsed
    assert pour.timeline(pour.minutes(acts[-1].at)).finished
    state = pour.state
    for step in pour.timeline(0).process.steps:
        record = state.record(step.key)
        assert record.started is not None
        assert record.finished > record.started


def test_no_step_begins_before_what_it_follows_is_done(rehearsed):
    pour, _ = rehearsed
    state = pour.state
    for step in pour.timeline(0).process.steps:
        for key in step.after:
            assert state.record(key).finished <= state.record(step.key).started


def test_lift_1_begins_only_in_a_zone_that_was_felt_ready(rehearsed):
    pour, acts = rehearsed
    feels = [act.feel for act in acts if act.kind == "touch"]
    assert feels[-1] == "ready"
    assert set(feels[:-1]) <= {"soft"}
    ready = pour.state.touches["field"][-1].at
    assert pour.state.record(StepKey("lift-1", "field")).started >= ready


def test_bells_are_answered_a_little_late(rehearsed):
    _, acts = rehearsed
    answers = [act for act in acts if act.kind == "acknowledged"]
    assert answers
    assert all(act.at >= act.alert.due + ANSWER for act in answers)


def test_the_same_seed_makes_the_same_rehearsal_and_another_does_not(scripted):
    stop = StepKey("cover")
    runs = [work(scripted(), seed, until=stop) for seed in (5, 5, 6)]
    assert runs[0] == runs[1]
    assert runs[0] != runs[2]


def test_the_paces_of_many_crews_lie_about_the_usual(scripted):
    """Derived: log-normal about the median, half the spread of hands-on time."""
    paces = []
    for seed in range(60):
        pour = scripted()
        pour.step("mix-face", 0, None)
        act = next_act(pour, Hands(seed), 0)
        assert act.kind == "finished"
        paces.append(pour.minutes(act.at) / 7)
    paces.sort()
    assert 0.85 < paces[len(paces) // 2] < 1.18
    assert 0.5 < paces[0] < 0.95
    assert 1.05 < paces[-1] < 2


def test_crews_feel_soft_first_and_none_waits_for_hours(sprayed):
    firsts, waits = set(), []
    for seed in range(25):
        pour = sprayed()
        pour.step("mix-back-1", 23, 30)
        acts = work(pour, seed, until=StepKey("lift-1", "field"))
        felt = [act for act in acts if act.kind == "touch"]
        firsts.add(felt[0].feel)
        waits.append(pour.minutes(felt[-1].at) - 15)
    assert "soft" in firsts
    assert firsts <= {"soft", "ready"}
    assert max(waits) < 45
    assert min(waits) > 5


def test_what_a_person_has_done_is_not_done_again(sprayed):
    pour = sprayed()
    pour.step("mix-back-1", 23, 30)
    pour.touch("ready", 33)
    pour.step("lift-1", 34, 38, "field")
    act = next_act(pour, Hands(1), 39)
    assert act.key in {StepKey("roll-1", "field"), StepKey("mix-back-2")}


def test_nothing_left_to_do_is_nothing(sprayed):
    pour = sprayed()
    for step in pour.timeline(20).process.steps:
        pour.add("skipped", 20, step.key.step, step.key.zone)
    assert next_act(pour, Hands(1), 21) is None
