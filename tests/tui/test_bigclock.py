"""The big clock: dot letters that fit, keep their shape, and repaint only on change."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from textual.app import App
from textual.color import Color
from textual.geometry import Region

from tui.states import State
from tui.themes import SHOP_DARK, SHOP_LIGHT, variable_defaults
from tui.widgets.bigclock import DOTS, BigClock, Lettering, dots_across, fit

TEXTS = st.text(sorted(DOTS), min_size=1, max_size=8)


class Tiny(App[None]):
    def __init__(self, text="12:34", state=State.OPEN, theme="shop-dark"):
        super().__init__()
        self.register_theme(SHOP_DARK)
        self.register_theme(SHOP_LIGHT)
        self.theme = theme
        self.clock = Watched(text, state)

    def get_theme_variable_defaults(self):
        return variable_defaults()

    def compose(self):
        yield self.clock


class Watched(BigClock):
    """Counts the rows it is asked to paint."""

    painted = 0

    def render_line(self, y):
        self.painted += 1
        return super().render_line(y)


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME"):
        monkeypatch.delenv(name, raising=False)


def strips(app):
    clock = app.clock
    return clock.render_lines(Region(0, 0, clock.size.width, clock.size.height))


def seen(app):
    """What stands on the screen: # for a reversed cell, else its character."""
    return [
        "".join(
            ("#" * len(text)) if style.reverse and not text.strip() else text
            for text, style, _ in strip
        )
        for strip in strips(app)
    ]


def ground(app):
    """Colours of the first cell as a person sees them: (background, letter)."""
    _, style, _ = next(iter(strips(app)[0]))
    pair = [Color.from_rich_color(c) for c in (style.bgcolor, style.color)]
    return tuple(reversed(pair)) if style.reverse else tuple(pair)


class TestDots:
    def test_every_letter_digit_and_sign_is_there(self):
        assert set("0123456789:+- ABCDEFGHIJKLMNOPQRSTUVWXYZ") <= set(DOTS)

    @pytest.mark.parametrize("char", sorted(DOTS))
    def test_five_rows_of_one_width(self, char):
        rows = DOTS[char].split()
        assert len(rows) == 5
        assert len({len(row) for row in rows}) == 1
        assert set("".join(rows)) <= {"#", "."}

    def test_no_two_look_the_same_but_o_and_s(self):
        looks = {}
        for char, dots in DOTS.items():
            looks.setdefault(dots, set()).add(char)
        shared = {frozenset(chars) for chars in looks.values() if len(chars) > 1}
        # As on any counter: the neighbours tell them apart.
        assert shared == {frozenset("O0"), frozenset("S5")}


class TestFit:
    @given(TEXTS, st.integers(0, 160), st.integers(0, 60))
    @settings(max_examples=300, deadline=None)
    def test_stays_inside_and_is_not_distorted(self, text, width, height):
        lettering = fit(text, width, height)
        if lettering is None:
            assert height < 5 or width < dots_across(text)
            return
        lines = lettering.lines()
        assert len(lines) == lettering.height <= height
        assert {len(line) for line in lines} == {lettering.width}
        assert lettering.width <= width
        assert lettering.stroke <= lettering.dot <= 3 * lettering.stroke
        assert lettering.stroke <= lettering.rise <= 2 * lettering.stroke

    @given(TEXTS, st.integers(1, 120), st.integers(5, 40))
    @settings(max_examples=200, deadline=None)
    def test_more_room_never_shrinks_it(self, text, width, height):
        small = fit(text, width, height)
        if small is not None:
            large = fit(text, width + 7, height + 3)
            assert large is not None
            assert large.stroke >= small.stroke

    @pytest.mark.parametrize("text", ["", "12€", "a\x1bb"])
    def test_what_has_no_dots_does_not_fit(self, text):
        assert fit(text, 200, 50) is None

    def test_the_picture(self):
        assert Lettering("1:0", 1, 1, 1).lines() == (
            " #    ###",
            "##  # # #",
            " #    # #",
            " #  # # #",
            "###   ###",
        )

    def test_a_dot_is_whole_cells(self):
        assert Lettering("7", 2, 1, 2).lines() == (
            "######",
            "    ##",
            "    ##",
            "    ##",
            "    ##",
            "    ##",
            "    ##",
        )


