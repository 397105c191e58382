"""Learning from the log how fast the shop does each step, and each person in it.

The logarithm of actual over rate is the shop's part and the person's part and what
differs from casting to casting. Without the log the three together are the spread of
hands-on time of the trade, exactly; with it the first two draw in, and how much of the
spread is left to the third is learned as well. All of it is Gaussian: no iteration but
the few passes that tell the absurd entries.

The steps of one pour share their day: several zones, batches or grits of it are one
casting, and each of them is seen, but they count together for less than as many pours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import exp, fsum, isfinite, log, sqrt
from statistics import NormalDist, fmean

import numpy as np
from numpy.typing import NDArray

from scheduling.learned import ODD, LearnedPace, Weighed
from scheduling.observation import WorkObservation
from scheduling.oneday import shares
from scheduling.overlaps import told_apart
from scheduling.spread import Spread
from scheduling.trend import Point, trend
from scheduling.work import HANDS_ON, RATES

_Floats = NDArray[np.float64]

DAY_TO_DAY = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
"""Shares of the spread of hands-on time that may lie between castings of one person,
each as likely as the others before the log is read (estimate)."""

OF_PEOPLE = 1 / 3
"""Share of the rest of the variance that lies between the people of one shop; what is
left lies between shops (estimate)."""

ABSURD = 0.05
"""Share of entries that are expected to be no true time of the step (estimate)."""

ABSURD_SIGMA = log(5)
"""Spread of those: off by a factor of five either way is nothing special (estimate)."""

_PASSES = 5


@dataclass(frozen=True, slots=True)
class Mixed:
    """What a log ratio may be: Gaussians, one for each share of DAY_TO_DAY.

    Attributes:
        belief: How likely each is, together 1.
        mean: Of each.
        variance: Of each.
    """

    belief: _Floats
    mean: _Floats
    variance: _Floats


class Fit:
    """The shop's and its people's parts, given entries and how much each counts.

    Attributes:
        belief: In each share of DAY_TO_DAY, together 1.
    """

    def __init__(self, y: _Floats, who: NDArray[np.intp], weight: _Floats) -> None:
        """Fits.

        Args:
            y: Log ratios, shape (entries,).
            who: The person of each, as an index from 0, shape (entries,).
            weight: How much each counts, shape (entries,).
        """
        share = np.array(DAY_TO_DAY) ** 2
        variance = HANDS_ON.sigma**2
        self._noise = variance * share
        self._person = variance * (1 - share) * OF_PEOPLE
        self._shop = variance * (1 - share) * (1 - OF_PEOPLE)
        people = int(who.max()) + 1
        # Precision and its moment by person, shape (shares, people).
        self._sums = np.bincount(who, weight, people) / self._noise[:, None]
        self._moments = np.bincount(who, weight * y, people) / self._noise[:, None]
        self.belief = self._believed(y, weight)

    def _believed(self, y: _Floats, weight: _Floats) -> _Floats:
        """The exact evidence of each share, both parts integrated out."""
        left = self._left(self._sums)
        precision = (self._sums * left).sum(axis=1)
        moment = (self._moments * left).sum(axis=1)
        squares = (weight * y * y).sum() / self._noise
        # Completing the square in each person's part and then in the shop's.
        explained = (self._moments**2 * left * self._person[:, None]).sum(axis=1)
        explained += moment**2 / (precision + 1 / self._shop)
        evidence = -0.5 * (
            weight.sum() * np.log(self._noise)
            + squares
            - explained
            - np.log(left).sum(axis=1)
            + np.log(1 + self._shop * precision)
        )
        belief = np.exp(evidence - evidence.max())
        return np.asarray(belief / belief.sum())

    def _left(self, sums: _Floats) -> _Floats:
        """Share of a person's prior variance that is left after such precision."""
        return np.asarray(1 / (1 + self._person[:, None] * sums))

    def somebody_new(self) -> Mixed:
        """The next log ratio of a person who never did the step."""
        left = self._left(self._sums)
        shop = 1 / ((self._sums * left).sum(axis=1) + 1 / self._shop)
        mean = shop * (self._moments * left).sum(axis=1)
        return Mixed(self.belief, mean, shop + self._person + self._noise)

    def next_by(self, person: int) -> Mixed:
        """The next log ratio of a person who did it before."""
        nobody = np.zeros((len(self._noise), 1))
        mean, variance = self._next(np.array([person]), nobody, nobody)
        return Mixed(self.belief, mean[:, 0], variance[:, 0])

    def likelihood(self, y: _Floats, who: NDArray[np.intp], weight: _Floats) -> _Floats:
        """How likely each entry is by all the others; arguments as for the fit."""
        own = weight / self._noise[:, None]
        mean, variance = self._next(who, own, own * y)
        bell = np.exp(-((y - mean) ** 2) / variance / 2) / np.sqrt(variance)
        return np.asarray(self.belief @ bell / np.sqrt(2 * np.pi))

    def _next(
        self, who: NDArray[np.intp], own: _Floats, own_moment: _Floats
    ) -> tuple[_Floats, _Floats]:
        """Mean and variance of a further entry of each person, less some precision."""
        person, shop = self._person[:, None], self._shop[:, None]
        before = self._left(self._sums)
        whole = (self._sums * before).sum(axis=1, keepdims=True)
        moment = (self._moments * before).sum(axis=1, keepdims=True)
        sums, moments = self._sums[:, who] - own, self._moments[:, who] - own_moment
        left = self._left(sums)
        whole = whole + sums * left - (self._sums * before)[:, who]
        moment = moment + moments * left - (self._moments * before)[:, who]
        of_shop = 1 / (whole + 1 / shop)
        mean = left * of_shop * moment + person * left * moments
        variance = left**2 * of_shop + person * left + self._noise[:, None]
        return mean, variance


