"""Probes followed by the program: asked, kept when new, their faults said once."""

from __future__ import annotations

import asyncio
import os
import sys
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from scheduling.clock import SimulatedTime, WallTime
from scheduling.folder import BARE, ShopFolder
from scheduling.probe import ProbeFault
from scheduling.shop import Bells, Probe
from tui import probes as followed
from tui.app import PourbellApp
from tui.probes import Probes, source_text, takers
from tui.session import Session

MORNING = datetime(2030, 4, 1, 8, 0, tzinfo=UTC)
FILE = Probe("shop", file="logger.txt")
MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TMUX", "TERM_PROGRAM"):
        monkeypatch.delenv(name, raising=False)


def open_session(path, time, *found):
    session = Session(ShopFolder(path), time)
    silent = Bells(terminal=False, sound=False, desktop=False)
    session.shop = replace(session.shop, bells=silent, probes=found)
    return session


def write(path, text, at):
    path.write_text(text)
    os.utime(path, (at.timestamp(), at.timestamp()))


class Follower:
    """A program on a clock that stands, and one probe that is asked by hand."""

    def __init__(self, session, app, pilot, probe):
        self.session = session
        self.app = app
        self.pilot = pilot
        self.probe = probe
        self.probes = Probes(app)

    async def ask(self, minutes=5):
        self.session.time.advance_to(self.session.time.now() + minutes * MINUTE)
        await self.probes.ask(self.probe)
        await self.pilot.pause()

    async def writes(self, text, minutes=5):
        now = self.session.time.now() + minutes * MINUTE
        write(self.session.folder.path / "logger.txt", text, now)
        await self.ask(minutes)

    def kept(self, name):
        return [one.shop_c for one in self.session.pour(name).state.readings]

    @property
    def said(self):
        return str(self.app.screen.query_one("#said").content).strip()


@asynccontextmanager
async def follower(path, probe=FILE):
    session = open_session(path, SimulatedTime(MORNING), probe)
    names = [session.start(BARE, entry="face coat")]
    app = PourbellApp(session)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        yield Follower(session, app, pilot, probe), names[0]


async def test_a_reading_is_kept_when_it_says_something_new(tmp_path):
    async with follower(tmp_path) as (person, name):
        for text in ("20.0\n", "20.4\n", "20.5\n", "20.6\n"):
            await person.writes(text)
        assert person.kept(name) == [20.0, 20.5]
        await person.writes("20.6\n", minutes=26)
        assert person.kept(name) == [20.0, 20.5, 20.6]
    again = open_session(tmp_path, person.session.time)
    again.load()
    assert [one.shop_c for one in again.pour(name).state.readings] == [20, 20.5, 20.6]
    assert not person.session.pour(name).unsaved


async def test_every_open_pour_has_the_air_of_the_shop(tmp_path):
    async with follower(tmp_path) as (person, name):
        other = person.session.start(BARE, entry="face coat")
        await person.writes("18.0\n")
        assert person.kept(name) == person.kept(other) == [18.0]


async def test_a_fault_is_said_once_and_so_is_its_end(tmp_path):
    async with follower(tmp_path) as (person, name):
        await person.ask()
        assert person.said == "shop probe logger.txt: there is no such file"
        person.app.say("something else")
        await person.writes("85.0\n")
        assert person.said == "something else"
        await person.writes("21.0\n")
        assert person.said == "shop probe logger.txt: reads again, 21.0 °C"
        await person.writes("-127\n")
        assert "cut off" in person.said
        assert person.kept(name) == [21.0]


async def test_a_file_that_has_stopped_growing_is_a_fault(tmp_path):
    async with follower(tmp_path) as (person, name):
        await person.writes("21.0\n")
        await person.ask(minutes=40)
        assert "40 min old" in person.said
        assert person.kept(name) == [21.0]


async def test_undo_takes_back_what_a_person_did(tmp_path):
    async with follower(tmp_path) as (person, name):
        person.session.note(name, "cold")
        person.session.settle(name)
        await person.writes("21.0\n")
        await person.pilot.press("c", "u")
        await person.pilot.pause()
        assert person.session.pour(name).state.notes == ()
        assert person.kept(name) == [21.0]


async def test_a_simulated_pour_follows_nothing(tmp_path):
    write(tmp_path / "logger.txt", "21.0\n", MORNING)
    async with follower(tmp_path) as (person, name):
        person.probes.start()
        await asyncio.sleep(0.1)
        await person.pilot.pause()
        assert person.kept(name) == []


async def test_the_program_asks_by_itself(tmp_path):
    now = WallTime().now()
    write(tmp_path / "logger.txt", "17.5\n", now)
    session = open_session(tmp_path, WallTime(), FILE)
    name = session.start(BARE, entry="face coat")
    app = PourbellApp(session)
    async with app.run_test(size=(80, 24)) as pilot:
        for _ in range(100):
            await pilot.pause(0.02)
            if session.pour(name).state.readings:
                break
        assert [one.shop_c for one in session.pour(name).state.readings] == [17.5]


