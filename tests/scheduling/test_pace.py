"""The pace of a shop, learned from the log: how little it knows, what it may say."""

from datetime import UTC, datetime, timedelta
from math import exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress, norm, t

from scheduling.learned import ODD
from scheduling.observation import WorkObservation
from scheduling.pace import DAY_TO_DAY, OF_PEOPLE, Fit, learn_work
from scheduling.trend import SHOWN, SURE, student
from scheduling.work import HANDS_ON, RATES, Quantities, rates_of

AT = datetime(2026, 3, 2, 9, tzinfo=UTC)
RATE = 40.0


def done(ratio, *, day=0.0, by="Ines", pour="", step="hone", why_not=""):
    """A step that took so many times the minutes of its rate."""
    at = AT + timedelta(days=day)
    pour = pour or f"bench.{day:g}"
    return WorkObservation(pour, at, step, by, RATE, RATE * ratio, why_not)


def only(observations):
    (found,) = learn_work(observations)
    return found


def test_without_a_casting_it_is_the_default_exactly():
    assert learn_work([]) == []
    found = only([done(3.0, why_not="interrupted by lunch")])
    assert found.learned == found.default == HANDS_ON
    assert (found.castings, found.people, found.trend) == (0, (), None)
    assert [each.why_not for each in found.left_out] == ["interrupted by lunch"]


def test_the_three_parts_are_the_spread_of_the_trade_before_the_log_is_read():
    """An entry that counts for nothing leaves the predictive of the prior."""
    fit = Fit(np.array([0.7]), np.array([0]), np.array([0.0]))
    for mixed in (fit.somebody_new(), fit.next_by(0)):
        assert mixed.mean == pytest.approx(0.0)
        assert mixed.variance == pytest.approx(HANDS_ON.sigma**2)
    assert fit.belief == pytest.approx(1 / len(DAY_TO_DAY))


def dense(y, who, weight, share):
    """The same model by one covariance matrix: posterior of the next of each, evidence.

    A weight divides an entry's variance in the posterior, and multiplies the power of
    its likelihood in the evidence; with weights of 1 the two are the plain Gaussian.
    """
    variance = HANDS_ON.sigma**2
    noise = variance * share**2
    person = variance * (1 - share**2) * OF_PEOPLE
    shop = variance * (1 - share**2) * (1 - OF_PEOPLE)
    same = who[:, None] == who[None, :]
    prior = shop + person * same
    cov = prior + np.diag(noise / weight)
    found = []
    for each in range(who.max() + 1):
        cross = shop + person * (who == each)
        mean = cross @ np.linalg.solve(cov, y)
        var = shop + person + noise - cross @ np.linalg.solve(cov, cross)
        found.append((mean, var))
    evidence = -0.5 * (y @ np.linalg.solve(cov, y) + np.linalg.slogdet(cov)[1])
    return found, evidence


@given(
    st.lists(
        st.tuples(
            st.floats(-1, 1, allow_nan=False), st.integers(0, 2), st.floats(0.1, 1)
        ),
        min_size=1,
        max_size=12,
    )
)
def test_posterior_is_the_closed_form_of_one_covariance_matrix(entries):
    y = np.array([each[0] for each in entries])
    who = np.unique([each[1] for each in entries], return_inverse=True)[1]
    weight = np.array([each[2] for each in entries])
    fit = Fit(y, who, weight)
    for at, share in enumerate(DAY_TO_DAY):
        want, _ = dense(y, who, weight, share)
        for person, (mean, variance) in enumerate(want):
            mixed = fit.next_by(person)
            assert mixed.mean[at] == pytest.approx(mean, abs=1e-9)
            assert mixed.variance[at] == pytest.approx(variance, abs=1e-9)
    whole = np.ones_like(weight)
    evidence = np.array([dense(y, who, whole, share)[1] for share in DAY_TO_DAY])
    want = np.exp(evidence - evidence.max())
    assert Fit(y, who, whole).belief == pytest.approx(want / want.sum(), abs=1e-9)


@given(
    st.lists(st.floats(-0.8, 0.8, allow_nan=False), min_size=3, max_size=8),
    st.data(),
)
def test_an_entry_is_judged_by_the_others_only(ratios, data):
    """Leaving one out by subtraction is fitting without it."""
    y = np.array(ratios)
    who = np.array([place % 2 for place in range(len(y))])
    out = data.draw(st.integers(0, len(y) - 1))
    weight = np.ones_like(y)
    whole = Fit(y, who, weight)
    weight_less = weight.copy()
    weight_less[out] = 0
    mixed = Fit(y, who, weight_less).next_by(int(who[out]))
    bells = norm.pdf(y[out], mixed.mean, np.sqrt(mixed.variance))
    got = whole.likelihood(y, who, weight)[out]
    assert got == pytest.approx(float(whole.belief @ bells))


