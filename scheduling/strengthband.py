"""The strength of a mix as a band, drawn closer by the shop's own tests.

What is not known of a law for a mix is taken as three log-normal parts: its scale (how
strong the mix gets), its rate (how fast it gets there), and the scatter of one test
about a perfect law. Scale and rate start as estimates; every test moves and narrows
both, by the normal update of two unknowns in logarithms. The scatter stays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, inf, log, sqrt

from scheduling.laws import REFERENCE
from scheduling.maturity import arrhenius_rate
from scheduling.shop import Mix, StrengthTest
from scheduling.spread import Spread
from scheduling.strength import MOST_MPA, StrengthLaw

SCALE_SIGMA = 0.16
"""Log sd of the scale of a law without tests (estimate). 40 to 60 MPa at 28 d is
published, second hand, for glass-fibre premix with 3 % fibre; read as P10 and P90."""

RATE_SIGMA = 0.15
"""Log sd of the rate of a law without tests (estimate)."""

TEST_SIGMA = 0.08
"""Least log sd of one test about the law (estimate)."""

LEAST_MPA = 0.01
"""Least strength whose age is asked for, MPa."""

_NOTHING_MPA = 1e-6
"""Below this a law has no strength yet, MPa: its logarithm would mean nothing."""

_LONGEST = 1000.0
"""Ages this many times sooner and later than the median are looked through."""

_HALVINGS = 24
"""Enough for an age to a millionth."""

_Z90 = 1.2815515655446004
"""Standard normal deviate that nine cases in ten stay under."""


@dataclass(frozen=True, slots=True)
class _Fit:
    """What is known of the logarithms of scale and rate: means and variances."""

    scale: float = 0.0
    rate: float = 0.0
    scale_var: float = SCALE_SIGMA**2
    both_var: float = 0.0
    rate_var: float = RATE_SIGMA**2


@dataclass(frozen=True, slots=True)
class StrengthBand:
    """Strength of a mix against equivalent age on the hydration clock, as a band.

    Attributes:
        law: The law of the mix.
        hours: Hours at the law's reference for each hour at 21 degC, the clock's own.
        tests: How many tests have gone into it.
        scatter: Log sd of one test about the law; the band is never narrower.
        fit: Scale and rate, as the tests left them.
    """

    law: StrengthLaw
    hours: float
    tests: int
    scatter: float
    fit: _Fit

    @classmethod
    def of(cls, mix: Mix) -> StrengthBand:
        """The band of a mix, from its law and its tests.

        The scatter is TEST_SIGMA, or that of the tests about the calibrated law where
        it is more. Tests before the law has a strength at all say nothing of its scale
        and are left out.

        Args:
            mix: The mix; its activation energy carries ages between temperatures.
        """
        hours = _rate(mix, REFERENCE.temp_c, mix.strength.reference_c)
        points = [_point(mix, test) for test in mix.tests]
        known = [
            (age_h, mpa)
            for age_h, mpa in points
            if mix.strength.strength(age_h) >= _NOTHING_MPA
        ]
        fit, scatter = _fitted(mix.strength, known)
        return cls(mix.strength, hours, len(known), scatter, fit)

    @property
    def standing(self) -> str:
        """Where the band is from, in words."""
        if not self.tests:
            return "shop default: an estimate, not tested"
        return f"calibrated by {self.tests} {'test' if self.tests == 1 else 'tests'}"

    def at(self, age_h: float) -> Spread:
        """Strength at an equivalent age, MPa.

        Its P90 follows the rate's P90 where only the rate is unsure; where the law
        gives nothing yet, neither does the band.

        Args:
            age_h: Equivalent age at 21 degC, h, 0 or more.

        Raises:
            ValueError: The age is under 0 or not finite.
        """
        shifted = age_h * self.hours * exp(self.fit.rate)
        mpa = self.law.strength(shifted)
        if mpa < _NOTHING_MPA:
            return Spread(0.0)
        return Spread(mpa * exp(self.fit.scale), self._sigma(shifted))

    def reaches(self, mpa: float) -> Spread | None:
        """Equivalent age at which a strength is reached, h at 21 degC.

        Its P10 is where the band's P90 gets there, its P90 where the band's P10 does.

        Args:
            mpa: Strength, MPa, LEAST_MPA to MOST_MPA.

        Returns:
            The age, or None if one case in ten takes over a thousand times as long as
            the median, or never gets there.

        Raises:
            ValueError: The strength is outside its range.
        """
        if not LEAST_MPA <= mpa <= MOST_MPA:
            raise ValueError(
                f"strength {mpa} MPa: want {LEAST_MPA} to {MOST_MPA:g} MPa"
            )
        shifted = self.law.age(mpa / exp(self.fit.scale))
        if shifted == inf:
            return None
        age_h = shifted / (self.hours * exp(self.fit.rate))
        slowest = age_h * _LONGEST
        if self.at(slowest).p10 < mpa:
            return None
        soonest = _crossing(lambda age: self.at(age).p90, mpa, age_h / _LONGEST, age_h)
        latest = _crossing(lambda age: self.at(age).p10, mpa, age_h, slowest)
        return Spread.of(soonest, age_h, latest)

    def _sigma(self, shifted: float) -> float:
        fit = self.fit
        slope = _slope(self.law, shifted, sqrt(fit.rate_var))
        own = fit.scale_var + 2 * slope * fit.both_var + slope**2 * fit.rate_var
        return sqrt(own + self.scatter**2)


def _crossing(
    curve: Callable[[float], float], mpa: float, early: float, late: float
) -> float:
    """Age between two, above 0, at which a growing strength crosses a value."""
    for _ in range(_HALVINGS):
        middle = sqrt(early * late)
        if curve(middle) < mpa:
            early = middle
        else:
            late = middle
    return late


def _point(mix: Mix, test: StrengthTest) -> tuple[float, float]:
    """Equivalent age at the law's reference, h, and strength of a test."""
    rate = _rate(mix, test.temp_c, mix.strength.reference_c)
    return test.age_h * rate, test.strength


