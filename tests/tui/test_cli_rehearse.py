"""``rehearse``: a whole pour on a simulated clock, headless and in the program."""

from __future__ import annotations

import asyncio
import io
import json
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import islice, pairwise
from types import SimpleNamespace

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import BARE, ShopFolder
from scheduling.process import StepKey
from scheduling.rehearsal import Hands
from scheduling.ringer import Ring
from tui.cli import main
from tui.rehearsal import Play, headless, live
from tui.session import Session
from tui.verbs import program, rehearse

NOW = datetime(2030, 4, 1, 3, 0, tzinfo=UTC)  # Monday 05:00 in Oslo, before opening
OPENING = datetime(2030, 4, 1, 5, 30, tzinfo=UTC)
BELLS_IN_ORDER = (
    "mix-back-batch",
    "touch-test",
    "window-open",
    "next-batch",
    "lift-2-open",
    "demould-ready",
)
ALERT_KEYS = {"type", "kind", "at", "due", "pour", "step", "zone", "late_s"}
EVENT_KEYS = {"type", "kind", "at", "pour", "step", "zone", "data"}


def sample_shop(path):
    """The sample shop, in Oslo."""
    folder = ShopFolder(path)
    folder.adopt_samples()
    text = folder.shop_file.read_text(encoding="utf-8")
    text = text.replace('# zone = "Europe/Oslo"', 'zone = "Europe/Oslo"')
    folder.shop_file.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def shop(tmp_path):
    return sample_shop(tmp_path / "shop")


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """Every line of one whole rehearsal of the desk."""
    shop = sample_shop(tmp_path_factory.mktemp("desk"))
    return run(shop, "two-legged-desk")


def run(shop, *words, now=NOW):
    argv = ["rehearse", *words, "--headless", "--json", "--shop", str(shop.path)]
    before = {path: path.stat().st_mtime_ns for path in shop.path.rglob("*")}
    printed = io.StringIO()
    with redirect_stdout(printed):
        assert main(argv, time=SimulatedTime(now)) == 0
    assert {p: p.stat().st_mtime_ns for p in shop.path.rglob("*")} == before
    return [json.loads(line) for line in printed.getvalue().splitlines()]


def test_the_desk_rings_in_order_and_in_time_and_ends(desk):
    lines = desk
    alerts = [line for line in lines if line["type"] == "alert"]
    events = [line for line in lines if line["type"] == "event"]
    assert all(set(line) == ALERT_KEYS for line in alerts)
    assert all(set(line) == EVENT_KEYS for line in events)

    kinds = [alert["kind"] for alert in alerts]
    firsts = [kinds.index(kind) for kind in BELLS_IN_ORDER]
    assert firsts == sorted(firsts)
    assert all(alert["late_s"] < 1 for alert in alerts)
    assert all(alert["at"] == alert["due"] for alert in alerts)
    seen = [(a["kind"], a["step"], a["zone"], a["due"]) for a in alerts]
    assert len(set(seen)) == len(seen)

    instants = [datetime.fromisoformat(line["at"]) for line in lines]
    assert all(one <= other for one, other in pairwise(instants))
    assert events[0]["kind"] == "started"
    assert events[0]["at"] == "2030-04-01T07:30:00+02:00"
    started = [(e["step"], e["zone"]) for e in events[1:] if e["kind"] == "started"]
    ended = [(e["step"], e["zone"]) for e in events if e["kind"] == "finished"]
    assert sorted(map(str, started)) == sorted(map(str, ended))
    assert events[-1]["kind"] == "finished"
    assert events[-1]["step"] == "install"


def test_a_touch_that_finds_it_ready_rings_at_once(desk):
    lines = desk
    touched = [
        number
        for number, line in enumerate(lines)
        if line["kind"] == "touch" and line["data"]["feel"] == "ready"
    ]
    assert len(touched) == 3  # a zone each
    for number in touched:
        after = lines[number + 1]
        assert (after["type"], after["kind"]) == ("alert", "window-open")
        assert after["at"] == lines[number]["at"]
        assert after["late_s"] == 0


def test_the_same_seed_makes_the_same_rehearsal(tmp_path):
    def told(number, seed):
        time = SimulatedTime(NOW)
        session = Session(sample_shop(tmp_path / number), time)
        name = session.start(BARE, entry="face coat")
        told = headless(Play(session, name, Hands(seed)), time)
        return [
            (time.now(), one.alert if isinstance(one, Ring) else (one.kind, one.step))
            for one in islice(told, 25)
        ]

    assert told("first", 4) == told("second", 4) != told("third", 5)