@pytest.mark.parametrize("factor", [0.65, 1.5])
def test_the_more_castings_the_nearer_to_what_they_say(factor):
    """Shrinkage is monotone, and so is the band's narrowing at the same scatter."""
    away, widths = [], []
    for castings in (2, 4, 8, 16, 32):
        found = only(
            done(factor * (1.1 if number % 2 else 1 / 1.1), day=number * 3)
            for number in range(castings)
        )
        assert found.castings == castings
        away.append(abs(log(found.learned.p50 / factor)))
        widths.append(found.learned.sigma)
    assert away == sorted(away, reverse=True)
    assert widths == sorted(widths, reverse=True)
    assert away[-1] < 0.05 < away[0] < abs(log(factor))


def test_people_keep_their_own_factor_and_lean_on_each_other():
    scatter = (1.3, 1 / 1.3)
    seen = [done(0.8 * scatter[n % 2], day=n * 3) for n in range(10)]
    seen += [done(1.2, day=31.0, by="Otto")]
    found = only(seen)
    (ines, ines_p50, ines_n), (otto, otto_p50, otto_n) = (
        (name, spread.p50, count) for name, spread, count in found.people
    )
    assert (ines, ines_n, otto, otto_n) == ("Ines", 10, "Otto", 1)
    assert 0.78 < ines_p50 < 0.87
    alone = only([done(1.2, by="Otto")]).people[0][1].p50
    assert ines_p50 < otto_p50 < alone < 1.2
    assert [name for name, *_ in only([done(1.0, by="")]).people] == []


def test_several_zones_of_one_pour_are_one_casting_and_tell_less_than_as_many_pours():
    zones = only([done(1.5, pour="bench.0302") for _ in range(6)])
    pours = only([done(1.5, day=day) for day in range(6)])
    one = only([done(1.5)])
    assert (zones.castings, pours.castings, len(zones.seen)) == (1, 6, 6)
    assert one.learned.p50 < zones.learned.p50 < pours.learned.p50


def test_an_absurd_entry_is_shown_and_hardly_counts():
    usual = [done(1.1 * (1.1 if n % 2 else 0.9), day=n * 2) for n in range(10)]
    clean = only(usual)
    for ratio in (12.0, 0.05):
        found = only([*usual, done(ratio, day=21, pour="odd")])
        (odd,) = [each for each in found.seen if each.odd]
        assert (odd.said.pour, odd.weight < 0.05) == ("odd", True)
        assert found.castings == 10
        assert found.learned.p50 == pytest.approx(clean.learned.p50, rel=0.02)
        assert found.learned.sigma == pytest.approx(clean.learned.sigma, rel=0.1)
    assert all(each.weight > ODD for each in clean.seen)
    alone = only([done(12.0)])
    assert alone.castings == 0
    assert alone.learned.p50 == pytest.approx(1.0, abs=0.05)


def test_what_says_why_not_teaches_nothing_and_what_took_no_time_neither():
    usual = [done(1.2, day=day) for day in range(5)]
    why = done(4.0, day=6, why_not="its end was corrected")
    found = only([*usual, why, done(0.0, day=7)])
    assert found.learned == only(usual).learned
    assert [each.why_not for each in found.left_out] == [why.why_not, "took no time"]


def test_every_step_is_learned_by_itself_in_the_order_of_the_work():
    found = learn_work(
        done(ratio, step=step)
        for step, ratio in (("wrap", 1.0), ("spray", 1.3), ("lift", 0.8), ("wax", 1.0))
    )
    assert [each.step for each in found] == ["wax", "spray", "lift", "wrap"]
    assert found[1].learned.p50 > 1 > found[2].learned.p50
    assert found[2].pace.factor == found[2].learned


def simulated(rng, castings):
    """One shop drawn from the prior, with what its castings took and one to come."""
    sigma, share = HANDS_ON.sigma, rng.choice(DAY_TO_DAY)
    rest = sigma * sqrt(1 - share**2)
    people = rng.normal(0, rest * sqrt(OF_PEOPLE), 2)
    level = rng.normal(0, rest * sqrt(1 - OF_PEOPLE))
    by = rng.choice(2, castings + 1, p=(0.7, 0.3))
    y = level + people[by] + rng.normal(0, sigma * share, castings + 1)
    seen = [
        done(exp(each), day=float(day), by=f"hand {who}")
        for day, (each, who) in enumerate(zip(y[:-1], by[:-1], strict=True))
    ]
    return seen, float(y[-1]), f"hand {by[-1]}"


