"""The alert takeover: seen from afar, told apart by shape, safe in any room."""

from __future__ import annotations

import asyncio
import itertools

import pytest
from textual.app import App
from textual.geometry import Region
from textual.widgets import Static

from tui.themes import SHOP_DARK, SHOP_LIGHT, variable_defaults
from tui.widgets.shout import Shout, ShoutText

SIZES = pytest.mark.parametrize("size", [(80, 24), (140, 40)], ids=str)
SHAPES = ("opens", "closes", "note")


def says(shape="opens", word="OPEN", repeat=0, line="Leg zone: lift 1 now"):
    return ShoutText(shape, word, line, "SPACE heard", repeat)


class Tiny(App[None]):
    def __init__(self, alert=None, theme="shop-dark"):
        super().__init__()
        self.register_theme(SHOP_DARK)
        self.register_theme(SHOP_LIGHT)
        self.theme = theme
        self.shout = Shout()
        self.under = Static("the pour clock", id="under")
        self.shout.alert = alert

    def get_theme_variable_defaults(self):
        return variable_defaults()

    def compose(self):
        yield self.under
        yield self.shout


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME"):
        monkeypatch.delenv(name, raising=False)


def strips(app):
    width, height = app.shout.size
    return app.shout.render_lines(Region(0, 0, width, height))


def seen(app):
    """What stands on the block without any colour: # for a reversed blank."""
    return [
        "".join(
            ("#" * len(text)) if style.reverse and not text.strip() else text
            for text, style, _ in strip
        )
        for strip in strips(app)
    ]


def flipped(rows):
    return [row.translate(str.maketrans("# ", " #")) for row in rows]


def bare(rows):
    """The picture rows: those that carry no words."""
    return [row for row in rows if not row.strip("# ")]


