"""The loop that rings, on a machine whose time is moved by hand."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from apscheduler.schedulers.asyncio import AsyncIOScheduler
from apscheduler.triggers.base import BaseTrigger

from scheduling.alert import Alert
from scheduling.ringer import Ringer
from support.alertstory import SCENARIOS, Story
from support.virtual import Machine, VirtualTime, run_on

LATE_S = 1.1


# -- A1: nothing is missed, doubled, early or late, whatever is done to the clock


@pytest.mark.parametrize("scenario", SCENARIOS)
@pytest.mark.parametrize("seed", range(2))
def test_every_deadline_rings_once_and_in_time(seed, scenario):
    told = Story(seed, scenario).run()
    assert told.missed == []
    assert told.doubled == []
    assert told.early == []
    assert max(told.lateness) <= LATE_S


# -- A2: both changes of summer time


CHANGES = (
    ("Europe/Oslo", datetime(2030, 3, 31, 1, tzinfo=UTC)),
    ("Europe/Oslo", datetime(2030, 10, 27, 1, tzinfo=UTC)),
    ("America/New_York", datetime(2030, 3, 10, 7, tzinfo=UTC)),
    ("America/New_York", datetime(2030, 11, 3, 6, tzinfo=UTC)),
    ("Australia/Lord_Howe", datetime(2030, 4, 6, 15, tzinfo=UTC)),
    ("Australia/Lord_Howe", datetime(2030, 10, 5, 15, 30, tzinfo=UTC)),
    ("Asia/Kolkata", datetime(2030, 3, 31, 1, tzinfo=UTC)),
)


@pytest.mark.parametrize(("zone", "change"), CHANGES)
def test_summer_time_changes_no_elapsed_time(zone, change):
    machine = Machine(change - timedelta(hours=1))
    time = VirtualTime(machine)
    due = time.now() + timedelta(hours=3)
    bell = Bell(due=[due])

    async def night():
        bell.begin(time)
        await asyncio.sleep(3 * 3600 + 5)

    run_on(machine, night())
    assert abs(bell.rang[0] - 3 * 3600) <= 1
    before, after = (
        at.astimezone(ZoneInfo(zone)).utcoffset()
        for at in (due - timedelta(hours=3), due)
    )
    assert (before == after) == (zone == "Asia/Kolkata")


# -- A4: sabotage


@dataclass
class Bell:
    """A ringer with its alerts, and the real seconds at which they rang."""

    due: list
    rang: list = field(default_factory=list)
    repeats: list = field(default_factory=list)
    answered: set = field(default_factory=set)
    quiet: list = field(default_factory=list)
    steps: list = field(default_factory=list)

    def alerts(self):
        return [
            alert(number, due)
            for number, due in enumerate(self.due)
            if number not in self.answered
        ]

    def begin(self, time, **options):
        def on_ring(ring):
            self.repeats.append((time.machine.real, ring.repeat))
            if ring.repeat == 0:
                self.rang.append(time.machine.real)
                self.ring = ring

        self.ringer = Ringer(
            time,
            source=lambda now: [one for one in self.alerts() if one.due <= now],
            next_due=lambda now: min(
                (one.due for one in self.alerts() if one.due > now), default=None
            ),
            on_ring=options.get("on_ring", on_ring),
            on_quiet=lambda _alert: self.quiet.append(time.machine.real),
            on_step=self.on_step,
        )
        self.ringer.start()

    def on_step(self, seconds):
        """What is derived from the log moves with the clock."""
        self.steps.append(seconds)
        self.due = [due + timedelta(seconds=seconds) for due in self.due]


def alert(number, due):
    return Alert(
        id=f"alert-{number}",
        kind="window-open",
        shape="opens",
        due=due,
        pour="bare.0401",
        step="lift-1",
        zone="field",
        word="OPEN",
        line="Place lift 1.",
        chain=f"chain {number}",
    )


def ring_after(seconds, sabotage, monkeypatch=None):
    """How late an alert rings that is due so many seconds after the start."""
    machine = Machine()
    time = VirtualTime(machine)
    bell = Bell(due=[time.now() + timedelta(seconds=seconds)])

    async def day():
        if monkeypatch is not None:
            sabotage(monkeypatch)
            bell.begin(time)
        else:
            bell.begin(time)
            sabotage(bell.ringer, machine)
        await asyncio.sleep(seconds + 5)
        bell.ringer.stop()

    run_on(machine, day())
    (rang,) = bell.rang
    return rang - seconds


def broken_trigger(ringer, _machine):
    class Broken(BaseTrigger):
        first = True

        def get_next_fire_time(self, _previous, now):
            if self.first:
                self.first = False
                return now
            raise RuntimeError("no trigger")

    ringer._scheduler.add_job(print, Broken())


def removed_job(ringer, _machine):
    ringer._scheduler.remove_all_jobs()


def dead_scheduler(ringer, _machine):
    ringer._scheduler.shutdown(wait=False)


def raising_listener(ringer, _machine):
    def explode(_event):
        raise RuntimeError("no listener")

    ringer._scheduler.add_listener(explode)


@pytest.mark.parametrize(
    "sabotage", [broken_trigger, removed_job, dead_scheduler, raising_listener]
)
def test_sabotage_of_the_fine_timer_costs_a_second_at_most(sabotage):
    assert ring_after(30.5, sabotage) <= LATE_S


@pytest.mark.parametrize("error", [RuntimeError, asyncio.CancelledError, SystemExit])
def test_a_job_that_raises_costs_a_second_at_most(error, monkeypatch):
    def sabotage(patch):
        async def explode(_self):
            raise error("no job")

        patch.setattr(Ringer, "_fire", explode)

    assert ring_after(30.5, sabotage, monkeypatch) <= LATE_S


@pytest.mark.parametrize("broken", ["silent", "raising"])
def test_a_scheduler_that_never_starts_costs_a_second_at_most(broken, monkeypatch):
    def start(_self):
        if broken == "raising":
            raise RuntimeError("no scheduler")

    def sabotage(patch):
        patch.setattr(AsyncIOScheduler, "start", start)

    assert ring_after(30.5, sabotage, monkeypatch) <= LATE_S


def test_the_fine_timer_is_in_time_to_the_hundredth():
    assert ring_after(30.5, lambda *_: None) <= 0.01


def test_a_ring_that_fails_keeps_no_other_from_ringing_and_is_tried_again():
    machine = Machine()
    time = VirtualTime(machine)
    bell = Bell(due=[time.now(), time.now()])
    rung = []

    def on_ring(ring):
        if ring.alert.id == "alert-0" and machine.real < 3:
            raise RuntimeError("no horn")
        rung.append((ring.alert.id, round(machine.real), ring.repeat))

    async def morning():
        bell.begin(time, on_ring=on_ring)
        await asyncio.sleep(10)

    run_on(machine, morning())
    assert ("alert-1", 0, 0) in rung
    assert ("alert-0", 3, 0) in rung


# -- A7: repeats, and silence


def test_repeats_come_at_their_times_until_answered():
    machine = Machine()
    time = VirtualTime(machine)
    bell = Bell(due=[time.now() + timedelta(seconds=10)])

    async def morning():
        bell.begin(time)
        await asyncio.sleep(10 + 135)
        bell.answered.add(0)
        await asyncio.sleep(60)

    run_on(machine, morning())
    times = [round(at - 10, 1) for at, _ in bell.repeats]
    assert [repeat for _, repeat in bell.repeats] == list(range(6))
    wanted = [0, 20, 40, 70, 100, 130]
    assert all(abs(a - b) <= 1 for a, b in zip(times, wanted, strict=True))
    (quiet,) = bell.quiet
    assert 0 <= quiet - 145 <= 1


# -- the clock


@pytest.mark.parametrize("step", [-7200, -0.6, 0.6, 7200, 400 * 86400])
def test_a_clock_that_is_set_moves_no_bell(step):
    machine = Machine()
    time = VirtualTime(machine)
    bell = Bell(due=[time.now() + timedelta(seconds=600.25)])

    async def hour():
        bell.begin(time)
        await asyncio.sleep(100.5)
        machine.step(step)
        await asyncio.sleep(1000)

    run_on(machine, hour())
    (rang,) = bell.rang
    assert abs(rang - 600.25) <= 0.01
    assert bell.steps == [step]
    assert abs((time.now() - machine.wall()).total_seconds()) < 0.001


def test_slewing_is_no_step():
    machine = Machine()
    time = VirtualTime(machine)
    bell = Bell(due=[])

    async def hour():
        bell.begin(time)
        machine.step(0.4)
        await asyncio.sleep(100)

    run_on(machine, hour())
    assert bell.steps == []


def test_after_sleep_it_rings_at_once_and_says_why():
    machine = Machine()
    time = VirtualTime(machine)
    bell = Bell(due=[time.now() + timedelta(seconds=600)])

    async def hours():
        bell.begin(time)
        await asyncio.sleep(10)
        machine.sleep_machine(7200)
        await asyncio.sleep(2)

    run_on(machine, hours())
    assert bell.rang[0] - 7210 <= LATE_S
    assert bell.ring.slept
    assert abs(bell.ring.late_s - 6610) <= LATE_S
