"""Work forecast by what was known before it: nothing of itself, nothing of later."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import exp
from statistics import fmean, median
from time import perf_counter

import numpy as np
import pytest

from scheduling.observation import WorkObservation
from scheduling.pace import learn_work
from scheduling.work import HANDS_ON, RATES
from scheduling.workbacktest import forecasts, scores

AT = datetime(2026, 3, 2, 8, tzinfo=UTC)
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)
PEOPLE = ("Ines", "Otto", "Bo")


def done(ratio, day, *, step="hone", by="Ines", rate=40.0):
    at, took = AT + day * DAY, rate * ratio
    until = at + took * MINUTE
    return WorkObservation(f"bench.{day}", at, step, by, rate, took, "", until)


def worked(rng, pours, *, steps=("hone",), factor=0.7):
    """Pours of a shop that is faster than the trade, each person with a way."""
    of_step = {step: factor * exp(rng.normal(0, 0.1)) for step in steps}
    of_person = {name: exp(rng.normal(0, 0.1)) for name in PEOPLE}
    said = []
    for number in range(pours):
        at = AT + number * DAY
        for step in steps:
            by = PEOPLE[rng.integers(len(PEOPLE))]
            rate = rng.uniform(10, 60)
            took = rate * of_step[step] * of_person[by] * exp(rng.normal(0, 0.18))
            said.append(
                WorkObservation(
                    f"p{number}", at, step, by, rate, took, "", at + took * MINUTE
                )
            )
            at = said[-1].until
    return said


def test_the_first_of_a_step_is_not_forecast():
    assert forecasts([]) == []
    assert forecasts([done(0.8, 0)]) == []
    assert [one.said.step for one in forecasts([done(0.8, 0), done(1, 1)])] == ["hone"]
    assert forecasts([done(0.8, 0), done(1, 1, step="sand")]) == []


def test_each_way_is_what_was_known_by_then():
    ratios = (0.5, 0.7, 0.6, 1.3)
    said = [done(ratio, day) for day, ratio in enumerate(ratios)]
    found = forecasts(reversed(said))
    assert [one.said for one in found] == said[1:]
    for number, one in enumerate(found, 1):
        (learned,) = learn_work(said[:number])
        wanted = learned.learned.scaled(40.0)
        assert one.learned == pytest.approx((wanted.p10, wanted.p50, wanted.p90))
        assert one.average_min == pytest.approx(40 * fmean(ratios[:number]))
        assert one.actual_min == pytest.approx(40 * ratios[number])
        assert one.default_min == 40
        assert one.default_ends == pytest.approx((40 * HANDS_ON.p10, 40 * HANDS_ON.p90))


def test_what_came_later_changes_no_forecast():
    said = worked(np.random.default_rng(4), 30)
    early = forecasts(said[:20])
    assert forecasts(said)[: len(early)] == early
    slower = [replace(one, actual_min=3 * one.actual_min) for one in said[20:]]
    assert forecasts([*said[:20], *slower])[: len(early)] == early


def test_of_one_pour_no_zone_forecasts_another():
    first, second = done(0.5, 0), replace(done(0.6, 0), at=AT + 60 * MINUTE)
    second = replace(second, until=second.at + 24 * MINUTE)
    assert forecasts([first, second]) == []


def test_what_is_not_learned_from_is_not_forecast_either():
    said = [done(0.5, 0), done(0.6, 1), replace(done(9, 2), why_not="lunch")]
    assert [one.said.pour for one in forecasts(said)] == ["bench.1"]


def test_scores_are_those_of_the_errors():
    found = forecasts(worked(np.random.default_rng(5), 12))
    learned, default, average = scores(found)
    assert (learned.way, default.way, average.way) == ("learned", "default", "average")
    assert {one.windows for one in (learned, default, average)} == {11}
    late = [one.learned[1] - one.actual_min for one in found]
    assert learned.error_min == pytest.approx(median(map(abs, late)))
    assert learned.late_min == pytest.approx(fmean(late))
    inside = [one.learned[0] <= one.actual_min <= one.learned[2] for one in found]
    assert learned.covered == pytest.approx(fmean(inside))
    assert average.covered is None
    assert scores([]) == []


def test_a_shop_of_its_own_pace_is_forecast_better_than_by_the_trade():
    """Where it has ways of its own; and its 80 % interval holds 76 to 86 in 100."""
    rng = np.random.default_rng(6)
    found = [one for _ in range(60) for one in forecasts(worked(rng, 15))[5:]]
    learned, default, average = scores(found)
    assert learned.error_min < 0.6 * default.error_min
    assert learned.error_min < 1.05 * average.error_min
    assert 0.76 <= learned.covered <= 0.86


def test_a_thousand_pours_of_ten_steps_take_less_than_two_seconds():
    said = worked(np.random.default_rng(7), 1000, steps=tuple(RATES)[:10])
    begun = perf_counter()
    found = forecasts(said)
    assert perf_counter() - begun < 2
    assert len(found) == 9990
