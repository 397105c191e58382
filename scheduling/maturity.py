"""Maturity of cement by temperature: how much faster or slower than at a reference.

A method gives what an hour at a temperature is worth; maturity is the sum of that over
a history. ``arrhenius_rate`` and ``equivalent_age`` do it for single numbers, the
methods for long rows of them at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from math import exp, inf
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:  # numpy is slow to read in, and the first screen needs none
    from numpy import float64
    from numpy.typing import NDArray

    Floats: TypeAlias = NDArray[float64]

GAS_CONSTANT = 8.314462618
"""Molar gas constant, J/(mol K), exact by the definition of the SI since 2019."""

KELVIN = 273.15
"""0 degC in kelvin. Some tables use 273, which moves a rate by about 0.1 %."""

STANDARD_C = 20.0
"""Reference temperature of Nurse-Saul's age here, of Freiesleben Hansen and Pedersen
and of EN 1992-1-1, degC."""


def arrhenius_rate(
    temp_c: float, activation_energy_kj_mol: float, reference_c: float
) -> float:
    """Speed of hydration at a temperature, as a multiple of that at a reference.

    k = exp(-(Ea / R) (1 / T - 1 / Tref)), temperatures in kelvin.

    Args:
        temp_c: Temperature of the cement, degC, above absolute zero.
        activation_energy_kj_mol: Apparent activation energy Ea, kJ/mol; 33 to 45
            is usual for Portland cement.
        reference_c: Temperature at which the speed is 1, degC.

    Returns:
        The rate, above 0, no unit.

    Raises:
        ValueError: A temperature is not above absolute zero.

    Source: ASTM C1074, the form of its equivalent-age equation (from memory).
    """
    if not (temp_c > -KELVIN and reference_c > -KELVIN):
        raise ValueError(
            f"{temp_c} degC against {reference_c} degC: want above {-KELVIN} degC"
        )
    return exp(
        activation_energy_kj_mol
        * 1000
        / GAS_CONSTANT
        * (1 / (reference_c + KELVIN) - 1 / (temp_c + KELVIN))
    )


def equivalent_age(
    intervals: Iterable[tuple[float, float]],
    activation_energy_kj_mol: float,
    reference_c: float,
) -> float:
    """Age at the reference temperature that has the same maturity as a history.

    Args:
        intervals: Pairs of temperature (degC) and how long it lasted (h, not under 0).
        activation_energy_kj_mol: As in ``arrhenius_rate``.
        reference_c: As in ``arrhenius_rate``.

    Returns:
        The equivalent age, h; 0 for an empty history.

    Raises:
        ValueError: An interval lasts less than nothing, or as ``arrhenius_rate``.

    Source: ASTM C1074, the form of its equivalent-age equation (from memory).
    """
    age = 0.0
    for temp_c, hours in intervals:
        if not hours >= 0:
            raise ValueError(f"an interval of {hours} h: want 0 or more")
        age += arrhenius_rate(temp_c, activation_energy_kj_mol, reference_c) * hours
    return age


METHODS = ("nurse-saul", "arrhenius", "freiesleben-hansen-pedersen", "en-1992-1-1")
"""Names of the methods, in the order in which they are shown."""


@dataclass(frozen=True, slots=True)
class Method:
    """One published way to count maturity.

    Attributes:
        name: One of ``METHODS``.
        gain: What an hour at each of some temperatures (degC) is worth: degC over the
            datum for a temperature-time factor, else hours at the reference.
        constants: What it reckons with, by name with the unit in it.
        standing: Where it is from, in words.
        age_per_gain: Hours at the reference that one unit of gain is worth; None where
            no age can be told.
        is_factor: Whether what is gained is a temperature-time factor.
        range_c: Coldest and warmest temperature, degC, at which the method is stated;
            an hour outside it is worth nothing.
    """

    name: str
    gain: Callable[[Floats], Floats]
    constants: Mapping[str, float]
    standing: str
    age_per_gain: float | None = 1.0
    is_factor: bool = False
    range_c: tuple[float, float] = (-inf, inf)


@dataclass(frozen=True, slots=True)
class Matured:
    """The maturity of one history by one method.

    Attributes:
        method: The method.
        factor_ch: Temperature-time factor, degC h; None where the method has none.
        age_h: Equivalent age at the method's reference, h; None where it has none.
        outside_h: Hours that counted nothing, being outside the method's range.
    """

    method: Method
    factor_ch: float | None
    age_h: float | None
    outside_h: float


def matured(method: Method, intervals: Iterable[tuple[Floats, Floats]]) -> Matured:
    """Sums what a history is worth by a method.

    Args:
        method: The method.
        intervals: Blocks of a history: mean temperatures of its intervals, degC above
            absolute zero, and how long each lasted, h.
    """
    low, high = method.range_c
    bounded = (low, high) != (-inf, inf)
    total = outside = 0.0
    for temps_c, hours in intervals:
        gain = method.gain(temps_c)
        if bounded:
            inside = (temps_c >= low) & (temps_c <= high)
            gain = gain * inside
            outside += float(hours[~inside].sum())
        # Not gain @ hours: its threads wait for each other on a machine that is busy.
        total += float((gain * hours).sum())
    age = None if method.age_per_gain is None else total * method.age_per_gain
    return Matured(method, total if method.is_factor else None, age, outside)


def nurse_saul(datum_c: float = 0.0) -> Method:
    """The temperature-time factor: M = sum of (T - T0) dt, nothing at or below T0.

    Its equivalent age is M / (20 degC - T0), the hours at 20 degC that give the same
    factor; there is none for a datum of 20 degC or more.

    Args:
        datum_c: Datum temperature T0, degC. 0 is what ASTM C1074 suggests for Portland
            cement without admixtures at 0 to 40 degC, -10 is the traditional one
            (both from memory).

    Source: ASTM C1074, equation 1 (from memory).
    """

    def gain(temps_c: Floats) -> Floats:
        return (temps_c - datum_c).clip(0.0)

    span = STANDARD_C - datum_c
    return Method(
        "nurse-saul",
        gain,
        {"datum_c": datum_c, "reference_c": STANDARD_C},
        "ASTM C1074, equation 1 (from memory)",
        age_per_gain=1 / span if span > 0 else None,
        is_factor=True,
    )


def arrhenius(activation_energy_kj_mol: float, reference_c: float) -> Method:
    """The equivalent age of ``arrhenius_rate``.

    Args:
        activation_energy_kj_mol: As there.
        reference_c: As there; 20 is usual in Europe, 23 in North America.

    Raises:
        ValueError: The reference is not above absolute zero.
    """
    if not reference_c > -KELVIN:
        raise ValueError(f"{reference_c} degC: want above {-KELVIN} degC")

    def gain(temps_c: Floats) -> Floats:
        return _speed(temps_c, activation_energy_kj_mol, reference_c)

    return Method(
        "arrhenius",
        gain,
        {
            "activation_energy_kj_mol": activation_energy_kj_mol,
            "reference_c": reference_c,
        },
        "ASTM C1074, equivalent age (from memory)",
    )


FHP_ENERGY_KJ_MOL = 33.5
FHP_RISE_KJ_MOL_K = 1.47
"""Activation energy of Freiesleben Hansen and Pedersen from 20 degC up, and how much it
rises with each degree below. Both from memory."""


def freiesleben_hansen_pedersen() -> Method:
    """Arrhenius with an activation energy that rises in the cold, reference 20 degC.

    Ea = 33.5 kJ/mol at 20 degC and above, 33.5 + 1.47 (20 - T) below, taken anew for
    every interval.

    Source: the form is published in TI-B 103 (94) of the Danish Technological
    Institute; its two constants are from memory.
    """

    def gain(temps_c: Floats) -> Floats:
        cold = (STANDARD_C - temps_c).clip(0.0)
        energy = FHP_ENERGY_KJ_MOL + FHP_RISE_KJ_MOL_K * cold
        return _speed(temps_c, energy, STANDARD_C)

    return Method(
        "freiesleben-hansen-pedersen",
        gain,
        {
            "activation_energy_kj_mol": FHP_ENERGY_KJ_MOL,
            "activation_energy_rise_kj_mol_k": FHP_RISE_KJ_MOL_K,
            "reference_c": STANDARD_C,
        },
        "form published in TI-B 103 (94), constants from memory",
    )


def en_1992_1_1() -> Method:
    """The temperature-adjusted age: tT = sum of exp(13.65 - 4000 / (273 + T)) dt.

    Stated for 0 to 80 degC. At 20 degC an hour is worth 0.998, as its rounded
    constants have it. The Model Code 2010 has the same (equation 5.1-85).

    Source: EN 1992-1-1:2004, equation B.10 (from memory).
    """

    def gain(temps_c: Floats) -> Floats:
        import numpy as np  # noqa: PLC0415 - not for the first screen

        return np.exp(13.65 - 4000 / (273 + temps_c))

    return Method(
        "en-1992-1-1",
        gain,
        {"reference_c": STANDARD_C},
        "EN 1992-1-1:2004, equation B.10 (from memory)",
        range_c=(0.0, 80.0),
    )


def _speed(
    temps_c: Floats, energy_kj_mol: Floats | float, reference_c: float
) -> Floats:
    """``arrhenius_rate`` for many temperatures, and activation energies, at once."""
    import numpy as np  # noqa: PLC0415 - not for the first screen

    kelvin_apart = 1 / (reference_c + KELVIN) - 1 / (temps_c + KELVIN)
    return np.exp(energy_kj_mol * (1000 / GAS_CONSTANT) * kelvin_apart)