def test_eight_in_ten_of_the_castings_to_come_lie_within_the_band():
    """Over 2,400 held-out castings of as many shops, by whoever and by the person."""
    rng = np.random.default_rng(20260302)
    within = {"whoever": [], "person": []}
    for number in range(2400):
        seen, coming, by = simulated(rng, (1, 3, 8, 20)[number % 4])
        found = only(seen)
        people = {name: spread for name, spread, _ in found.people}
        bands = {"whoever": found.learned, "person": people.get(by, found.learned)}
        for way, band in bands.items():
            within[way].append(band.p10 <= exp(coming) <= band.p90)
    shares = {way: float(np.mean(each)) for way, each in within.items()}
    assert all(0.76 <= share <= 0.84 for share in shares.values()), shares


@pytest.mark.parametrize("share", [SHOWN, SURE])
def test_student_is_as_near_as_it_says(share):
    for free in (2, 3, 4, 7, 12, 40, 1000):
        true = t.ppf((1 + share) / 2, free)
        assert student(share, free) == pytest.approx(true, rel=1e-2)


def falling(change, scatter, *, castings=12, days=120.0, by="Ines", seed=3):
    """Castings that take less and less."""
    rng = np.random.default_rng(seed)
    at = np.linspace(0, days, castings)
    y = log(1 + change) * at / days + rng.normal(0, scatter, castings)
    return [done(exp(each), day=day, by=by) for day, each in zip(at, y, strict=True)], (
        at,
        y,
    )


def test_trend_is_that_of_least_squares_with_its_interval():
    seen, (at, y) = falling(-0.18, 0.05)
    found = only(seen).trend
    line = linregress(at, y)
    reach = t.ppf(0.9, len(y) - 2) * line.stderr
    assert found.change == pytest.approx(exp(line.slope * 120) - 1)
    assert found.low == pytest.approx(exp((line.slope - reach) * 120) - 1, rel=1e-3)
    assert found.high == pytest.approx(exp((line.slope + reach) * 120) - 1, rel=1e-3)
    assert (found.since, found.castings) == (AT, 12)
    assert found.change == pytest.approx(-0.18, abs=0.05)


def test_of_steps_that_never_change_few_are_told_to():
    """By 19 in 20, of 300 some 15; the interval that is shown would tell 60."""
    rng = np.random.default_rng(8)
    found = [
        only(
            done(exp(each), day=6.0 * number, by=("Ines", "Otto")[number % people])
            for number, each in enumerate(rng.normal(0, 0.15, castings))
        ).trend
        for castings, people in [(7, 1), (10, 1), (12, 2), (20, 2), (40, 1)]
        for _ in range(60)
    ]
    assert 0.02 < np.mean([one.told for one in found]) < 0.08
    assert np.mean([one.low > 0 or one.high < 0 for one in found]) > 0.14


def test_a_change_that_is_there_is_told():
    """18 % over twelve castings against 5 % from day to day: as the p-value has it."""
    told, sure = [], []
    for seed in range(50):
        seen, (at, y) = falling(-0.18, 0.05, seed=seed)
        told.append(only(seen).trend.told)
        sure.append(linregress(at, y).pvalue < 1 - SURE)
    assert told == sure
    assert np.mean(told) > 0.8


@pytest.mark.parametrize(("castings", "days"), [(5, 120.0), (12, 29.0)])
def test_too_few_castings_or_too_short_a_time_have_no_trend(castings, days):
    assert only(falling(-0.3, 0.02, castings=castings, days=days)[0]).trend is None


def test_a_slower_hand_who_came_later_is_no_trend():
    first, _ = falling(0.0, 0.03, castings=8, days=60.0, by="Ines")
    later = [
        done(1.5 * (1.03 if day % 2 else 0.97), day=70.0 + day * 8, by="Otto")
        for day in range(8)
    ]
    found = only([*first, *later]).trend
    assert abs(found.change) < 0.06
    seen = [*first, *later]
    pooled = linregress(
        [(each.at - AT) / timedelta(days=1) for each in seen],
        [log(each.actual_min / RATE) for each in seen],
    )
    assert exp(pooled.slope * 60) - 1 > 0.15


def test_rates_of_a_step_are_those_it_is_reckoned_by():
    assert rates_of("lift") == (("flat", 8.0), ("upright", 20.5))
    assert rates_of("spray") == (("face", 3.0), ("fillet", 1.5))
    assert rates_of("mix-back") == (("", 7.0),)
    assert rates_of("no such step") == ()
    for name, rate in RATES.items():
        many = Quantities(*[10**6] * 18)
        total = sum(each * (10**6 if per else 1) for per, each in rates_of(name))
        assert total == pytest.approx(rate.minutes(many))