def learn_work(observations: Iterable[WorkObservation]) -> list[LearnedPace]:
    """Returns the pace of each step that was seen, in the order of the work.

    Args:
        observations: Of all pours, in any order. Nothing is learned from those that
            ``weighable`` leaves out.
    """
    families: dict[str, list[WorkObservation]] = {}
    for each in weighable(observations):
        families.setdefault(each.step, []).append(each)
    return [_learn(step, families[step]) for step in sorted(families, key=_place)]


def weighable(observations: Iterable[WorkObservation]) -> list[WorkObservation]:
    """Returns the observations in order of time, each with why not to learn from it.

    Besides those that say so themselves that is what took no time, and what somebody
    did while at work on another pour.
    """
    checked = map(_checked, observations)
    return sorted(told_apart(checked), key=lambda each: (each.at, each.pour))


def _checked(said: WorkObservation) -> WorkObservation:
    times = (said.rate_min, said.actual_min)
    if said.why_not or all(isfinite(each) and each > 0 for each in times):
        return said
    return replace(said, why_not="took no time")


def _place(step: str) -> tuple[float, str]:
    order = list(RATES)
    names = [name for name in (step, f"{step}-field") if name in RATES]
    return (order.index(names[0]) if names else len(order)), step


def _learn(step: str, found: Sequence[WorkObservation]) -> LearnedPace:
    said = [each for each in found if not each.why_not]
    left_out = tuple(each for each in found if each.why_not)
    if not said:
        return LearnedPace(step, HANDS_ON, HANDS_ON, 0, (), None, (), left_out)
    judged = Judged(said)
    return LearnedPace(
        step,
        HANDS_ON,
        judged.whoever(),
        len({each.pour for each, _ in judged.counted}),
        tuple(
            (name, _spread([(1.0, judged.fit.next_by(place))]), judged.castings[place])
            for place, name in enumerate(judged.names)
            if name and judged.castings[place]
        ),
        trend(_points(judged.counted)),
        tuple(
            Weighed(each, float(much))
            for each, much in zip(said, judged.believed, strict=True)
        ),
        left_out,
    )


