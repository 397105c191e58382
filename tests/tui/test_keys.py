"""The table of keys: every action is there, every key means one thing."""

from __future__ import annotations

import ast
import re
import string
from collections import Counter

import pytest
from rich.console import Console

from tui.app import PourbellApp
from tui.keys import ACTIONS, SHOWN, actions, bindings, foot
from tui.screens.board import BoardScreen
from tui.screens.cure import CureScreen
from tui.screens.helpscreen import HelpScreen
from tui.screens.logscreen import LogScreen
from tui.screens.pourclock import PourClockScreen
from tui.screens.timings import TimingsScreen

SCREENS = {
    "board": BoardScreen,
    "clock": PourClockScreen,
    "cure": CureScreen,
    "log": LogScreen,
    "timings": TimingsScreen,
}
HOMES = {"everywhere": PourbellApp, **SCREENS}

SAFE = {
    *string.ascii_lowercase,
    *string.digits,
    *("up", "down", "left", "right", "space", "enter", "escape", "home"),
    *("plus", "minus", "full_stop", "question_mark", "equals_sign"),
    *(f"f{number}" for number in range(1, 13)),
}
"""Keys that arrive over ssh and in tmux, with a glove, in every terminal."""

SPARE = {"ctrl+j", "ctrl+p"}
"""Second names of an action that has a safe key: what a keypad's Enter sends, and the
palette where people look for it."""

STRAY = {"ctrl+q", "ctrl+c"}
"""What every Textual program has of its own."""


def called(action):
    """The method an action calls and the values it hands over."""
    name, _, rest = action.id.partition("(")
    return f"action_{name}", ast.literal_eval(f"({rest[:-1]},)") if rest else ()


@pytest.mark.parametrize("action", ACTIONS, ids=lambda a: f"{a.where}.{a.id}")
class TestEveryAction:
    def test_is_a_method_where_it_works(self, action):
        name, values = called(action)
        method = getattr(HOMES[action.where], name)
        assert method.__doc__
        assert method.__code__.co_argcount == 1 + len(values)

    def test_has_a_safe_key_first_and_no_unsafe_one(self, action):
        keys = action.keys.split(",")
        assert keys[0] in SAFE
        assert set(keys) <= SAFE | SPARE

    def test_is_said_in_words(self, action):
        assert action.words
        assert action.help.endswith(".")
        assert action.help[0].isupper()

    def test_shows_its_key_as_it_is_printed(self, action):
        first = action.keys.split(",")[0]
        assert len(action.key) == 1 or action.key in {*SHOWN.values(), "home"}
        assert "_" not in action.key
        assert first in SAFE


@pytest.mark.parametrize("where", SCREENS)
class TestEveryScreen:
    def test_a_key_means_one_thing(self, where):
        keys = Counter(
            key for action in actions(where) for key in action.keys.split(",")
        )
        assert [key for key, count in keys.items() if count > 1] == []

    def test_a_bound_key_is_in_the_table(self, where):
        table = {key for action in actions(where) for key in action.keys.split(",")}
        screen = SCREENS[where]
        bound = {
            key.strip() for binding in screen.BINDINGS for key in binding.key.split(",")
        }
        assert bound == {
            key for a in ACTIONS if a.where == where for key in a.keys.split(",")
        }
        assert bound <= table

    def test_its_bindings_have_an_id_each(self, where):
        ids = [binding.id for binding in bindings(where)]
        assert all(ids)
        assert len(set(ids)) == len(ids)

    @pytest.mark.parametrize("width", [80, 100, 140])
    def test_the_foot_fits_whole(self, where, width):
        lines = foot(where, width - 2).plain.split("\n")
        assert len(lines) <= 3  # the height that app.tcss leaves it
        assert all(len(line) <= width - 2 for line in lines)

    def test_the_foot_is_in_the_help(self, where):
        page = help_page(where)
        for action in actions(where):
            if action.foot:
                assert re.search(
                    rf"^ +{re.escape(action.key)} +{re.escape(action.words)} ",
                    page,
                    re.MULTILINE,
                ), action.id

    def test_the_help_begins_with_the_screen_it_was_called_from(self, where):
        title = {
            "board": "Board",
            "clock": "Pour clock",
            "cure": "Cure",
            "log": "Log",
            "timings": "Timings",
        }[where]
        assert help_page(where).splitlines()[2].startswith(title)


def help_page(where):
    console = Console(width=100, color_system=None)
    with console.capture() as page:
        console.print(HelpScreen(where, {}).page())
    return page.get()


def test_every_action_is_in_the_help():
    page = help_page("clock")
    for action in ACTIONS:
        words = "zone" if action.id.startswith("zone(") else action.words
        assert words in page, action.id


def test_the_app_binds_nothing_else():
    bound = {
        key
        for binding in PourbellApp.BINDINGS
        for key in (binding.key if hasattr(binding, "key") else binding[0]).split(",")
    }
    table = {
        key for a in ACTIONS if a.where == "everywhere" for key in a.keys.split(",")
    }
    assert bound - STRAY == table
