"""How the errors of the ways to forecast go on from wait to wait."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from scheduling.course import LATEST, course
from support import timings

AT = datetime(2030, 4, 2, 8, 0, tzinfo=UTC)


def forecast(actual, learned, default=18.0, average=20.0):
    one = timings.forecasts(AT, count=1)[0]
    return replace(
        one,
        actual_min=actual,
        learned=(learned - 1, learned, learned + 1),
        default_min=default,
        average_min=average,
    )


def test_each_figure_is_the_median_of_the_latest_until_then():
    found = course(
        [
            forecast(10, 18),
            forecast(10, 14, average=12),
            forecast(10, 11, average=7),
        ]
    )
    assert [one.window for one in found] == [1, 2, 3]
    assert [one.learned_min for one in found] == [8, 6, 4]
    assert [one.default_min for one in found] == [8, 8, 8]
    assert [one.average_min for one in found] == [10, 6, 3]


def test_what_is_long_past_counts_no_more():
    late = [forecast(10, 10)] * LATEST
    found = course([*[forecast(10, 40)] * 50, *late])
    assert found[49].learned_min == pytest.approx(30)
    assert found[-1].learned_min == 0
    assert found[-1].window == 50 + LATEST


def test_of_no_wait_there_is_no_course():
    assert course([]) == ()
