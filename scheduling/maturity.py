"""Maturity of cement by temperature: how much faster or slower than at a reference."""

from __future__ import annotations

from collections.abc import Iterable
from math import exp

GAS_CONSTANT = 8.314462618
"""Molar gas constant, J/(mol K), exact by the definition of the SI since 2019."""

KELVIN = 273.15
"""0 degC in kelvin. Some tables use 273, which moves a rate by about 0.1 %."""


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
