"""The cure screen through its keys, with made-up cures on a simulated clock."""

from __future__ import annotations

import threading
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.errors import LogFault
from scheduling.folder import ShopFolder
from scheduling.shop import Bells
from support import cures
from support.person import Person
from tui.app import PourbellApp
from tui.screens import cure
from tui.screens.board import BoardScreen
from tui.screens.cure import CureScreen
from tui.screens.pourclock import PourClockScreen
from tui.screens.why import Why
from tui.session import Session

EVENING = datetime(2030, 4, 2, 21, 0, tzinfo=UTC)
SMALL, LARGE = (80, 24), (140, 40)


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TMUX", "TERM_PROGRAM"):
        monkeypatch.delenv(name, raising=False)


class Oven:
    """Stands in for the computation: made-up cures, and what was asked of it."""

    def __init__(self):
        self.asked = []
        self.make = cures.cure
        self.gates = []

    def __call__(self, name, *, low_c=None, cover=None):
        self.asked.append((name, low_c, cover))
        if self.gates:
            assert self.gates.pop(0).wait(10)
        return self.make(EVENING, low_c=low_c, cover=cover, pour=name)

    def gate(self):
        """Holds the next answer back until the gate is set."""
        self.gates.append(threading.Event())
        return self.gates[-1]


@pytest.fixture
def oven():
    return Oven()


@pytest.fixture
def session(tmp_path, oven):
    folder = ShopFolder(tmp_path)
    folder.adopt_samples()
    text = folder.shop_file.read_text()
    folder.shop_file.write_text('zone = "UTC"\n' + text)
    session = Session(folder, SimulatedTime(EVENING))
    silent = Bells(terminal=False, sound=False, desktop=False)
    object.__setattr__(session.shop, "bells", silent)
    session.cure = oven
    return session


@pytest.fixture
def bench(session):
    return session.start(session.folder.job("court-bench"))


class Driver(Person):
    def row(self, beginning):
        return next(
            line for line in self.text().splitlines() if line[1:].startswith(beginning)
        )


@asynccontextmanager
async def program(session, size=SMALL, **options):
    app = PourbellApp(session, **options)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Driver(app, pilot)


class TestComingAndGoing:
    @pytest.mark.parametrize(
        ("key", "screen"), [("b", BoardScreen), ("c", PourClockScreen)]
    )
    async def test_m_opens_it_and_escape_goes_back(self, session, bench, key, screen):
        async with program(session, first=bench) as person:
            await person.keys(key, "m")
            assert isinstance(person.app.screen, CureScreen)
            await person.see("piece 24.8 °C")
            await person.keys("escape")
            assert isinstance(person.app.screen, screen)

    async def test_without_a_pour_it_says_how_to_start_one(self, session):
        async with program(session) as person:
            await person.keys("m", "up", "down", "v", "0", "w", "plus")
            await person.see("No pour is running")

    async def test_before_the_casting_there_is_nothing_to_show(
        self, session, bench, oven
    ):
        oven.make = lambda at, *, pour, **_: cures.not_cast(at, pour)
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("Not cast yet")
            await person.keys("up", "v", "plus", "w")
            assert "tonight" not in person.text()

    async def test_the_other_pour_begins_with_its_own_night(self, session, bench, oven):
        other = session.start(session.folder.job("potting-bench-slab"))
        async with program(session, first=bench) as person:
            await person.keys("m", "up", "v")
            await person.see("[blanket]")
            await person.keys("right")
            await person.see("[plastic]")
            assert oven.asked[-1] == (other, None, None)


@pytest.mark.parametrize("size", [SMALL, LARGE])
class TestWhatIsShown:
    async def test_the_figures_and_the_times(self, session, bench, size):
        async with program(session, size, first=bench) as person:
            await person.keys("m")
            for words in (
                "5.8 MPa (4.6 to 7.3)",
                "equivalent age 8 h 23",
                "age 7 h 00",
                "demould Wed 10:58 06:58-16:58",
                "ship    not in sight",
                "indicative",
                "o measured",
                "median",
                "├",
                "now",
                "Wed 3",
            ):
                await person.see(words)
            assert person.app.screen.piece.text == "25"

    async def test_all_covers_stand_side_by_side(self, session, bench, size):
        async with program(session, size, first=bench) as person:
            await person.keys("m")
            await person.see("tonight 12 °C")
            assert person.row("tonight").split()[3:] == [
                "open",
                "[plastic]",
                "blanket",
                "heat",
            ]
            assert "Wed 10:58      Wed 07:55      Wed 05:27" in person.text()
            assert "before 07:30" in person.row("opening")
            assert "26 min after" in person.row("opening")

    async def test_warnings_have_a_line_each(self, session, bench, oven, size):
        words = ("Under 10 °C the polymer may not film.", "The probe is silent.")
        oven.make = lambda at, **more: cures.cure(at, warnings=words, **more)
        async with program(session, size, first=bench) as person:
            await person.keys("m")
            for each in words:
                await person.see(f"! {each}")


async def test_us_units(session, bench):
    text = session.folder.shop_file.read_text()
    session.folder.shop_file.write_text('units = "us"\n' + text.replace("units =", "#"))
    session.reload_shop()
    object.__setattr__(session.shop, "bells", Bells(terminal=False, sound=False))
    async with program(session, first=bench) as person:
        await person.keys("m")
        await person.see("piece 77 °F")
        await person.see("840 psi (670 to 1060)")
        await person.see("tonight 54 °F")
        await person.keys("up")
        await person.see("tonight 55 °F")


