"""The demould tried, through real keys and through the verb."""

from __future__ import annotations

import json
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from scheduling.process import StepKey
from support.person import Person
from tui.app import PourbellApp
from tui.cli import main
from tui.screens.ask import Ask
from tui.session import Session

MORNING = datetime(2030, 4, 1, 8, 0, tzinfo=UTC)
BEFORE_DEMOULD = ("mix-face", "spray", "mix-back-1", "lift-1", "screed", "cover")


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TMUX", "TERM_PROGRAM"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def cast(tmp_path):
    """A session whose slab was screeded and covered this morning; now it is night."""
    folder = ShopFolder(tmp_path)
    folder.adopt_samples()
    text = folder.shop_file.read_text().replace("sound = true", "sound = false")
    text = text.replace("terminal = true", "terminal = false")
    folder.shop_file.write_text('zone = "UTC"\n' + text)
    session = Session(folder, SimulatedTime(MORNING))
    name = session.start(folder.job("potting-bench-slab"), entry="face coat")
    for key in [s.key for s in session.pour(name).timeline.steps()]:
        if key.step in BEFORE_DEMOULD or key.step.startswith(("lift", "roll", "mix")):
            session.mark(name, "started", key)
            session.mark(name, "finished", key)
    session.settle(name)
    session.time.advance_to(MORNING + timedelta(hours=23))
    session.refresh(name)
    return session, name


@asynccontextmanager
async def program(session, name):
    app = PourbellApp(session, first=name)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        person = Person(app, pilot)
        await person.hush()
        yield person


def tries(session, name):
    return [(t.ready, t.first_possible) for t in session.pour(name).state.demould_tries]


async def test_soft_is_not_ready_and_moves_the_demould_at_once(cast):
    session, name = cast
    async with program(session, name) as person:
        await person.keys("s")
        assert "demould not ready - saved" in person.said
        assert tries(session, name) == [(False, None)]
        assert session.pour(name).timeline.demould.p10 > session.time.now()


@pytest.mark.parametrize(("answer", "first"), [("1", True), ("2", False)])
async def test_ready_asks_one_question(cast, answer, first):
    session, name = cast
    pressed = session.time.now()
    async with program(session, name) as person:
        await person.keys("r")
        assert isinstance(person.app.screen, Ask)
        session.time.advance_to(pressed + timedelta(minutes=2))
        await person.keys(answer, "enter")
        assert tries(session, name) == [(True, first)]
        assert session.pour(name).state.demould_tries[0].at == pressed
    again = Session(session.folder, session.time)
    again.load()
    assert tries(again, name) == [(True, first)]


async def test_another_answer_is_refused_and_escape_records_nothing(cast):
    session, name = cast
    async with program(session, name) as person:
        await person.keys("r", "3", "enter")
        assert isinstance(person.app.screen, Ask)
        await person.keys("escape")
        assert tries(session, name) == []


async def test_undo_takes_one_try_back_after_the_other(cast):
    session, name = cast
    steps = session.pour(name).state.steps
    async with program(session, name) as person:
        await person.keys("s", "r", "1", "enter")
        assert tries(session, name) == [(False, None), (True, True)]
        await person.keys("u")
        assert tries(session, name) == [(False, None)]
        await person.keys("u")
        assert tries(session, name) == []
        assert session.pour(name).state.steps == steps


async def test_the_other_touch_keys_say_what_fits(cast):
    session, name = cast
    async with program(session, name) as person:
        await person.keys("g")
        assert "not ready (s) or ready (r)" in person.said
        assert tries(session, name) == []


async def test_a_demoulded_piece_is_tried_no_more(cast):
    session, name = cast
    session.mark(name, "started", StepKey("demould"))
    session.mark(name, "finished", StepKey("demould"))
    session.settle(name)
    async with program(session, name) as person:
        await person.keys("s")
        assert "no sprayed zone is waiting" in person.said
        assert tries(session, name) == []


async def test_the_log_screen_shows_it(cast):
    session, name = cast
    session.try_demould(name, ready=True, first_possible=False)
    session.settle(name)
    async with program(session, name) as person:
        await person.keys("l")
        table = person.app.screen.table
        cells = [str(c) for r in range(table.row_count) for c in table.get_row_at(r)]
        assert "waited for us" in cells


class TestVerb:
    @pytest.fixture
    def typed(self, cast, capsys):
        session, name = cast

        def type_(*words):
            argv = ["--shop", str(session.folder.path), *words]
            code = main(argv, time=session.time)
            shown = capsys.readouterr()
            return code, shown.out, shown.err

        return session, name, type_

    def test_not_ready_then_ready(self, typed):
        session, name, type_ = typed
        code, out, _ = type_("touch", name, "demould", "not-ready", "--at", "-30")
        assert code == 0
        assert "demould not ready - saved" in out
        assert type_("touch", name, "demould", "ready")[0] == 0
        code, out, _ = type_("log", name)
        assert code == 0
        assert "demould not ready, Tue 2 April 2030 06:30" in out
        assert "demould ready, first possible moment, Tue 2 April 2030 07:00" in out
        held = json.loads(type_("log", name, "--json")[1])["pours"][0]
        assert [t["ready"] for t in held["demould_tries"]] == [False, True]
        assert held["demould_tries"][1] == {
            "at": "2030-04-02T07:00:00+00:00",
            "ready": True,
            "first_possible": True,
        }
        session.load()
        assert tries(session, name) == [(False, None), (True, True)]

    def test_it_waited(self, typed):
        session, name, type_ = typed
        code, out, _ = type_("touch", name, "demould", "ready", "--waited")
        assert (code, "it waited for us" in out) == (0, True)
        session.load()
        assert tries(session, name) == [(True, False)]

    @pytest.mark.parametrize(
        "words",
        [
            ("demould", "gone"),
            ("demould", "not-ready", "--waited"),
            ("slab", "not-ready"),
            ("slab", "ready", "--waited"),
        ],
    )
    def test_words_that_do_not_fit_are_refused(self, typed, words):
        session, name, type_ = typed
        code, out, err = type_("touch", name, *words)
        assert (code, out) == (2, "")
        assert len(err.splitlines()) == 1
        session.load()
        assert tries(session, name) == []

    def test_before_the_screed_there_is_nothing_to_demould(self, typed):
        _session, _name, type_ = typed
        bare = json.loads(type_("start", "bare", "--json")[1])["pour"]
        code, _, err = type_("touch", bare, "demould", "ready")
        assert code == 2
        assert "no cast piece" in err
