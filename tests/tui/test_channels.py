"""What is heard and when: the real program with a player, a command and a bell."""

from __future__ import annotations

import asyncio
import json
import os
import subprocess
import sys
import time
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest

from scheduling.clock import SimulatedTime, WallTime
from scheduling.shop import Bells
from support.terminal import ROOT, pour_due_in, silent_shop
from support.virtual import Machine, VirtualTime, run_on
from tui import belltower, notify
from tui.app import PourbellApp
from tui.session import Session
from tui.verbs import ring

pytestmark = pytest.mark.skipif(os.name != "posix", reason="fake players are sh")


@pytest.fixture
def shop(tmp_path):
    return silent_shop(tmp_path / "shop")


def opened(shop, time_source, **channels):
    session = Session(shop, time_source)
    bells = Bells(**({"terminal": False, "sound": False} | channels))
    session.shop = replace(session.shop, bells=bells)
    session.load()
    return session


def ringing_app(session, bell):
    """The program with a terminal bell that a test can hear."""
    app = PourbellApp(session)
    app.bells.chorus.notifier._bell = bell
    return app


# -- A7: the timetable, on virtual time


class Horn:
    """A command that only remembers when it was run."""

    def __init__(self, machine):
        self.machine = machine
        self.heard = []

    async def run(self, alert):
        self.heard.append((self.machine.real, alert))


class Day:
    """The real program on virtual time, of whose bells only the first rings."""

    def __init__(self, shop, monkeypatch, **channels):
        self.machine = Machine()
        self.horn = Horn(self.machine)
        monkeypatch.setattr(belltower, "Hook", lambda _argv: self.horn)
        self.session = opened(shop, VirtualTime(self.machine), **channels)
        name = self.session.start(self.session.folder.job("bare"), entry="face coat")
        for key in [s.key for s in self.session.pour(name).timeline.steps()]:
            if key.step in ("mix-face", "flow-check", "spray"):
                self.session.mark(name, "started", key)
                self.session.mark(name, "finished", key)
        self.session.bell_tested(os.uname().nodename, heard=True)
        self.session.settle(name)
        (touch,) = [a for a in self.session.pour(name).alerts if a.kind == "touch-test"]
        self.session.ringing = lambda now: [
            touch
            for pour in self.session.open_pours()
            if touch.due <= now and touch.id not in pour.state.answered
        ]
        self.due = (touch.due - self.session.time.now()).total_seconds()
        self.beeps = []

    def live(self, act):
        async def day():
            app = ringing_app(
                self.session, lambda: self.beeps.append(self.machine.real)
            )
            async with app.run_test() as pilot:
                await asyncio.sleep(self.due - self.machine.real)
                await act(app, pilot)

        run_on(self.machine, day())

    def since(self, moments):
        return [moment - self.due for moment in moments]


def near(moments, wanted):
    """Whether each moment is there, to the second."""
    return len(moments) == len(wanted) and all(
        -0.01 <= moment - want <= 1
        for moment, want in zip(moments, wanted, strict=True)
    )


def test_the_bell_and_the_command_ring_by_their_timetable(shop, monkeypatch):
    day = Day(shop, monkeypatch, terminal=True, command=("siren",))

    async def nobody_answers(_app, _pilot):
        await asyncio.sleep(610)

    day.live(nobody_answers)
    assert near(day.since(day.beeps), [0, 20, *range(40, 601, 30)])
    assert near(day.since(at for at, _ in day.horn.heard), [60, 240, 420, 600])
    told = day.horn.heard[0][1]
    assert (told["kind"], told["repeat"]) == ("touch-test", 2)


def test_an_answer_ends_the_bell_and_the_command(shop, monkeypatch):
    day = Day(shop, monkeypatch, terminal=True, command=("siren",))

    async def answer(_app, pilot):
        await asyncio.sleep(45)
        await pilot.press("enter")
        await asyncio.sleep(300)

    day.live(answer)
    assert near(day.since(day.beeps), [0, 20, 40])
    assert day.horn.heard == []


