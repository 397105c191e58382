"""The log replayed: honest about what was known, and about who did better."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.backtest import backtest, scores, too_wide
from scheduling.learned import Replayed, Score
from scheduling.shop import Mix, Shop
from scheduling.spread import Spread
from scheduling.timings import default_outlook, learn_windows
from support.taught import FIRST_DAY, Truth, mark_at, pours, speed, steady_day

SHOP = Shop()


SLOW = Truth(26, 0.12, 38, 0.45)


def waits_of(count, *, seed=1, truth=SLOW, **about):
    return pours(np.random.default_rng(seed), truth, count, **about)


def said_of(count, **about):
    return [wait.said for wait in waits_of(count, **about)]


def early(said, *, mix="M1"):
    """A pour long before, known to be ready at a minute that says next to nothing."""
    before = replace(said.before, wall_min=500.0, hydration=(9e4,) * 3)
    before = replace(before, evaporation=9e4)
    at = FIRST_DAY - timedelta(days=90)
    return replace(said, pour="early", at=at, mix=mix, after=None, before=before)


def test_a_forecast_by_a_log_that_says_nothing_is_the_default():
    (wait,) = waits_of(1)
    (forecast,) = backtest([wait.said, early(wait.said)], SHOP)
    default = default_outlook("face opens", "M1", SHOP)
    rate = speed(Truth(1, 1, default.energy, default.share), wait.day)
    ends = tuple(end / rate for end in (default.spread.p10, default.spread.p90))
    assert forecast.default_min == pytest.approx(18 / rate)
    assert forecast.default_ends == pytest.approx(ends)
    assert forecast.learned == pytest.approx((ends[0], 18 / rate, ends[1]))
    assert forecast.average_min == 500.0
    marks = (wait.said.after.wall_min, wait.said.before.wall_min)
    assert forecast.actual_min == pytest.approx(sum(marks) / 2)


def test_all_three_ways_forecast_the_same_waits():
    """Of each threshold and mix none before a ready stamp of an earlier pour."""
    seen = said_of(5) + said_of(5, mix="white", seed=2)
    seen[0] = replace(seen[0], before=None)
    found = backtest(seen, SHOP)
    firsts = [seen[0], seen[1], seen[5]]
    assert [f.said for f in found] == sorted(
        (about for about in seen if about not in firsts), key=lambda about: about.at
    )
    assert {score.windows for score in scores(found)} == {len(found)}


@pytest.mark.parametrize(
    ("low", "high", "close"),
    [(10, 16, True), (10, 16.1, False), (70, 90, True), (70, 90.1, False)],
)
def test_a_wide_bracket_is_learned_from_and_not_judged_by(low, high, close):
    """Six minutes, or a quarter of the middle: 20 about 80."""
    first, second, third = said_of(3)
    run = {"after": float(low), "before": float(high)}
    marks = {
        side: mark_at(wall, steady_day(None), face=True) for side, wall in run.items()
    }
    wide = replace(second, **marks)
    found = backtest([first, wide, third], SHOP)
    assert (wide in [f.said for f in found]) == close
    assert found[-1].said == third
    assert found[-1].average_min == (first.before.wall_min + high) / 2
    assert found[-1].learned != backtest([first, third], SHOP)[-1].learned
    refused = replace(wide, why_not="interrupted")
    half = replace(wide, after=None)
    counted = too_wide([first, wide, third, refused, half])
    assert counted == ({} if close else {("face opens", "M1"): 1})
    assert counted["face closes", "M1"] == 0


def test_whoever_forecasts_middles_is_not_flattered():
    """Ready at 40 % of the wait, then not looked at until gone: nothing to judge by."""
    seen = [
        replace(
            wait.said,
            after=mark_at(0.4 * wait.true_min, wait.day, face=True),
            before=mark_at(1.05 * wait.true_min, wait.day, face=True),
        )
        for wait in waits_of(30, truth=Truth(45, 0.1, 42, 0.5), name="face closes")
    ]
    assert backtest(seen, SHOP) == []
    assert too_wide(seen) == {("face closes", "M1"): 30}


@given(st.integers(2, 14), st.integers(0, 1000))
@settings(max_examples=10, deadline=None)
def test_what_comes_later_changes_no_forecast(cut, seed):
    seen = said_of(15, seed=seed)
    other = [
        replace(about, before=replace(about.before, wall_min=999.0))
        for about in said_of(15, seed=seed + 1, truth=Truth(70, 0.3, 50, 0.2))[cut:]
    ]
    kept = [about for about in seen[:cut] if about.after][1:]
    first = backtest(seen, SHOP)[: len(kept)]
    again = backtest(seen[:cut] + other, SHOP)[: len(kept)]
    assert first == again


def test_a_forecast_is_what_would_have_been_learned_then():
    waits = waits_of(12, days=steady_day)
    seen = [wait.said for wait in waits]
    for number, forecast in enumerate(backtest(seen, SHOP), start=1):
        (learned,) = learn_windows(seen[:number], SHOP)
        low, middle, high = forecast.learned
        assert middle == pytest.approx(learned.learned.p50, rel=2e-3)
        assert high / low == pytest.approx(
            learned.learned.p90 / learned.learned.p10, rel=5e-3
        )
        ready = [about.before.wall_min for about in seen[:number]]
        assert forecast.average_min == pytest.approx(np.mean(ready))


def test_a_wait_still_going_on_when_a_pour_begins_is_not_known_to_it():
    first, second = said_of(2, truth=Truth(1100, 0.1, 42), name="demould")
    soon = replace(second, at=first.at + timedelta(hours=3))
    late = replace(second, at=first.at + timedelta(days=9))
    assert backtest([first, soon], SHOP) == []
    (forecast,) = backtest([first, late], SHOP)
    assert (forecast.said, forecast.average_min) == (late, first.before.wall_min)


def test_a_long_wait_does_not_hide_a_short_one_begun_after_it():
    slow, _ = said_of(2, truth=Truth(1100, 0.1, 42), name="demould")
    quick, later = said_of(2, seed=4)
    quick = replace(quick, pour="b", at=slow.at + timedelta(hours=1))
    later = replace(later, pour="c", at=slow.at + timedelta(hours=5))
    (forecast,) = backtest([slow, quick, later], SHOP)
    assert (forecast.said, forecast.average_min) == (later, quick.before.wall_min)


def test_zones_of_one_pour_do_not_know_each_other():
    seen = said_of(6)
    zones = [
        replace(about, zone="B", at=about.at + timedelta(hours=5)) for about in seen
    ]
    found = backtest(seen + zones, SHOP)
    by_pour = {}
    for forecast in found:
        by_pour.setdefault(forecast.said.pour, set()).add(forecast.average_min)
    assert len(found) == 10
    assert all(len(averages) == 1 for averages in by_pour.values())


def test_only_what_was_seen_from_both_sides_is_forecast():
    seen = said_of(5)
    seen[1] = replace(seen[1], after=None)
    seen[2] = replace(seen[2], before=None)
    seen.append(replace(seen[3], pour="x", why_not="interrupted"))
    seen.append(replace(seen[3], pour="y", name="unheard of"))
    found = backtest(seen, SHOP)
    assert [forecast.said for forecast in found] == [seen[3], seen[4]]
    # Ready at the first test: no longer than that, and a ready stamp all the same.
    stamps = [seen[0].before.wall_min, seen[1].before.wall_min]
    assert found[0].average_min == pytest.approx(np.mean(stamps))


def test_mixes_and_thresholds_are_averaged_apart():
    seen = said_of(3) + said_of(3, mix="white", seed=2)
    seen += said_of(3, name="face closes", truth=Truth(45, 0.1, 42, 0.5), seed=3)
    for forecast in backtest(seen, SHOP):
        about = forecast.said
        ready = [
            s.before.wall_min
            for s in seen
            if (s.name, s.mix) == (about.name, about.mix) and s.at < about.at
        ]
        assert forecast.average_min == pytest.approx(np.mean(ready))


def test_a_threshold_the_shop_calls_certain_is_forecast_as_that():
    shop = Shop(mixes={"M1": Mix(thresholds={"face opens": Spread(15.0)})})
    for forecast in backtest(said_of(30), shop):
        assert forecast.learned == (forecast.default_min,) * 3


def test_scores_are_plain_arithmetic():
    (about,) = said_of(1)
    forecasts = [
        Replayed(about, 20.0, 26.0, (18.0, 30.0), (17.0, 19.0, 22.0), 25.0),
        Replayed(about, 30.0, 26.0, (18.0, 29.0), (24.0, 31.0, 36.0), 37.0),
        Replayed(about, 25.0, 25.0, (18.0, 30.0), (26.0, 29.0, 31.0), 30.0),
    ]
    learned, default, average = scores(forecasts)
    assert learned == Score(
        "learned", 3, 1.0, pytest.approx(4 / 3), pytest.approx(2 / 3)
    )
    assert default == Score(
        "default", 3, 4.0, pytest.approx(2 / 3), pytest.approx(2 / 3)
    )
    assert average == Score("average", 3, 5.0, pytest.approx(17 / 3), None)
    assert scores([]) == []


def test_scores_are_plain_numbers_whatever_the_forecasts_are():
    (about,) = said_of(1)
    some = [np.float64(number) for number in (20, 26, 18, 30, 17, 19, 22, 25)]
    forecast = Replayed(
        about, some[0], some[1], tuple(some[2:4]), tuple(some[4:7]), some[7]
    )
    for score in scores([forecast, forecast]):
        numbers = [score.error_min, score.late_min, score.covered]
        kinds = {type(number) for number in numbers if number is not None}
        assert kinds == {float}


def test_a_shop_unlike_the_defaults_is_better_served_by_its_log():
    found = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        slow, warm = rng.choice((-1, 1), 2)
        truth = Truth(18 * 1.6**slow, 0.12, 42 + 8 * warm, 0.4)
        found += backtest([w.said for w in pours(rng, truth, 60)], SHOP)[10:]
    learned, default, average = scores(found)
    assert learned.windows == default.windows == average.windows == len(found)
    assert learned.error_min < default.error_min / 2
    assert learned.error_min < average.error_min / 2
    assert learned.covered == pytest.approx(0.8, abs=0.05)
    assert average.late_min > 1 > abs(learned.late_min)


def test_a_long_log_is_still_replayed_pour_by_pour():
    """Learned anew one time in twenty only, and no worse for it."""
    seen = said_of(150)
    found = backtest(seen, SHOP)
    assert [forecast.said.at for forecast in found] == sorted(
        about.at for about in seen[1:] if about.after
    )
    medians = [f.learned[1] / f.default_min for f in found]
    assert len(set(np.round(medians[:20], 9))) == 20
    (learned,) = learn_windows(seen[:140], SHOP)
    assert found[-1].said.at >= FIRST_DAY + timedelta(days=140)
    late = found[-1]
    assert late.learned[2] / late.learned[0] == pytest.approx(
        learned.learned.p90 / learned.learned.p10, rel=0.05
    )
