"""Several programs on one log, programs that die, machines that sleep."""

from __future__ import annotations

import asyncio
import json
import random
from contextlib import suppress
from datetime import timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.ringlock import RingLock
from scheduling.shop import Bells as Channels
from support.terminal import silent_shop
from support.virtual import Machine, VirtualTime, run_on
from tui.app import PourbellApp
from tui.session import Session
from tui.verbs.ring import Bells


@pytest.fixture
def shop(tmp_path):
    return silent_shop(tmp_path / "shop")


def opened(shop, time):
    session = Session(shop, time)
    silent = Channels(terminal=False, sound=False, desktop=False)
    object.__setattr__(session.shop, "bells", silent)
    session.load()
    return session


def sprayed(session, job="bare"):
    """Starts a pour whose face coat is on; its bells come from here on."""
    name = session.start(session.folder.job(job), entry="face coat")
    for key in [span.key for span in session.pour(name).timeline.steps()]:
        if key.step in ("mix-face", "flow-check", "spray"):
            session.mark(name, "started", key)
            session.mark(name, "finished", key)
    session.settle(name)
    return name


def words(app):
    shout = app.shout_text()
    return "" if shout is None else f"{shout.line} {shout.key_hint}"


def rang(session, name):
    return [e for e in session.log.events(name) if e.kind == "rang"]


async def test_one_program_rings_and_an_answer_in_the_other_silences_both(shop, monday):
    first = opened(shop, SimulatedTime(monday))
    name = sprayed(first)
    due = first.next_due(first.time.now())
    first.time.advance_to(due)
    second = opened(shop, SimulatedTime(due))
    one, other = PourbellApp(first), PourbellApp(second)
    async with one.run_test() as pilot:
        await pilot.pause()
        async with other.run_test() as another:
            await another.pause()
            assert one.bells.loudest() is not None
            assert other.bells.loudest() is not None
            assert "another program rings" not in words(one)
            assert "another program rings" in words(other)
            assert len(rang(first, name)) == 1

            while other.bells.loudest() is not None:
                await another.press("enter")
                await another.pause()
            one.tick()
            assert one.bells.loudest() is None

            later = first.next_due(first.time.now())
            for app in (one, other):
                app.session.time.advance_to(later)
                app.tick()
            assert one.bells.loudest() is not None
            assert "another program rings" in words(other)
            one.exit()
            await pilot.pause()
        # the second is closed here; the lock of both is free
    assert RingLock(shop.log).is_free()


async def test_the_second_program_takes_over_when_the_first_ends(shop, monday):
    first = opened(shop, SimulatedTime(monday))
    name = sprayed(first)
    due = first.next_due(first.time.now())
    held = RingLock(shop.log)
    assert held.take()
    app = PourbellApp(opened(shop, SimulatedTime(due)))
    async with app.run_test() as pilot:
        await pilot.pause()
        assert "another program rings" in words(app)
        assert rang(first, name) == []
        held.release()
        app.tick()
        await pilot.pause()
        assert "another program rings" not in words(app)
        assert len(rang(first, name)) == 1


def test_killed_with_three_pours_every_unanswered_bell_rings_again(shop, capsys):
    """A6: what is overdue and unanswered rings within two seconds of the start."""
    chance = random.Random(6)
    machine = Machine()
    other = opened(shop, VirtualTime(machine))
    names = [sprayed(other, job) for job in ("bare", "potting-bench-slab", "bare")]

    async def round_of(seconds):
        session = opened(shop, VirtualTime(machine))
        task = asyncio.create_task(Bells(session, as_json=True, command=[]).live())
        await asyncio.sleep(2)
        at_start = capsys.readouterr().out
        await asyncio.sleep(seconds)
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task
        return at_start

    def known(alert):
        return alert.pour, alert.kind, alert.zone or None

    answered = set()
    told = 0
    for _ in range(10):
        machine.run(chance.uniform(30, 600))
        other.load()
        other.refresh()
        now = other.time.now()
        overdue = {known(a): a for name in names for a in ringing(other, name, now)}
        lines = run_on(machine, round_of(chance.uniform(5, 60))).splitlines()
        rung = {
            (line["pour"], line["kind"], line["zone"])
            for line in map(json.loads, lines)
        }
        assert set(overdue) <= rung
        assert not answered & rung
        told += len(overdue)
        for key, alert in overdue.items():
            if chance.random() < 0.4:
                answered.add(key)
                other.acknowledge(alert)
                other.settle(alert.pour)
    assert told >= 10
    assert answered


def ringing(session, name, now):
    return session.ringing_of(session.pour(name), now)


def test_the_real_program_through_sleep_and_a_clock_that_is_set(shop):
    machine = Machine()
    session = opened(shop, VirtualTime(machine))
    name = sprayed(session)
    zero = session.time.now()
    dues = sorted({(a.due - zero).total_seconds() for a in session.pour(name).alerts})
    heard = []

    async def afternoon():
        app = PourbellApp(session, first=name)
        said = []
        async with app.run_test() as pilot:
            for second in range(int(dues[2]) + 30):
                if second == 60:
                    machine.step(-7200)
                if second == 65:
                    said.append(str(app.screen.query_one("#said").content))
                    machine.step(7200 + 400 * 86400)
                await asyncio.sleep(1)
                ring = app.bells.loudest()
                if ring is not None and ring.alert.id not in dict(heard):
                    heard.append((ring.alert.id, machine.real))
                    await pilot.press("enter")
            machine.sleep_machine(8 * 3600)
            await asyncio.sleep(2)
            said.append(words(app))
            return said

    said = run_on(machine, afternoon())
    assert "set back by 2 h 00" in said[0]
    assert "the machine slept" in said[1]
    first, second = heard[0][1], heard[1][1]
    assert abs(first - dues[0]) <= 2
    assert abs(second - dues[1]) <= 2
    assert abs(session.time.now() - machine.wall()) < timedelta(seconds=0.01)
