"""Long counts over invented shops: are the intervals as wide as they should be?"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from scheduling.learning import SHARES, fit
from scheduling.observation import ENERGIES
from scheduling.posterior import RULES, known_part
from scheduling.shop import Shop
from scheduling.sightings import Sightings
from scheduling.spread import Spread
from scheduling.timings import Windows
from support.taught import (
    Truth,
    drawn,
    pours,
    pours_in_zones,
    prior_of,
    some_day,
    speed,
    waited,
)

ENERGIES_TRIED = (35.0, 39.0, 45.0, 49.0)
"""True activation energies, kJ/mol; the prior's is 42."""

HELD_OUT = 10
"""Windows after the learning by which a shop is judged."""


@dataclass(frozen=True)
class Calibration:
    """Ranks of the truths among the posteriors, 0 to 1, and the share covered."""

    ranks: dict[str, list[float]]
    covered: float
    windows: int

    def __str__(self):
        ranks = ", ".join(f"{k} p = {uniform(v):.3f}" for k, v in self.ranks.items())
        share = 100 * self.covered
        return f"80 % intervals hold {share:.1f} % of {self.windows}; ranks: {ranks}"


def uniform(ranks):
    """P of the chi-square test that ranks are uniform, in ten bins."""
    counts, _ = np.histogram(ranks, bins=10, range=(0, 1))
    return stats.chisquare(counts).pvalue


def calibration(rng, name, shops, count, mixes=1):
    """Draws shops from the prior, lets them pour, learns, and forecasts more."""
    prior = prior_of(name)
    ranks = {"median": [], "energy": []} | ({"share": []} if prior.share else {})
    covered = []
    for _ in range(shops):
        truths = drawn(rng, prior, mixes)
        waits = [
            (mix, wait.said.after, wait.said.before)
            for mix, truth in enumerate(truths)
            for wait in pours(rng, truth, count, name=name)
        ]
        found, truth = fit([prior] * mixes, Sightings.of(waits)), truths[0]
        scale = known_part(found.fractions)
        sds = np.sqrt(found.covariance[:, :2, :2].sum(axis=(1, 2)))
        score = np.log(truth.p50 / prior.p50) / prior.sigma / scale
        middle = found.mean[:, 0] + found.mean[:, 1]
        ranks["median"].append(found.chances @ stats.norm.cdf((score - middle) / sds))
        ranks["energy"].append(
            _rank(
                found, 1 + mixes, (truth.energy - prior.energy) / RULES.energy_sd,
                [(ENERGIES[end] - prior.energy) / RULES.energy_sd for end in (0, 2)],
            )
        )  # fmt: skip
        if prior.share:
            ranks["share"].append(
                _rank(
                    found, 1 + 2 * mixes, (truth.share - prior.share) / RULES.share_sd,
                    [(bound - prior.share) / RULES.share_sd for bound in SHARES],
                )
            )  # fmt: skip
        spread, clock = _next(found)
        for _ in range(HELD_OUT):
            wait = waited(rng, truth, 0, name=name, day=some_day(rng))
            run = wait.true_min * speed(clock, wait.day)
            covered.append(spread.p10 <= run <= spread.p90)
    return Calibration(ranks, float(np.mean(covered)), len(covered))


@dataclass(frozen=True)
class Recovered:
    """How often the 80 % intervals of the constants held the truth.

    ``share`` is None where the clock has none.
    """

    shops: int
    told: int
    energy: int
    share: int | None
    furthest: float

    def __str__(self):
        share = "" if self.share is None else f", the share's in {self.share}"
        return (
            f"told in {self.told} of {self.shops}; the energy's interval held in "
            f"{self.energy}{share}; at most {self.furthest:.1f} kJ/mol off"
        )


