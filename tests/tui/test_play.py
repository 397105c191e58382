"""A whole rehearsal, headless: the real session, a simulated clock, simulated hands."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest

from scheduling.event import Event
from scheduling.folder import BARE, ShopFolder
from scheduling.process import StepKey
from scheduling.rehearsal import Hands
from scheduling.ringer import Ring
from scheduling.timeline import OVER, Status
from tui.rehearsal import Play, headless

MINUTE = timedelta(minutes=1)


def rehearse(session, job, entry="weigh-off", seed=1, until=None):
    """Runs a pour headless; returns its name and all that rang and happened."""
    name = session.start(job, entry=entry)
    play = Play(session, name, Hands(seed))
    happened = []
    for one in headless(play, session.time):
        happened.append(one)
        if until and isinstance(one, Event) and (one.kind, one.step) == until:
            break
    return name, happened


@pytest.fixture(scope="module")
def desk(open_session, tmp_path_factory):
    """The two-legged desk from its weigh-off to the end."""
    folder = ShopFolder(tmp_path_factory.mktemp("desk"))
    folder.adopt_samples()
    text = folder.shop_file.read_text()
    folder.shop_file.write_text('zone = "UTC"\n' + text)
    session = open_session(folder)
    name, happened = rehearse(session, folder.job("two-legged-desk"))
    return session, name, happened


def test_it_comes_to_the_end_with_every_step_behind(desk):
    session, name, _ = desk
    assert session.pour(name).over
    assert all(span.status in OVER for span in session.pour(name).timeline.steps())
    assert session.open_pours() == []


def test_all_that_happened_is_in_the_log(desk, open_session):
    session, name, happened = desk
    events = [one for one in happened if isinstance(one, Event)]
    again = open_session(session.folder, session.time.now())
    again.load_one(name)  # it is over, and in the archive
    ids = [event.id for event in again.events(name)]
    assert {event.id for event in events} <= set(ids)
    assert again.pour(name).state == session.pour(name).state
    assert session.pour(name).unsaved == 0


def test_nothing_happens_before_what_came_first(desk):
    _, _, happened = desk
    events = [one.at for one in happened if isinstance(one, Event)]
    assert events == sorted(events)


def test_each_bell_rings_once_in_time_and_is_logged_as_rung(desk):
    session, name, happened = desk
    rings = [one for one in happened if isinstance(one, Ring)]
    assert rings
    assert set(Counter(ring.alert.id for ring in rings).values()) == {1}
    assert all(ring.late_s == 0 for ring in rings)
    logged = {e.data["alert"] for e in session.events(name) if e.kind == "rang"}
    assert logged == {ring.alert.id for ring in rings}


def test_each_zone_is_touched_ready_before_it_is_packed(desk):
    session, name, happened = desk
    state = session.pour(name).state
    for zone in session.pour(name).timeline.process.zones:
        felt = [touch.feel for touch in state.touches[zone]]
        assert felt[-1] == "ready"
        lift = state.record(StepKey("lift-1", zone)).started
        assert lift >= state.touches[zone][-1].at
    kinds = {one.alert.kind for one in happened if isinstance(one, Ring)}
    assert {
        "mix-back-batch",
        "touch-test",
        "window-open",
        "next-batch",
        "lift-2-open",
        "demould-ready",
    } <= kinds


def test_the_ready_touch_rings_its_window_at_that_very_instant(desk):
    _, _, happened = desk
    ready = [
        (place, one)
        for place, one in enumerate(happened)
        if isinstance(one, Event) and one.data.get("feel") == "ready"
    ]
    assert ready
    for place, event in ready:
        after = happened[place + 1]
        assert isinstance(after, Ring)
        assert after.alert.kind == "window-open"
        assert after.alert.due == event.at


def test_the_whole_desk_spans_its_days_and_costs_no_time(desk):
    _, _, happened = desk
    events = [one for one in happened if isinstance(one, Event)]
    assert timedelta(days=7) < events[-1].at - events[0].at < timedelta(days=21)


def test_the_same_seed_makes_the_same_rehearsal(open_session, tmp_path):
    runs = []
    for number in range(2):
        folder = ShopFolder(tmp_path / str(number))
        _, happened = rehearse(
            open_session(folder), BARE, seed=4, until=("finished", "cover")
        )
        runs.append(
            [
                (one.at, one.kind, one.step)
                if isinstance(one, Event)
                else (one.alert.due, one.alert.id)
                for one in happened
            ]
        )
    assert runs[0] == runs[1]


def test_the_hands_go_on_from_what_a_person_did(folder, open_session):
    session = open_session(folder)
    name = session.start(BARE, entry="face coat")
    play = Play(session, name, Hands(1))
    mix = StepKey("mix-face")
    session.mark(name, "started", mix)
    session.time.advance_to(session.time.now() + 4 * MINUTE)
    session.mark(name, "finished", mix)
    session.settle(name)
    act = play.next_act()
    assert act.key != mix
    play.do(act)
    assert session.pour(name).state.record(act.key).started is not None


def test_an_act_is_the_same_wish_as_a_key(folder, open_session):
    """What the hands write cannot be told from what a person writes."""
    session = open_session(folder)
    name, _ = rehearse(session, BARE, until=("finished", "mix-face"))
    other = session.start(BARE)
    for _ in range(2):
        session.go_on(other)
        session.settle(other)
    marks = [
        [e for e in session.events(pour) if e.step == "mix-face"]
        for pour in (name, other)
    ]
    for hands, person in zip(*marks, strict=True):
        assert (hands.kind, hands.step, hands.by) == (
            person.kind,
            person.step,
            person.by,
        )
        assert set(hands.data) == set(person.data)


def test_put_away_ends_it(folder, open_session):
    session = open_session(folder)
    name = session.start(BARE)
    play = Play(session, name, Hands(1))
    run = headless(play, session.time)
    next(run)
    session.put_away(name)
    session.settle(name)
    assert list(run) == []
    assert session.pour(name).timeline.next_step().status is not Status.DONE
