"""What bracketed waits say about a threshold: a Bayesian log-normal fit.

The logarithm of the reference minutes of wait i of mix m is

    log p50_m + sigma_m (sqrt((1 - f^2) / 2) (u + v_m) + f e_i)

with p50_m and sigma_m of the default and u (the shop), v_m (the mix), e_i (the day)
standard normal: whatever f is, the spread of the next wait without any data is the
default's own. Half of what is to be learned is shared by all mixes (estimate); f, how
much of the default's spread is left once a shop is known, lies on a grid. A wait is
known to lie between two marks, whose reference minutes depend on the activation energy
and the share of evaporation of its clock, which are learned along. One wait in some
thirty may be absurd: it has a much wider spread, and so next to no weight. The waits
of one pour share their day, which the model has no term for: each counts for less.

For each f the mode is found by Newton's method and taken for the middle of a normal
(Laplace); the evidence weighs the f.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduling.normal import Floats, between
from scheduling.observation import ENERGIES
from scheduling.sightings import Sightings, log_minutes

_LEAST_WIDTH = 1e-3
"""Narrowest bracket, in logarithms: a tenth of a percent."""

_ROUNDS = 60
_STILL = 1e-4
"""A last Newton step is taken unseen when the log of the posterior would gain less than
about this by it: what is left then is a square of that."""


@dataclass(frozen=True, slots=True)
class Rules:
    """What the fit takes for granted: estimates, every one.

    Attributes:
        fractions: Lowest and highest f; all between are as likely beforehand.
        points: How many of them are tried at once.
        absurd: Share of waits that are absurd.
        wide: Standard deviation of those, in sigmas of the default.
        energy_sd: Of a clock's activation energy about the mix's own, kJ/mol.
        share_sd: Of its share of evaporation about that of its kind.
    """

    fractions: tuple[float, float] = (0.15, 0.95)
    points: int = 9
    absurd: float = 0.03
    wide: float = 4.0
    energy_sd: float = 4.0
    share_sd: float = 0.1


RULES = Rules()


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a threshold of one mix without the log.

    Attributes:
        p50: Median, reference minutes.
        sigma: Of its logarithm, above 0.
        energy: Activation energy of its clock, kJ/mol; None where it has none.
        share: Of evaporation in its clock; None where it has none.
    """

    p50: float
    sigma: float
    energy: float | None = None
    share: float | None = None


def known_part(fractions: Floats) -> Floats:
    """Standard deviation of u and of v_m, in sigmas of the default."""
    known: Floats = np.sqrt((1 - fractions**2) / 2)
    return known


