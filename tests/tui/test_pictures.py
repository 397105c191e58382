"""What the screens look like: pictures to compare by eye, and what they say in grey.

A picture that differs is shown by pytest; when the change is meant, make them anew
with ``pytest tests/tui/test_pictures.py --snapshot-update``.
"""

from __future__ import annotations

import importlib.util
import re
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from syrupy.extensions.image import SVGImageSnapshotExtension
from syrupy.extensions.single_file import SingleFileSnapshotExtension, WriteMode
from textual.widgets import Input

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from support import cures, timings
from tui.app import PourbellApp
from tui.session import Session
from tui.states import LOOKS
from tui.widgets.shout import Shout

SMALL, LARGE = (80, 24), (140, 40)

_SPEC = importlib.util.spec_from_file_location(
    "moments", Path(__file__).parents[1] / "pictures" / "moments.py"
)
assert _SPEC is not None
assert _SPEC.loader is not None
moments = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(moments)


class TextExtension(SingleFileSnapshotExtension):
    """A screen as plain text, one file each, that reads in a review."""

    _write_mode = WriteMode.TEXT
    file_extension = "txt"

    def serialize(self, data, **_options):
        return data


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TEXTUAL_FILTERS", "TMUX"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLORTERM", "truecolor")


@pytest.fixture(autouse=True)
def made_up_cures(monkeypatch):
    """Cures of no model: a picture shows the screen, not this year's computation."""

    def cure(session, name, *, low_c=None, cover=None):
        now = session.time.now()
        return cures.cure(now, low_c=low_c, cover=cover, pour=name)

    monkeypatch.setattr(Session, "cure", cure)


@pytest.fixture(autouse=True)
def made_up_lessons(monkeypatch):
    """Lessons of no log, for the same reason."""

    def teacher(app):
        return timings.Teacher(timings.known(app.session.time.now()))

    monkeypatch.setattr(PourbellApp, "learner", property(teacher))


@dataclass(frozen=True)
class Moment:
    """A shop folder at an instant, with a pour in hand; opened anew by every test."""

    folder: ShopFolder
    now: object
    pour: str

    def open(self, theme="dark"):
        text = self.folder.shop_file.read_text()
        text = re.sub(r'theme = "\w+"', f'theme = "{theme}"', text)
        self.folder.shop_file.write_text(text)
        return Session(self.folder, SimulatedTime(self.now))


@pytest.fixture(scope="module")
def moment(tmp_path_factory):
    """Gives a moment by its name; each is lived through only once."""
    lived = {}

    def get(name):
        if name not in lived:
            session = moments.open_shop(tmp_path_factory.mktemp(name))
            pour = getattr(moments, name)(session)
            lived[name] = Moment(session.folder, session.time.now(), pour)
        return lived[name]

    return get


@asynccontextmanager
async def screen(moment, keys, size, theme="dark"):
    """The program at a moment, after some keys."""
    app = PourbellApp(moment.open(theme), first=moment.pour)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        await pilot.press(*keys)
        for line in app.screen.query(Input):
            line.cursor_blink = False
        await app.workers.wait_for_complete()
        app.tick()
        await pilot.pause()
        yield app


def svg(app):
    """The screen as a picture, without the random name of this run and web fonts."""
    picture = re.sub(r"terminal-\d+-", "", app.export_screenshot(title="pourbell"))
    return re.sub(r"\s*@font-face \{.*?\}", "", picture, flags=re.DOTALL)


def strips(app):
    return app.screen._compositor.render_strips()[: app.size.height]


def text(app):
    """The screen as lines of plain text."""
    return "\n".join(strip.text.rstrip() for strip in strips(app)) + "\n"


def lit(app):
    """The rows of the alert block, # where a cell is reversed."""
    height = app.screen.query_one(Shout).size.height
    return [
        "".join(
            ("#" if segment.style and segment.style.reverse else " ")
            * len(segment.text)
            for segment in strip
        )
        for strip in strips(app)[:height]
    ]


