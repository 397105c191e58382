"""What was learned, in words and in letters on lines."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.learned import LearnedPace, Score, Trend
from scheduling.units import Units
from scheduling.work import HANDS_ON, RATES
from tui.textplot import Letters, against
from tui.timings import words

MARCH = datetime(2030, 3, 4, 8, tzinfo=UTC)


def said(change, low, high, *, told):
    trend = Trend(MARCH, 12, change, low, high, told)
    pace = LearnedPace("lift", HANDS_ON, HANDS_ON, 12, (), trend, ())
    return words.trend(pace, UTC)


def test_a_trend_is_claimed_only_where_it_is_sure():
    assert said(-0.18, -0.27, -0.08, told=True) == (
        "faster by 18 % since March 2030, 12 castings (8 in 10: 8 to 27 %)"
    )
    assert said(0.1, 0.02, 0.2, told=True).startswith("slower by 10 % since March 2030")
    assert said(-0.18, -0.3, -0.04, told=False) == (
        "neither faster nor slower for sure since March 2030, 12 castings"
    )


def test_rates_are_said_by_the_unit_of_the_shop():
    assert words.rates("lift", 1.0, 0.86, Units("si")) == (
        "8.0 -> 6.9 min/m² flat, 20.5 -> 17.6 min/m² upright"
    )
    # 8 min/m2 x 0.09290304 m2/ft2, 1 ft2 being 0.3048 m squared.
    assert words.rates("lift", 1.0, 0.86, Units("us"), 1) == (
        "0.74 -> 0.64 min/ft² flat"
    )
    assert words.rates("spray", 1.0, 1.0, Units("us")).endswith("min/ft fillet")


@pytest.mark.parametrize("step", RATES)
@pytest.mark.parametrize("system", ["si", "us"])
def test_every_rate_of_the_trade_has_words(step, system):
    assert "min" in words.rates(step, 1.0, 1.1, Units(system))


LENGTHS = st.floats(0, 1e6, allow_nan=False)


@given(
    st.lists(st.tuples(LENGTHS, LENGTHS), max_size=20),
    st.floats(0.01, 1e5),
    st.integers(60, 100),
)
def test_a_plot_keeps_its_width_and_every_point_is_on_it(points, most, width):
    lines = list(against([Letters("o", points)], most, width))
    assert max(map(len, lines)) <= width
    assert any("o" in line for line in lines) == bool(points)


def test_what_was_as_forecast_lies_on_the_dotted_line():
    empty = list(against([], 40.0, 80))
    right = [(x, x) for x in (0.0, 7.0, 19.0, 39.0)]
    drawn = list(against([Letters("o", right)], 40.0, 80))
    for before, after in zip(empty, drawn, strict=True):
        for old, new in zip(before, after, strict=True):
            assert new == old or (old, new) == (".", "o")
    late = next(against([Letters("o", [(10.0, 40.0)])], 40.0, 80))
    assert late.index("o") < late.index(".")


@given(st.tuples(*[st.floats(0.01, 1e5)] * 3), st.floats(0, 1), st.integers(1, 999))
def test_a_backtest_is_said_in_one_line(errors, held, windows):
    ways = zip(("learned", "default", "average"), errors, strict=True)
    scores = [Score(way, windows, error, 0.0, held) for way, error in ways]
    said = words.backtest(scores)
    assert len(said) <= 78
    assert said.startswith(f"backtest {windows}: off ")
    assert said.endswith(f"; band held {held * 100:.0f} %")


def test_a_backtest_of_nothing_is_not_said():
    assert words.backtest(()) == ""
