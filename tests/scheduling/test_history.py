"""A temperature history and its gaps."""

from __future__ import annotations

from datetime import UTC, datetime
from time import process_time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.history import Gap, History
from scheduling.maturity import arrhenius, en_1992_1_1, nurse_saul

steps = st.lists(st.tuples(st.floats(0.01, 5), st.floats(-30, 120)), min_size=1)


def factor(history, datum_c=0.0):
    (found,) = history.matured([nurse_saul(datum_c)])
    return found.factor_ch


def test_an_interval_has_the_mean_of_its_two_readings():
    history = History([0, 1, 3], [10, 20, 40])
    assert factor(history) == pytest.approx(1 * 15 + 2 * 30)
    assert (history.hours, history.readings, history.gaps) == (3, 3, ())


def test_the_mean_decides_whether_an_interval_is_above_the_datum():
    assert factor(History([0, 1], [-4, 2])) == 0
    assert factor(History([0, 1], [-2, 4])) == pytest.approx(1)


def test_a_gap_counts_nothing():
    history = History([5, 6, 9, 10], [20, 20, 60, 20])
    assert history.gaps == (Gap(after_h=1, hours=3),)
    assert history.counted_h == 2
    assert history.hours == 5
    assert factor(history) == pytest.approx(20 + 40)


def test_an_interval_of_just_the_limit_is_no_gap():
    at_s = np.array([0, 7200, 14401]) + 1.9e9
    history = History(at_s / 3600, [20, 20, 20])
    assert [gap.hours for gap in history.gaps] == [pytest.approx(7201 / 3600)]


def test_the_limit_can_be_moved():
    history = History([0, 3], [20, 20], limit_h=3)
    assert history.gaps == ()
    assert factor(history) == pytest.approx(60)


@settings(max_examples=60, deadline=None)
@given(steps, st.floats(0.05, 4))
def test_gaps_and_what_counts_make_the_whole(rows, limit_h):
    lengths, temps = zip(*rows, strict=True)
    at_h = np.concatenate(([0], np.cumsum(lengths)))
    history = History(at_h, [20, *temps], limit_h=limit_h)
    counted = sum(float(hours.sum()) for _, hours in history.intervals())
    assert counted == pytest.approx(history.counted_h, abs=1e-9)
    assert all(gap.hours > limit_h for gap in history.gaps)


def test_many_readings_are_worked_in_blocks_without_a_seam():
    at_h = np.arange(100_000) / 60
    temps = 20 + 5 * np.sin(at_h)
    mean = (temps[1:] + temps[:-1]) / 2
    history = History(at_h, temps)
    assert factor(history, -10) == pytest.approx(float(((mean + 10) / 60).sum()))
    (age,) = history.matured([arrhenius(42, 20)])
    assert 0 < age.age_h < 2 * history.hours


def test_instants():
    start = datetime(2030, 4, 1, tzinfo=UTC)
    assert History([0, 1], [20, 20], start=start).instant(1).hour == 1
    assert History([0, 1], [20, 20]).instant(1) is None


@pytest.mark.parametrize(
    ("at_h", "temps_c", "limit_h", "says"),
    [
        ([0], [20], 2, "two or more"),
        ([0, 1], [20], 2, "one for each"),
        ([0, 0], [20, 20], 2, "later"),
        ([1, 0], [20, 20], 2, "later"),
        ([0, np.nan], [20, 20], 2, "later"),
        ([0, np.inf], [20, 20], 2, "later"),
        ([0, 1], [20, np.nan], 2, "nan"),
        ([0, 1], [20, 120.1], 2, "120.1"),
        ([0, 1], [-30.1, 20], 2, "-30.1"),
        ([0, 1], [20, 20], 0, "gap limit"),
    ],
)
def test_what_is_no_history_is_refused(at_h, temps_c, limit_h, says):
    with pytest.raises(ValueError, match=says):
        History(at_h, temps_c, limit_h=limit_h)


def test_ten_years_of_minutes_take_a_third_of_a_second_of_one_processor():
    # Of process time, so that a busy machine does not fail it: threads that wait for
    # each other would show as well.
    minutes = np.arange(5_260_000, dtype=np.float64)
    history = History(minutes / 60, 15 + 8 * np.sin(minutes * (2 * np.pi / 1440)))
    for method in (nurse_saul(), arrhenius(42, 20), en_1992_1_1()):
        took = []
        for _ in range(3):
            begun = process_time()
            history.matured([method])
            took.append(process_time() - begun)
        assert min(took) < 0.3