class TestWhose:
    @pytest.fixture
    def session(self, tmp_path):
        return open_session(tmp_path, SimulatedTime(MORNING))

    def begin(self, session, *, cast):
        name = session.start(BARE, entry="face coat")
        if cast:
            for span in session.pour(name).timeline.steps():
                if span.key.step == "screed":
                    session.mark(name, "started", span.key)
                    session.mark(name, "finished", span.key)
            session.settle(name)
        session.time.advance_to(session.time.now() + 30 * MINUTE)
        return name

    def test_a_piece_is_the_last_cast_and_a_form_the_last_begun(self, session):
        first = self.begin(session, cast=True)
        second = self.begin(session, cast=True)
        third = self.begin(session, cast=False)
        pours = session.open_pours()
        by_place = {
            place: [pour.name for pour in takers(Probe(place, file="x"), pours)]
            for place in ("shop", "form", "mix", "piece")
        }
        assert by_place == {
            "shop": [first, second, third],
            "form": [third],
            "mix": [third],
            "piece": [second],
        }

    def test_nothing_cast_has_no_piece(self, session):
        self.begin(session, cast=False)
        assert takers(Probe("piece", file="x"), session.open_pours()) == []


def python(code):
    return Probe("shop", command=(sys.executable, "-c", code))


class TestSources:
    async def test_a_command_prints_a_number(self, tmp_path):
        text, written = await source_text(python("print(21.5)"), tmp_path)
        assert (text.strip(), written) == ("21.5", None)

    async def test_a_command_runs_without_a_shell_in_the_shop_folder(self, tmp_path):
        probe = Probe(
            "shop",
            command=(
                sys.executable,
                "-c",
                "import os, sys; print(os.getcwd(), sys.argv[1])",
                "$HOME;ls",
            ),
        )
        text, _ = await source_text(probe, tmp_path)
        assert text.strip() == f"{tmp_path} $HOME;ls"

    @pytest.mark.parametrize(
        ("code", "why"),
        [
            ("import sys; sys.exit(3)", "status 3"),
            ("print('x' * 100_000)", "more than a number"),
            ("while True: print('x' * 1000)", "more than a number"),
        ],
    )
    async def test_a_command_that_is_of_no_use(self, tmp_path, code, why):
        with pytest.raises(ProbeFault, match=why):
            await source_text(python(code), tmp_path)

    async def test_output_that_waits_keeps_nobody_from_ending_it(
        self, tmp_path, monkeypatch
    ):
        async def late(_stream):
            await asyncio.sleep(0.3)  # by now the pipe and the reader are full
            raise ProbeFault("enough")

        monkeypatch.setattr(followed, "_read_all", late)
        with pytest.raises(ProbeFault, match="enough"):
            async with asyncio.timeout(10):
                await source_text(python("while True: print('x' * 1000)"), tmp_path)

    async def test_a_program_that_is_not_there(self, tmp_path):
        with pytest.raises(ProbeFault, match="cannot be run"):
            await source_text(Probe("shop", command=("no-such-program-x",)), tmp_path)

    @pytest.mark.skipif(os.name != "posix", reason="needs a shell of its own")
    async def test_what_takes_too_long_is_ended_with_its_children(
        self, tmp_path, monkeypatch
    ):
        monkeypatch.setattr(followed, "LONGEST_WAIT_S", 0.3)
        script = "sleep 60 & echo $! > child; wait"
        with pytest.raises(ProbeFault, match=r"no answer in 0\.3 s"):
            await source_text(Probe("shop", command=("sh", "-c", script)), tmp_path)
        child = int((tmp_path / "child").read_text())
        for _ in range(50):
            if not _alive(child):
                break
            await asyncio.sleep(0.02)
        assert not _alive(child)

    @pytest.mark.skipif(os.name != "posix", reason="needs a named pipe")
    async def test_a_pipe_is_no_file(self, tmp_path):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(ProbeFault, match="no such file"):
            await source_text(Probe("shop", file="pipe"), tmp_path)

    async def test_only_the_end_of_a_long_file_is_read(self, tmp_path):
        (tmp_path / "long.txt").write_text("20.0\n" * 100_000 + "21.0\n")
        text, written = await source_text(Probe("shop", file="long.txt"), tmp_path)
        assert len(text) == 4096
        assert text.endswith("20.0\n21.0\n")
        assert written is not None

    async def test_a_sensor_has_no_age(self, tmp_path):
        sensor = tmp_path / "temp"
        sensor.write_text("21562\n")
        found = await source_text(Probe("shop", sensor=str(sensor)), tmp_path)
        assert found == ("21562\n", None)


def _alive(process):
    status = Path(f"/proc/{process}/stat")
    try:
        return status.read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
