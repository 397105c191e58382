"""Setting of the mix: from penetration tests, by its heat, and moved by temperature.

Nobody knows the activation energy of a given mix's setting; what is published lies
between two bounds. A setting time at another temperature is therefore a band.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, inf, log
from statistics import fmean

from scheduling.hydration import Binder, HydrationHeat
from scheduling.maturity import arrhenius_rate

INITIAL_SET_MPA = 3.5
FINAL_SET_MPA = 27.6
"""Penetration resistance at initial and at final set, MPa: ASTM C403 (published, second
hand)."""

INITIAL_SET_DEGREE = 0.15
"""Degree of hydration at initial set, for each 1 of w/cm: Schindler 2004 (from memory).
"""

INITIAL_SET_KJ_KG = 12.5
"""Heat released at initial set, kJ per kg of cement: NT BUILD 476 (published)."""

ENERGY_BAND_KJ_MOL = (32.0, 34.0, 51.0)
"""Activation energy of setting, kJ/mol: lowest, likeliest, highest. The bounds are
those that published figures imply: 32.2 and 35.8 from the extremes of two cements in
PCA RD113 (published), 46.6 and 51.2 from rules of thumb (published, second hand); the
34 between the two cements is an estimate."""

FEWEST_READINGS = 3


@dataclass(frozen=True, slots=True)
class SetTime:
    """When a set was or will be reached.

    Attributes:
        minutes: From the same zero as the readings.
        extrapolated: Whether it lies before the first reading or after the last.
    """

    minutes: float
    extrapolated: bool


@dataclass(frozen=True, slots=True)
class Setting:
    """Initial and final set of one test.

    Attributes:
        initial: At 3.5 MPa.
        final: At 27.6 MPa.
        exponent: b of PR = exp(a) t^b.
    """

    initial: SetTime
    final: SetTime
    exponent: float


@dataclass(frozen=True, slots=True)
class SettingBand:
    """A setting time at another temperature, minutes.

    Attributes:
        soonest: With the activation energy that makes it the soonest.
        likeliest: With the likeliest one.
        latest: With the one that makes it the latest.
    """

    soonest: float
    likeliest: float
    latest: float


def setting_from_penetration(
    minutes: Sequence[float], resistance_mpa: Sequence[float]
) -> Setting:
    """Initial and final set from the line ln PR = a + b ln t by least squares.

    Args:
        minutes: When each reading was taken after the water met the cement, above 0.
        resistance_mpa: Penetration resistances, MPa, above 0; one for each time.

    Raises:
        ValueError: There are fewer than three readings, one is not above 0, or the
            resistance does not grow.

    Source: ASTM C403 (published, second hand).
    """
    if len(minutes) != len(resistance_mpa) or len(minutes) < FEWEST_READINGS:
        raise ValueError(
            f"{len(minutes)} times and {len(resistance_mpa)} resistances: want "
            f"{FEWEST_READINGS} or more of each"
        )
    for value in (*minutes, *resistance_mpa):
        if not 0 < value < inf:
            raise ValueError(f"{value}: want more than 0")
    across = [log(value) for value in minutes]
    up = [log(value) for value in resistance_mpa]
    mean_x, mean_y = sum(across) / len(across), sum(up) / len(up)
    spread = sum((x - mean_x) ** 2 for x in across)
    if not spread > 0:
        raise ValueError("all readings at one time: want them apart")
    rise = sum((x - mean_x) * (y - mean_y) for x, y in zip(across, up, strict=True))
    slope = rise / spread
    if not slope > 0:
        raise ValueError("the resistance does not grow: want readings while it sets")

    def reached(level_mpa: float) -> SetTime:
        at = exp(mean_x + (log(level_mpa) - mean_y) / slope)
        return SetTime(at, extrapolated=not min(minutes) <= at <= max(minutes))

    return Setting(reached(INITIAL_SET_MPA), reached(FINAL_SET_MPA), slope)


def setting_at(minutes: float, measured_c: float, temp_c: float) -> SettingBand:
    """A setting time measured at one temperature, at another: a band, not a point.

    t = tr exp(Ea / R (1 / T - 1 / Tr)); the band is over ``ENERGY_BAND_KJ_MOL``.

    Args:
        minutes: Setting time as measured, above 0.
        measured_c: Temperature of the mix then, degC.
        temp_c: Temperature of the mix asked for, degC.

    Raises:
        ValueError: The time is not above 0.

    Source: the Arrhenius form is that of Pinto and Hover (from memory); that setting
    has another activation energy than hardening is published in NT BUILD 476.
    """
    if not 0 < minutes < inf:
        raise ValueError(f"a setting time of {minutes} min: want more than 0")
    low, likeliest, high = (
        minutes / arrhenius_rate(temp_c, energy, measured_c)
        for energy in ENERGY_BAND_KJ_MOL
    )
    return SettingBand(min(low, high), likeliest, max(low, high))


def initial_set(
    binder: Binder, temps_c: Iterable[float], step_h: float
) -> tuple[float, float] | None:
    """Soonest and latest initial set of a piece by the heat model of its binder, h.

    Set is where the cement has released ``INITIAL_SET_KJ_KG``, or where the degree of
    hydration is ``INITIAL_SET_DEGREE`` of w/cm, each over the bounds of
    ``ENERGY_BAND_KJ_MOL``. No retarder is in it.

    Args:
        binder: What sets.
        temps_c: The piece at equal steps from the moment the model counts from, degC.
        step_h: The step, h.

    Returns:
        Hours from the first temperature; None if it has not surely set by the last.
    """
    cement = 1 - binder.slag - binder.fly_ash
    degrees = (
        INITIAL_SET_KJ_KG * cement / binder.heat,
        INITIAL_SET_DEGREE * binder.w_cm,
    )
    model = HydrationHeat(binder, 1.0)
    temps = tuple(temps_c)
    found = [
        _reached(model.age(degree), energy, model.reference_c, temps, step_h)
        for degree in degrees
        for energy in (ENERGY_BAND_KJ_MOL[0], ENERGY_BAND_KJ_MOL[2])
    ]
    return None if inf in found else (min(found), max(found))


def _reached(
    age_h: float,
    energy: float,
    reference_c: float,
    temps_c: Sequence[float],
    step_h: float,
) -> float:
    """Hours until an equivalent age; ``inf`` if it is later than the temperatures."""
    age = 0.0
    for number, ends in enumerate(pairwise(temps_c)):
        gain = step_h * fmean(arrhenius_rate(end, energy, reference_c) for end in ends)
        if age + gain >= age_h:
            return step_h * (number + (age_h - age) / gain)
        age += gain
    return inf
