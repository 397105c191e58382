"""The timings screen through its keys: on made-up lessons, and on a lived log."""

from __future__ import annotations

import threading
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.errors import LogFault
from scheduling.folder import ShopFolder
from scheduling.pourname import SHOP
from scheduling.spread import Spread
from scheduling.timings import Windows
from support import timings
from support.hostile import OWN, TEXTS
from support.person import Person
from tui import reviewing
from tui.accepting import accept
from tui.app import PourbellApp
from tui.meant import step_meant
from tui.screens.board import BoardScreen
from tui.screens.pourclock import PourClockScreen
from tui.screens.timings import TimingsScreen
from tui.screens.why import Why
from tui.session import Session
from tui.timings import learner

MORNING = datetime(2030, 4, 2, 8, 0, tzinfo=UTC)
SMALL, LARGE = (80, 24), (140, 40)
OPENS = ("timing", "face opens", "M1")


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TMUX", "TERM_PROGRAM"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def session(tmp_path):
    folder = ShopFolder(tmp_path)
    folder.adopt_samples()
    head, _, _ = folder.shop_file.read_text(encoding="utf-8").partition("[bells]")
    silent = "[bells]\nterminal = false\nsound = false\ndesktop = false\n"
    folder.shop_file.write_text(f'zone = "UTC"\n{head}{silent}', encoding="utf-8")
    return Session(folder, SimulatedTime(MORNING), by="Ines")


class Driver(Person):
    def row(self, *beginnings):
        """The cells of the row that begins so."""
        for line in self.text().splitlines():
            left = line[:78]  # beside it is the plot
            cells = [cell.strip() for cell in left.split("  ") if cell.strip()]
            if tuple(cells[: len(beginnings)]) == beginnings:
                return cells
        pytest.fail(f"no row {beginnings}:\n{self.text()}")

    @property
    def screen(self):
        assert isinstance(self.app.screen, TimingsScreen)
        return self.app.screen


@asynccontextmanager
async def program(session, *, known=None, doing="", size=SMALL, **options):
    """The program on made-up lessons; on those of its own log where none are given."""
    app = PourbellApp(session, **options)
    if known is not None:
        app._learner = timings.Teacher(known, doing)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Driver(app, pilot)


def book_of(session):
    """The book as a program finds it that is started now."""
    fresh = Session(session.folder, SimulatedTime(session.time.now()))
    fresh.load()
    return fresh.book


def kinds(session):
    return [event.kind for event in session.log.events(SHOP)]


@pytest.fixture
def known():
    return timings.known(MORNING)


class TestComingAndGoing:
    @pytest.mark.parametrize(
        ("key", "screen"), [("b", BoardScreen), ("c", PourClockScreen)]
    )
    async def test_j_opens_it_and_escape_goes_back(self, session, known, key, screen):
        async with program(session, known=known) as person:
            await person.keys(key, "j")
            await person.see("face opens")
            assert isinstance(person.app.screen, TimingsScreen)
            await person.keys("escape")
            assert isinstance(person.app.screen, screen)

    async def test_the_palette_has_its_actions(self, session, known):
        async with program(session, known=known) as person:
            await person.keys("j", "f2", *"take", "space", *"back")
            await person.see("take back (u)")

    async def test_an_empty_log_is_told_what_will_stand_here_and_from_when_on(
        self, session
    ):
        async with program(session) as person:
            await person.keys("j")
            await person.see("No pour has taught anything yet")
            await person.see("From the first pour")
            await person.see("about ten pours")
            await person.keys("space")
            await person.see("No step has taught anything yet")
            await person.keys("space")
            await person.see("No defect is on record")
            await person.keys("a", "r", "u", "v", "up", "down", "w", "escape")
            await person.keys("space")
            await person.see("No pour has taught anything yet")

    async def test_why_says_how_the_figures_are_made(self, session, known):
        async with program(session, known=known) as person:
            await person.keys("j", "w")
            assert isinstance(person.app.screen, Why)
            await person.see("Reference minutes are minutes at 21")
            await person.keys("escape")
            assert isinstance(person.app.screen, TimingsScreen)


