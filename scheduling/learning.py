"""Learns a threshold of some mixes from waits that were seen, and forecasts the next.

The model is that of ``scheduling.posterior``. Its f is narrowed from the whole range
down to where it matters, and every figure is the mean over all f by their chances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from scheduling.learned import Estimate
from scheduling.normal import Floats
from scheduling.observation import ENERGIES
from scheduling.posterior import RULES, Posterior, Prior, Rules, known_part, solve
from scheduling.sightings import Sightings

SHARES = (0.1, 0.8)
"""Bounds of the share of evaporation in a face clock (estimate)."""

TOLD = 0.85
"""A constant counts as told when its standard deviation has shrunk under so much of
what it was before."""

_HELD = 1e-4
_ENOUGH = 5
"""A grid is fine enough when so many f have more than that chance; with more of the log
only those and their neighbours are tried again."""

_EDGE = 2e-3
"""Unless one at an end of them then has more than this: then the whole range is."""

_NARROWINGS = 8
_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Fit:
    """Normals about the unknowns, one for each f, and how likely that f is.

    The unknowns are in standard deviations of their prior: u, then v, then energy,
    then share, the last three once for each mix.

    Attributes:
        priors: Of the mixes.
        rules: It was made by.
        fractions: The f, (F,).
        chances: Of each, adding up to 1, (F,).
        mean: Of the unknowns, (F, p).
        covariance: Of the unknowns, (F, p, p).
        likelihood: Its logarithm at the mode, (F,).
        doubt: Variance of the logarithm of a wait's mean, on average over the days
            that were seen, of each mix, (F, M).
        weights: How much each wait counts, 0 to 1, (n,).
    """

    priors: tuple[Prior, ...]
    rules: Rules
    fractions: Floats
    chances: Floats
    mean: Floats
    covariance: Floats
    likelihood: Floats
    doubt: Floats
    weights: Floats

    def energy(self, which: int) -> Estimate | None:
        """Activation energy of the clock of a mix, kJ/mol."""
        prior = self.priors[which].energy
        if prior is None:
            return None
        place = 1 + len(self.priors) + which
        bounds = (min(ENERGIES[0], prior), max(ENERGIES[2], prior))
        return self._estimate(place, prior, self.rules.energy_sd, bounds)

    def share(self, which: int) -> Estimate | None:
        """Share of evaporation in the clock of a mix."""
        prior = self.priors[which].share
        if prior is None:
            return None
        place = 1 + 2 * len(self.priors) + which
        return self._estimate(place, prior, self.rules.share_sd, SHARES)

    def next_wait(
        self, which: int, energy: float | None, share: float | None
    ) -> tuple[float, float]:
        """Median of the next wait of a mix, reference minutes, and its sigma.

        The median is the one that goes with the given constants of the clock, so that
        a forecast is right on days like those seen; their own doubt is in the sigma.

        Args:
            which: The mix's place among the priors.
            energy: Activation energy the forecast will run with, kJ/mol.
            share: Of evaporation the forecast will run with.
        """
        prior, count = self.priors[which], len(self.priors)
        constants = (
            (1 + count + which, prior.energy, energy, self.rules.energy_sd),
            (1 + 2 * count + which, prior.share, share, self.rules.share_sd),
        )
        shift = self.mean[:, 0] + self.mean[:, 1 + which]
        fixed = [
            (place, (used - usual) / sd)
            for place, usual, used, sd in constants
            if usual is not None and used is not None
        ]
        if fixed:
            places = [place for place, _ in fixed]
            off = np.array([to for _, to in fixed]) - self.mean[:, places]
            among = self.covariance[:, places][:, :, places]
            along = self.covariance[:, [0, 1 + which]][:, :, places].sum(axis=1)
            shift = shift + (along * solve(among, off)).sum(axis=1)
        middle = prior.sigma * known_part(self.fractions) * shift
        spread = (prior.sigma * self.fractions) ** 2 + self.doubt[:, which]
        mean = float(self.chances @ middle)
        variance = float(self.chances @ (spread + (middle - mean) ** 2))
        return prior.p50 * float(np.exp(mean)), float(np.sqrt(variance))

    def _estimate(
        self, place: int, prior: float, sd: float, bounds: tuple[float, float]
    ) -> Estimate:
        means = self.mean[:, place]
        mean = float(self.chances @ means)
        variance = self.covariance[:, place, place] + (means - mean) ** 2
        width = float(np.sqrt(self.chances @ variance))
        told = width < TOLD
        middle, spread = (prior + sd * mean, sd * width) if told else (prior, sd)
        return Estimate(
            p10=_cut_quantile(0.1, middle, spread, bounds),
            p50=_cut_quantile(0.5, middle, spread, bounds) if told else prior,
            p90=_cut_quantile(0.9, middle, spread, bounds),
            prior=prior,
            told=told,
        )


def _cut_quantile(
    share: float, mean: float, sd: float, bounds: tuple[float, float]
) -> float:
    """Quantile of a normal cut to its bounds."""
    low, high = (_NORMAL.cdf((bound - mean) / sd) for bound in bounds)
    point = low + share * (high - low)
    if not 0 < point < 1:
        return min(max(mean, bounds[0]), bounds[1])
    return min(max(mean + sd * _NORMAL.inv_cdf(point), bounds[0]), bounds[1])


def fit(
    priors: Sequence[Prior],
    seen: Sightings,
    rules: Rules = RULES,
    start: Fit | None = None,
) -> Fit:
    """Learns one threshold of some mixes from what was seen of it.

    Args:
        priors: Of the mixes; either all clocks have a constant or none.
        seen: The waits, at least one.
        rules: What is taken for granted.
        start: What was learned of the same mixes from most of these waits, to begin
            there and be done sooner.
    """
    posterior = Posterior(priors, seen, rules)
    if start is not None:
        kept = _span(start.chances)
        found = _narrowed(posterior, start.fractions[kept], start.mean[kept])
        if not _at_edge(found):
            return found
    fractions = np.linspace(*rules.fractions, rules.points)
    return _narrowed(posterior, fractions, np.zeros((rules.points, posterior.size)))


def _narrowed(posterior: Posterior, fractions: Floats, start: Floats) -> Fit:
    """Fits on a grid, narrowed until several f carry weight."""
    found = _on_grid(posterior, fractions, start)
    for _ in range(_NARROWINGS):
        held = np.count_nonzero(found.chances > _HELD)
        if len(fractions) == 1 or held >= _ENOUGH:
            break
        ends = fractions[_span(found.chances)]
        finer = np.linspace(ends[0], ends[-1], posterior.rules.points)
        modes = [np.interp(finer, fractions, column) for column in found.mean.T]
        fractions = finer
        found = _on_grid(posterior, fractions, np.stack(modes, axis=1))
    return found


def _span(chances: Floats) -> slice:
    """The f that carry weight, and the one on either side of them."""
    held = np.flatnonzero(chances > _HELD)
    return slice(max(held[0] - 1, 0), held[-1] + 2)


def _at_edge(found: Fit) -> bool:
    """Whether more of the f would carry weight, were there any beyond the grid."""
    lowest, highest = found.rules.fractions
    first, last = found.fractions[[0, -1]]
    low = found.chances[0] > _EDGE and first > lowest
    return bool(low or (found.chances[-1] > _EDGE and last < highest))


def _on_grid(posterior: Posterior, fractions: Floats, start: Floats) -> Fit:
    """The normal about the mode for each f, and its evidence."""
    point = posterior.mode(start, fractions)
    last = solve(point.curve, point.slope)
    height = point.height + (point.slope * last).sum(axis=1) / 2
    evidence = height - np.linalg.slogdet(point.curve)[1] / 2
    chances = np.exp(evidence - evidence.max())
    chances /= chances.sum()
    covariance = np.asarray(np.linalg.inv(point.curve), dtype=np.float64)
    return Fit(
        priors=tuple(posterior.priors),
        rules=posterior.rules,
        fractions=fractions,
        chances=chances,
        mean=point.at + last,
        covariance=covariance,
        likelihood=point.likelihood,
        doubt=posterior.doubt(point, covariance, fractions),
        weights=chances @ point.good,
    )
