"""Questions of the program whose answers are doubtful, and keys that go wrong."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.process import StepKey
from scheduling.times import say
from tui.app import PourbellApp
from tui.screens.ask import Ask
from tui.screens.pourclock import PourClockScreen
from tui.session import Session

# 27 October 2030: clocks in Oslo go back from 03:00 to 02:00, at 01:00 UTC.
AFTERWARDS = datetime(2030, 10, 27, 4, 0, tzinfo=UTC)
MIX = StepKey("mix-face")


@pytest.fixture
def session(folder):
    """A pour begun before the clocks went back, its face mix marked since."""
    text = folder.shop_file.read_text().replace('"UTC"', '"Europe/Oslo"')
    quiet = text.replace("terminal = true", "terminal = false")
    folder.shop_file.write_text(quiet.replace("sound = true", "sound = false"))
    made = Session(folder, SimulatedTime(AFTERWARDS))
    begun = AFTERWARDS - timedelta(hours=5)
    name = made.start(folder.job("bare"), entry="face coat", at=begun)
    made.mark(name, "started", MIX, at=AFTERWARDS - timedelta(minutes=9))
    made.settle(name)
    return made


def text_of(app):
    return "\n".join(
        line.text.strip() for line in app.screen._compositor.render_strips()
    )


async def typed(pilot, text):
    await pilot.press(*[{":": "colon"}.get(sign, sign) for sign in text], "enter")
    await pilot.pause(0.1)


@pytest.mark.parametrize(("answer", "hour"), [("1", 0), ("2", 1)])
async def test_a_time_that_came_twice_is_asked_for_once_more(session, answer, hour):
    (name,) = session.pours
    app = PourbellApp(session, first=name)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("e")
        await typed(pilot, "2:30")
        assert isinstance(app.screen, Ask)
        shown = " ".join(text_of(app).split())
        for offset in ("(UTC+02:00)", "(UTC+01:00)"):
            assert offset in shown
        await typed(pilot, "3")
        assert isinstance(app.screen, Ask)
        await pilot.press("backspace")
        await typed(pilot, answer)
        assert isinstance(app.screen, PourClockScreen)
        at = datetime(2030, 10, 27, hour, 30, tzinfo=UTC)
        assert session.pour(name).state.record(MIX).started == at
        assert say(at, session.zone, AFTERWARDS)[:30] in app._said[0]
    again = Session(session.folder, session.time)
    again.load()
    assert again.pour(name).state.record(MIX).started == at


async def test_what_a_time_means_is_said_before_it_is_taken(session):
    app = PourbellApp(session)
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.pause()
        await pilot.press("c", "e", *"4")
        await pilot.press("colon", *"50")
        await pilot.pause(0.1)
        assert (
            "Sun 27 October 2030 04:50 Europe/Oslo (UTC+01:00), 10 min ago"
            in " ".join(text_of(app).split())
        )
        events = len(session.events(session.open_pours()[0].name))
        await pilot.press("escape")
        await pilot.pause()
        assert len(session.events(session.open_pours()[0].name)) == events


async def test_a_key_that_fails_is_said_and_the_program_goes_on(session, monkeypatch):
    app = PourbellApp(session, log_file="/where/pourbell.log")
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.pause()

        def broken(*_words):
            raise ZeroDivisionError

        monkeypatch.setattr(app, "action_look", broken)
        await pilot.press("c", "d")
        await pilot.pause(0.1)
        assert "unexpected error" in text_of(app)
        assert "/where/pourbell.log" in text_of(app)
        await pilot.press("space")
        await pilot.pause(0.1)
        name = session.open_pours()[0].name
        assert session.pour(name).state.record(MIX).finished is not None


async def test_the_help_names_the_file_that_tells_what_went_wrong(session):
    app = PourbellApp(session, log_file="/where/pourbell.log")
    async with app.run_test(size=(100, 120)) as pilot:
        await pilot.pause()
        await pilot.press("h")
        await pilot.pause(0.1)
        assert "what went wrong: /where/pourbell.log" in text_of(app)


async def test_two_keys_at_once_close_a_question_once(session):
    app = PourbellApp(session)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("c", "n", *"wet")
        asked = app.screen
        asked.dismiss("wet")
        asked.dismiss(None)
        await pilot.pause(0.1)
        assert isinstance(app.screen, PourClockScreen)
        kinds = [e.kind for e in session.events(session.open_pours()[0].name)]
        assert kinds.count("note") == 1