class TestWaits:
    async def test_a_row_has_default_learned_pours_and_state(self, session, known):
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("face opens")
            cells = person.row("face opens", "M1")
            assert cells[2:6] == ["18.0 min", "14.0", "11.1-17.6", "9"]

    async def test_what_nothing_was_learned_of_stays_the_default(self, session, known):
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see("lift 2 opens")
            cells = person.row("lift 2 opens", "M1")
            assert cells[2:] == ["15.0 min", "-", "-", "0", "default"]
            await person.keys(*["down"] * 4)
            for key in "ar":
                await person.keys(key)
                await person.see(
                    "the log says no more than the default yet: 0 of 0 waits known"
                )
            assert kinds(session) == []

    async def test_what_tells_no_more_than_the_default_is_nothing_new(
        self, session, known
    ):
        one = known.windows[0]
        dull = replace(one, learned=one.default)
        known = replace(known, windows=(dull, *known.windows[1:]))
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see("face opens")
            assert person.row("face opens", "M1")[5:] == ["9", "nothing new"]
            await person.keys("a")
            await person.see("the log says no more than the default yet: 6 of 9 waits")
            assert kinds(session) == []

    async def test_the_chosen_one_is_told_in_detail(self, session, known):
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see(
                "18.0 min (9.0-36) in force -> 14.0 min (11.1-17.6) learned"
            )
            await person.see("next pour begun now:")
            await person.see(
                "9 pours, 14-26 °C; 6 of 9 waits known from both sides, 3 too wide"
            )
            await person.see("activation energy 38 kJ/mol (34-43), 42 before")
            await person.see("odd 1: counted 0.0: desk-01 top, between")
            await person.see("left out: trial (2)")
            await person.keys("down")
            await person.see("activation energy 42 kJ/mol, evaporation 0.4 as assumed")

    async def test_at_80_by_24_what_counts_is_there_and_the_plot_has_its_rows(
        self, session, known
    ):
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("18.0 min (9.0-36) in force -> 14.0 min")
            await person.see(
                "backtest 20: off 1.9 min, default 3.9, average 4.5; band held 91 %"
            )
            await person.see("activation energy 38 kJ/mol (34-43), 42 before")
            await person.see("next pour begun now: ")
            for word in ("face closes", "white", "demould"):  # four rows
                await person.see(word)
            for word in ("[ not yet", "] reached", "? odd", "before", "⠒⠒⠒ after"):
                await person.see(word)
            assert person.screen.plot.size.height >= 8
            assert person.screen.words.size.height == 5

    async def test_degrees_are_those_of_the_shop(self, session, known):
        text = session.folder.shop_file.read_text()
        text = text.replace('units = "si"', 'units = "us"')
        assert 'units = "us"' in text
        session.folder.shop_file.write_text(text)
        session = Session(session.folder, SimulatedTime(MORNING))
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("9 pours, 57-79 °F")
            await person.keys("w")
            await person.see("minutes at 70 °F, 50 % humidity")

    async def test_the_next_pour_runs_on_the_air_of_now(self, session, known):
        """In a cold shop the same reference minutes are more on the wall."""
        found = []
        for low in ("5", "24"):
            text = session.folder.shop_file.read_text()
            head, rest = text.split("[climate]")
            _, _, rest = rest.partition("\n[")
            air = f'low = "{low} degC"\nhigh = "{low} degC"\n'
            session.folder.shop_file.write_text(f"{head}[climate]\n{air}\n[{rest}")
            shop = Session(session.folder, SimulatedTime(MORNING))
            async with program(shop, known=known, size=LARGE) as person:
                await person.keys("j")
                await person.see("next pour begun now: ")
                line = next(x for x in person.text().splitlines() if "begun now" in x)
                found.append(float(line.split("now: ")[1].split()[0]))
        assert found[0] > 1.3 * found[1]

    async def test_v_goes_round_the_plots(self, session, known):
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("reference min")
            await person.see("⠒⠒⠒ after")
            await person.see("] reached")
            await person.keys("v")
            await person.see("actual (up) against forecast (across), min")
            await person.keys("v")
            await person.see("error, min")
            await person.keys("down")
            await person.see("nothing to compare yet")
            await person.keys("v", "up")
            await person.see("reference min")

    async def test_keys_in_quick_succession_are_about_the_row_just_chosen(
        self, session, known
    ):
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("face opens")
            screen = person.screen
            screen.table.action_cursor_down()  # and the next key before it is told
            chosen = screen.key()
            screen.action_refuse()
            await person.see("refused")
            await person.pilot.pause()
            assert screen.key() == chosen
            await person.keys("u")
            await person.see("taken back")
            assert chosen not in session.book.refused

    async def test_the_table_has_the_keys_again_after_an_empty_one(
        self, session, known
    ):
        known = replace(known, work=(), evidence=())
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("face opens")
            await person.keys("space")
            await person.see("No step has taught anything yet")
            await person.keys("space", "space")
            await person.see("face opens")
            first = person.screen.key()
            await person.keys("down")
            assert person.screen.key() != first

    async def test_the_chosen_row_stays_when_more_is_known(self, session, known):
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j", "down", "down", "down")
            await person.see("18.0 h (13.7-24) in force")
            more = timings.learned(MORNING, name="cover by", pours=2, middle=11.0)
            person.app.learner.known = replace(known, windows=(more, *known.windows))
            person.app.tick()
            await person.see("cover by")
            await person.see("18.0 h (13.7-24) in force")


