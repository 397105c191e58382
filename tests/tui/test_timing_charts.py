"""The charts of what was learned: what they show of which numbers."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from scheduling.course import course
from scheduling.learned import Seen
from scheduling.spread import Spread
from support import timings
from tui.timings import actuals
from tui.timings.bands import before_and_after

AT = datetime(2030, 4, 2, 8, 0, tzinfo=UTC)
BEFORE, AFTER = Spread(18.0, 0.54), Spread(14.0, 0.18)


def dots(chart):
    return {one.name: one for one in chart.panels[0].dots}


def lines(chart):
    return {one.name: one for one in chart.panels[0].lines}


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
        found = dots(before_and_after(BEFORE, AFTER, seen=seen))
        assert [x for x, _ in found["not yet"].points] == [11.0, 12.0]
        assert [x for x, _ in found["reached"].points] == [14.0, 9.0]
        assert found["not yet"].glyph != found["reached"].glyph

    def test_no_wait_hides_another(self):
        seen = [Seen("a", 11.0, 14.0)] * 20
        found = dots(before_and_after(BEFORE, AFTER, seen=seen))
        assert len({y for _, y in found["reached"].points}) == 20

    def test_an_absurd_entry_is_odd_at_the_edge_and_squeezes_nothing(self):
        sane = [Seen("a", 11.0, 14.0)]
        plain = before_and_after(BEFORE, AFTER, seen=sane)
        absurd = [*sane, Seen("b", 4000.0, 4003.0, odd=True)]
        chart = before_and_after(BEFORE, AFTER, seen=absurd)
        assert chart.axis.high <= 1.5 * plain.axis.high
        assert len(dots(chart)["odd"].points) == 2
        for x, _ in dots(chart)["odd"].points:
            assert chart.axis.low <= x < chart.axis.high

    def test_the_newest_are_drawn_of_very_many(self):
        seen = [Seen("a", 5.0, 6.0)] * 500 + [Seen("b", 11.0, 14.0)] * 60
        found = dots(before_and_after(BEFORE, AFTER, seen=seen))
        assert {x for x, _ in found["not yet"].points} == {11.0}

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
    def test_castings_stand_over_their_rate_beside_both_factors(self):
        pace = timings.pace(AT)
        chart = actuals.rate_and_actual(pace)
        assert dots(chart)["castings"].points == tuple(
            (one.said.rate_min, one.said.actual_min) for one in pace.seen
        )
        for name, factor in (("default", 1.0), ("learned", 0.82)):
            for x, y in lines(chart)[name].points:
                assert y == pytest.approx(factor * x)

    def test_factors_stand_over_their_days(self):
        pace = timings.pace(AT)
        chart = actuals.over_time(pace, UTC)
        xs = [x for x, _ in dots(chart)["castings"].points]
        assert xs == [one.said.at.timestamp() for one in pace.seen]
        assert actuals.over_time(timings.pace(AT, castings=1), UTC) is None
