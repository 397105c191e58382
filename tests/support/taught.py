"""Invented shops with a truth of their own, and the logs their pours would leave."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from math import exp, sqrt

import numpy as np

from scheduling.air import Conditions
from scheduling.laws import CLOSE_SHARE, OPEN_SHARE, Face, Hydration
from scheduling.observation import ENERGIES, Mark, Observation
from scheduling.posterior import RULES, Prior
from scheduling.thresholds import DEFAULTS

FIRST_DAY = datetime(2025, 1, 6, 8, tzinfo=UTC)
TEST_EVERY_MIN = 3.0


@dataclass(frozen=True)
class Truth:
    """A threshold of a mix in one shop; ``day`` is its sigma from day to day."""

    p50: float
    day: float
    energy: float | None = 42.0
    share: float | None = None


def prior_of(name, energy=42.0):
    """The prior of a threshold by the defaults."""
    threshold = DEFAULTS[name]
    share = {"face opens": OPEN_SHARE}.get(name, CLOSE_SHARE)
    return Prior(
        threshold.spread.p50,
        threshold.spread.sigma,
        energy if threshold.clock in ("face", "hydration") else None,
        share if threshold.clock == "face" else None,
    )


def drawn(rng, prior, mixes=1):
    """The truth of each mix of a shop, drawn from the prior."""
    fraction = rng.uniform(*RULES.fractions)
    known = prior.sigma * np.sqrt((1 - fraction**2) / 2)
    shop = rng.normal()
    return [
        Truth(
            prior.p50 * exp(known * (shop + rng.normal())),
            prior.sigma * fraction,
            _cut(rng, prior.energy, RULES.energy_sd, (ENERGIES[0], ENERGIES[2])),
            _cut(rng, prior.share, RULES.share_sd, (0.1, 0.8)),
        )
        for _ in range(mixes)
    ]


def _cut(rng, middle, sd, bounds):
    if middle is None:
        return None
    while True:
        value = rng.normal(middle, sd)
        if bounds[0] <= value <= bounds[1]:
            return value


def some_day(rng):
    """The steady conditions of a day in a shop without much heating."""
    temp, rh = rng.uniform((12, 30), (32, 80))
    return Conditions(float(temp), float(rh), float(rng.choice((0, 0, 1, 3))))


def outdoor_day(rng):
    """The steady conditions of a day under a roof without walls, in a long season."""
    day = some_day(rng)
    return replace(day, temp_c=float(rng.uniform(5, 32)))


def steady_day(rng):  # noqa: ARG001 - drawn from like some_day
    """A day at the reference, whatever is drawn."""
    return Conditions(21.0, 50.0, 0.0)


def mark_at(wall_min, day, *, face):
    """How far the clocks had run after so long in steady conditions."""
    rates = [Hydration(energy).rate(day, day, 1.0) for energy in ENERGIES]
    drying = Face(1.0).rate(day, day, 1.0) if face else 0.0
    return Mark(wall_min, tuple(wall_min * rate for rate in rates), wall_min * drying)


def speed(truth, day):
    """Reference minutes that pass in a minute, by the true law."""
    if truth.share is not None:
        return Face(truth.share, truth.energy).rate(day, day, 1.0)
    return Hydration(truth.energy).rate(day, day, 1.0)


@dataclass(frozen=True)
class Wait:
    """A simulated wait: what was seen of it, and what nobody sees."""

    said: Observation
    day: Conditions
    true_min: float


def pours(rng, truth, count, *, name="face opens", mix="M1", first=0, days=some_day):
    """Waits of so many pours, one a day, each touched every three minutes."""
    return [
        waited(rng, truth, first + number, name=name, mix=mix, day=days(rng))
        for number in range(count)
    ]


def pours_in_zones(rng, truth, count, zones, together):
    """Waits of so many pours, each with so many zones.

    Args:
        rng: Randomness.
        truth: Of them all; the zones of one pour have the same weather.
        count: How many pours.
        zones: How many of each pour.
        together: Correlation of their logarithms beyond the weather.
    """
    for number in range(count):
        day, shared = some_day(rng), sqrt(together) * rng.normal()
        of_day = replace(
            truth,
            p50=truth.p50 * exp(truth.day * shared),
            day=truth.day * sqrt(1 - together),
        )
        for zone in range(zones):
            wait = waited(rng, of_day, number, day=day)
            yield replace(wait, said=replace(wait.said, zone=f"zone {zone}"))


def waited(rng, truth, number, *, name="face opens", mix="M1", day):
    """One wait of one pour."""
    true_min = float(truth.p50 * exp(truth.day * rng.normal()) / speed(truth, day))
    # The first test comes at some moment of the first three minutes.
    offset = float(rng.uniform(0, TEST_EVERY_MIN))
    before = max(true_min - offset, 0) // TEST_EVERY_MIN
    soft = offset + TEST_EVERY_MIN * before
    face = truth.share is not None
    seen = true_min > offset
    said = Observation(
        pour=f"{mix.lower()}-{number}",
        at=FIRST_DAY + timedelta(days=number),
        name=name,
        mix=mix,
        zone="",
        after=mark_at(soft, day, face=face) if seen else None,
        before=mark_at(soft + TEST_EVERY_MIN * seen, day, face=face),
        temp_c=day.temp_c,
    )
    return Wait(said, day, true_min)


def forgotten(wait, times):
    """The same wait, entered so many times too late: a clock nobody stopped."""
    return replace(
        wait,
        said=replace(
            wait.said,
            after=_longer(wait.said.after, times),
            before=_longer(wait.said.before, times),
        ),
    )


def _longer(mark, times):
    if mark is None:
        return None
    return Mark(
        mark.wall_min * times,
        tuple(value * times for value in mark.hydration),
        mark.evaporation * times,
    )
