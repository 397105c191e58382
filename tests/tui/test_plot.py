"""The plot: every series is seen without colour, at any size, where its values are."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.style import Style
from textual.app import App

from tui.themes import SHOP_DARK, SHOP_LIGHT, variable_defaults
from tui.widgets.chart import (
    Axis,
    Bracket,
    Chart,
    Dots,
    Line,
    Panel,
    Ribbon,
    between,
    number_axis,
    reach,
    round_numbers,
)
from tui.widgets.dots import DotField
from tui.widgets.picture import Picture, Room
from tui.widgets.plot import Plot

PLAIN = {name: Style() for name in Plot.COMPONENT_CLASSES}
AXIS = Axis(0, 10, ((0, "zero"), (5, "five")))
SLOPE = ((0.0, 0.0), (10.0, 10.0))


def draw(chart, width=60, height=14):
    """The rows of a chart without any colour."""
    picture = Picture(chart, width, height, Style(), PLAIN)
    return [row.strip().text for row in picture.rows()]


def one(panel, **more):
    return Chart(AXIS, (panel,), **more)


def dots(rows):
    """How many braille dots there are."""
    return sum(
        (ord(letter) - 0x2800).bit_count()
        for row in rows
        for letter in row
        if 0x2800 <= ord(letter) <= 0x28FF
    )


numbers = st.floats(-1e6, 1e6, allow_subnormal=False)
xs = st.floats(-5, 15).map(lambda x: round(x, 3))
ordered = st.lists(xs, max_size=8).map(sorted)


@st.composite
def points(draw_, values=1):
    found = draw_(ordered)
    return tuple((x, *draw_(st.tuples(*[numbers] * values))) for x in found)


ribbons = points(2).map(
    lambda held: tuple((x, min(a, b), max(a, b)) for x, a, b in held)
)
panels = st.builds(
    Panel,
    st.sampled_from(["", "temperature, °C", "x" * 70]),
    lines=st.lists(
        st.builds(Line, st.just("line"), points(), dotted=st.booleans()), max_size=2
    ).map(tuple),
    ribbons=st.lists(st.builds(Ribbon, st.just("ribbon"), ribbons), max_size=1).map(
        tuple
    ),
    dots=st.lists(st.builds(Dots, st.just("dots"), points()), max_size=1).map(tuple),
    base=st.none() | st.just(0.0),
)
brackets = st.lists(xs, min_size=3, max_size=3).map(
    lambda held: Bracket("label", *sorted(held))
)
charts = st.builds(
    Chart,
    st.just(AXIS),
    st.lists(panels, min_size=1, max_size=3).map(tuple),
    st.lists(brackets, max_size=5).map(tuple),
    st.none() | xs,
    st.just(((2.0, 4.0),)),
)


class TestAnySize:
    @given(charts, st.integers(0, 200), st.integers(0, 60))
    @settings(max_examples=150, deadline=None)
    def test_rows_are_as_wide_as_the_widget_and_no_more_than_it_has(
        self, chart, width, height
    ):
        rows = draw(chart, width, height)
        assert len(rows) in (0, height)
        assert {len(row) for row in rows} <= {width}

    @given(st.integers(0, 60), st.integers(1, 3), st.integers(0, 6))
    @settings(max_examples=200, deadline=None)
    def test_every_row_is_given_out_once(self, height, count, wanted):
        room = Room.of(height, count, wanted)
        if room is None:
            assert height < count
            return
        used = sum(room.panels) + room.titles * count + room.brackets + room.labels
        assert used == height
        assert min(room.panels) >= 1
        assert max(room.panels) - min(room.panels) <= 1
        assert room.brackets <= wanted

    @pytest.mark.parametrize("size", [(20, 5), (40, 8), (80, 12), (200, 60)])
    def test_a_line_is_seen(self, size):
        assert dots(draw(one(Panel("t", (Line("a", SLOPE),))), *size)) >= size[0]


class TestWithoutColour:
    def test_every_series_leaves_a_mark_of_its_own(self):
        whole = Panel(
            "strength",
            lines=(Line("median", SLOPE), Line("air", ((0, 8), (10, 8)), dotted=True)),
            ribbons=(Ribbon("band", ((0, 1, 3), (10, 7, 9))),),
            dots=(Dots("read", ((2.0, 2.0),)),),
        )
        seen = draw(one(whole))
        for part in ("lines", "ribbons", "dots"):
            fewer = {"lines": whole.lines[:1]} if part == "lines" else {part: ()}
            held = {"ribbons": whole.ribbons, "dots": whole.dots, "lines": whole.lines}
            without = Panel("strength", **(held | fewer))
            assert draw(one(without)) != seen, part

    def test_the_legend_shows_the_stroke_of_each(self):
        panel = Panel(
            "temperature",
            lines=(Line("air", SLOPE, dotted=True), Line("piece", SLOPE)),
            ribbons=(Ribbon("band", ((0, 1, 3), (10, 7, 9))),),
            dots=(Dots("read", ((2.0, 2.0),)),),
        )
        title = draw(one(panel), width=100)[0]
        strokes = {
            title[title.index(name) - 4 : title.index(name)].strip()
            for name in ("air", "piece", "band", "read")
        }
        assert len(strokes) == 4
        assert "o" in strokes

    def test_a_line_has_a_dot_in_every_column_and_a_dotted_one_in_half(self):
        flat = ((0, 5), (10, 5))
        field = DotField(20, 4, AXIS, (0, 10))
        field.line(Line("a", flat))
        half = DotField(20, 4, AXIS, (0, 10))
        half.line(Line("a", flat, dotted=True))

        def count(drawn):
            return sum(
                (ord(found[0]) - 0x2800).bit_count()
                for row in range(4)
                for column in range(20)
                if (found := drawn.cell(row, column))
            )

        assert (count(field), count(half)) == (40, 20)

    def test_a_steep_line_does_not_break(self):
        step = ((0.0, 0.0), (4.99, 0.0), (5.01, 10.0), (10.0, 10.0))
        field = DotField(20, 6, AXIS, (0, 10))
        field.line(Line("a", step))
        used = {r for r in range(6) for c in range(20) if field.cell(r, c)}
        assert used == set(range(6))

    def test_closed_hours_are_dots_on_the_axis(self):
        chart = Chart(Axis(0, 10), (Panel("t", (Line("a", SLOPE),)),), shaded=((0, 5),))
        rows = draw(chart, width=43)
        assert rows[-1] == "   " + "·" * 20 + " " * 20

    def test_now_is_a_bar_through_everything_and_a_word(self):
        chart = one(Panel("t"), now=5.0, brackets=(Bracket("hone", 1, 2, 3),))
        *rows, axis = draw(chart, width=62)[1:]
        column = axis.index("now")
        assert {row[column] for row in rows} == {"│"}


class TestWhere:
    def test_a_dot_stands_at_its_x_and_y(self):
        panel = Panel("t", dots=(Dots("read", ((0.0, 0.0), (9.99, 10.0), (5.0, 5.0))),))
        rows = draw(one(panel), width=40, height=13)[1:-1]
        places = [(y, row.index("o")) for y, row in enumerate(rows) if "o" in row]
        assert [y for y, _ in places] == [0, 5, 10]
        assert [x for _, x in places] == sorted((x for _, x in places), reverse=True)
        assert places[0][1] == 39

    def test_what_the_axis_does_not_show_is_not_drawn(self):
        panel = Panel("t", dots=(Dots("read", ((-1.0, 5.0), (11.0, 5.0))),))
        assert not any("o" in row for row in draw(one(panel))[1:-1])

    def test_a_line_ends_where_its_points_do(self):
        panel = Panel("t", (Line("a", ((5.0, 1.0), (10.0, 2.0))),))
        for row in draw(one(panel), width=60)[1:-1]:
            assert not any(ord(letter) > 0x2800 for letter in row[:30])

    def test_the_scale_names_rows_by_their_value(self):
        panel = Panel("t", (Line("a", ((0.0, 0.0), (10.0, 40.0))),), base=0.0)
        rows = draw(one(panel), height=24)[1:-1]
        labels = {int(row[:2]): y for y, row in enumerate(rows) if row[:2].strip()}
        assert len(labels) >= 3
        for (low, below), (high, above) in pairwise(sorted(labels.items())):
            # 21 rows stand for 0 to 41.6, and a label is in the row of its dot.
            assert below - above == pytest.approx((high - low) / 41.6 * 21, abs=1.5)
        assert labels[0] == len(rows) - 1

    def test_a_label_of_the_axis_begins_at_its_place(self):
        rows = draw(one(Panel("t", (Line("a", SLOPE),))), width=44)
        assert rows[-1].index("five") - rows[-1].index("zero") in (20, 21)


class TestBrackets:
    def draw(self, *held, width=64, height=20):
        chart = Chart(AXIS, (Panel("t"),), held)
        return draw(chart, width, height)

    def test_shows_both_ends_the_middle_and_the_label(self):
        row = next(r for r in self.draw(Bracket("hone", 2, 4, 6)) if "hone" in r)
        assert row.index("├") < row.index("┼") < row.index("┤") < row.index("hone")

    def test_a_line_goes_up_from_the_middle(self):
        rows = self.draw(Bracket("hone", 2, 4, 6))
        at = next(r for r in rows if "hone" in r).index("┼")
        assert sum(row[at] == "┊" for row in rows) >= 10

    def test_overlapping_ones_take_rows_of_their_own(self):
        rows = self.draw(Bracket("hone", 2, 4, 6), Bracket("slurry", 2, 4, 6))
        assert not any("hone" in row and "slurry" in row for row in rows)
        assert any("hone" in row for row in rows)
        assert any("slurry" in row for row in rows)

    def test_those_that_have_room_share_a_row(self):
        rows = self.draw(Bracket("hone", 0, 1, 2), Bracket("seal", 6, 7, 8))
        assert any("hone" in row and "seal" in row for row in rows)

    def test_one_that_goes_on_has_no_end_there(self):
        row = next(r for r in self.draw(Bracket("seal", 5, 8, 99)) if "seal" in r)
        assert "┤" not in row
        assert row.index("seal") < row.index("├")

    def test_one_outside_is_not_shown(self):
        assert not any("seal" in row for row in self.draw(Bracket("seal", 11, 12, 13)))

    def test_where_there_is_little_room_the_first_stay(self):
        held = [Bracket(name, 1, 5, 9) for name in ("hone", "slurry", "seal")]
        rows = self.draw(*held, height=7)
        assert any("hone" in row for row in rows)
        assert not any("slurry" in row for row in rows)


class TestNumbers:
    @given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6), st.integers(1, 12))
    @settings(max_examples=200, deadline=None)
    def test_round_numbers_lie_between_the_ends(self, low, span, most):
        found = round_numbers(low, low + span, most)
        assert 2 <= len(found) <= max(most + 1, 6)
        slack = 1e-9 * max(1.0, abs(low), span)
        assert low - slack <= found[0] < found[-1] <= low + span + slack

    @pytest.mark.parametrize(
        ("low", "high", "most", "found"),
        [
            (12, 27, 2, [15, 20, 25]),
            (0, 40, 4, [0, 10, 20, 30, 40]),
            (-3, 3, 3, [-2, 0, 2]),
            (0, 0.5, 5, [0, 0.1, 0.2, 0.3, 0.4, 0.5]),
        ],
    )
    def test_round_numbers(self, low, high, most, found):
        assert round_numbers(low, high, most) == pytest.approx(found)

    def test_an_axis_of_numbers(self):
        axis = number_axis(0, 48, 4)
        assert axis.ticks == ((0, "0"), (20, "20"), (40, "40"))

    @given(points().filter(bool), st.floats(0, 1))
    @settings(max_examples=100, deadline=None)
    def test_between_points_lies_between_their_values(self, held, share):
        x = held[0][0] + share * (held[-1][0] - held[0][0])
        y = between(held, min(x, held[-1][0]))
        low, high = min(y for _, y in held), max(y for _, y in held)
        assert low - 1e-6 <= y <= high + 1e-6

    def test_reach_counts_what_crosses_the_edge(self):
        panel = Panel("t", (Line("a", ((-10.0, 0.0), (20.0, 30.0))),))
        low, high = reach(panel, AXIS)
        assert 9 < low < 10
        assert 20 < high < 21

    def test_reach_of_a_flat_line_has_room(self):
        assert reach(Panel("t", (Line("a", ((0, 5), (10, 5))),)), AXIS) == (4, 6)

    def test_reach_of_nothing(self):
        assert reach(Panel("t"), AXIS) == (0, 1)


class Tiny(App[None]):
    def __init__(self):
        super().__init__()
        self.register_theme(SHOP_DARK)
        self.register_theme(SHOP_LIGHT)
        self.theme = SHOP_DARK.name
        self.plot = Plot()

    def get_theme_variable_defaults(self):
        return variable_defaults()

    def compose(self):
        yield self.plot

    def shown(self):
        return "\n".join(
            strip.text.rstrip() for strip in self.screen._compositor.render_strips()
        )

    def inks(self):
        return {
            segment.style.color.name
            for strip in self.screen._compositor.render_strips()
            for segment in strip
            if segment.style and segment.style.color and segment.text.strip()
        }


async def test_the_widget_shows_a_chart_and_its_end(monkeypatch):
    monkeypatch.delenv("NO_COLOR", raising=False)
    app = Tiny()
    panel = Panel("t", (Line("a", SLOPE), Line("b", SLOPE, "second")))
    async with app.run_test(size=(60, 12)) as pilot:
        assert not app.shown().strip()
        app.plot.show(one(panel))
        await pilot.pause()
        assert dots(app.shown().split("\n")) > 60
        assert "five" in app.shown()
        dark = app.inks()
        app.theme = SHOP_LIGHT.name
        await pilot.pause()
        assert not app.inks() & dark
        app.plot.show(None)
        await pilot.pause()
        assert not app.shown().strip()


async def test_the_same_chart_is_not_drawn_again():
    app = Tiny()
    async with app.run_test(size=(60, 12)) as pilot:
        app.plot.show(one(Panel("t", (Line("a", SLOPE),))))
        await pilot.pause()
        strips = app.plot._strips
        app.plot.show(one(Panel("t", (Line("a", SLOPE),))))
        await pilot.pause()
        assert app.plot._strips is strips