def test_the_command_runs_at_once_where_nothing_else_is_heard(shop, monkeypatch):
    day = Day(shop, monkeypatch, command=("siren",))

    async def nobody_answers(_app, _pilot):
        await asyncio.sleep(200)

    day.live(nobody_answers)
    assert near(day.since(at for at, _ in day.horn.heard), [0, 180])


def test_silence_has_an_end_and_the_screen_goes_on(shop, monkeypatch):
    day = Day(shop, monkeypatch, terminal=True, command=("siren",))
    seen = []

    async def silence(app, pilot):
        await asyncio.sleep(10)
        day.session.silence(1)
        day.session.settle(day.session.open_pours()[0].name)
        await asyncio.sleep(30)
        seen.append((app.shout_text().word, app.hush))
        await asyncio.sleep(80)
        await pilot.press("o")
        await asyncio.sleep(100)
        await pilot.press("o")
        await asyncio.sleep(1.5)
        seen.append((app.shout_text().word, app.hush))
        await asyncio.sleep(50)

    day.live(silence)
    assert seen == [("TOUCH", "SILENT 0:30 "), ("TOUCH", "")]
    # Again at once when it ends, by itself or by the key.
    assert near(day.since(day.beeps), [0, 70, 100, 220, 250])
    # The command, due at 60 s, is not run before the silence ends either.
    assert near(day.since(at for at, _ in day.horn.heard), [70, 250])


def test_the_key_silences_for_ten_minutes_and_no_longer(shop, monkeypatch):
    day = Day(shop, monkeypatch, terminal=True)

    async def silence(_app, pilot):
        await asyncio.sleep(5)
        await pilot.press("o")
        await asyncio.sleep(620)

    day.live(silence)
    assert near(day.since(day.beeps)[:2], [0, 605])


class Headless(Day):
    """The same by ``pourbell ring`` on a machine without a terminal or a player."""

    def live(self, seconds, command=()):
        async def day():
            bells = ring.Bells(self.session, command=list(command))
            task = asyncio.create_task(bells.live())
            await asyncio.sleep(self.due - self.machine.real + seconds)
            task.cancel()
            await asyncio.wait({task})

        run_on(self.machine, day())
        return self.since(at for at, _ in self.horn.heard)


def test_headless_runs_the_shops_command_at_once(shop, monkeypatch):
    monkeypatch.setattr(ring, "Hook", lambda argv: argv and day.horn)
    day = Headless(shop, monkeypatch, terminal=True, command=("siren",))
    # The bell is known to reach nobody once it was tried.
    assert near(day.live(200), [0, 180])


def test_headless_runs_its_own_command_with_every_ring(shop, monkeypatch):
    monkeypatch.setattr(ring, "Hook", lambda argv: argv and day.horn)
    day = Headless(shop, monkeypatch, command=("siren",))
    assert near(day.live(110, command=["lamp"]), [0, 20, 40, 70, 100])


# -- end to end, with a player that writes down what it is given


@pytest.fixture
def player(tmp_path, monkeypatch):
    """A program named aplay, and what it has done: lines of its log."""
    bin_dir, log = tmp_path / "bin", tmp_path / "played"
    bin_dir.mkdir()
    script = bin_dir / "aplay"
    monkeypatch.setenv("PATH", f"{bin_dir}:/bin:/usr/bin")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(
        "tui.sound._CANDIDATES", (("aplay", ("-q",)),)
    )  # whatever else this machine has

    def made(body):
        script.write_text(f'#!/bin/sh\necho "$(date +%s.%N) $2" >> {log}\n{body}\n')
        script.chmod(0o755)
        return lambda: log.read_text().splitlines() if log.exists() else []

    return made