class TestDeciding:
    async def test_accepted_is_in_the_log_with_who_when_and_from_what(
        self, session, known
    ):
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see("face opens")
            await person.keys("a")
            await person.see(
                "face opens, M1 accepted, counts from the next pour on - s"
            )
            assert person.row("face opens", "M1")[6] == "accepted"
            await person.see(
                "accepted by Ines 2 Apr 2030: 14.0 min (11.1-17.6), from 9"
            )
        said = book_of(session).accepted[OPENS]
        assert said.value == known.windows[0].timing
        assert said.was == known.windows[0].default
        assert said.temp_range_c == (14.0, 26.0)
        assert said.event.by == "Ines"
        assert said.event.at == MORNING

    async def test_accepted_twice_is_written_once(self, session, known):
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("face opens")
            await person.keys("a")
            await person.see("saved")
            await person.keys("a")
            await person.see("accepted already")
        assert kinds(session) == ["accepted"]

    async def test_what_differs_in_its_last_digits_is_the_same(self, session, known):
        """The verb learns at once what the program learned bit by bit."""
        one = known.windows[0]
        spread = one.learned
        verb = Spread(spread.p50 * 1.0001, spread.sigma * 1.015)
        session.read_book()
        accept(session, replace(one.timing, spread=verb), one.default)
        async with program(session, known=known) as person:
            await person.keys("j")
            await person.see("face opens")
            await person.keys("a")
            await person.see("accepted already")
            await person.keys("r")
            await person.see("face opens, M1: accepted; u takes that back")
        assert kinds(session) == ["accepted"]

    async def test_an_accepted_value_is_in_force_until_another_is(self, session, known):
        """Accepted early, at 11; by now the log says 14."""
        one = known.windows[0]
        early = replace(one.timing, spread=Spread(11.0, 0.2), pours=4)
        session.read_book()
        accept(session, early, one.default, one.temp_range_c)
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see("face opens")
            cells = person.row("face opens", "M1")
            assert cells[3] == "14.0"
            assert cells[6] == "accepted 11.0"
            await person.see("11.0 min (8.5-14.2) in force -> 14.0 min (11.1-17.6) ")
            line = next(x for x in person.text().splitlines() if "begun now" in x)
            told = line.split("now: ")[1].split()
            then, now = float(told[0]), float(told[told.index("->") + 1])
            assert now / then == pytest.approx(14 / 11, rel=0.1)
            (before,) = [
                each for each in person.screen.plot.chart.brackets if each.low < 9
            ]
            assert (before.label, before.at) == ("before", pytest.approx(11))
            await person.keys("r")
            await person.see("face opens, M1 refused - saved")
            assert person.row("face opens", "M1")[6] == "kept 11.0"
            await person.see(
                "accepted 11.0, newer refused by Ines 2 Apr 2030: 14.0 min"
            )
            await person.keys("u")
            await person.see("taken back - saved")
            await person.keys("a")
            await person.see("accepted, counts from the next pour on - saved")
            assert person.row("face opens", "M1")[6] == "accepted"
            await person.keys("r")
            await person.see("face opens, M1: accepted; u takes that back")
        said = book_of(session).accepted[OPENS]
        assert said.value == one.timing
        assert said.was == early.spread

    async def test_refused_is_so_until_more_pours_speak_for_it(self, session, known):
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j", "down")
            await person.see("face closes")
            await person.keys("r")
            await person.see("face closes, M1 refused - saved")
            assert person.row("face closes", "M1")[6] == "refused"
            more = timings.learned(MORNING, name="face closes", pours=5, middle=41.0)
            person.app.learner.known = replace(
                known, windows=(known.windows[0], more, *known.windows[2:])
            )
            person.app.tick()
            await person.pilot.pause()
            assert person.row("face closes", "M1")[6] == "learned"
        book = book_of(session)
        assert list(book.refused) == [("timing", "face closes", "M1")]
        assert book.accepted == {}

    @pytest.mark.parametrize("key", ["a", "r"])
    async def test_taken_back_is_as_it_was(self, session, known, key):
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j", key)
            await person.see("saved")
            assert person.row("face opens", "M1")[6] != "learned"
            await person.keys("u")
            await person.see("taken back - saved")
            assert person.row("face opens", "M1")[6] == "learned"
            await person.keys("u")
            await person.see("nothing was accepted or refused here")
        book = book_of(session)
        assert book.accepted == book.refused == {}
        assert kinds(session)[1:] == ["undone"]

    async def test_a_pace_is_accepted_as_well(self, session, known):
        async with program(session, known=known) as person:
            await person.keys("j", "space")
            await person.see("hone")
            await person.keys("a")
            await person.see("hone accepted")
            await person.see("saved")
        assert book_of(session).paces == (known.work[0].pace,)

    async def test_what_the_disk_does_not_take_is_said_and_is_not_so(
        self, session, known, monkeypatch
    ):
        def full(*_events):
            raise LogFault("the disk is full")

        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see("face opens")
            monkeypatch.setattr(session.log, "append", full)
            await person.keys("a")
            await person.see("NOT SAVED: the disk is full")
            assert person.row("face opens", "M1")[6] == "learned"
            monkeypatch.undo()
            await person.keys("a")
            await person.see("saved")
            assert person.row("face opens", "M1")[6] == "accepted"

    async def test_it_is_painted_before_it_is_written(
        self, session, known, monkeypatch
    ):
        seen = []
        write = session.log.append

        def append(*events, **options):
            seen.append((person.row("face opens", "M1")[6], person.text()))
            return write(*events, **options)

        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see("face opens")
            monkeypatch.setattr(session.log, "append", append)
            await person.keys("a")
            await person.see("saved")
        (state, text), *_ = seen
        assert state == "accepted"
        assert " - saving" in text

    async def test_another_program_sees_it_within_a_tick(self, session, known):
        other = Session(session.folder, SimulatedTime(MORNING), by="Bo")
        other.load()
        async with program(session, known=known, size=LARGE) as person:
            await person.keys("j")
            await person.see("face opens")
            one = known.windows[0]
            accept(other, one.timing, one.default, one.temp_range_c)
            person.app.tick()
            await person.pilot.pause()
            assert person.row("face opens", "M1")[6] == "accepted"
            await person.see("accepted by Bo")