SCREENS = {
    "board": ("three_pours", ("b", "plus")),
    "clock": ("desk_waiting", ("c",)),
    "cure": ("bench_curing", ("m",)),
    "log": ("desk_waiting", ("l",)),
    "timings": ("desk_waiting", ("j",)),
    "forecast": ("desk_waiting", ("j", "v")),
    "backtest": ("desk_waiting", ("j", "v", "v")),
    "work": ("desk_waiting", ("j", "space")),
    "help": ("desk_waiting", ("c", "h")),
    "picker": ("desk_waiting", ("p",)),
    "question": ("desk_waiting", ("c", "t", *"19.5", "space", *"form", "space", "1")),
    "opens": ("opens", ("c",)),
    "closes": ("closes", ("c",)),
}
"""Each screen: the moment and the keys that lead to it."""

DRAWN_LARGE = ("board", "clock", "cure", "log", "timings")
"""Drawn at both sizes; of the others the large one is kept as text."""


@pytest.mark.parametrize("name", SCREENS)
async def test_every_screen_at_80x24(name, moment, snapshot):
    when, keys = SCREENS[name]
    async with screen(moment(when), keys, SMALL) as app:
        assert svg(app) == snapshot(extension_class=SVGImageSnapshotExtension)


@pytest.mark.parametrize("name", SCREENS)
async def test_every_screen_at_140x40(name, moment, snapshot):
    when, keys = SCREENS[name]
    async with screen(moment(when), keys, LARGE) as app:
        if name in DRAWN_LARGE:
            assert svg(app) == snapshot(extension_class=SVGImageSnapshotExtension)
        else:
            assert text(app) == snapshot(extension_class=TextExtension)


@pytest.mark.parametrize("name", ["clock", "cure", "timings"])
async def test_in_daylight(name, moment, snapshot):
    when, keys = SCREENS[name]
    async with screen(moment(when), keys, SMALL, theme="light") as app:
        assert svg(app) == snapshot(extension_class=SVGImageSnapshotExtension)


@pytest.mark.parametrize(
    "name",
    ["board", "clock", "cure", "timings", "forecast", "backtest", "opens", "closes"],
)
async def test_without_colour_the_same_words_are_there(name, moment, monkeypatch):
    when, keys = SCREENS[name]
    async with screen(moment(when), keys, SMALL) as app:
        coloured = text(app)
    monkeypatch.setenv("NO_COLOR", "1")
    async with screen(moment(when), keys, SMALL) as app:
        assert app.no_color
        assert text(app) == coloured


async def test_without_colour_a_zone_tells_its_state_by_word_and_glyph(
    moment, monkeypatch
):
    monkeypatch.setenv("NO_COLOR", "1")
    async with screen(moment("desk_waiting"), ("c",), SMALL) as app:
        lines = text(app).splitlines()
    rows = {
        zone: next(line for line in lines if re.match(rf".\d {zone} ", line))
        for zone in ("left leg", "right leg", "top")
    }
    assert f"{LOOKS['open'].glyph} open" in rows["left leg"]
    assert "ready" in rows["left leg"]
    assert f"{LOOKS['waiting'].glyph} waiting" in rows["right leg"]
    assert "soft" in rows["right leg"]
    assert "none" in rows["top"]


async def test_without_colour_opening_and_closing_differ_in_shape(moment, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    async with screen(moment("opens"), ("c",), SMALL) as app:
        opening, words = lit(app), text(app)
        assert app.screen.query_one(Shout).alert.shape == "opens"
    async with screen(moment("closes"), ("c",), SMALL) as app:
        closing = lit(app)
        assert app.screen.query_one(Shout).alert.shape == "closes"
    rule = "#" * SMALL[0]
    assert rule in closing
    assert rule not in opening
    assert "ready" in words


def test_no_picture_shows_where_it_was_made():
    kept = [*Path(__file__).parent.glob("__snapshots__/test_pictures/*")]
    kept += Path(__file__).parents[1].glob("pictures/*.svg")
    assert len(kept) >= len(SCREENS) * 2 + 4
    for path in kept:
        shown = path.read_text(encoding="utf-8")
        assert str(Path.home()) not in shown
        assert "pytest-" not in shown
        assert "terminal-" not in shown
