"""The air of the shop: its conditions, the vapour it holds, the water it takes up."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log
from typing import Literal

MIST_FLOOR_C = -18.0
"""Coldest temperature, degC, at which ``evaporation`` has a value."""

CAUTION_KG_M2H = 0.5
ACT_KG_M2H = 1.0
"""Evaporation, kg/m2h, from which ordinary concrete wants watching, and wants wind
breaks, fog or cover. Published: FHWA-HRT-05-038, chapter 5."""

LOW_BLEED_SHARE = 0.5
"""What is left of those limits for a mix with silica fume, which hardly bleeds.
Published, second hand: silicafume.org. That a thin polymer coat is as tender, so that
it wants action from 0.5 kg/m2h, is our judgement (estimate)."""

MARGIN_C = 3.0
WETTEST_RH_PCT = 85.0
"""A surface may be coated from this far above the dew point, degC, in air drier than
this, percent. Published, second hand: ISO 8502-4 and ISO 12944-7."""

_A, _B = 17.62, 243.12
"""Of the Magnus form, after Sonntag; the second in degC."""

Evaporating = Literal["fine", "caution", "act"]
"""What the evaporation from a fresh surface asks for."""


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
    return 0.6112 * exp(_A * temp_c / (_B + temp_c))


def dew_point(air_c: float, rh_pct: float) -> float:
    """Temperature, degC, to which air has to cool before water condenses out of it.

    g = ln(RH / 100) + a T / (b + T), Td = b g / (a - g), with a and b of Sonntag,
    over water: below 0 degC frost forms sooner, at a temperature up to some degC above.

    Args:
        air_c: Air, degC, -45 to 60.
        rh_pct: Relative humidity, percent, above 0 to 100.

    Raises:
        ValueError: A value is outside its range.

    Source: Magnus form, as in ``saturation_pressure``.
    """
    if not (-45 <= air_c <= 60 and 0 < rh_pct <= 100):
        raise ValueError(
            f"air {air_c} degC, {rh_pct} % RH: want -45 to 60 degC, above 0 to 100 %"
        )
    g = log(rh_pct / 100) + _A * air_c / (_B + air_c)
    return _B * g / (_A - g)


def may_coat(surface_c: float, air_c: float, rh_pct: float) -> bool:
    """Whether a surface is dry enough for a coating by the dew-point rule.

    The surface is at least MARGIN_C above the dew point and the air drier than
    WETTEST_RH_PCT. Raises as ``dew_point`` does.
    """
    return surface_c >= dew_point(air_c, rh_pct) + MARGIN_C and rh_pct < WETTEST_RH_PCT


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


def evaporation_menzel(
    surface_c: float, air_c: float, rh_pct: float, wind_kmh: float
) -> float:
    """As ``evaporation``, by the older formula, to stand beside it.

    W = 0.315 (e0 - ea) (0.253 + 0.060 V), with e0 the saturation pressure at the
    surface and ea the vapour pressure of the air, kPa.

    Args:
        surface_c: Surface, degC, -45 to 60.
        air_c: Air, degC, -45 to 60.
        rh_pct: Relative humidity of the air, percent.
        wind_kmh: Air speed V half a metre above the surface, km/h.

    Raises:
        ValueError: A value is outside its range.

    Source: Menzel, the equation behind the nomograph of ACI 305R (from memory).
    """
    if not (0 <= rh_pct <= 100 and 0 <= wind_kmh < inf):
        raise ValueError(
            f"{rh_pct} % RH, wind {wind_kmh} km/h: want 0 to 100 %, 0 km/h or more"
        )
    vapour = rh_pct / 100 * saturation_pressure(air_c)
    return 0.315 * (saturation_pressure(surface_c) - vapour) * (0.253 + 0.06 * wind_kmh)


def evaporating(kg_m2h: float, share: float = LOW_BLEED_SHARE) -> Evaporating:
    """What an evaporation asks for.

    Args:
        kg_m2h: Evaporation, kg/m2h.
        share: Of the limits of ordinary concrete that the mix bears: 1 for that, and
            LOW_BLEED_SHARE for silica fume and for this material.
    """
    if kg_m2h >= share * ACT_KG_M2H:
        return "act"
    return "caution" if kg_m2h >= share * CAUTION_KG_M2H else "fine"