class TestWork:
    async def test_a_step_has_its_rate_before_and_after_people_and_trend(
        self, session, known
    ):
        async with program(session, known=known) as person:
            await person.keys("j", "space")
            await person.see("8.0 -> 6.6 min/m² face")
            await person.see("faster by 18 % since December 2029, 12 castings")
            await person.see("people: Ines x0.80 (8), Bo x0.95 (4)")

    async def test_v_goes_round_its_own_plots(self, session, known):
        async with program(session, known=known) as person:
            await person.keys("j", "space")
            await person.see("factor on the rate of the trade")
            await person.keys("v")
            await person.see("actual (up) against forecast (across), min")
            await person.keys("v")
            await person.see("actual over rate")
            await person.keys("space", "space")
            await person.see("reference min")


class TestDefects:
    @pytest.fixture
    def ghosted(self, session):
        """Three slabs; of two of them the face shows the fibres."""
        live(session, 3)
        session = fresh(session)
        session.load()
        first, second, _ = sorted(session.logged())
        for name in (first, second):
            session.load_one(name)
            session.defect(name, "ghosting", {"text": "by the drain"}, zone="slab")
            session.settle(name)
        return session

    async def test_each_case_stands_beside_what_is_on_record_of_its_zone(self, ghosted):
        async with program(ghosted, size=LARGE) as person:
            await person.keys("j")
            await person.see("face opens")
            await done(person)
            await person.keys("space", "space")
            await person.see("pours with it, of 3 on record: ghosting 2")
            text = person.text()
            assert text.count("ghosting") >= 4
            await person.see("lift 1 not begun")
            await person.see("by the drain")
            await person.see("(the shop's typical day, not read)")
            await person.keys("a")
            await person.see("of defects there is nothing to accept")

    async def test_a_plot_without_a_lift_on_record_says_so(self, ghosted):
        async with program(ghosted) as person:
            await person.keys("j")
            await person.see("face opens")
            await done(person)
            await person.keys("space", "space")
            await person.see("no zone of M1 with it has a spraying and a lift 1")

    async def test_where_lift_1_is_on_record_it_is_marked_on_the_window(self, session):
        live(session, 3, lift_after=2)
        session = fresh(session)
        session.load()
        name = min(session.logged())
        session.load_one(name)
        session.defect(name, "ghosting", {}, zone="slab")
        session.settle(name)
        async with program(session) as person:
            await person.keys("j")
            await person.see("face opens")
            await done(person)
            await person.see("G ghosting")  # beside what was learned of the window
            await person.keys("space", "space")
            await person.see("G ghosting")
            await person.see("lift 1 beside face opens, M1, reference min")


