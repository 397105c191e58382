"""The fit of a threshold: against oracles, and against shops whose truth is known."""

import sys
from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, special, stats

from scheduling.air import Conditions
from scheduling.learning import Fit, fit
from scheduling.normal import between, scaled_tail
from scheduling.observation import Mark
from scheduling.posterior import RULES, Prior, Rules
from scheduling.sightings import Sightings, minutes
from scheduling.spread import Spread
from support.taught import (
    Truth,
    forgotten,
    mark_at,
    outdoor_day,
    pours,
    prior_of,
    speed,
    steady_day,
)
from support.taughtcounts import (
    against_truth,
    calibration,
    covered_by_zones,
    recovered,
    uniform,
)

FLAT = Prior(18.0, 1000.0)
"""No opinion on the median whatever: a factor of e^700 either way is one sigma."""


def say(words):
    """A figure to read with ``pytest -s``."""
    sys.stdout.write(f"\n{words}\n")


def plain(minutes_run):
    return None if minutes_run is None else Mark(minutes_run, (minutes_run,) * 3)


def sightings(bounds, which=0):
    return Sightings.of((which, plain(low), plain(high)) for low, high in bounds)


def of_waits(waits, which=0):
    return Sightings.of((which, wait.said.after, wait.said.before) for wait in waits)


def known_sigma(sigma, prior=FLAT):
    """The rules when the day-to-day sigma is known and nothing is absurd."""
    return Rules(fractions=(sigma / prior.sigma,) * 2, points=1, absurd=0)


def test_the_scaled_tail_is_good_to_fourteen_digits():
    x = np.concatenate((np.linspace(0, 30, 20001), np.geomspace(30, 1e8, 500)))
    assert np.abs(scaled_tail(x) / special.erfcx(x) - 1).max() < 2e-14


def test_shares_of_a_normal_hold_far_out_in_both_tails():
    rng = np.random.default_rng(3)
    low = rng.normal(0, 8, 5000)
    high = low + rng.exponential(1.0, 5000) + 1e-3
    share, at_low, at_high = between(low, high)
    near, far = np.where(low > 0, -low, high), np.where(low > 0, -high, low)
    whole, less = special.log_ndtr(near), special.log_ndtr(far)
    expected = whole + np.log1p(-np.exp(less - whole))
    assert np.abs(share - expected).max() < 1e-9 * np.abs(expected).max()
    for density, bound in ((at_low, low), (at_high, high)):
        ratio = np.exp(stats.norm.logpdf(bound) - expected)
        assert density == pytest.approx(ratio, rel=1e-9)