def _rate(mix: Mix, temp_c: float, reference_c: float) -> float:
    return arrhenius_rate(temp_c, mix.activation_energy, reference_c)


def _slope(law: StrengthLaw, age_h: float, rate_sigma: float) -> float:
    """Slope of ln S against ln te, from an age to as far as the rate's P90 reaches.

    Over that stretch, not at the point: near its start a hyperbola is endlessly steep.
    """
    step = _Z90 * rate_sigma
    return log(law.strength(age_h * exp(step)) / law.strength(age_h)) / step


def _fitted(
    law: StrengthLaw, points: Sequence[tuple[float, float]]
) -> tuple[_Fit, float]:
    """Fits scale and rate to tests, and says how the tests scatter about the fit."""
    rows = [
        (_slope(law, age_h, RATE_SIGMA), log(mpa / law.strength(age_h)))
        for age_h, mpa in points
    ]
    fit = _update(rows, TEST_SIGMA)
    if len(rows) < 2:
        return fit, TEST_SIGMA
    squares = sum((gap - fit.scale - slope * fit.rate) ** 2 for slope, gap in rows)
    scatter = sqrt(squares / (len(rows) - 1))
    if scatter <= TEST_SIGMA:
        return fit, TEST_SIGMA
    return _update(rows, scatter), scatter


def _update(rows: Sequence[tuple[float, float]], sigma: float) -> _Fit:
    """Normal update of scale and rate by rows of slope and log of test over law."""
    weight = sigma**-2
    scale_part = SCALE_SIGMA**-2 + weight * len(rows)
    both_part = weight * sum(slope for slope, _ in rows)
    rate_part = RATE_SIGMA**-2 + weight * sum(slope**2 for slope, _ in rows)
    scale_pull = weight * sum(gap for _, gap in rows)
    rate_pull = weight * sum(slope * gap for slope, gap in rows)
    whole = scale_part * rate_part - both_part**2
    return _Fit(
        scale=(rate_part * scale_pull - both_part * rate_pull) / whole,
        rate=(scale_part * rate_pull - both_part * scale_pull) / whole,
        scale_var=rate_part / whole,
        both_var=-both_part / whole,
        rate_var=scale_part / whole,
    )