@asynccontextmanager
async def program(session):
    """The program on the machine's own time; its bell is written down."""
    beeps = []
    app = ringing_app(session, lambda: beeps.append(""))
    app.beeps = beeps
    async with app.run_test() as pilot:
        await pilot.pause()
        yield app, pilot


async def until(true, seconds=5.0):
    begun = time.perf_counter()
    while not true():
        assert time.perf_counter() - begun < seconds, f"not within {seconds} s"
        await asyncio.sleep(0.02)
    return time.perf_counter() - begun


def heard_today(session):
    """The test bell of the day is not what is looked at."""
    session.bell_tested(os.uname().nodename, heard=True)
    session.settle(session.open_pours()[0].name)


async def test_the_sound_is_played_and_ends_with_an_answer_elsewhere(shop, player):
    """A real ``ack`` in another process: silent within a second."""
    played = player("exec sleep 1.2")
    name, _due = pour_due_in(shop, -1)
    session = opened(shop, WallTime(), sound=True)
    heard_today(session)
    async with program(session) as (app, _pilot):
        await until(lambda: len(played()) >= 2)
        assert played()[0].endswith(("opens.wav", "note.wav", "closes.wav"))
        assert app.beeps == []
        done = await asyncio.to_thread(pourbell, shop, "ack", name)
        assert done.returncode == 0
        took = await until(lambda: not app.bells.chorus.notifier.ringing)
        assert took <= 1.0
        assert app.bells.loudest() is None
        count = len(played())
        await asyncio.sleep(1.5)
        assert len(played()) == count


async def test_a_player_that_fails_raises_the_bell_and_says_so(shop, player):
    player("exit 1")
    pour_due_in(shop, -1)
    session = opened(shop, WallTime(), sound=True)
    heard_today(session)
    async with program(session) as (app, pilot):
        await until(lambda: app.beeps)
        app.tick()
        await pilot.pause()
        assert app.shout_text().key_hint.endswith("No sound: aplay ended with 1.")
        assert str(app.screen.query_one("#said").content).strip() == (
            "No sound: aplay ended with 1."
        )


async def test_without_player_and_bell_the_command_is_run_at_once(
    shop, tmp_path, monkeypatch
):
    monkeypatch.setattr("tui.sound._CANDIDATES", ())
    told = tmp_path / "told"
    command = ("/bin/sh", "-c", f"/bin/cat > {told}.part; /bin/mv {told}.part {told}")
    pour_due_in(shop, -1)
    session = opened(shop, WallTime(), sound=True, command=command)
    heard_today(session)

    def gone():
        raise OSError("the terminal is gone")

    async with ringing_app(session, gone).run_test():
        await until(told.exists)
    alert = json.loads(told.read_text())
    assert alert["type"] == "alert"
    assert alert["line"]


# -- the test bell of the day


async def test_a_day_begins_with_a_test_bell_that_is_answered_once(shop, monkeypatch):
    monkeypatch.setattr(notify, "PAUSE_S", 0.02)
    name, _due = pour_due_in(shop, 600)
    async with program(opened(shop, WallTime(), terminal=True)) as (app, pilot):
        await until(lambda: app.beeps)
        assert app.shout_text().word == "TEST"
        await pilot.press("enter")
        await pilot.pause()
        assert app.shout_text() is None
    again = opened(shop, WallTime(), terminal=True)
    (event,) = [e for e in again.log.events(name) if e.kind == "tested"]
    assert event.data["heard"] is True
    async with program(again) as (app, pilot):
        await pilot.pause(0.3)
        assert app.beeps == []
        assert app.shout_text() is None


async def test_a_bell_that_is_not_heard_says_what_to_do_and_asks_again(shop):
    pour_due_in(shop, 600)
    async with program(opened(shop, WallTime(), terminal=True)) as (app, pilot):
        await until(lambda: app.beeps)
        await pilot.press("f8")
        await pilot.pause()
        assert app.shout_text() is None
        assert "pourbell check" in str(app.screen.query_one("#said").content)
    async with program(opened(shop, WallTime(), terminal=True)) as (app, _pilot):
        await until(lambda: app.beeps)


