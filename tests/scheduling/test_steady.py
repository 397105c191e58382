"""Events on a clock that was set, and a clock that lost its time."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from scheduling.clock import SimulatedTime
from scheduling.event import Event
from scheduling.folder import BARE
from scheduling.inforce import active
from scheduling.shop import Shop
from scheduling.snapshot import job_to_data, shop_to_data
from scheduling.steady import on_scale
from support.alertstory import POUR, Session24, Story
from support.virtual import Machine, VirtualTime

HOUR = timedelta(hours=1)


def written(time, kind="note", **data):
    now = time.now()
    return Event(
        id=f"id-{now.timestamp()}",
        at=now - timedelta(minutes=5),
        recorded_at=now,
        boot=time.boot(),
        zone_name="UTC",
        offset_min=0,
        pour=POUR,
        kind=kind,
        data=data,
    )


def test_events_of_this_run_keep_their_elapsed_time():
    machine = Machine()
    event = written(VirtualTime(machine))
    machine.run(600)
    machine.step(7200)
    time = VirtualTime(machine)
    (placed,) = on_scale([event], time)
    assert time.now() - placed.recorded_at == timedelta(seconds=600)
    assert placed.recorded_at - placed.at == timedelta(minutes=5)
    assert placed.id == event.id


def test_a_clock_that_was_not_set_leaves_events_as_they_are():
    machine = Machine()
    event = written(VirtualTime(machine))
    machine.run(600)
    assert on_scale([event], VirtualTime(machine)) == [event]
    assert on_scale([event], SimulatedTime(machine.wall())) == [event]


def test_events_of_an_earlier_run_lie_on_the_clock_of_its_last():
    machine = Machine()
    first = written(VirtualTime(machine))
    machine.run(600)
    machine.step(-7200)
    last = written(VirtualTime(machine), kind="clock", moved_s=-7200.0)
    machine.reboot(60, wrong=-7200)
    placed = on_scale([first, last], VirtualTime(machine))
    assert placed[1] == last
    assert placed[1].recorded_at - placed[0].recorded_at == timedelta(seconds=600)


def test_a_corrected_time_moves_with_the_clock_it_was_read_from():
    machine = Machine()
    time = VirtualTime(machine)
    event = written(time)
    right = written(time, "corrected", event=event.id, at=(event.at - HOUR).isoformat())
    right = replace(right, id="right")
    machine.step(7200)
    (placed,) = active(on_scale([event, right], VirtualTime(machine)))
    assert placed.at == event.at - HOUR + 2 * HOUR


def test_a_clock_behind_the_log_rings_every_wait_at_once_and_says_so():
    story = Story(0, "session")
    story.write("started", job=job_to_data(BARE), shop=shop_to_data(Shop()))
    for number in range(3):
        story.write("note", text=f"{number} {600 + number}")
    story.machine.reboot(60, wrong=-400 * 86400)
    session = Session24(VirtualTime(story.machine), story.log)
    session.load()
    rings = session.ringing(session.time.now())
    assert [one.id for one in rings] == ["0", "1", "2"]
    assert all(one.line.startswith("CLOCK UNSURE") for one in rings)
    assert session.clock_unsure

    session.acknowledge(rings[0])
    session.settle(POUR)
    assert [one.id for one in session.ringing(session.time.now())] == ["1", "2"]
    story.machine.step(400 * 86400)
    session.clock_was_set(session.time.step())
    session.settle(POUR)
    assert not session.clock_unsure
    assert session.ringing(session.time.now()) == []
    story.machine.run(545)
    due = session.ringing(session.time.now())
    assert [one.id for one in due] == ["1", "2"]
    assert not any(one.line.startswith("CLOCK") for one in due)
