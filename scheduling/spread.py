"""A quantity known only as a band: log-normal, written as P10 / P50 / P90."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, pi, sqrt
from statistics import NormalDist

_NORMAL = NormalDist()
_Z90 = _NORMAL.inv_cdf(0.9)


@dataclass(frozen=True, slots=True)
class Spread:
    """A log-normal threshold or duration, minutes unless said otherwise.

    The P10 and P90 a maker writes only set the width: the two shown again are
    those of the log-normal through the median (sigma = ln(P90/P10) / 2.563).

    Attributes:
        p50: Median.
        sigma: Standard deviation of the natural logarithm; 0 is a fixed value.
    """

    p50: float
    sigma: float = 0.0

    @classmethod
    def of(cls, p10: float, p50: float, p90: float) -> Spread:
        """Builds the spread from three written values, 0 < p10 <= p50 <= p90."""
        return cls(p50, log(p90 / p10) / (2 * _Z90))

    def quantile(self, share: float) -> float:
        """Value that a share (0 to 1, exclusive) of cases stays under."""
        return self.p50 * exp(self.sigma * _NORMAL.inv_cdf(share))

    @property
    def p10(self) -> float:
        """Value one case in ten stays under."""
        return self.quantile(0.1)

    @property
    def p90(self) -> float:
        """Value nine cases in ten stay under."""
        return self.quantile(0.9)

    def density(self, value: float) -> float:
        """How likely a value above 0 is, per minute.

        Raises:
            ValueError: The value is fixed: it has no density.
        """
        if self.sigma == 0:
            raise ValueError("a fixed value has no density")
        z = log(value / self.p50) / self.sigma
        return exp(-z * z / 2) / (value * self.sigma * sqrt(2 * pi))

    def scaled(self, factor: float) -> Spread:
        """The same shape with every value multiplied."""
        return Spread(self.p50 * factor, self.sigma)
