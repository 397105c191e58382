"""The program driven through its keys, on a simulated clock."""

from __future__ import annotations

from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta

import pytest

from scheduling import diskprobe
from scheduling.clock import SimulatedTime
from scheduling.errors import LogFault
from scheduling.folder import ShopFolder
from scheduling.process import StepKey
from scheduling.shop import Bells, Timing
from scheduling.spread import Spread
from scheduling.timeline import Status
from tui import reviewing
from tui.accepting import accept
from tui.app import PourbellApp
from tui.screens.ask import Ask
from tui.screens.board import BoardScreen
from tui.screens.helpscreen import HelpScreen
from tui.screens.logscreen import LogScreen
from tui.screens.picker import Picker
from tui.screens.pourclock import PourClockScreen
from tui.session import Session
from tui.watchfeed import WatchFeed
from tui.widgets.shout import Shout

MORNING = datetime(2030, 4, 1, 8, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TMUX", "TERM_PROGRAM"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def folder(tmp_path):
    shop = ShopFolder(tmp_path)
    shop.adopt_samples()
    text = shop.shop_file.read_text()
    # A steady shop in a fixed zone, silent: the clock of the check is the point here.
    shop.shop_file.write_text('zone = "UTC"\n' + text)
    return shop


def open_session(folder, at=MORNING):
    session = Session(folder, SimulatedTime(at))
    silent = Bells(terminal=False, sound=False, desktop=False)
    object.__setattr__(session.shop, "bells", silent)
    return session


class Driver:
    """A person at the keys of a program whose clock stands until it is moved."""

    def __init__(self, app, pilot):
        self.app = app
        self.pilot = pilot

    async def keys(self, *keys):
        for key in keys:
            await self.pilot.press(key)
            await self.pilot.pause()
        await self.pilot.pause()

    async def after(self, minutes):
        """Lets simulated minutes pass, the bells ringing at their moments."""
        time = self.app.session.time
        end = time.now() + timedelta(minutes=minutes)
        while (due := self.app.session.next_due(time.now())) and due <= end:
            time.advance_to(due)
            self.app.tick()
            await self.pilot.pause()
        time.advance_to(end)
        self.app.session.refresh(self.app.pour.name if self.app.pour else None)
        self.app.tick()
        await self.pilot.pause()

    async def until(self, word):
        """Lets time pass until an alert of that word is on the screen."""
        for _ in range(40):
            if self.shout is not None and self.shout.word == word:
                return
            now = self.app.session.time.now()
            due = self.app.session.next_due(now)
            assert due is not None, f"no bell is coming, least of all {word}"
            await self.after((due - now) / timedelta(minutes=1))
        pytest.fail(f"{word} never rang")

    async def hush(self):
        """Answers whatever rings."""
        for _ in range(9):
            await self.pilot.pause(0.05)
            if self.shout is None:
                return
            await self.keys("enter")
        pytest.fail("it never falls silent")

    async def see(self, words):
        """Waits until the screen shows some words; fails when it never does."""
        for _ in range(100):
            if words in self.text():
                return
            await self.pilot.pause(0.02)
        pytest.fail(f"{words!r} is not on the screen:\n{self.text()}")

    @property
    def shout(self):
        shouts = list(self.app.screen.query(Shout))
        return shouts[0].alert if shouts else None

    @property
    def said(self):
        return str(self.app.screen.query_one("#said").content)

    def text(self):
        """Everything on the screen, as lines of plain text."""
        height = self.app.size.height
        lines = self.app.screen._compositor.render_strips()
        return "\n".join(strip.text for strip in lines[:height])

    def kinds(self, pour):
        return [e.kind for e in self.app.session.events(pour)]


@asynccontextmanager
async def program(session, size=(80, 24), **options):
    app = PourbellApp(session, **options)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Driver(app, pilot)


async def test_an_empty_folder_offers_the_samples_and_a_rehearsal(tmp_path):
    session = open_session(ShopFolder(tmp_path))
    async with program(session) as person:
        assert isinstance(person.app.screen, BoardScreen)
        await person.see("sample shop")
        await person.see("rehearse")
        await person.keys("p", "a")
        assert (tmp_path / "shop.toml").exists()
        assert isinstance(person.app.screen, Picker)
        await person.see("Potting-bench slab")


async def test_a_bare_pour_starts_in_two_keys(tmp_path):
    session = open_session(ShopFolder(tmp_path))
    async with program(session) as person:
        await person.keys("p", "b")
        assert isinstance(person.app.screen, PourClockScreen)
        (pour,) = session.open_pours()
        assert pour.timeline.next_step().key == StepKey("mix-face")
    assert Session(session.folder, session.time).load() == [pour.name]


async def test_the_slab_from_the_weigh_off_to_the_cover(folder):  # noqa: PLR0915 - one story
    """The main job: every step one key, the bells in their order."""
    session = open_session(folder)
    async with program(session) as person:
        await person.keys("p", "down", "w")
        name = person.app.pour.name
        assert name.startswith("potting-bench-slab")
        spray = StepKey("spray", "slab")
        while session.pour(name).timeline.next_step().key != spray:
            await person.keys("space")
            await person.after(5)
            await person.keys("space")
        await person.keys("space")
        await person.after(11)
        await person.keys("space")
        assert session.pour(name).state.record(spray).finished is not None

        await person.until("MIX")
        assert person.shout.shape == "opens"
        await person.keys("enter")
        assert person.shout is None
        await person.keys("space")
        await person.until("TOUCH")
        await person.keys("s")
        assert person.shout is None
        await person.until("TOUCH")
        await person.keys("r")
        assert person.shout.word == "OPEN"
        assert "ready" in person.shout.line
        await person.keys("enter")
        await person.keys("space")  # the back batch is mixed
        wait = session.pour(name).timeline.wait_for(StepKey("lift-1", "slab"))
        assert wait.status is Status.OPEN

        await person.until("CLOSING")
        assert person.shout.shape == "closes"
        await person.keys("space")  # lift 1 begins
        assert session.pour(name).state.record(StepKey("lift-1", "slab")).running
        assert person.shout is None
        for _ in range(3):  # ends lift 1, then rolls it
            await person.after(2)
            await person.keys("space")
        await person.until("MIX")
        await person.keys("enter", "space")
        await person.after(7)
        await person.keys("space")
        await person.until("LIFT 2")
        for _ in range(10):
            await person.hush()
            await person.keys("space")
            await person.after(1)
            if session.pour(name).state.record(StepKey("screed")).finished:
                break
        await person.until("COVER")
        for _ in range(20):
            await person.hush()
            await person.keys("space")
            if session.pour(name).state.record(StepKey("cover")).finished:
                break
        assert session.pour(name).state.record(StepKey("cover")).finished
    assert not session.pour(name).unsaved
    rang = [e.data["kind"] for e in session.events(name) if e.kind == "rang"]
    first = dict.fromkeys(rang)
    assert list(first)[:4] == [
        "mix-back-batch",
        "touch-test",
        "window-open",
        "window-closing",
    ]
    assert {"lift-2-open", "next-batch", "cover"} <= set(first)


async def sprayed(folder, job="potting-bench-slab", minutes=0.0):
    """A session whose pour has its face coat on since some minutes."""
    session = open_session(folder)
    name = session.start(folder.job(job), entry="face coat")
    for key in [s.key for s in session.pour(name).timeline.steps()]:
        if key.step in ("mix-face", "flow-check", "spray"):
            session.mark(name, "started", key)
            session.mark(name, "finished", key)
    session.settle(name)
    session.time.advance_to(session.time.now() + timedelta(minutes=minutes))
    session.refresh(name)
    return session, name


async def test_a_soft_touch_moves_the_forecast_at_once(folder):
    session, name = await sprayed(folder, minutes=25)
    async with program(session, first=name) as person:
        start = session.time.now() - timedelta(minutes=25)
        await person.keys("s")
        opens = session.pour(name).timeline.wait_for(StepKey("lift-1", "slab")).opens
        assert opens.p50 > start + timedelta(minutes=25)
        await person.see("soft")


async def test_a_reading_moves_every_later_window_at_once(folder):
    session, name = await sprayed(folder, minutes=2)
    before = {s.key: s.opens.p50 for s in session.pour(name).timeline.spans if s.opens}
    async with program(session, first=name) as person:
        await person.keys("t", *"12", "enter")
        assert session.pour(name).state.readings[0].shop_c == 12
    after = {s.key: s.opens.p50 for s in session.pour(name).timeline.spans if s.opens}
    shorter = {k for k in before if k.step in ("face wait", "lift wait", "cure")}
    assert len(shorter) == 3
    assert all(after[key] > before[key] for key in shorter)


async def test_a_digit_chooses_the_zone_and_the_oldest_is_asked_first(folder):
    session, name = await sprayed(folder, job="two-legged-desk", minutes=12)
    async with program(session, first=name) as person:
        await person.keys("s")
        await person.keys("3", "s")
        felt = session.pour(name).state.touches
        assert set(felt) == {"left leg", "top"}
        await person.keys("s")
        assert "right leg" in session.pour(name).state.touches


async def test_every_act_of_the_clock_is_one_key(folder):
    session, name = await sprayed(folder, minutes=12)
    async with program(session, first=name) as person:
        await person.keys("f")
        assert session.pour(name).state.fogs["slab"]
        await person.keys("v")
        assert session.pour(name).state.covers["slab"][-1][1] is None
        await person.keys("v")
        assert session.pour(name).state.covers["slab"][-1][1] is not None
        await person.keys("n", *"cold", "enter")
        assert session.pour(name).state.notes[-1].text == "cold"
        await person.keys("i", *"Ines", "enter")
        assert session.pour(name).state.hands[1] == ("Ines",)
        await person.keys("s", "y")
        assert "slab" in session.pour(name).state.resprayed
        assert not session.pour(name).state.touches.get("slab")
        await person.keys("u", "u")
        assert "slab" not in session.pour(name).state.resprayed
        await person.keys("k")
        assert session.pour(name).state.record(StepKey("mix-back-1")).skipped


async def test_correcting_a_time_moves_the_mark(folder):
    session, name = await sprayed(folder, minutes=20)
    spray = StepKey("spray", "slab")
    async with program(session, first=name) as person:
        await person.hush()
        await person.keys("e", "minus", *"15", "enter")
        finished = session.pour(name).state.record(spray).finished
        assert finished == session.time.now() - timedelta(minutes=15)


async def test_nonsense_is_refused_and_what_was_typed_stays(folder):
    session, name = await sprayed(folder, minutes=5)
    async with program(session, first=name) as person:
        await person.keys("t", *"banana", "enter")
        assert isinstance(person.app.screen, Ask)
        assert person.app.screen.line.value == "banana"
        await person.keys("escape")
        assert not session.pour(name).state.readings


async def test_killed_and_reopened_the_pour_comes_back(folder):
    session, name = await sprayed(folder, minutes=14)
    async with program(session, first=name) as person:
        await person.keys("s")
        await person.hush()
    later = session.time.now() + timedelta(minutes=10)
    again = open_session(folder, later)
    again.load()
    assert again.pour(name).state == session.pour(name).state
    async with program(again) as person:
        await person.pilot.pause()
        assert person.shout.word == "MIX"  # rang before, so it is not called late
        await person.keys("enter")
        assert person.shout.line.startswith("LATE")


async def test_a_window_that_closed_while_the_program_was_down_rings_alone(folder):
    session, _name = await sprayed(folder)
    again = open_session(folder, session.time.now() + timedelta(minutes=90))
    async with program(again) as person:
        await person.pilot.pause()
        due = [alert.kind for alert in again.ringing(again.time.now())]
        assert "window-closed" in due
        assert "touch-test" not in due
        assert "window-open" not in due
        assert person.shout.word in ("CLOSED", "POT LIFE")


async def test_what_was_put_right_in_the_log_is_said_once(folder):
    session = open_session(folder)
    name = session.start(folder.job("bare"))
    with (folder.log / "live" / f"{name}.jnl").open("ab") as file:
        file.write(b"half a line")
    again = open_session(folder)
    async with program(again, first=name) as person:
        await person.keys("space")
        person.app.tick()
        await person.see("half a line was set aside")
        person.app.say("something else")
        person.app.tick()
        assert "half a line" not in person.text()


async def test_damage_is_named_on_the_board_with_the_way_out(folder):
    session = open_session(folder)
    name = session.start(folder.job("bare"))
    for text in ("note 1", "note 2"):
        session.note(name, text)
        session.settle(name)
    path = folder.log / "live" / f"{name}.jnl"
    path.write_bytes(path.read_bytes().replace(b"note 1", b"note 7"))
    async with program(open_session(folder)) as person:
        await person.see("!! LOG FAULT")
        await person.see(f"!! {name}: see pourbell check: ")


async def test_a_slow_disk_and_a_far_one_are_said_at_the_start(folder, monkeypatch):
    def trouble(log, _disk):
        assert log == folder.log
        return "the disk is slow"

    monkeypatch.setattr(diskprobe, "disk_trouble", trouble)
    monkeypatch.setattr(WatchFeed, "beat", lambda *_, **__: None)
    for watched in (True, False):
        app = PourbellApp(open_session(folder), watched=watched)
        async with app.run_test(size=(80, 24)) as pilot:
            person = Driver(app, pilot)
            await pilot.pause(0.1)
            assert ("the disk is slow" in person.text()) is watched


async def test_a_full_disk_says_not_saved_and_keeps_the_mark(folder, monkeypatch):
    session, name = await sprayed(folder, minutes=14)

    def full(*_events, **_options):
        raise LogFault("the disk is full")

    async with program(session, first=name) as person:
        monkeypatch.setattr(session.log, "append", full)
        await person.keys("s")
        assert "NOT SAVED" in person.said
        assert session.pour(name).state.touches["slab"]
        monkeypatch.undo()
        await person.keys("s")
        assert "saved" in person.said
    assert len(Session(folder, session.time).log.events(name)) == len(
        session.events(name)
    )


async def test_an_unreadable_log_never_stops_the_program(folder):
    session, _name = await sprayed(folder)
    (folder.log / "broken.0401.json").write_text("{")
    async with program(session) as person:
        person.app.tick()
        await person.pilot.pause()
        await person.see("broken.0401")
        await person.keys("c")
        await person.see("LOG FAULT")
        await person.see("Potting-bench slab")


async def test_two_programs_see_each_other(folder):
    session, name = await sprayed(folder, minutes=14)
    other = open_session(folder, session.time.now())
    other.load()
    async with program(session, first=name) as person:
        other.touch(name, "ready", "slab")
        other.settle(name)
        person.app.tick()
        await person.pilot.pause()
        assert session.pour(name).state.touches["slab"][-1].feel == "ready"


@pytest.mark.parametrize("size", [(80, 24), (140, 40)])
async def test_every_screen_shows_its_keys_and_help(folder, size):
    session, _name = await sprayed(folder, job="two-legged-desk", minutes=5)
    async with program(session, size=size) as person:
        for key, screen, words in (
            ("b", BoardScreen, "put away"),
            ("c", PourClockScreen, "going off"),
            ("l", LogScreen, "by step"),
        ):
            await person.keys(key)
            assert isinstance(person.app.screen, screen)
            await person.see(words)
            await person.see("help")
            await person.keys("h")
            assert isinstance(person.app.screen, HelpScreen)
            await person.keys("escape")


async def test_hostile_text_neither_crashes_nor_reaches_the_terminal(folder):
    session, name = await sprayed(folder, minutes=5)
    session.note(name, "front [/red] edge \x1b[2J \u202e [bold")
    session.settle(name)
    async with program(session, first=name) as person:
        for key in ("b", "c", "l"):
            await person.keys(key)
            assert "\x1b[2J" not in person.text()


async def test_the_log_shows_planned_forecast_and_actual(folder):
    session, name = await sprayed(folder, minutes=20)
    session.touch(name, "ready")
    session.settle(name)
    async with program(session) as person:
        await person.hush()
        await person.keys("l")
        await person.see("face wait")
        await person.keys("space")
        await person.see("times")
        await person.keys("space", "space", "s")
        await person.see("only")


async def test_the_archive_is_read_beside_the_keys_and_can_be_corrected(
    folder, monkeypatch
):
    monkeypatch.setattr(reviewing, "REST_S", 0.05)
    session = open_session(folder)
    names = []
    for number in range(8):
        name = session.start(folder.job("bare"), entry="face coat")
        key = session.pour(name).timeline.next_step().key
        session.mark(name, "started", key)
        session.settle(name)
        session.time.advance_to(session.time.now() + timedelta(minutes=number + 3))
        session.mark(name, "finished", key)
        session.put_away(name)
        session.settle(name)
        names.append(name)
    again = open_session(folder, session.time.now())
    async with program(again) as person:
        await person.keys("l")
        while not (seen := person.app.reviewer.rows()):
            await person.pilot.pause(0.01)
        assert len({row.pour for row in seen}) < 8
        assert "reading: " in person.app.reviewer.reading
        person.app.tick()
        await person.see("pours to go")
        await person.keys("h")  # the keys go on working
        assert isinstance(person.app.screen, HelpScreen)
        await person.keys("escape")
        while person.app.reviewer.reading:
            await person.pilot.pause(0.01)
        person.app.tick()
        rows = person.app.reviewer.rows()
        assert [row.pour for row in rows] == names[::-1]  # the newest came first
        assert [row.actual_min for row in rows] == [10, 9, 8, 7, 6, 5, 4, 3]
        assert again.pours == {}  # nothing but their rows is kept
        await person.see("8 marked, 8 with start and end")
        await person.keys("e", *"-2", "enter")
        person.app.tick()
        assert len(again.events(names[-1])) > 4
        assert person.app.reviewer.rows()[0].actual_min == 8


async def test_put_away_leaves_the_board_and_undo_brings_it_back(folder):
    session, name = await sprayed(folder)
    async with program(session) as person:
        await person.keys("z")
        assert session.open_pours() == []
        await person.keys("c", "u")
        assert [pour.name for pour in session.open_pours()] == [name]


async def test_enter_belongs_to_an_open_question_and_f12_answers(folder):
    session, name = await sprayed(folder, minutes=14)
    async with program(session, first=name) as person:
        await person.pilot.pause(0.05)
        ringing = len(session.ringing(session.time.now()))
        await person.keys("t", *"19", "enter")
        assert session.pour(name).state.readings[0].shop_c == 19
        assert len(session.ringing(session.time.now())) >= ringing
        await person.keys("n", *"ok", "f12")
        assert person.app.screen.line.value == "ok"
        assert session.pour(name).state.answered


async def test_a_zone_that_is_not_waiting_is_refused(folder):
    session = open_session(folder)
    name = session.start(folder.job("two-legged-desk"), entry="face coat")
    async with program(session, first=name) as person:
        await person.keys("3", "r")
        assert not session.pour(name).state.touches


async def test_a_pour_starts_where_the_log_cannot_be_written(tmp_path):
    (tmp_path / "log").write_text("a file where the folder should be")
    session = open_session(ShopFolder(tmp_path))
    async with program(session) as person:
        await person.keys("p", "b")
        assert isinstance(person.app.screen, PourClockScreen)
        await person.see("NOT SAVED")
        assert person.app.pour.timeline.next_step().key == StepKey("mix-face")


async def test_the_picker_shows_the_whole_timeline_as_soon_as_it_opens(folder):
    session = open_session(folder)
    async with program(session) as person:
        await person.keys("p")
        assert isinstance(person.app.screen, Picker)
        for words in ("form build", "compaction", "window", "demould", "ESC back"):
            await person.see(words)


async def test_what_another_program_accepts_counts_within_a_second(folder):
    session, other = open_session(folder), open_session(folder)
    timing = Timing("face opens", "M1", Spread(27.0, 0.2), 9)
    async with program(session) as person:
        await person.pilot.pause(0.05)
        accept(other, timing, Spread(18.0, 0.5))
        await person.pilot.pause(1.1)
        assert session.setting.shop.timings == (timing,)