def recovered(name, truth, count, shops, days=some_day):
    """Learns activation energies across the published spread.

    Args:
        name: Of the threshold.
        truth: Of it, but for the energy.
        count: How many pours a shop has to learn from.
        shops: How many for each of ENERGIES_TRIED.
        days: Draws a day.
    """
    told = energy = share = 0
    furthest = 0.0
    for true in ENERGIES_TRIED:
        for seed in range(shops):
            waits = pours(
                np.random.default_rng([seed, int(true)]),
                replace(truth, energy=true),
                count,
                name=name,
                days=days,
            )
            seen = [(0, wait.said.after, wait.said.before) for wait in waits]
            found = fit([prior_of(name)], Sightings.of(seen))
            energies, shares = found.energy(0), found.share(0)
            told += energies.told
            energy += energies.p10 <= true <= energies.p90
            share += bool(shares) and shares.p10 <= truth.share <= shares.p90
            furthest = max(furthest, abs(energies.p50 - true))
    tried = shops * len(ENERGIES_TRIED)
    return Recovered(tried, told, energy, share if truth.share else None, furthest)


def covered_by_zones(rng, shops, count, zones, together):
    """Share of the next waits within the 80 % interval of shops that pour in zones.

    Args:
        rng: Randomness.
        shops: How many, drawn from the prior.
        count: How many pours each has to learn from.
        zones: How many of each pour.
        together: Correlation of the zones of a pour beyond the weather.
    """
    prior, covered = prior_of("face opens"), []
    for _ in range(shops):
        (truth,) = drawn(rng, prior)
        windows = Windows(Shop())
        windows.add(
            wait.said for wait in pours_in_zones(rng, truth, count, zones, together)
        )
        outlook = windows.outlook("face opens", "M1")
        clock = Truth(1, 1, outlook.energy, outlook.share)
        for _ in range(HELD_OUT):
            wait = waited(rng, truth, 0, day=some_day(rng))
            run = wait.true_min * speed(clock, wait.day)
            covered.append(outlook.spread.p10 <= run <= outlook.spread.p90)
    return float(np.mean(covered))


def _rank(found, place, score, bounds):
    """Rank of a truth in the posterior of a constant, cut to its bounds."""
    sds = np.sqrt(found.covariance[:, place, place])
    low, at, high = (
        found.chances @ stats.norm.cdf((value - found.mean[:, place]) / sds)
        for value in (bounds[0], score, bounds[1])
    )
    return (at - low) / (high - low)


def _next(found):
    """Spread of the next wait, and the clock it is to be run with."""
    energy, share = found.energy(0), found.share(0)
    clock = Truth(1, 1, energy.p50, share.p50 if share else None)
    return Spread(*found.next_wait(0, clock.energy, clock.share)), clock


@dataclass(frozen=True)
class Against:
    """Median absolute errors of the forecast opening, minutes on the wall."""

    ten: float
    thirty: float
    default: float
    average: float
    truth: float

    def __str__(self):
        return (
            f"10 pours {self.ten:.2f} min, 30 pours {self.thirty:.2f}; default "
            f"{self.default:.2f}, plain average of 10 {self.average:.2f}, "
            f"true model {self.truth:.2f}"
        )


def against_truth(rng, shops, windows, day=0.12):
    """Shops off the default by up to a factor of 1.6 and 8 kJ/mol, either way.

    Args:
        rng: Randomness.
        shops: How many.
        windows: How many each is judged by.
        day: Sigma from day to day: an assumption, nobody has published one.
    """
    prior = prior_of("face opens")
    usual = Truth(prior.p50, 1, prior.energy, prior.share)
    off = {"ten": [], "thirty": [], "default": [], "average": [], "truth": []}
    for _ in range(shops):
        slow, warm = rng.uniform(-1, 1, 2)
        truth = Truth(prior.p50 * 1.6**slow, day, prior.energy + 8 * warm, prior.share)
        past = pours(rng, truth, 30)
        ready = np.mean([wait.said.before.wall_min for wait in past[:10]])
        models = {"default": (usual, usual.p50), "truth": (truth, truth.p50)}
        for way, count in (("ten", 10), ("thirty", 30)):
            seen = [(0, wait.said.after, wait.said.before) for wait in past[:count]]
            spread, clock = _next(fit([prior], Sightings.of(seen)))
            models[way] = clock, spread.p50
        for _ in range(windows):
            wait = waited(rng, truth, 0, day=some_day(rng))
            off["average"].append(ready - wait.true_min)
            for way, (clock, p50) in models.items():
                off[way].append(p50 / speed(clock, wait.day) - wait.true_min)
    return Against(**{way: float(np.median(np.abs(off[way]))) for way in off})