def solve(matrix: Floats, right: Floats) -> Floats:
    """Solves many small systems at once."""
    solved = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    return np.asarray(solved, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Point:
    """The log of the posterior at some unknowns, one row for each f.

    Attributes:
        at: The unknowns, (F, p).
        likelihood: Log-likelihood, (F,).
        height: The same and the log of the prior, (F,).
        slope: Of the height, (F, p).
        curve: Of the height, downwards, (F, p, p).
        good: Chance that a wait is none of the absurd, (F, n).
        days: Slope of a wait's score by the unknowns, (F, p, n).
    """

    at: Floats
    likelihood: Floats
    height: Floats
    slope: Floats
    curve: Floats
    good: Floats
    days: Floats

    def or_else(self, take: NDArray[np.bool_], other: Point) -> Point:
        """This where it is to be taken, and the other elsewhere."""
        return Point(
            *(
                np.where(take.reshape(-1, *(1,) * (mine.ndim - 1)), mine, theirs)
                for mine, theirs in (
                    (getattr(self, name), getattr(other, name))
                    for name in Point.__slots__
                )
            )
        )


class Posterior:
    """The posterior of the unknowns, given the waits.

    Shapes: F values of f, n waits, M mixes, p unknowns (in the order of ``Fit``).
    """

    def __init__(self, priors: Sequence[Prior], seen: Sightings, rules: Rules) -> None:
        self.priors, self.count = priors, len(priors)
        self.seen, self.rules = seen, rules
        which = seen.which
        self.middle = np.log([prior.p50 for prior in priors])[which]
        self.sigma = np.array([prior.sigma for prior in priors])[which]
        # A clock without a constant has marks that do not depend on it.
        self.energy = np.array([p.energy or ENERGIES[1] for p in priors])[which]
        shares = [prior.share for prior in priors]
        self.share = (
            None
            if None in shares
            else np.array([share or 0.0 for share in shares])[which]
        )
        self.size = 1 + (2 if self.share is None else 3) * self.count

    def at(self, unknowns: Floats, fractions: Floats) -> Point:
        """Its logarithm with slope and curvature, (F, p) unknowns at (F,) f."""
        rules, which, count = self.rules, self.seen.which, self.count
        columns = 1 + which
        energy = self.energy + rules.energy_sd * unknowns[:, columns + count]
        share = None
        if self.share is not None:
            share = self.share + rules.share_sd * unknowns[:, columns + 2 * count]
        logs, by_energy, by_share = log_minutes(self.seen, energy, share)
        known = known_part(fractions)[:, None]
        away = known * (unknowns[:, :1] + unknowns[:, columns])
        scores = (logs - self.middle) / self.sigma - away
        ways = np.zeros((2, len(fractions), self.size, len(which)))
        rows = np.arange(len(which))
        ways[:, :, 0] = -known
        ways[:, :, columns, rows] = -known
        ways[:, :, columns + count, rows] = rules.energy_sd * by_energy / self.sigma
        if share is not None:
            ways[:, :, columns + 2 * count, rows] = (
                rules.share_sd * by_share / self.sigma
            )
        days = np.where(self.seen.known[1], ways[1], ways[0])
        ways *= self.seen.known[:, None, None]
        value, slopes, curves, good = self._likelihood(scores, fractions)
        slope = (ways @ slopes[..., None]).sum(axis=0)[..., 0]
        low, high = ways
        by_low, by_high, across = curves[:, :, None]
        curve = (by_low * low + across * high) @ low.swapaxes(1, 2)
        curve += (across * low + by_high * high) @ high.swapaxes(1, 2)
        return Point(
            at=unknowns,
            likelihood=value,
            height=value - (unknowns**2).sum(axis=1) / 2,
            slope=slope - unknowns,
            curve=curve + np.eye(self.size),
            good=good,
            days=days,
        )

    def doubt(self, point: Point, covariance: Floats, fractions: Floats) -> Floats:
        """Variance of the log of the middle of a wait of each mix, (F, M).

        On average over the days on which the mix was seen; of one never seen, at the
        reference.
        """
        of_days = (covariance @ point.days * point.days).sum(axis=1)
        doubts = []
        for place, prior in enumerate(self.priors):
            mine = self.seen.which == place
            if mine.any():
                variance = of_days[:, mine].mean(axis=1)
            else:
                both = covariance[:, [0, 1 + place]][:, :, [0, 1 + place]]
                variance = known_part(fractions) ** 2 * both.sum(axis=(1, 2))
            doubts.append(prior.sigma**2 * variance)
        return np.stack(doubts, axis=1)

    def _likelihood(
        self, scores: Floats, fractions: Floats
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """How likely the waits are, given the scores of both their marks.

        Returns:
            The log-likelihood, (F,); of each wait its slope by both scores, (2, F, n),
            and its curvature, downwards, by the first, the second and across,
            (3, F, n), all by how much it counts; and the chance that it is none of
            the absurd, (F, n).
        """
        counts = self.seen.counts
        absurd, wide = self.rules.absurd, self.rules.wide
        f = fractions[:, None]
        low = np.where(self.seen.known[0], scores[0], -np.inf)
        least = _LEAST_WIDTH / self.sigma
        high = np.where(self.seen.known[1], np.maximum(scores[1], low + least), np.inf)
        usual = _Part.of(low, high, f)
        if not absurd:
            good = np.ones_like(usual.share)
            return (
                usual.share @ counts,
                counts * usual.slopes,
                counts * usual.curves,
                good,
            )
        odd = _Part.of(low, high, wide)
        share = np.logaddexp(
            np.log1p(-absurd) + usual.share, np.log(absurd) + odd.share
        )
        good = np.exp(np.log1p(-absurd) + usual.share - share)
        # As if it were known which are absurd: never curved the wrong way.
        return (
            share @ counts,
            counts * (good * usual.slopes + (1 - good) * odd.slopes),
            counts * (good * usual.curves + (1 - good) * odd.curves),
            good,
        )

    def mode(self, start: Floats, fractions: Floats) -> Point:
        """The highest point for each f, by damped Newton steps."""
        here = self.at(start, fractions)
        scale = np.ones(len(fractions))
        for _ in range(_ROUNDS):
            step = solve(here.curve, here.slope) * scale[:, None]
            if (step * here.slope).sum(axis=1).max() < _STILL:
                break
            trial = self.at(here.at + step, fractions)
            better = trial.height >= here.height
            here = trial.or_else(better, here)
            scale = np.where(better, 1.0, scale / 4)
        return here


@dataclass(frozen=True, slots=True)
class _Part:
    """The waits as if all were of one kind: log-likelihood, slopes and curvature."""

    share: Floats
    slopes: Floats
    curves: Floats

    @classmethod
    def of(cls, low: Floats, high: Floats, sd: Floats | float) -> _Part:
        share, at_low, at_high = between(low / sd, high / sd)
        at_low, at_high = at_low / sd, at_high / sd
        low_pull = np.where(np.isfinite(low), low, 0.0) / sd**2
        high_pull = np.where(np.isfinite(high), high, 0.0) / sd**2
        return cls(
            share,
            np.stack((-at_low, at_high)),
            np.stack(
                (
                    at_low * (at_low - low_pull),
                    at_high * (at_high + high_pull),
                    -at_low * at_high,
                )
            ),
        )
