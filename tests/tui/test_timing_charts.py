"""The charts of what was learned: what they show of which numbers."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.style import Style

from scheduling.course import course
from scheduling.learned import Replayed, Seen
from scheduling.spread import Spread
from support import timings
from tui.timings import actuals
from tui.timings.bands import before_and_after
from tui.widgets.picture import INKS, Picture
from tui.widgets.spans import packed

AT = datetime(2030, 4, 2, 8, 0, tzinfo=UTC)
NAMES = ("title", "axis", "shaded", "bracket", "now", *INKS)
BEFORE, AFTER = Spread(18.0, 0.54), Spread(14.0, 0.18)


def dots(chart):
    return {one.name: one for one in chart.panels[0].dots}


def lines(chart):
    return {one.name: one for one in chart.panels[0].lines}


def spans(chart):
    return chart.panels[0].spans.each


def drawn(chart, *, width=78, height=9):
    """The rows of a plot as text."""
    styles = {f"plot--{name}": Style() for name in NAMES}
    rows = Picture(chart, width, height, Style(), styles).rows()
    return [row.strip().text for row in rows]


class TestBeforeAndAfter:
    def test_the_brackets_are_the_bands(self):
        chart = before_and_after(BEFORE, AFTER)
        found = {one.label: (one.low, one.at, one.high) for one in chart.brackets}
        for label, band in (("before", BEFORE), ("after", AFTER)):
            assert found[label] == pytest.approx((band.p10, band.p50, band.p90))

    def test_a_curve_is_highest_where_its_band_is_likeliest(self):
        curve = lines(before_and_after(BEFORE, AFTER))["after"]
        x, y = max(curve.points, key=lambda point: point[1])
        mode = AFTER.p50 * 2.718281828 ** (-(AFTER.sigma**2))
        assert x == pytest.approx(mode, rel=0.05)
        assert y == pytest.approx(AFTER.density(mode), rel=0.01)

    def test_before_and_after_differ_in_stroke_and_not_in_colour_alone(self):
        found = lines(before_and_after(BEFORE, AFTER))
        assert found["before"].dotted
        assert not found["after"].dotted

    def test_long_waits_are_shown_in_hours_and_days(self):
        demould = Spread(1080.0, 0.2)
        chart = before_and_after(demould, demould)
        assert chart.panels[0].title == "reference h"
        assert chart.brackets[0].at == pytest.approx(18)
        film = Spread(5 * 1440.0, 0.3)
        assert before_and_after(film, film).brackets[0].at == 5

    def test_what_was_seen_is_marked_at_its_ends(self):
        seen = [Seen("a", 11.0, 14.0), Seen("b", 12.0, None), Seen("c", None, 9.0)]
        found = spans(before_and_after(BEFORE, AFTER, seen=seen))
        assert [(one.low, one.high) for one in found] == [
            (11.0, 14.0),
            (12.0, None),
            (None, 9.0),
        ]

    @pytest.mark.parametrize("height", [6, 8, 9, 12, 30])
    def test_no_wait_hides_another_and_how_many_are_shown_is_said(self, height):
        seen = [Seen("a", 10.0 + n % 5, 13.0 + n % 5) for n in range(37)]
        rows = drawn(before_and_after(BEFORE, AFTER, seen=seen), height=height)
        text = "\n".join(rows)
        opened = text.count("[") - text.count("[ not yet")
        assert opened == text.count("]") - text.count("] reached")
        said = re.search(r"(\d+) of 37 shown", text)
        if said is None:
            assert height < 8 or opened == 37
        else:
            assert opened == int(said[1]) < 37

    def test_those_that_are_shown_are_taken_evenly(self):
        found = packed([(10, 14)] * 37, 4)
        assert [row for _, row in found] == [0, 1, 2, 3]
        assert [place for place, _ in found] == [0, 9, 18, 27]
        apart = packed([(10 * n, 10 * n + 3) for n in range(6)], 2)
        assert len(apart) == 6

    @given(
        st.lists(st.tuples(st.integers(0, 60), st.integers(0, 12)), max_size=80),
        st.integers(0, 20),
    )
    def test_no_two_shown_touch_on_a_row(self, columns, rows):
        each = [(low, low + wide) for low, wide in columns]
        found = packed(each, rows)
        assert len(found) >= min(len(each), rows)
        by_row = {}
        for place, row in found:
            assert 0 <= row < rows
            by_row.setdefault(row, []).append(each[place])
        for ends in by_row.values():
            ends.sort()
            for (_, high), (low, _) in pairwise(ends):
                assert low > high + 1 or len(each) <= rows

    def test_an_absurd_entry_is_odd_at_the_edge_and_squeezes_nothing(self):
        sane = [Seen("a", 11.0, 14.0)]
        plain = before_and_after(BEFORE, AFTER, seen=sane)
        absurd = [*sane, Seen("b", 4000.0, 4003.0, odd=True)]
        chart = before_and_after(BEFORE, AFTER, seen=absurd)
        assert chart.axis.high <= 1.5 * plain.axis.high
        (_, odd) = spans(chart)
        assert odd.odd
        for x in (odd.low, odd.high):
            assert chart.axis.low <= x < chart.axis.high

    @pytest.mark.parametrize("width", [62, 78])
    def test_the_legend_is_whole(self, width):
        """Beside a table at 140 columns, below one at 80."""
        seen = [Seen("a", 11.0, 14.0)] * 37 + [Seen("b", 30.0, 33.0, odd=True)]
        cases = [("ghosting", (9.0,))]
        chart = before_and_after(BEFORE, AFTER, seen=seen, cases=cases)
        text = "\n".join(drawn(chart, width=width, height=9))
        words = "not yet,reached,? odd,of 38 shown,G ghosting,before,after"
        for word in words.split(","):
            assert word in text

    def test_defects_stand_where_they_happened(self):
        cases = [("ghosting", (9.0, 10.0)), ("peel", ())]
        found = dots(before_and_after(BEFORE, AFTER, cases=cases))
        assert [x for x, _ in found["ghosting"].points] == [9.0, 10.0]
        assert "peel" not in found

    def test_a_fixed_value_is_a_bracket_without_a_curve(self):
        chart = before_and_after(Spread(30.0), Spread(30.0))
        assert chart.panels[0].lines == ()
        assert len(chart.brackets) == 2
        assert chart.axis.low < 30 < chart.axis.high


class TestForecasts:
    def test_a_perfect_forecast_lies_on_the_line(self):
        chart = actuals.forecast_and_actual(timings.forecasts(AT, count=12))
        for x, y in lines(chart)["as forecast"].points:
            assert x == y
        assert len(dots(chart)["learned"].points) == 12
        assert {x for x, _ in dots(chart)["default"].points} == {18.0}

    def test_of_no_forecast_there_is_no_chart(self):
        assert actuals.forecast_and_actual([]) is None
        assert actuals.backtest([]) is None

    def test_the_backtest_has_all_three_ways(self):
        found = course(timings.forecasts(AT, count=20))
        chart = actuals.backtest(found)
        assert set(lines(chart)) == {"default", "learned"}
        assert set(dots(chart)) == {"average"}
        assert [y for _, y in lines(chart)["learned"].points] == [
            one.learned_min for one in found
        ]
        assert len(dots(chart)["average"].points) == 20

    def test_a_backtest_without_any_error_is_still_drawn(self):
        found = course(timings.forecasts(AT, count=2))
        assert actuals.backtest(found[:2]) is not None


class TestWork:
    def test_what_steps_took_stands_over_what_was_forecast_before_them(self):
        found = [
            Replayed(one.said, one.said.actual_min, 30, (20, 45), (20, 25, 31), 26)
            for one in timings.pace(AT).seen
        ]
        chart = actuals.forecast_and_actual(found)
        assert dots(chart)["learned"].points == tuple(
            (25.0, one.said.actual_min) for one in found
        )
        assert "actual (up) against forecast (across), min" in chart.panels[0].title

    def test_factors_stand_over_their_days(self):
        pace = timings.pace(AT)
        chart = actuals.over_time(pace, UTC)
        xs = [x for x, _ in dots(chart)["castings"].points]
        assert xs == [one.said.at.timestamp() for one in pace.seen]
        assert actuals.over_time(timings.pace(AT, castings=1), UTC) is None