class Judged:
    """Times of one step, each judged by all the others.

    Attributes:
        names: Who did it.
        believed: How likely each is a true time of the step, shape (entries,).
        fit: To all of them, each by how much it counts.
        counted: Those that are not odd, each with its log ratio.
        castings: How many of these castings each of ``names`` did.
    """

    def __init__(self, said: Sequence[WorkObservation]) -> None:
        """Judges.

        Args:
            said: At least one; none with a reason to learn nothing from it.
        """
        self.names = sorted({each.by for each in said})
        y = np.array([log(each.actual_min / each.rate_min) for each in said])
        who = np.array([self.names.index(each.by) for each in said])
        counts = shares([each.pour for each in said])
        self.believed = _believed(y, who, counts)
        self.fit = Fit(y, who, self.believed * counts)
        self.counted = [
            (each, float(ratio))
            for each, ratio, much in zip(said, y, self.believed, strict=True)
            if much >= ODD
        ]
        did = {(each.pour, each.by) for each, _ in self.counted}
        by = Counter(name for _, name in did)
        self.castings = [by[name] for name in self.names]

    def whoever(self) -> Spread:
        """The factor of the next casting, whoever does it.

        That is one of those who did it before, as often as each did, or once somebody
        new.
        """
        known = [
            (float(count), self.fit.next_by(place))
            for place, count in enumerate(self.castings)
        ]
        return _spread([*known, (1.0, self.fit.somebody_new())])


def _believed(y: _Floats, who: NDArray[np.intp], counts: _Floats) -> _Floats:
    """How likely each entry is a true time of the step, judged by all the others."""
    # The default counts as one more casting, so that a single entry is judged as well.
    middle = np.median(np.append(y, 0.0))
    likely = np.exp(-(((y - middle) / HANDS_ON.sigma) ** 2) / 2) / HANDS_ON.sigma
    likely /= np.sqrt(2 * np.pi)
    wide = NormalDist(0.0, ABSURD_SIGMA)
    absurd = np.array([wide.pdf(each) for each in y]) * ABSURD
    believed = np.ones_like(y)
    for _ in range(_PASSES):
        believed = (1 - ABSURD) * likely / ((1 - ABSURD) * likely + absurd)
        weight = believed * counts
        likely = Fit(y, who, weight).likelihood(y, who, weight)
    return believed


def _spread(parts: Sequence[tuple[float, Mixed]]) -> Spread:
    """The factor as a band: the P10, P50 and P90 of Gaussians taken together."""
    total = sum(count for count, _ in parts)
    shares = [
        s for count, part in parts for s in (count / total * part.belief).tolist()
    ]
    bells = [
        NormalDist(mean, sqrt(variance))
        for _, part in parts
        for mean, variance in zip(
            part.mean.tolist(), part.variance.tolist(), strict=True
        )
    ]

    def under(x: float) -> float:
        return fsum(s * bell.cdf(x) for s, bell in zip(shares, bells, strict=True))

    def quantile(share: float) -> float:
        # It lies among those of the parts.
        ends = [bell.inv_cdf(share) for bell in bells]
        return exp(_where(under, share, min(ends), max(ends)))

    return Spread.of(quantile(0.1), quantile(0.5), quantile(0.9))


def _where(
    under: Callable[[float], float], share: float, low: float, high: float
) -> float:
    """Where a rising function passes a share, to a millionth."""
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if under(middle) < share else (low, middle)
    return high


def _points(counted: Iterable[tuple[WorkObservation, float]]) -> list[Point]:
    """A point for each casting and each person who did some of it."""
    castings: dict[tuple[str, str], list[tuple[WorkObservation, float]]] = {}
    for each, ratio in counted:
        castings.setdefault((each.pour, each.by), []).append((each, ratio))
    return [
        Point(own[0][0], fmean(ratio for _, ratio in own)) for own in castings.values()
    ]