class TestReading:
    async def test_what_is_known_so_far_is_shown_while_years_are_read(
        self, session, known
    ):
        doing = "reading: 214 pours to go"
        async with program(session, known=known, doing=doing) as person:
            await person.keys("j")
            await person.see("reading: 214 pours to go")
            await person.see("14.0")
            await person.keys("down", "v", "a")
            await person.see("face closes, M1 accepted")
            person.app.learner.doing = ""
            person.app.tick()
            await person.pilot.pause()
            assert "reading" not in person.text()

    async def test_no_key_waits_for_learning(self, session, monkeypatch):
        live(session, 1)
        gate, begun = threading.Event(), threading.Event()
        learn = learner._learned

        def held(*told):
            begun.set()
            assert gate.wait(20)
            return learn(*told)

        monkeypatch.setattr(learner, "_learned", held)
        async with program(fresh(session)) as person:
            await person.keys("j")
            await person.see("learning")
            assert begun.is_set()
            await person.keys("space", "v", "w", "escape", "space", "space")
            await person.see("No pour has taught anything yet")
            gate.set()
            await person.see("face opens")


def fresh(session):
    """The shop as a program finds it that is started now."""
    return Session(session.folder, SimulatedTime(session.time.now()), by="Ines")


def pass_minutes(session, minutes):
    session.time.advance_to(session.time.now() + timedelta(minutes=minutes))
    session.refresh()