class TestShowing:
    @SIZES
    async def test_hidden_until_there_is_an_alert(self, size):
        app = Tiny()
        async with app.run_test(size=size) as pilot:
            assert not app.shout.display
            app.shout.alert = says()
            await pilot.pause()
            assert app.shout.display
            app.shout.alert = None
            await pilot.pause()
            assert not app.shout.display

    @SIZES
    async def test_takes_the_top_half_and_moves_nothing(self, size):
        app = Tiny()
        async with app.run_test(size=size) as pilot:
            before = app.under.region
            app.shout.alert = says()
            await pilot.pause()
            assert app.shout.region == Region(0, 0, size[0], size[1] // 2)
            assert app.under.region == before
            top, _ = app.screen.get_widget_at(1, 0)
            assert top is app.shout

    @SIZES
    @pytest.mark.parametrize("shape", SHAPES)
    async def test_the_words_and_the_key_are_written_out(self, size, shape):
        app = Tiny(says(shape))
        async with app.run_test(size=size):
            block = "\n".join(strip.text for strip in strips(app))
            assert "Leg zone: lift 1 now" in block
            assert "SPACE heard" in block

    @SIZES
    @pytest.mark.parametrize(
        ("shape", "word"),
        [
            ("opens", "OPEN"),
            ("closes", "CLOSING"),
            ("closes", "CLOSED"),
            ("note", "TOUCH"),
            ("note", "MIX"),
            ("note", "COVER"),
        ],
    )
    async def test_the_word_is_at_least_five_rows_high(self, size, shape, word):
        app = Tiny(says(shape, word))
        async with app.run_test(size=size):
            rows = [row for row in bare(seen(app)) if " " in row and "#" in row]
            ground = "####" if shape == "note" else ""
            lettered = [row for row in rows if row.strip() not in {ground, ""}]
            assert len(lettered) >= (5 if size[1] < 40 else 10)


class TestShapes:
    @SIZES
    async def test_the_three_differ_without_colour(self, size):
        pictures = []
        for shape in SHAPES:
            app = Tiny(says(shape, "MIX"))
            async with app.run_test(size=size):
                pictures.append(seen(app))
        for one, other in itertools.combinations(pictures, 2):
            different = sum(
                a != b
                for p, q in zip(one, other, strict=True)
                for a, b in zip(p, q, strict=True)
            )
            assert different > 0.1 * size[0] * size[1] // 2
            assert one not in (other, flipped(other))

    @SIZES
    async def test_only_a_closing_window_has_rules(self, size):
        for shape in SHAPES:
            app = Tiny(says(shape, "MIX"))
            async with app.run_test(size=size):
                rows = seen(app)
                full = "#" * size[0]
                assert (rows[0] == full) == (shape == "closes")
                last = rows[-1]
                assert (last[0] == last[-1] == "#") == (shape != "opens")

    @SIZES
    @pytest.mark.parametrize(
        ("shape", "outwards"), [("opens", True), ("closes", False)]
    )
    async def test_which_way_the_chevrons_point(self, size, shape, outwards):
        app = Tiny(says(shape, "MIX"))
        async with app.run_test(size=size):
            picture = [row for row in bare(seen(app)) if " " in row and "#" in row]
            tip = picture[len(picture) // 2]
            end = picture[0]
            first = [row.index("#") for row in (tip, end)]
            last = [row.rindex("#") for row in (tip, end)]
            assert (first[0] < first[1]) == outwards
            assert (last[0] > last[1]) == outwards

    @pytest.mark.parametrize("shape", SHAPES)
    async def test_each_repeat_turns_the_whole_block_over(self, shape):
        app = Tiny(says(shape))
        async with app.run_test(size=(80, 24)) as pilot:
            first = bare(seen(app))
            app.shout.alert = says(shape, repeat=1)
            await pilot.pause()
            assert bare(seen(app)) == flipped(first)
            app.shout.alert = says(shape, repeat=2)
            await pilot.pause()
            assert bare(seen(app)) == first

    @pytest.mark.parametrize("shape", SHAPES)
    async def test_the_picture_is_the_same_under_no_color(self, shape, monkeypatch):
        app = Tiny(says(shape))
        async with app.run_test(size=(80, 24)):
            coloured = seen(app)
        monkeypatch.setenv("NO_COLOR", "1")
        app = Tiny(says(shape))
        async with app.run_test(size=(80, 24)):
            assert app.no_color
            assert seen(app) == coloured

    async def test_it_does_not_repaint_by_itself(self, monkeypatch):
        painted = []
        paint = Shout.render_line
        monkeypatch.setattr(
            Shout, "render_line", lambda self, y: painted.append(y) or paint(self, y)
        )
        app = Tiny(says())
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            painted.clear()
            app.shout.alert = says()
            await asyncio.sleep(0.2)
            await pilot.pause()
            assert painted == []

    async def test_a_new_theme_changes_the_colours(self):
        app = Tiny(says())
        async with app.run_test(size=(80, 24)) as pilot:
            before = [list(strip) for strip in strips(app)]
            app.theme = "shop-light"
            await pilot.pause()
            assert [list(strip) for strip in strips(app)] != before


class TestAnyRoom:
    @pytest.mark.parametrize("shape", SHAPES)
    async def test_every_size_is_filled_exactly(self, shape):
        long = "Top zone closes in 6 min: 2.1 m2 still bare, two more packers or fog"
        app = Tiny(says(shape, "CLOSING", line=long))
        async with app.run_test(size=(80, 24)) as pilot:
            for size in (
                (1, 1),
                (5, 3),
                (20, 8),
                (33, 18),
                (60, 60),
                (200, 24),
                (81, 19),
            ):
                await pilot.resize_terminal(*size)
                await pilot.pause()
                width, height = app.shout.size
                # In the tiniest a scroll bar of the screen takes its share.
                assert width == size[0] or size[0] < 10
                assert [strip.cell_length for strip in strips(app)] == [width] * height

    @pytest.mark.parametrize(
        ("shape", "text"),
        [
            ("opens", "<<<  OPEN  >>>"),
            ("closes", ">>>  OPEN  <<<"),
            ("note", "||  OPEN"),
        ],
    )
    async def test_a_small_room_keeps_word_shape_line_and_key(self, shape, text):
        app = Tiny(says(shape))
        async with app.run_test(size=(40, 10)):
            block = "\n".join(strip.text for strip in strips(app))
            assert text in block
            assert "Leg zone: lift 1 now" in block
            assert "SPACE heard" in block

    async def test_a_long_line_is_cut_with_dots(self):
        app = Tiny(says(line="word " * 60))
        async with app.run_test(size=(80, 24)):
            block = [strip.text for strip in strips(app)]
            assert any(row.rstrip().endswith("...") for row in block)

    @pytest.mark.parametrize("shape", SHAPES)
    async def test_hostile_text_is_harmless(self, shape):
        bad = "[/red] \x1b[2J\x07 \u202eevil [bold"
        app = Tiny(ShoutText(shape, bad, bad, bad))
        async with app.run_test(size=(80, 24)):
            block = "".join(strip.text for strip in strips(app))
            assert not set(block) & set("\x1b\x07\u202e")
            assert "[/red]" in block

    async def test_an_empty_line_and_wide_letters(self):
        app = Tiny(ShoutText("closes", "開", "", "空白 確認" * 20))
        async with app.run_test(size=(80, 24)):
            assert {strip.cell_length for strip in strips(app)} == {80}