async def test_the_test_bell_stands_in_nobodys_way(shop):
    """It comes after the pour was started, and every key goes on working."""
    async with program(opened(shop, WallTime(), terminal=True)) as (app, pilot):
        await pilot.pause(0.2)
        assert app.beeps == []  # no pour is open
        await pilot.press("p", "b")
        await until(lambda: app.beeps)
        assert app.shout_text().word == "TEST"
        await pilot.press("space")
        await pilot.pause()
        await until(lambda: app.pour.timeline.next_step().key.step == "mix-face")
        assert app.pour.state.record(app.pour.timeline.next_step().key).running
        await pilot.press("n")
        await pilot.pause()
        assert app.screen.shout.alert is None  # not over a question
        await pilot.press("escape", "enter")
        await pilot.pause()
        assert app.shout_text() is None


async def test_a_real_alert_comes_before_the_test_bell(shop):
    pour_due_in(shop, -1)
    async with program(opened(shop, WallTime(), terminal=True)) as (app, pilot):
        await until(lambda: app.beeps)
        tried = []
        app.bells.chorus.try_out = lambda *told: tried.append(told)
        app.tick()
        while app.bells.loudest() is not None:
            assert not tried
            assert app.shout_text().word != "TEST"
            await pilot.press("enter")
            await pilot.pause()
        app.tick()
        assert app.shout_text().word == "TEST"
        assert len(tried) == 1


async def test_a_rehearsal_and_a_silent_shop_are_not_asked(shop, monday):
    for time_source, channels in (
        (SimulatedTime(monday), {"terminal": True}),
        (WallTime(), {}),
    ):
        session = opened(shop, time_source, **channels)
        session.start(session.folder.job("bare"))
        async with program(session) as (app, pilot):
            await pilot.pause(0.2)
            app.tick()
            assert app.shout_text() is None


# -- the verbs


def pourbell(shop, *words, **options):
    return subprocess.run(
        [sys.executable, "-m", "tui.cli", "--shop", str(shop.path), *words],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), **options},
        capture_output=True,
        text=True,
        check=False,
        timeout=30,
    )


def test_silence_from_a_script_is_heard_by_every_program_and_ended(shop):
    assert pourbell(shop, "silence").returncode == 2  # no pour is open
    pour_due_in(shop, 600)
    session = opened(shop, WallTime())
    assert pourbell(shop, "silence", "--min", "11").returncode == 2
    assert "silent for 10 min" in pourbell(shop, "silence").stdout
    session.load()
    now = session.time.now()
    assert 590 < (session.silent_until(now) - now).total_seconds() <= 600
    told = json.loads(pourbell(shop, "silence", "--min", "0", "--json").stdout)
    assert told["min"] == 0
    session.load()
    assert session.silent_until(session.time.now()) is None


def test_ring_test_says_which_channels_worked(shop, player, tmp_path):
    played = player("exit 0")
    toml = shop.shop_file.read_text()
    horn = tmp_path / "horn"
    command = f'desktop = false\ncommand = ["/bin/sh", "-c", "cat > {horn}"]'
    shop.shop_file.write_text(toml.replace("desktop = false", command))
    only = {"PATH": f"{tmp_path}/bin:/bin:/usr/bin"}
    told = json.loads(pourbell(shop, "ring", "--test", "--json", **only).stdout)
    assert (told["terminal"], told["command"]) == (False, True)  # no terminal here
    assert json.loads(horn.read_text())["kind"] == "test"
    if told["player"] == "aplay":
        assert len(played()) == 3
    none = toml.replace("sound = true", "sound = false")
    shop.shop_file.write_text(none)
    assert pourbell(shop, "ring", "--test").returncode == 1