def live(session, pours, *, put_away=True, lift_after=None):
    """Pours the slab again and again; each zone is soft at 8 min and ready at 11.

    Lift 1 is begun so many minutes later, or never.
    """
    for _ in range(pours):
        name = session.start(
            session.folder.job("potting-bench-slab"), entry="face coat"
        )
        while session.pour(name).timeline.next_step().key.step != "lift":
            if session.pour(name).timeline.zones_to_touch():
                break
            session.go_on(name)
            session.settle(name)
            pass_minutes(session, 4)
        pass_minutes(session, 4)
        for feel, minutes in (("soft", 3), ("ready", 1)):
            for zone in session.pour(name).timeline.zones_to_touch():
                session.touch(name, feel, zone)
                session.settle(name)
            pass_minutes(session, minutes)
        if lift_after is not None:
            pass_minutes(session, lift_after)
            lift = step_meant(session.pour(name).timeline, "lift-1")
            session.mark(name, "started", lift)
            session.settle(name)
        if put_away:
            session.put_away(name)
            session.settle(name)
        pass_minutes(session, 7 * 24 * 60)


class TestForReal:
    async def test_from_touches_to_the_clock_of_the_next_pour(self, session):
        live(session, 4)
        session = fresh(session)
        async with program(session) as person:
            await person.keys("j")
            await person.see("face opens")
            cells = person.row("face opens", "M1")
            assert cells[5:] == ["4", "learned"]
            assert float(cells[3]) < 15 < float(cells[2].split()[0])
            await person.keys("a")
            await person.see("saved")
            name = session.start(
                session.folder.job("potting-bench-slab"), entry="face coat"
            )
            zone = session.pour(name).timeline.process.zones[0]
            while session.go_on(name):
                session.settle(name)
                if session.pour(name).timeline.is_sprayed(zone):
                    break
            await person.keys("c", *["enter"] * 9)
            await person.see("learned from 4 pours")
            # The other screen where a wait is forecast: before the pour is begun.
            await person.keys("p")
            for _ in session.folder.job_files():
                if "window learned from 4 pours" in person.text():
                    break
                await person.keys("down")
            await person.see("window learned from 4 pours")

    async def test_a_pour_that_is_read_is_not_read_again(self, session, monkeypatch):
        live(session, 3)
        read = []
        drawn = learner._drawn
        monkeypatch.setattr(
            learner, "_drawn", lambda state: (read.append(state.pour), drawn(state))[1]
        )
        monkeypatch.setattr(reviewing, "REST_S", 0)
        async with program(fresh(session)) as person:
            await person.keys("j")
            await person.see("face opens")
            await done(person)
            taught = person.app.learner.known
            await person.keys("b", "j")
            person.app.tick()
            await done(person)
            assert person.app.learner.known is taught
        assert sorted(read) == sorted(set(read))
        assert len(read) == 3

    async def test_a_touch_of_a_pour_that_runs_is_learned_from(self, session):
        live(session, 2)
        live(session, 1, put_away=False)
        async with program(fresh(session)) as person:
            await person.keys("j", *["enter"] * 9)
            await person.see("face opens")
            await done(person)
            assert person.row("face opens", "M1")[5] == "3"

    async def test_a_touch_that_is_undone_is_unlearned_with_its_backtest(self, session):
        live(session, 2, put_away=False)
        session = fresh(session)
        session.load()
        newest = max(session.pours, key=lambda name: session.pour(name).state.begun)
        async with program(session) as person:
            await person.keys("j", *["enter"] * 9)
            before = await opens_of(person, pours=2)
            assert ("face opens", "M1") in person.app.learner.known.forecasts
            while any(session.pour(newest).state.touches.values()):
                session.undo(newest)
                session.settle(newest)
            after = await opens_of(person, pours=1)
            assert after.learned.sigma > before.learned.sigma
            known = person.app.learner.known
            for about in (known.forecasts, known.course, known.scores):
                assert ("face opens", "M1") not in about

    async def test_a_pour_more_is_added_to_what_was_learned(self, session, monkeypatch):
        live(session, 2)
        starts = []
        start = Windows.__init__

        def counted(self, shop):
            starts.append(1)
            start(self, shop)

        monkeypatch.setattr(Windows, "__init__", counted)
        monkeypatch.setattr(learner.Learner, "_replay", _no_replay)
        async with program(fresh(session)) as person:
            await person.keys("j")
            await opens_of(person, pours=2)
            so_far = len(starts)
            live(person.app.session, 1)
            await opens_of(person, pours=3)
            assert len(starts) == so_far

    async def test_one_pour_that_cannot_be_read_hides_no_other(
        self, session, monkeypatch
    ):
        live(session, 2)
        drawn = learner._drawn
        bad = []

        def broken(state):
            if not bad or state.pour in bad:
                bad[:] = [state.pour]
                raise ValueError("nonsense")
            return drawn(state)

        monkeypatch.setattr(learner, "_drawn", broken)
        async with program(fresh(session)) as person:
            await person.keys("j")
            await person.see("face opens")
            assert person.row("face opens", "M1")[5] == "1"
            assert "nonsense" in person.app.session.faults[bad[0]]

    async def test_what_cannot_be_learned_is_said_once_and_tried_no_more(
        self, session, monkeypatch
    ):
        live(session, 1)
        tried = []

        def broken(*_told):
            tried.append(1)
            raise ValueError("no such sum")

        monkeypatch.setattr(learner, "_learned", broken)
        async with program(fresh(session)) as person:
            await person.keys("j")
            await person.see("nothing more can be learned (no such sum)")
            await person.pilot.pause(0.1)
            so_far = len(tried)
            for _ in range(5):
                person.app.tick()
                await person.pilot.pause(0.05)
            assert len(tried) == so_far


