"""The air of the shop: its conditions, the vapour it holds, the water it takes up."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf

MIST_FLOOR_C = -18.0
"""Coldest temperature, degC, at which ``evaporation`` has a value."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a clock may depend on, at one place and instant.

    Attributes:
        temp_c: Temperature of the place, degC.
        rh_pct: Relative humidity of the shop air, percent.
        wind_kmh: Air speed over the form, km/h.
    """

    temp_c: float
    rh_pct: float
    wind_kmh: float


def saturation_pressure(temp_c: float) -> float:
    """Pressure of water vapour over water in saturated air, kPa.

    e = 0.6112 exp(17.62 T / (243.12 + T)), T in degC from -45 to 60.

    Raises:
        ValueError: The temperature is outside that range.

    Source: Magnus form with the coefficients of the World Meteorological
    Organization's guide No. 8 (from memory).
    """
    if not -45 <= temp_c <= 60:
        raise ValueError(f"{temp_c} degC: want -45 to 60 degC")
    return 0.6112 * exp(17.62 * temp_c / (243.12 + temp_c))


def evaporation(
    surface_c: float, air_c: float, rh_pct: float, wind_kmh: float
) -> float:
    """Water that a wet surface loses, kg/m2h; below 0 water condenses on it.

    E = 5 ((Tc + 18)^2.5 - r (Ta + 18)^2.5) (V + 4) 1e-6, good to about 40 %.

    Args:
        surface_c: Surface Tc, degC, -18 or more.
        air_c: Air Ta, degC, -18 or more.
        rh_pct: Relative humidity of the air, percent; r is its fraction.
        wind_kmh: Air speed V half a metre above the surface, km/h.

    Raises:
        ValueError: A value is outside its range.

    Source: Uno, ACI Materials Journal 1998 (published, second hand).
    """
    if not (
        MIST_FLOOR_C <= surface_c < inf
        and MIST_FLOOR_C <= air_c < inf
        and 0 <= rh_pct <= 100
        and 0 <= wind_kmh < inf
    ):
        raise ValueError(
            f"surface {surface_c} degC, air {air_c} degC, {rh_pct} % RH, "
            f"wind {wind_kmh} km/h: want {MIST_FLOOR_C:g} degC or more, "
            "0 to 100 %, 0 km/h or more"
        )
    drive: float = (surface_c + 18) ** 2.5 - rh_pct / 100 * (air_c + 18) ** 2.5
    return 5e-6 * drive * (wind_kmh + 4)