@pytest.mark.parametrize("day", [1, 5, 6])  # a Monday, a Friday, a Saturday
def test_whenever_it_is_tried_a_whole_day_lies_ahead(shop, day):
    """Tried in the afternoon, the first bell would else be one of the next week."""
    now = datetime(2030, 4, day, 12, 20, tzinfo=UTC)
    lines = run(shop, "potting-bench-slab", "--from", "weigh-off", now=now)
    begun = datetime.fromisoformat(lines[0]["at"])
    bell = next(line for line in lines if line["type"] == "alert")
    assert (begun.hour, begun.minute) == (7, 30)
    assert begun > now
    assert datetime.fromisoformat(bell["at"]) - begun < timedelta(minutes=95)


def test_the_air_and_the_start_are_those_of_the_flags(shop):
    air = ("--temp", "10", "--start", "2030-04-03 08:00", "--seed", "3")
    lines = run(shop, "bare", *air)
    assert lines[0]["at"] == "2030-04-03T08:00:00+02:00"
    assert lines[0]["data"]["shop"]["climate"]["low_c"] == 10
    events = [line["data"] for line in lines if line["type"] == "event"]
    felt = {data["forecast"]["temp_c"] for data in events if "forecast" in data}
    assert felt == {10}


def test_people_read_bells_and_marks(shop, capsys):
    argv = ["--shop", str(shop.path), "rehearse", "bare", "--headless"]
    assert main(argv, time=SimulatedTime(NOW)) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "Mon 1 Apr 07:30:00  started bare.0401"
    assert any("  BELL OPEN: field is ready: place lift 1 now." in one for one in lines)
    assert any(one.endswith("  touch lift-1 field soft") for one in lines)


class TestInTheProgram:
    """The program itself is not opened here: only what it would be given."""

    @pytest.fixture(autouse=True)
    def terminal(self, monkeypatch):
        monkeypatch.setattr(program, "is_terminal", lambda _stream: True)

    def test_runs_in_a_folder_that_is_gone_afterwards(self, shop, monkeypatch):
        shown = []

        def show(session, *, mark, first, play):
            pour = session.pours[first]
            state = pour.state
            shown.append((session.folder.path, mark, play))
            assert session.folder.path.is_dir()
            assert session.folder.path != shop.path
            assert session.shop.climate.low_c == session.shop.climate.high_c == 12
            assert session.shop.name == shop.shop().name
            assert state.record(StepKey("wax")).skipped
            assert not state.record(StepKey("set-up")).skipped
            assert state.begun.astimezone(session.zone).hour == 7
            return 0, None

        monkeypatch.setattr(rehearse, "show", show)
        argv = ["--shop", str(shop.path), "rehearse", "court-bench", "--temp", "12"]
        assert main(argv, time=SimulatedTime(NOW)) == 0
        assert main([*argv, "--speed", "5", "--hands-on"], time=SimulatedTime(NOW)) == 0
        marks = [(mark, play is None) for _, mark, play in shown]
        assert marks == [("REHEARSAL x60 ", False), ("REHEARSAL x5 ", True)]
        assert not any(path.exists() for path, _, _ in shown)
        assert not shop.log.exists()

    def test_comes_back_to_the_program_after_one_picked_there(self, shop, monkeypatch):
        job = shop.job("trough-vanity")
        opened = []

        def show(_session, *, mark="", first=None, **_options):
            opened.append((mark, first))
            return 0, job if len(opened) == 1 else None

        monkeypatch.setattr(program, "show", show)
        monkeypatch.setattr(rehearse, "show", show)
        assert main(["--shop", str(shop.path)], time=SimulatedTime(NOW)) == 0
        assert opened == [
            ("", None),
            ("REHEARSAL x60 ", "trough-vanity.0401"),
            ("", None),
        ]


@dataclass
class Program:
    """What the hands need of the program."""

    session: Session
    refused: list[str] = field(default_factory=list)
    lifted: asyncio.Event = field(default_factory=asyncio.Event)
    shop_screen: object = field(
        default_factory=lambda: SimpleNamespace(is_attached=True)
    )

    def settle(self, name):
        self.session.settle(name)
        lift = StepKey("lift-1", "field")
        if self.session.pours[name].state.record(lift).started:
            self.lifted.set()

    def refuse(self, words):
        self.refused.append(words)


async def test_the_hands_work_in_the_program_until_it_is_left(shop):
    session = Session(shop, SimulatedTime(OPENING, speed=2000))
    name = session.start(BARE, entry="face coat")
    app = Program(session)
    task = asyncio.create_task(live(Play(session, name, Hands(1)), app))
    async with asyncio.timeout(20):
        await app.lifted.wait()
        app.shop_screen.is_attached = False
        await task
    state = session.pours[name].state
    assert state.touches["field"][-1].feel == "ready"
    assert state.record(StepKey("spray", "field")).finished
    assert app.refused == []


async def test_hands_that_fail_say_so(shop):
    session = Session(shop, SimulatedTime(OPENING, speed=2000))
    name = session.start(BARE, entry="face coat")
    app = Program(session)
    app.settle = None
    await live(Play(session, name, Hands(1)), app)
    assert len(app.refused) == 1