class TestWhatIf:
    async def test_up_and_down_are_a_degree(self, session, bench, oven):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("tonight 12 °C")
            await person.keys("up")
            await person.see("Wed 10:10")
            await person.keys("down", "down")
            await person.see("Wed 11:46")
            assert [low for _, low, _ in oven.asked] == [None, 13, 12, 11]

    async def test_v_goes_round_the_covers(self, session, bench, oven):
        async with program(session, first=bench) as person:
            await person.keys("m")
            for name in ("plastic", "blanket", "heat", "open", "plastic"):
                await person.see(f"[{name}]")
                assert person.text().count("[") == 1
                await person.keys("v")
            assert [cover for _, _, cover in oven.asked][1:5] == [
                "blanket",
                "heated tent",
                "open",
                "plastic",
            ]

    async def test_the_marks_follow_the_cover(self, session, bench):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("demould Wed 10:58")
            await person.keys("v")
            await person.see("demould Wed 07:55")

    async def test_0_supposes_nothing_any_more(self, session, bench, oven):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("tonight 12 °C")
            await person.keys("up", "v")
            await person.see("tonight 13 °C")
            await person.keys("0")
            await person.see("tonight 12 °C")
            await person.see("[plastic]")
            assert oven.asked[-1] == (bench, None, None)

    async def test_no_night_is_colder_than_a_thermometer(self, session, bench, oven):
        oven.make = lambda at, **more: replace(cures.cure(at, **more), low_c=-30.0)
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("tonight -30 °C")
            await person.keys("down")
            await person.see("-31.0 °C is no night's low")
            assert len(oven.asked) == 1

    async def test_zoom_shows_more_or_less_time(self, session, bench):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("Thu 4")
            await person.keys("plus", "plus")
            await person.see("15:00")
            assert "Thu 4" not in person.text()
            await person.keys("minus", "minus", "minus")
            await person.see("Sun 7")

    async def test_why_says_what_the_figures_are_worth(self, session, bench):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("piece")
            await person.keys("w")
            assert isinstance(person.app.screen, Why)
            await person.see("a model fitted to other mixes")
            await person.see("demould 18 h at 21 °C: estimate")
            await person.keys("escape")
            assert isinstance(person.app.screen, CureScreen)

    async def test_why_has_the_warnings_whole(self, session, bench, oven):
        words = "The piece cools " + "and cools " * 20 + "in its first day."
        oven.make = lambda at, **more: cures.cure(at, warnings=(words,), **more)
        async with program(session, (80, 24), first=bench) as person:
            await person.keys("m")
            await person.see("piece")
            assert "in its first day" not in person.text()
            await person.keys("w")
            await person.see("in its first day")

    @pytest.mark.parametrize("key", ["v", "up", "down"])
    async def test_out_of_its_form_there_is_nothing_to_suppose(
        self, session, bench, oven, key
    ):
        oven.make = lambda at, **more: replace(cures.cure(at, **more), what_if=())
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("piece")
            await person.keys(key)
            await person.see("demoulded: nothing to suppose")
            assert "tonight" not in person.text()
        assert {asked[1:] for asked in oven.asked} == {(None, None)}


class TestComputing:
    async def test_a_key_paints_before_the_answer_is_there(self, session, bench, oven):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("tonight 12 °C")
            gate = oven.gate()
            await person.keys("up", "plus")
            assert "tonight 13 °C" in person.text()
            assert "Wed 10:58" in person.text()
            await person.see("computing ...")
            await person.keys("b")
            assert isinstance(person.app.screen, BoardScreen)
            await person.keys("escape", "m")
            gate.set()
            await person.see("Wed 10:10")
            assert "computing" not in person.text()

    async def test_a_quick_answer_is_not_announced(self, session, bench, monkeypatch):
        monkeypatch.setattr(cure, "SLOW_S", 1.0)  # quick on a busy machine too
        async with program(session, first=bench) as person:
            said = []
            screen = person.app.screen
            await person.keys("m")
            screen = person.app.screen
            screen.own_up = lambda: said.append("computing")
            await person.keys("up", "up", "v")
            await person.see("[blanket]")
            await person.pilot.pause(1.2)
            assert said == []

    async def test_the_last_wish_counts(self, session, bench, oven):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("tonight 12 °C")
            slow = oven.gate()
            await person.keys("up")
            await person.keys("up")
            await person.see("Wed 09:22")
            slow.set()
            await person.pilot.pause(0.1)
            assert "Wed 09:22" in person.text()
            assert "tonight 14 °C" in person.text()

    async def test_it_is_asked_again_only_when_the_pour_has_changed(
        self, session, bench, oven
    ):
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see("tonight 12 °C")
            for _ in range(3):
                person.app.tick()
                await person.pilot.pause()
            assert len(oven.asked) == 1
            session.time.advance_to(EVENING + timedelta(minutes=5))
            person.app.tick()
            await person.pilot.pause(0.05)
            assert len(oven.asked) == 2

    @pytest.mark.parametrize(
        ("error", "words"),
        [
            (LogFault("the disk is gone"), "! the disk is gone"),
            (ZeroDivisionError("oh"), "! cannot be worked out (oh)"),
        ],
    )
    async def test_an_error_is_said_and_the_program_goes_on(
        self, session, bench, oven, error, words
    ):
        def fail(*_, **__):
            raise error

        oven.make = fail
        async with program(session, first=bench) as person:
            await person.keys("m")
            await person.see(words)
            oven.make = cures.cure
            session.time.advance_to(EVENING + timedelta(minutes=5))
            person.app.tick()
            await person.see("tonight 12 °C")
