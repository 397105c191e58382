"""Whether a step is done faster or slower as time goes on, as far as the log tells.

A straight line through the logarithms of actual over rate, by least squares. Where
several people did the step only each one's own change counts: a slower hand who came
later is no trend. The change is told over the longest stretch that one person did it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from math import exp, sqrt
from statistics import NormalDist, fmean
from typing import NamedTuple

from scheduling.learned import Trend
from scheduling.observation import WorkObservation

FEWEST = 6
"""Castings under which nothing is said (estimate)."""

SHORTEST = timedelta(days=30)
"""Time over which one person has to have done it (estimate)."""

_FREE = 2
"""Degrees of freedom under which nothing is said."""

SHOWN = 0.8
"""The interval that is shown."""

SURE = 0.95
"""The interval that has to leave out no change before one is told: of twenty steps that
never change about one is told all the same (estimate)."""

_DAY = timedelta(days=1)


class Point(NamedTuple):
    """One casting by one person: what was seen first, and the mean log ratio of all."""

    said: WorkObservation
    y: float


def trend(points: Iterable[Point]) -> Trend | None:
    """Returns the change over the castings with the interval SHOWN.

    Args:
        points: A casting's steps taken together, one point for each who did them.

    Returns:
        None with fewer than FEWEST castings, or where nobody did it over SHORTEST.
    """
    people: dict[str, list[Point]] = {}
    for point in sorted(points, key=lambda point: point.said.at):
        people.setdefault(point.said.by, []).append(point)
    castings = len({point.said.pour for own in people.values() for point in own})
    pairs = [pair for own in people.values() for pair in _about_their_mean(own)]
    free = len(pairs) - len(people) - 1
    if castings < FEWEST or free < _FREE:
        return None
    longest = max(people.values(), key=_stretch)
    if _stretch(longest) < SHORTEST:
        return None
    spread = sum(x * x for x, _ in pairs)
    slope = sum(x * y for x, y in pairs) / spread
    rest = sum((y - slope * x) ** 2 for x, y in pairs)
    error = sqrt(rest / free / spread)
    reach = student(SHOWN, free) * error
    days = _stretch(longest) / _DAY
    low, change, high = (
        exp(days * each) - 1 for each in (slope - reach, slope, slope + reach)
    )
    told = abs(slope) > student(SURE, free) * error
    return Trend(longest[0].said.at, castings, change, low, high, told)


def _stretch(own: list[Point]) -> timedelta:
    return own[-1].said.at - own[0].said.at


def _about_their_mean(own: list[Point]) -> list[tuple[float, float]]:
    """Days and log ratios of one person, each less that person's mean."""
    days = [(point.said.at - own[0].said.at) / _DAY for point in own]
    middle, level = fmean(days), fmean(point.y for point in own)
    return [
        (day - middle, point.y - level) for day, point in zip(days, own, strict=True)
    ]


def student(share: float, free: int) -> float:
    """The value that Student's t stays within, either way, in such a share of cases.

    Abramowitz and Stegun 26.7.5, its first four terms: for the two shares used here
    within 1 % of the truth from 2 degrees of freedom on.
    """
    z = NormalDist().inv_cdf((1 + share) / 2)
    terms: tuple[float, ...] = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + sum(term / float(free) ** n for n, term in enumerate(terms, 1))