def test_open_bounds_are_no_bounds():
    share, at_low, at_high = between(
        np.array([-np.inf, 3.0, -np.inf]), np.array([2.0, np.inf, np.inf])
    )
    assert share == pytest.approx([stats.norm.logcdf(2), stats.norm.logsf(3), 0.0])
    assert (at_low[[0, 2]] == 0).all()
    assert (at_high[1:] == 0).all()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_flat_prior_gives_the_censored_fit_of_scipy(seed):
    """Median to 0.1 %, sigma to 1 %: scipy's own search stops about there."""
    rng = np.random.default_rng(seed)
    true = 18 * np.exp(0.25 * rng.normal(size=60))
    bounds = [(m // 3 * 3 or None, m // 3 * 3 + 3) for m in true]
    bounds[:8] = [(None, high) for _, high in bounds[:8]]
    bounds[8:15] = [(low, None) for low, _ in bounds[8:15]]
    data = stats.CensoredData(
        interval=[pair for pair in bounds if None not in pair],
        left=[high for low, high in bounds if low is None],
        right=[low for low, high in bounds if high is None],
    )
    sigma, _, median = stats.lognorm.fit(data, floc=0)
    seen = sightings(bounds)

    found = fit([FLAT], seen, known_sigma(sigma))
    assert found.next_wait(0, None, None)[0] == pytest.approx(median, rel=1e-3)

    def less_likely(by_log):
        return -fit([FLAT], seen, known_sigma(exp(by_log))).likelihood[0]

    best = optimize.minimize_scalar(less_likely, bounds=(log(0.05), log(1)))
    assert exp(best.x) == pytest.approx(sigma, rel=0.01)
    middle, _ = stats.norm.fit(
        stats.CensoredData(
            interval=np.log(data._interval),
            left=np.log(data._left),
            right=np.log(data._right),
        )
    )
    assert middle == pytest.approx(log(median), abs=1e-3)


def test_exact_waits_give_the_closed_form():
    """Known sigma, normal prior, brackets of a tenth of a percent: to 1e-5."""
    rng = np.random.default_rng(4)
    prior, fraction = Prior(18.0, 0.5), 0.4
    rules = Rules(fractions=(fraction, fraction), points=1, absurd=0)
    true = 22 * np.exp(0.2 * rng.normal(size=12))
    found = fit([prior], sightings([(m * 0.9995, m * 1.0005) for m in true]), rules)
    day, before = (0.5 * fraction) ** 2, 0.25 * (1 - fraction**2)
    variance = 1 / (1 / before + 12 / day)
    mean = variance * np.log(true / 18).sum() / day
    median, sigma = found.next_wait(0, None, None)
    assert log(median / 18) == pytest.approx(mean, abs=1e-5)
    assert sigma == pytest.approx(sqrt(day + variance), abs=1e-5)


def test_pooling_is_the_closed_form_too():
    """Two mixes that share half of what is unknown, one of them seen once."""
    rng = np.random.default_rng(5)
    priors, fraction = [Prior(18.0, 0.5), Prior(60.0, 0.3)], 0.3
    rules = Rules(fractions=(fraction, fraction), points=1, absurd=0)
    which = np.array([0] * 10 + [1])
    scores = 1.2 + 0.3 * rng.normal(size=11)
    true = [
        priors[m].p50 * exp(priors[m].sigma * s)
        for m, s in zip(which, scores, strict=True)
    ]
    seen = Sightings.of(
        (m, plain(minute * 0.9995), plain(minute * 1.0005))
        for m, minute in zip(which, true, strict=True)
    )
    found = fit(priors, seen, rules)
    half = (1 - fraction**2) / 2
    together = half * (1 + (which[:, None] == which))
    gram = together + fraction**2 * np.eye(11)
    for mix in (0, 1):
        along = half * (1 + (which == mix))
        mean = along @ np.linalg.solve(gram, scores)
        variance = 2 * half - along @ np.linalg.solve(gram, along) + fraction**2
        median, sigma = found.next_wait(mix, None, None)
        prior = priors[mix]
        assert log(median / prior.p50) == pytest.approx(prior.sigma * mean, abs=1e-4)
        assert sigma == pytest.approx(prior.sigma * sqrt(variance), abs=1e-4)


def test_a_wait_that_says_nothing_leaves_the_default():
    prior = prior_of("demould")
    found = fit([prior], sightings([(None, 1e9)]))
    median, sigma = found.next_wait(0, prior.energy, None)
    assert median == pytest.approx(prior.p50, rel=1e-6)
    assert sigma == pytest.approx(prior.sigma, rel=1e-6)


def test_a_mix_never_seen_begins_where_the_shop_stands():
    """Half the variance is shared: it follows about half the way, less surely."""
    prior = prior_of("face opens")
    waits = pours(np.random.default_rng(6), Truth(27, 0.1, 42, 0.4), 40)
    found = fit([prior, prior], of_waits(waits))
    seen, unseen = (found.next_wait(mix, 42, 0.4) for mix in (0, 1))
    assert prior.p50 < unseen[0] < seen[0]
    assert log(unseen[0] / 18) == pytest.approx(log(seen[0] / 18) / 2, rel=0.15)
    assert seen[1] < unseen[1] < prior.sigma


@given(
    st.floats(10, 34), st.floats(5, 95), st.floats(0, 8), st.floats(1, 5000),
    st.floats(32, 51), st.floats(0.1, 0.8),
)  # fmt: skip
def test_a_mark_has_the_minutes_of_the_law(temp, rh, wind, wall, energy, share):
    day = replace(steady_day(None), temp_c=temp, rh_pct=rh, wind_kmh=wind)
    truth = Truth(1, 1, energy, share)
    run = minutes(mark_at(wall, day, face=True), energy, share)
    assert run == pytest.approx(wall * speed(truth, day), rel=1e-9)
    truth = replace(truth, share=None)
    run = minutes(mark_at(wall, day, face=False), energy, None)
    assert run == pytest.approx(wall * speed(truth, day), rel=1e-9)


def test_days_all_alike_tell_nothing_of_the_constants():
    truth = Truth(25, 0.1, 36, 0.5)
    waits = pours(np.random.default_rng(7), truth, 60, days=steady_day)
    found = fit([prior_of("face opens")], of_waits(waits))
    for estimate, prior in ((found.energy(0), 42.0), (found.share(0), 0.4)):
        assert not estimate.told
        assert estimate.p50 == estimate.prior == prior
        assert estimate.p10 < prior < estimate.p90
    median, sigma = found.next_wait(0, 42.0, 0.4)
    assert median == pytest.approx(25, rel=0.04)
    assert sigma == pytest.approx(0.1, rel=0.3)


SENSIBLE = range(60, 73)
"""Of 80 intervals of 80 % so many hold, but for one time in ten below and one in two
hundred above."""


def test_a_known_activation_energy_is_recovered():
    """Twenty shops each at 35, 39, 45 and 49 kJ/mol, sixty demoulds."""
    found = recovered("demould", Truth(1100, 0.08), 60, 20)
    say(f"demould: {found}")
    assert found.told == found.shops == 80
    assert found.energy in SENSIBLE
    assert found.furthest < 4


def test_the_constants_of_a_face_clock_are_recovered_too():
    """The same of two hundred openings at 5 to 32 degC, with the share of drying."""
    truth = Truth(24, 0.12, share=0.45)
    found = recovered("face opens", truth, 200, 20, days=outdoor_day)
    say(f"face opens: {found}")
    assert found.told == found.shops == 80
    assert found.energy in SENSIBLE
    assert found.share in SENSIBLE
    assert found.furthest < 4


def test_the_plain_average_of_ready_stamps_is_late():
    """Same steady days, one and the same data: learned is not."""
    truth = Truth(18, 0.12, 42, 0.4)
    learned, averaged = [], []
    for seed in range(40):
        waits = pours(np.random.default_rng(seed), truth, 30, days=steady_day)
        found = fit([prior_of("face opens")], of_waits(waits))
        learned.append(found.next_wait(0, 42, 0.4)[0] - truth.p50)
        ready = [wait.said.before.wall_min for wait in waits]
        averaged.append(np.mean(ready) - truth.p50)
    late, fair = np.mean(averaged), np.mean(learned)
    say(f"average of ready stamps {late:+.2f} min late, learned {fair:+.2f} min")
    # Half the testing gap of 3 min, and the mean of a log-normal over its median.
    assert late == pytest.approx(1.5 + 18 * (exp(0.12**2 / 2) - 1), abs=0.15)
    assert abs(fair) < 0.15


def test_absurd_entries_are_weighed_down_and_move_little():
    truth, prior = Truth(24, 0.15, 42, 0.4), prior_of("face opens")
    rng = np.random.default_rng(8)
    moved = []
    for _ in range(20):
        waits = pours(rng, truth, 40)
        absurd = {3: 4.0, 21: 0.2}  # 5 %
        entered = [
            forgotten(wait, absurd[number]) if number in absurd else wait
            for number, wait in enumerate(waits)
        ]
        clean, found = (fit([prior], of_waits(some)) for some in (waits, entered))
        before, after = (some.next_wait(0, 42, 0.4)[0] for some in (clean, found))
        moved.append(after / before - 1)
        assert set(np.flatnonzero(found.weights < 0.5)) >= set(absurd)
        assert (found.weights[list(absurd)] < 0.05).all()
        assert (found.weights < 0.5).sum() <= 4
    say(f"median moved by {100 * np.abs(moved).max():.1f} % at most")
    assert np.abs(moved).max() < 0.03


@pytest.mark.parametrize(
    ("name", "shops", "count", "mixes"),
    [("face opens", 500, 10, 1), ("demould", 250, 20, 1), ("face closes", 200, 20, 2)],
)
def test_shops_drawn_from_the_prior_are_calibrated(name, shops, count, mixes):
    """Ranks are uniform (p above 0.001), 80 % intervals hold 76 to 84 %.

    Of 5,000, 2,500 and 2,000 held-out windows.
    """
    found = calibration(np.random.default_rng(9), name, shops, count, mixes)
    say(found)
    for ranks in found.ranks.values():
        assert uniform(ranks) > 0.001
    assert found.windows >= 2000
    assert found.covered == pytest.approx(0.8, abs=0.04)


@pytest.mark.parametrize(("together", "least"), [(0.5, 0.76), (0.8, 0.74)])
def test_three_zones_a_pour_are_not_three_pours(together, least):
    """80 % intervals of the next wait hold after five such pours; 4,000 waits."""
    found = covered_by_zones(np.random.default_rng(16), 400, 5, 3, together)
    say(f"zones correlated {together}: 80 % intervals hold {100 * found:.1f} %")
    assert least <= found <= 0.84


def test_waits_that_count_half_are_as_good_as_half_as_many():
    waits = pours(np.random.default_rng(17), Truth(24, 0.15, 38, 0.5), 30)
    once, twice = of_waits(waits), of_waits([*waits, *waits])
    halved = replace(twice, counts=np.full(60, 0.5))
    prior = prior_of("face opens")
    alone, found, doubled = (fit([prior], seen) for seen in (once, halved, twice))
    assert found.next_wait(0, 42, 0.4) == pytest.approx(alone.next_wait(0, 42, 0.4))
    assert found.likelihood == pytest.approx(alone.likelihood)
    assert found.weights[:30] == pytest.approx(alone.weights)
    assert doubled.next_wait(0, 42, 0.4)[1] < alone.next_wait(0, 42, 0.4)[1] * 0.99


def test_ten_pours_beat_the_default_and_thirty_come_near_the_truth():
    """Shops off by up to a factor of 1.6 and 8 kJ/mol; median errors of the opening.

    That one and the same shop differs by 12 % from day to day is an assumption: nobody
    has published it. ``tests/soak/timings.py`` prints the same for 10 and 15 %.
    """
    found = against_truth(np.random.default_rng(10), shops=80, windows=25)
    say(found)
    assert found.ten <= found.default / 2
    assert found.ten <= found.average
    assert found.thirty <= 1.1 * found.truth


def test_more_of_a_log_is_learned_as_the_whole():
    """But for the f that are tried: to 0.1 % of the median, 1 % of the sigma."""
    prior = prior_of("face opens")
    waits = pours(np.random.default_rng(11), Truth(24, 0.15, 38, 0.5), 60)
    grown = fit([prior], of_waits(waits[:30]))
    for end in range(31, 61):
        grown = fit([prior], of_waits(waits[:end]), start=grown)
    whole = fit([prior], of_waits(waits))
    again, once = (found.next_wait(0, 40, 0.45) for found in (grown, whole))
    assert again[0] == pytest.approx(once[0], rel=1e-3)
    assert again[1] == pytest.approx(once[1], rel=0.01)
    assert grown.energy(0).p50 == pytest.approx(whole.energy(0).p50, abs=0.05)


DAYS = st.builds(Conditions, st.floats(-10, 45), st.floats(0, 100), st.floats(0, 60))
MARKS = st.builds(
    lambda wall, day, back: replace(
        mark_at(wall, day, face=True),
        evaporation=mark_at(wall, day, face=True).evaporation - back,
    ),
    st.floats(0, 1e6),
    DAYS,
    st.just(0) | st.floats(0, 1e4),
)
MAYBE = st.none() | MARKS


@given(
    st.lists(
        st.tuples(st.integers(0, 1), MAYBE, MAYBE).filter(lambda row: any(row[1:])),
        min_size=1,
        max_size=12,
    ),
    st.floats(0.01, 2),
)
@settings(max_examples=60, deadline=None)
def test_whatever_was_entered_something_sober_is_learned(rows, sigma):
    priors = [Prior(18, 0.54, 42, 0.4), Prior(45, sigma, 50, 0.5)]
    found = fit(priors, Sightings.of(rows))
    for mix in (0, 1):
        energy, share = found.energy(mix), found.share(mix)
        median, width = found.next_wait(mix, energy.p50, share.p50)
        spread = Spread(median, width)
        assert 0 < spread.p10 <= spread.p50 <= spread.p90 < np.inf
        assert 32 <= energy.p10 <= energy.p90 <= 51
        assert 0.1 <= share.p10 <= share.p90 <= 0.8
    assert ((found.weights >= 0) & (found.weights <= 1)).all()
    assert np.isfinite(found.chances).all()


@pytest.mark.parametrize("day", [0.11, 0.16, 0.24])
def test_the_day_to_day_sigma_is_found(day):
    """Wherever it falls between the f tried first: to 5 % of 1,500 waits."""
    waits = pours(np.random.default_rng(12), Truth(40, day, 42, 0.4), 1500)
    _, sigma = fit([prior_of("face opens")], of_waits(waits)).next_wait(0, 42, 0.4)
    assert sigma == pytest.approx(day, rel=0.05)


def test_a_clock_over_warm_and_cold_keeps_its_minutes_at_any_energy():
    """Half at 12, half at 30 degC: the quadratic in energy is good to 0.01 %."""
    days = [replace(steady_day(None), temp_c=temp) for temp in (12.0, 30.0)]
    cold, warm = (mark_at(300.0, day, face=False) for day in days)
    both = zip(cold.hydration, warm.hydration, strict=True)
    mark = Mark(600.0, tuple(a + b for a, b in both))
    for energy in np.linspace(32, 51, 20):
        run = 300 * sum(speed(Truth(1, 1, energy), day) for day in days)
        assert minutes(mark, energy, None) == pytest.approx(run, rel=1e-4)


def test_a_forecast_is_right_on_the_days_it_was_learned_on():
    """All at 32 degC: the energy stays at its prior, the minutes make up for it."""
    day = replace(steady_day(None), temp_c=32.0)
    truth, prior = Truth(1700, 0.03, 38), prior_of("demould")
    waits = pours(
        np.random.default_rng(13), truth, 60, name="demould", days=lambda _: day
    )
    found = fit([prior], of_waits(waits))
    assert not found.energy(0).told
    median, _ = found.next_wait(0, prior.energy, None)
    wall = median / speed(Truth(1, 1, prior.energy), day)
    assert wall == pytest.approx(truth.p50 / speed(truth, day), rel=0.01)


def test_what_is_told_of_the_next_wait_is_the_mean_over_all_f():
    """Moments of a mixture of two normals, and quantiles of one cut to its bounds."""
    found = Fit(
        priors=(Prior(20.0, 0.5, 42.0),),
        rules=RULES,
        fractions=np.array([0.2, 0.6]),
        chances=np.array([0.3, 0.7]),
        mean=np.array([[1.0, 0.5, 2.0], [0.2, 0.1, 1.5]]),
        covariance=np.array([np.diag([0.1, 0.2, 0.25]), np.diag([0.3, 0.1, 0.36])]),
        likelihood=np.zeros(2),
        doubt=np.array([[0.01], [0.02]]),
        weights=np.ones(1),
    )
    scale = 0.5 * np.sqrt((1 - found.fractions**2) / 2)
    means = scale * np.array([1.5, 0.3])
    variances = (0.5 * found.fractions) ** 2 + [0.01, 0.02]
    mean = 0.3 * means[0] + 0.7 * means[1]
    second = 0.3 * (variances[0] + means[0] ** 2) + 0.7 * (variances[1] + means[1] ** 2)
    median, sigma = found.next_wait(0, 45.0, None)
    assert median == pytest.approx(20 * exp(mean))
    assert sigma == pytest.approx(sqrt(second - mean**2))
    middle = 0.3 * 2.0 + 0.7 * 1.5
    width = sqrt(0.3 * (0.25 + 2.0**2) + 0.7 * (0.36 + 1.5**2) - middle**2)
    centre, sd = 42 + 4 * middle, 4 * width
    cut = stats.truncnorm((32 - centre) / sd, (51 - centre) / sd, centre, sd)
    estimate = found.energy(0)
    assert (estimate.p10, estimate.p50, estimate.p90) == pytest.approx(
        tuple(cut.ppf([0.1, 0.5, 0.9]))
    )


def test_a_log_that_changes_its_ways_is_followed():
    """Eighty waits much alike, then forty scattered: the sigma is not held back."""
    prior, rng = prior_of("face opens"), np.random.default_rng(14)
    calm = pours(rng, Truth(60, 0.08, 42, 0.4), 80)
    wild = pours(rng, Truth(60, 0.4, 42, 0.4), 40)
    grown = fit([prior], of_waits(calm))
    grown = fit([prior], of_waits(calm + wild), start=grown)
    whole = fit([prior], of_waits(calm + wild))
    assert grown.next_wait(0, 42, 0.4) == pytest.approx(
        whole.next_wait(0, 42, 0.4), rel=0.01
    )
