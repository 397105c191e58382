"""A mix's own constants from its test specimens, by least squares.

Strength grows along a hyperbola of age; from the rate constants of three or more
curing temperatures follow the activation energy and the datum temperature.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scheduling.maturity import GAS_CONSTANT, KELVIN

if TYPE_CHECKING:
    from scheduling.maturity import Floats

FEWEST_TESTS = 4
"""Tests a hyperbola needs: one more than it has constants."""

FEWEST_TEMPERATURES = 3
"""Curing temperatures that activation energy and datum need."""

_ROUNDS = 200
_STILL = 1e-12
_FAR = 1000.0
"""How far from the tests, times, a constant is looked for."""

_BEYOND = 5.0
"""How far above the strongest test an ultimate strength is still believed, times."""


class FitError(ValueError):
    """The tests do not tell the constants; the message says what is missing."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A fitted constant with its standard error; the unit is that of its place."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Hyperbola:
    """Strength against age: S = Su k (t - t0) / (1 + k (t - t0)), nothing before t0.

    Attributes:
        ultimate: Su, MPa.
        rate: k, in one over the unit of the ages.
        start: t0, in the unit of the ages.
        residual: Residual standard error, MPa.
        tests: How many tests it was fitted to.
    """

    ultimate: Estimate
    rate: Estimate
    start: Estimate
    residual: float
    tests: int


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line y = a + b x by least squares.

    Attributes:
        intercept: a.
        slope: b.
        covariance: Of a with b.
        r2: Share of the variance it explains.
    """

    intercept: Estimate
    slope: Estimate
    covariance: float
    r2: float


@dataclass(frozen=True, slots=True)
class Constants:
    """What the specimens of one mix tell.

    Attributes:
        curves: The hyperbola of each curing temperature, degC.
        energy: Activation energy, kJ/mol.
        energy_r2: How well ln k follows 1 / T.
        datum: Datum temperature, degC.
        datum_r2: How well k follows T.
    """

    curves: Mapping[float, Hyperbola]
    energy: Estimate
    energy_r2: float
    datum: Estimate
    datum_r2: float


def fit_hyperbola(ages: Sequence[float], strengths: Sequence[float]) -> Hyperbola:
    """Fits strength against age by least squares (Levenberg and Marquardt).

    Args:
        ages: Ages, or equivalent ages, in any one unit, above 0.
        strengths: MPa, above 0, one for each age.

    Raises:
        FitError: There are too few tests, or they do not bend towards an ultimate
            strength.

    Source: ASTM C1074, the hyperbola of its annex (from memory).
    """
    at = np.asarray(ages, dtype=np.float64)
    strength = np.asarray(strengths, dtype=np.float64)
    if len(at) < FEWEST_TESTS or len(np.unique(at)) < FEWEST_TESTS:
        raise FitError(f"tests at {FEWEST_TESTS} ages or more")
    middle = float(np.median(at))
    best: Floats | None = None
    least = np.inf
    for share in (0.2, 1.0, 5.0):
        guess = np.array([1.2 * strength.max(), share / middle, 0.5 * at.min()])
        found, squares = _descend(guess, at, strength)
        if squares < least:
            best, least = found, squares
    bend = FitError("later tests: these do not bend towards an ultimate strength")
    if best is None or best[0] > _BEYOND * strength.max():
        raise bend
    variance = least / (len(at) - len(best))
    slopes = _slopes(best, at)
    try:
        spread = variance * np.diag(np.linalg.inv(slopes.T @ slopes))
    except np.linalg.LinAlgError as error:
        raise bend from error
    # A constant less sure than it is large is none: the tests do not tell it.
    if not (spread >= 0).all() or spread[0] > best[0] ** 2 or spread[1] > best[1] ** 2:
        raise bend
    errors = np.sqrt(spread)
    ultimate, rate, start = (
        Estimate(float(value), float(error))
        for value, error in zip(best, errors, strict=True)
    )
    return Hyperbola(ultimate, rate, start, float(np.sqrt(variance)), len(at))


def fit_line(x: Sequence[float] | Floats, y: Sequence[float] | Floats) -> Line:
    """Fits a straight line by ordinary least squares, to three points or more.

    Raises:
        FitError: There are fewer, or all have the same x.
    """
    across = np.asarray(x, dtype=np.float64)
    up = np.asarray(y, dtype=np.float64)
    away = across - across.mean()
    spread = float(away @ away)
    if len(across) < 3 or spread <= 0:
        raise FitError("three points or more, apart from each other")
    slope = float(away @ up) / spread
    intercept = float(up.mean() - slope * across.mean())
    left = up - intercept - slope * across
    variance = float(left @ left) / (len(across) - 2)
    about = up - up.mean()
    whole = float(about @ about)
    mean = float(across.mean())
    return Line(
        Estimate(intercept, (variance * (1 / len(across) + mean**2 / spread)) ** 0.5),
        Estimate(slope, (variance / spread) ** 0.5),
        covariance=-variance * mean / spread,
        r2=1 - float(left @ left) / whole if whole > 0 else 1.0,
    )


def fit_energy(
    temps_c: Sequence[float], rates: Sequence[float]
) -> tuple[Estimate, float]:
    """Activation energy (kJ/mol) from rates at temperatures, and its R2.

    The slope of ln k against 1 / T, T in kelvin, is -Ea / R.

    Args:
        temps_c: Three or more, degC.
        rates: In any one unit, above 0.

    Source: ASTM C1074, annex (from memory).
    """
    kelvin = np.asarray(temps_c, dtype=np.float64) + KELVIN
    line = fit_line(1 / kelvin, np.log(rates))
    scale = GAS_CONSTANT / 1000
    return Estimate(-line.slope.value * scale, line.slope.error * scale), line.r2


def fit_datum(
    temps_c: Sequence[float], rates: Sequence[float]
) -> tuple[Estimate, float]:
    """Datum temperature (degC) from rates at temperatures, and the line's R2.

    It is where the straight line of k against T crosses nought; its standard error is
    that of first order.

    Raises:
        FitError: The rates do not rise with temperature.

    Source: ASTM C1074, annex (from memory).
    """
    line = fit_line(temps_c, rates)
    slope, intercept = line.slope, line.intercept
    if not slope.value > 0:
        raise FitError("rates that rise with temperature")
    datum = -intercept.value / slope.value
    variance = (
        intercept.error**2 + (datum * slope.error) ** 2 + 2 * datum * line.covariance
    ) / slope.value**2
    return Estimate(datum, max(variance, 0.0) ** 0.5), line.r2


def fit_constants(
    tests: Mapping[float, tuple[Sequence[float], Sequence[float]]],
) -> Constants:
    """Fits all constants of a mix.

    Args:
        tests: Ages and strengths (MPa) by curing temperature, degC.

    Raises:
        FitError: There are too few temperatures or tests, or they do not tell.
    """
    if len(tests) < FEWEST_TEMPERATURES:
        raise FitError(
            f"tests at {FEWEST_TEMPERATURES} curing temperatures or more, not at "
            f"{len(tests)}; without the temperature column one curve is fitted"
        )
    curves = {}
    for temp_c in sorted(tests):
        try:
            curves[temp_c] = fit_hyperbola(*tests[temp_c])
        except FitError as error:
            raise FitError(f"{error} (at {temp_c:g} degC)") from error
    temps = list(curves)
    rates = [curve.rate.value for curve in curves.values()]
    energy, energy_r2 = fit_energy(temps, rates)
    datum, datum_r2 = fit_datum(temps, rates)
    return Constants(curves, energy, energy_r2, datum, datum_r2)


def _strength(constants: Floats, ages: Floats) -> Floats:
    ultimate, rate, start = constants
    grown = rate * (ages - start)
    strengths: Floats = ultimate * grown / (1 + grown)
    return strengths


def _slopes(constants: Floats, ages: Floats) -> Floats:
    """Change of the strengths with each constant, a column each."""
    ultimate, rate, start = constants
    after = ages - start
    whole = 1 + rate * after
    return np.column_stack(
        (rate * after / whole, ultimate * after / whole**2, -ultimate * rate / whole**2)
    )


def _sensible(constants: Floats, ages: Floats, strengths: Floats) -> bool:
    """Whether constants are within what any tests may tell, and numbers can hold."""
    ultimate, rate, start = constants
    oldest = float(ages.max())
    return bool(
        0 < ultimate < _FAR * strengths.max()
        and 0 < rate * oldest < _FAR**2
        # What had strength had begun to grow.
        and -_FAR * oldest < start < ages.min()
    )


def _descend(
    constants: Floats, ages: Floats, strengths: Floats
) -> tuple[Floats, float]:
    """Goes downhill from a guess; returns where it ends and its sum of squares."""
    left = strengths - _strength(constants, ages)
    squares = float(left @ left)
    damping = 1e-3
    for _ in range(_ROUNDS):
        slopes = _slopes(constants, ages)
        normal = slopes.T @ slopes
        damped = normal + damping * np.diag(np.diag(normal))
        try:
            tried = constants + np.linalg.solve(damped, slopes.T @ left)
        except np.linalg.LinAlgError:  # flat as far as numbers go
            break
        new_left, new_squares = left, np.inf
        if _sensible(tried, ages, strengths):
            new_left = strengths - _strength(tried, ages)
            new_squares = float(new_left @ new_left)
        if new_squares <= squares:
            settled = squares - new_squares <= _STILL * squares
            constants, left, squares = tried, new_left, new_squares
            damping = max(damping / 10, 1e-12)
            if settled:
                break
        else:
            damping *= 10
            if damping > 1e12:
                break
    return constants, squares
