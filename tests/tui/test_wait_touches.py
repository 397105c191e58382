"""Waits other than a zone's touched, through real keys and through the verb."""

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
from tui.session import Session

MORNING = datetime(2030, 4, 1, 8, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
SAND = StepKey("sand-1")
LIFT_2 = StepKey("lift-2", "field")


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TMUX", "TERM_PROGRAM"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def session(tmp_path):
    folder = ShopFolder(tmp_path)
    folder.adopt_samples()
    text = folder.shop_file.read_text().replace("sound = true", "sound = false")
    text = text.replace("terminal = true", "terminal = false")
    folder.shop_file.write_text('zone = "UTC"\n' + text)
    return Session(folder, SimulatedTime(MORNING))


def done_until(session, last):
    """Starts a bare pour and does every step up to the last, at one moment."""
    name = session.start(session.folder.job("bare"), entry="face coat")
    for span in session.pour(name).timeline.steps():
        if session.pour(name).state.record(span.key).ended is None:
            session.mark(name, "started", span.key)
            session.mark(name, "finished", span.key)
        if span.key == last:
            break
    session.settle(name)
    session.time.advance_to(session.time.now() + 10 * MINUTE)
    session.refresh(name)
    return name


@pytest.fixture
def slurried(session):
    """A pour whose slurry is on: only that is waiting to be sanded."""
    return session, done_until(session, StepKey("slurry-1"))


@pytest.fixture
def rolled(session):
    """A pour whose first lift is rolled and whose first batch is in hand no more."""
    return session, done_until(session, StepKey("roll-1", "field"))


@asynccontextmanager
async def program(session, name):
    app = PourbellApp(session, first=name)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        person = Person(app, pilot)
        await person.hush()
        yield person


def felt(session, name, key):
    return [touch.feel for touch in session.pour(name).state.felt.get(key, ())]


class TestKeys:
    async def test_soft_and_ready_are_of_the_wait_of_the_next_step(self, slurried):
        session, name = slurried
        before = session.pour(name).timeline.wait_for(SAND).opens
        async with program(session, name) as person:
            await person.keys("s")
            assert "sand-1: soft - saved" in person.said
            after = session.pour(name).timeline.wait_for(SAND).opens
            assert after.p10 > max(before.p10, session.time.now())
            session.time.advance_to(session.time.now() + 60 * MINUTE)
            await person.keys("r")
            assert felt(session, name, SAND) == ["soft", "ready"]
            opens = session.pour(name).timeline.wait_for(SAND).opens
            assert opens.p90 <= session.time.now()
            await person.keys("u")
            assert felt(session, name, SAND) == ["soft"]
            await person.keys("u")
            assert felt(session, name, SAND) == []
            assert session.pour(name).timeline.wait_for(SAND).opens == before
        again = Session(session.folder, session.time)
        again.load()
        assert felt(again, name, SAND) == []

    async def test_what_only_opens_does_not_go_off(self, slurried):
        session, name = slurried
        async with program(session, name) as person:
            await person.keys("g")
            assert "one of soft, ready" in person.said
            assert felt(session, name, SAND) == []

    async def test_the_chosen_lift_is_meant_and_all_four_keys_are_its_own(self, rolled):
        session, name = rolled
        async with program(session, name) as person:
            clock = person.app.screen
            for _ in range(30):
                if clock.chosen(session.pour(name)).key == LIFT_2:
                    break
                await person.keys("down")
            await person.keys("s", "r", "g", "x")
            assert felt(session, name, LIFT_2) == ["soft", "ready", "going-off", "gone"]
            assert not session.pour(name).state.touches

    async def test_a_chosen_step_that_waits_for_nothing_is_refused(self, rolled):
        session, name = rolled
        async with program(session, name) as person:
            clock = person.app.screen
            for _ in range(30):
                if clock.chosen(session.pour(name)).key == StepKey("screed"):
                    break
                await person.keys("down")
            await person.keys("s")
            assert "no sprayed zone is waiting" in person.said
            assert not session.pour(name).state.felt


class TestVerb:
    @pytest.fixture
    def type_(self, session, capsys):
        def typed(*words):
            argv = ["--shop", str(session.folder.path), *words]
            code = main(argv, time=session.time)
            shown = capsys.readouterr()
            return code, shown.out, shown.err

        return typed

    def test_a_step_that_waits_is_named_like_a_zone(self, rolled, type_):
        session, name = rolled
        code, out, _ = type_("touch", name, "lift-2", "soft", "--at", "-2")
        assert (code, "lift-2 field soft - saved" in out) == (0, True)
        assert type_("touch", name, "lift-2 field", "ready")[0] == 0
        session.load()
        assert felt(session, name, LIFT_2) == ["soft", "ready"]
        assert "taken back: touch lift-2 field" in type_("undo", name)[1]
        session.load()
        assert felt(session, name, LIFT_2) == ["soft"]

    def test_a_batch_in_hand_goes_off(self, session, type_):
        name = done_until(session, StepKey("mix-back-1"))
        code, _, err = type_("touch", name, "mix-back-1", "soft")
        assert (code, "one of going-off, gone" in err) == (2, True)
        assert type_("touch", name, "mix-back-1", "gone")[0] == 0
        session.load()
        assert session.pour(name).timeline.pot_lives[StepKey("mix-back-1")].used
        code, _, err = type_("touch", name, "mix-back-1", "gone")
        assert (code, "field" in err) == (2, True)

    def test_what_waits_is_listed_when_another_is_named(self, rolled, type_):
        _session, name = rolled
        code, out, err = type_("touch", name, "coat-2", "soft")
        assert (code, out) == (2, "")
        assert len(err.splitlines()) == 1
        assert "a zone (field)" in err
        assert "lift-2 field" in err

    def test_a_touch_ends_the_wait_in_the_review(self, slurried, type_):
        session, name = slurried
        type_("touch", name, "sand-1", "ready")
        session.time.advance_to(session.time.now() + 90 * MINUTE)
        session.load()
        session.mark(name, "started", SAND)
        session.settle(name)
        (pour,) = json.loads(type_("log", name, "--json")[1])["pours"]
        (row,) = [row for row in pour["steps"] if row["step"] == "slurry set 1"]
        assert row["actual_min"] == pytest.approx(10)

    def test_a_note_may_keep_a_pour_out_of_what_is_learned(self, rolled, type_):
        session, name = rolled
        code, out, _ = type_("note", name, "a", "trial", "--no-learning")
        assert (code, "nothing is learned from this pour" in out) == (0, True)
        type_("note", name, "cold")
        session.load()
        notes = session.pour(name).state.notes
        assert [(note.text, note.step, note.learn) for note in notes] == [
            ("a trial", "", False),
            ("cold", notes[1].step, True),
        ]