async def _no_replay(*_told, **_options):
    return True


async def opens_of(person, *, pours):
    """What was learned of the face opening once it is from so many pours."""
    for _ in range(100):
        person.app.tick()
        await done(person)
        for one in person.app.learner.known.windows:
            if one.name == "face opens" and one.pours == pours:
                return one
        await person.pilot.pause(0.02)
    return pytest.fail(str(person.app.learner.known.windows))


async def done(person):
    for _ in range(300):
        await person.pilot.pause(0.02)
        if person.app.learner.learned:
            return
    pytest.fail(person.app.learner.doing)


class TestHostileNames:
    @pytest.mark.parametrize("size", [SMALL, LARGE])
    async def test_no_name_of_the_log_moves_or_stops_the_screen(
        self, session, known, size
    ):
        first, pace = known.windows[0], known.work[0]
        windows, work = [], []
        for text in TEXTS:
            seen = [
                replace(w, said=replace(w.said, pour=text, zone=text, why_not=text))
                for w in first.seen
            ]
            left = (replace(seen[0].said, why_not=text),)
            windows.append(replace(first, mix=text, seen=tuple(seen), left_out=left))
            people = ((text, pace.learned, 3),)
            work.append(replace(pace, step=text, people=people))
        hostile = replace(known, windows=tuple(windows), work=tuple(work))
        async with program(session, known=hostile, size=size) as person:
            await person.keys("j")
            for _ in TEXTS:
                await person.keys("down")
                check(person)
            await person.keys("v", "v", "space")
            for _ in TEXTS:
                await person.keys("down")
                check(person)
            await person.keys("a", "r", "u")
            check(person)


def check(person):
    text = person.text()
    assert not [char for char in text if ord(char) < 32 and char != "\n"]
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert all(f"\x1b{own}" not in text for own in OWN)


class TestSizes:
    @pytest.mark.parametrize("size", [(40, 12), (60, 20), (80, 24), (200, 60)])
    async def test_any_size_any_key(self, session, known, size):
        async with program(session, known=known, size=size) as person:
            await person.keys("j")
            for _ in range(3):
                await person.keys("v", "down", "v", "up", "v", "space")
            assert isinstance(person.app.screen, TimingsScreen)