class TestWidget:
    @pytest.mark.parametrize("size", [(80, 24), (140, 40), (40, 7)])
    async def test_fills_most_of_its_room(self, size):
        app = Tiny("12:34")
        async with app.run_test(size=size):
            rows = [row for row in seen(app) if "#" in row]
            wide = max(len(row.strip()) for row in rows)
            assert len(rows) >= 5
            assert wide >= 0.7 * size[0] or len(rows) >= 0.7 * size[1]
            assert not any(char not in "# " for row in seen(app) for char in row)

    @pytest.mark.parametrize("size", [(80, 4), (12, 24)])
    async def test_too_small_is_plain_bold_text(self, size):
        app = Tiny("12:34")
        async with app.run_test(size=size):
            assert [row.strip() for row in seen(app) if row.strip()] == ["12:34"]
            styles = [s for strip in strips(app) for t, s, _ in strip if t.strip()]
            assert all(style.bold for style in styles)

    async def test_plain_text_lets_no_control_through(self):
        app = Tiny("soon \x1b[2J")
        async with app.run_test(size=(80, 24)):
            assert [row.strip() for row in seen(app) if row.strip()] == ["soon [2J"]

    @pytest.mark.parametrize("size", [(1, 1), (3, 2), (2, 30), (300, 100)])
    async def test_any_size_is_filled_exactly(self, size):
        app = Tiny("12:34", State.CLOSING)
        async with app.run_test(size=size):
            assert [strip.cell_length for strip in strips(app)] == [size[0]] * size[1]

    async def test_the_same_text_repaints_nothing(self):
        app = Tiny("12:34")
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            app.clock.painted = 0
            app.clock.text = "12:34"
            app.clock.state = State.OPEN
            await pilot.pause()
            assert app.clock.painted == 0
            before = seen(app)
            app.clock.text = "12:33"
            await pilot.pause()
            assert app.clock.painted == 24
            assert seen(app) != before

    @pytest.mark.parametrize("state", State)
    @pytest.mark.parametrize("theme", ["shop-dark", "shop-light"])
    async def test_wears_the_colour_of_its_state(self, state, theme):
        app = Tiny("NOW", state, theme)
        async with app.run_test(size=(40, 9)):
            named = app.get_css_variables()
            ink = Color.parse(named[f"state-{state}-ink"])
            back = Color.parse(named["background"])
            cut_out = state in {State.CLOSING, State.CLOSED, State.LATE}
            assert ground(app) == ((ink, back) if cut_out else (back, ink))

    async def test_a_closing_window_differs_without_colour(self):
        app = Tiny("4:59", State.OPEN)
        async with app.run_test(size=(60, 9)) as pilot:
            calm = seen(app)
            app.clock.state = State.CLOSING
            await pilot.pause()
            assert calm[0].strip() == ""
            assert seen(app)[0] == "#" * 60

    @pytest.mark.parametrize("height", [5, 6])
    async def test_a_low_clock_keeps_big_letters_between_bars(self, height):
        app = Tiny("4:59", State.CLOSING)
        async with app.run_test(size=(60, height)):
            rows = seen(app)
            assert all(row.startswith("## ") and row.endswith(" ##") for row in rows)
            assert sum("#" in row[2:-2] for row in rows) == 5

    async def test_letters_show_under_no_color(self, monkeypatch):
        monkeypatch.setenv("NO_COLOR", "1")
        app = Tiny("NOW", State.WATCHED)
        async with app.run_test(size=(60, 9)):
            assert app.no_color
            assert any("#" in row and " " in row.strip() for row in seen(app))
            for part in ground(app):
                assert part.r == part.g == part.b

    async def test_a_new_theme_changes_the_colours(self):
        app = Tiny("NOW", State.OPEN)
        async with app.run_test(size=(60, 9)) as pilot:
            dark = ground(app)
            app.theme = "shop-light"
            await pilot.pause()
            assert ground(app) != dark
            assert ground(app)[0] == Color.parse(SHOP_LIGHT.background)
