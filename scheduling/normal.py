"""How much of a standard normal lies between two bounds, for arrays, far out too."""

from __future__ import annotations

from math import erfc, exp, log, pi, sqrt

import numpy as np
from numpy.polynomial.chebyshev import chebinterpolate, chebval
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MIDDLE = 3.75
_DEGREE = 20
_TAIL = 12.0
_FAR = 1e8
"""Stands for infinity: nothing lies beyond, and its square is still a number."""

_LOG_2 = log(2)
_LOG_ROOT = log(2 * pi) / 2


def _scaled_tail(x: float) -> float:
    """exp(x^2) erfc(x) of one x, 0 or more; far out by its asymptotic series."""
    if x < _TAIL:
        return exp(x * x) * erfc(x)
    term = total = 1.0
    for count in range(1, 12):
        term *= -(2 * count - 1) / (2 * x * x)
        total += term
    return total / (x * sqrt(pi))


def _smooth(t: Floats) -> Floats:
    """(1 + 2 x) exp(x^2) erfc(x) over t = (x - 3.75) / (x + 3.75), -1 to 1."""
    xs = _MIDDLE * (1 + t) / (1 - t)
    return np.array([(1 + 2 * x) * _scaled_tail(float(x)) for x in xs])


_SERIES: Floats = chebinterpolate(_smooth, _DEGREE)  # type: ignore[arg-type] # the stub wants a number


def scaled_tail(x: Floats) -> Floats:
    """exp(x^2) erfc(x) for x of 0 or more, to 1e-14 of itself.

    A Chebyshev series in (x - 3.75) / (x + 3.75), after Shepherd and Laframboise 1981
    (from memory); its coefficients are worked out at import.
    """
    series = chebval((x - _MIDDLE) / (x + _MIDDLE), _SERIES)
    return np.asarray(series / (1 + 2 * x), dtype=np.float64)


def between(low: Floats, high: Floats) -> tuple[Floats, Floats, Floats]:
    """The share of a standard normal between two bounds.

    Args:
        low: Lower bounds, any shape; minus infinity is none.
        high: Upper bounds above them, the same shape; infinity is none.

    Returns:
        The logarithm of the share, to 1e-12 or, of a share of next to nothing
        between two close bounds, to 1e-12 over their distance; and the density at
        the lower and at the upper bound over the share.
    """
    mirrored = low > 0
    first = np.clip(np.where(mirrored, -high, low), -_FAR, _FAR)
    last = np.clip(np.where(mirrored, -low, high), -_FAR, _FAR)
    tail = scaled_tail(np.abs(np.stack((first, last))) / sqrt(2))
    falls, falls_last = -first * first / 2, -last * last / 2
    # Both below 0: reckoned in units of the density at the nearer bound.
    one_side = last <= 0
    reach = np.where(one_side, falls - falls_last, falls)
    left = np.exp(reach) * tail[0]
    right = np.where(one_side, tail[1], 2 - np.exp(falls_last) * tail[1])
    share = np.log(right - left) - _LOG_2 + np.where(one_side, falls_last, 0.0)
    at_first = np.exp(falls - share - _LOG_ROOT)
    at_last = np.exp(falls_last - share - _LOG_ROOT)
    return (
        share,
        np.where(mirrored, at_last, at_first),
        np.where(mirrored, at_first, at_last),
    )
