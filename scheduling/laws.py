"""The six rate laws, and how much reference time some doings take or add.

A law says how fast a clock runs in given conditions; every rate is 1 at the reference:
21 degC, 50 % RH, still air.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import ClassVar, Protocol

from scheduling.air import MIST_FLOOR_C, Conditions, evaporation, saturation_pressure
from scheduling.maturity import arrhenius_rate
from scheduling.thresholds import ClockName

REFERENCE = Conditions(temp_c=21.0, rh_pct=50.0, wind_kmh=0.0)
"""Conditions in which every clock runs at a rate of exactly 1."""

ACTIVATION_ENERGY = 42.0
"""Of hydration, kJ/mol; the range to choose from is 35 to 50 (estimate)."""

OPEN_SHARE = 0.4
CLOSE_SHARE = 0.5
"""Share of evaporation in the race that opens and closes the face coat (estimate)."""

_REFERENCE_EVAPORATION = evaporation(
    REFERENCE.temp_c, REFERENCE.temp_c, REFERENCE.rh_pct, REFERENCE.wind_kmh
)
"""0.0949864 kg/m2h."""


class Law(Protocol):
    """How fast a clock runs in given conditions."""

    name: ClassVar[ClockName]
    reads_air: ClassVar[bool]
    """Whether the rate needs the shop air beside the place."""

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:
        """Reference minutes that pass in a minute, 0 or more.

        Args:
            place: Conditions at the place whose temperature the clock reads.
            air: Conditions of the shop air; those of the place will do where
                ``reads_air`` is false.
            exposure: Share of evaporation that is let through: 1 open, 0.1 covered.
        """
        ...


@dataclass(frozen=True, slots=True)
class Hydration:
    """Chemistry of the cement, on the temperature of the place alone.

    k = exp(-(Ea / R) (1 / T - 1 / 294.15 K)). Below 10 degC the curve is not to be
    trusted: the polymer may not film. Standing: estimate. Shape: ASTM C1074 (from
    memory).

    Attributes:
        activation_energy: Ea, kJ/mol, above 0 to 100.
    """

    name: ClassVar[ClockName] = "hydration"
    reads_air: ClassVar[bool] = False
    activation_energy: float = ACTIVATION_ENERGY

    def __post_init__(self) -> None:
        _check_energy(self.activation_energy)

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return arrhenius_rate(place.temp_c, self.activation_energy, REFERENCE.temp_c)


@dataclass(frozen=True, slots=True)
class Face:
    """The face coat: hydration and drying race each other.

    (1 - share) k + share x exposure x E / Eref, with k that of ``Hydration``, E the
    evaporation from a surface as warm as the place into the shop air, not under 0
    (condensation does not set the clock back), and Eref its value at the reference.
    Below -18 degC nothing evaporates. Standing: estimate. Shape: E after Uno 1998
    (published, second hand); the race itself has no source.

    Attributes:
        share: Of evaporation, 0 to 1: OPEN_SHARE or CLOSE_SHARE.
        activation_energy: Of hydration, kJ/mol, above 0 to 100.
    """

    name: ClassVar[ClockName] = "face"
    reads_air: ClassVar[bool] = True
    share: float = CLOSE_SHARE
    activation_energy: float = ACTIVATION_ENERGY

    def __post_init__(self) -> None:
        _check_share(self.share)
        _check_energy(self.activation_energy)

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:
        """Reference minutes that pass in a minute."""
        lost = evaporation(
            max(place.temp_c, MIST_FLOOR_C),
            max(air.temp_c, MIST_FLOOR_C),
            air.rh_pct,
            air.wind_kmh,
        )
        k = arrhenius_rate(place.temp_c, self.activation_energy, REFERENCE.temp_c)
        drying = exposure * max(lost, 0.0) / _REFERENCE_EVAPORATION
        return (1 - self.share) * k + self.share * drying


@dataclass(frozen=True, slots=True)
class Drying:
    """Water leaving a hard piece, on how far the air is from saturated.

    VPD / VPD at the reference (1.24 kPa), where VPD is the saturation pressure at the
    place less the vapour pressure of the air; the time of a threshold is limited to
    0.6 to 4 times its reference. Standing: estimate, among the weakest of the models.
    Shape: common practice, no source.
    """

    name: ClassVar[ClockName] = "drying"
    reads_air: ClassVar[bool] = True

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return min(max(_deficit(place, air) / _REFERENCE_DEFICIT, 1 / 4), 1 / 0.6)


@dataclass(frozen=True, slots=True)
class Silicone:
    """A caulk fillet curing on the water vapour that diffuses into it.

    Vapour pressure of the air at the place / the same at the reference (1.24 kPa), so
    in dry air it stands all but still. Standing: estimate. Shape: diffusion, depth
    growing with the square root of time; 3 to 6 mm in 24 h is published for one-part
    silicone. The label of the cartridge wins.
    """

    name: ClassVar[ClockName] = "silicone"
    reads_air: ClassVar[bool] = True

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return _vapour(place.temp_c, air.rh_pct) / _REFERENCE_VAPOUR


@dataclass(frozen=True, slots=True)
class Coating:
    """Chemistry of sealers and other two-part coatings.

    2^((T - 21) / 10), T of the place in degC. Standing: common practice, no source;
    what humidity does is on the label only.
    """

    name: ClassVar[ClockName] = "coating"
    reads_air: ClassVar[bool] = False

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return float(2 ** ((place.temp_c - REFERENCE.temp_c) / 10))


@dataclass(frozen=True, slots=True)
class Plain:
    """Time as it passes, whatever the conditions: a rate of 1."""

    name: ClassVar[ClockName] = "plain"
    reads_air: ClassVar[bool] = False

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute: 1."""
        return 1.0


def _vapour(temp_c: float, rh_pct: float) -> float:
    return rh_pct / 100 * saturation_pressure(temp_c)


def _deficit(place: Conditions, air: Conditions) -> float:
    return saturation_pressure(place.temp_c) - _vapour(air.temp_c, air.rh_pct)


_REFERENCE_VAPOUR = _vapour(REFERENCE.temp_c, REFERENCE.rh_pct)
_REFERENCE_DEFICIT = _deficit(REFERENCE, REFERENCE)


def _check_energy(activation_energy: float) -> None:
    if not 0 < activation_energy <= 100:
        raise ValueError(
            f"activation energy {activation_energy} kJ/mol: want above 0 to 100 kJ/mol"
        )


def _check_share(share: float) -> None:
    if not 0 <= share <= 1:
        raise ValueError(f"share of evaporation {share}: want 0 to 1")


def law(
    name: ClockName,
    activation_energy: float = ACTIVATION_ENERGY,
    share: float | None = None,
) -> Law:
    """The law of a clock's name.

    Args:
        name: Of the clock.
        activation_energy: Of hydration, kJ/mol; only ``hydration`` and ``face`` use it.
        share: Of evaporation, for ``face`` only; None is CLOSE_SHARE.

    Raises:
        ValueError: A value is outside its range, or a share is given to another clock.
    """
    if name == "face":
        return Face(CLOSE_SHARE if share is None else share, activation_energy)
    if share is not None:
        raise ValueError(f"share of evaporation {share}: only the face clock has one")
    if name == "hydration":
        return Hydration(activation_energy)
    others: dict[ClockName, Law] = {
        "drying": Drying(),
        "silicone": Silicone(),
        "coating": Coating(),
        "plain": Plain(),
    }
    return others[name]


def drying_thickness_factor(thickness_mm: float) -> float:
    """How much more drying a thick piece needs than one of up to 25 mm.

    (mm / 25)^1.3 above 25 mm, 1 up to it. Standing: estimate.

    Raises:
        ValueError: The thickness is not above 0.
    """
    if not 0 < thickness_mm < inf:
        raise ValueError(f"thickness {thickness_mm} mm: want above 0")
    return float(max(thickness_mm / 25, 1.0) ** 1.3)


def silicone_cure_minutes(fillet_radius_m: float) -> float:
    """Reference minutes until the silicone of a tooled fillet has cured through.

    The deepest point of a concave fillet lies 0.414 r under its face; 27.1 h x
    (depth / 3.5 mm)^2, at least 1 h. Standing: estimate; 3.5 mm in a day is near the
    cautious end of the 3 to 6 mm that are published.

    Args:
        fillet_radius_m: Radius r, m, above 0 to 0.05.

    Raises:
        ValueError: The radius is outside its range.
    """
    if not 0 < fillet_radius_m <= 0.05:
        raise ValueError(f"fillet radius {fillet_radius_m} m: want above 0 to 0.05 m")
    depth_m = 0.414 * fillet_radius_m
    return 60 * max(27.1 * (depth_m / 0.0035) ** 2, 1.0)


def fog_credit_minutes(grams_per_m2: float, share: float) -> float:
    """Reference minutes that fogging adds to a threshold of the face clock.

    The water added has to evaporate again before the clock is where it was: share x
    water / Eref. Standing: estimate.

    Args:
        grams_per_m2: Water fogged on, g/m2, 0 or more.
        share: Of evaporation in that threshold's clock, 0 to 1.

    Raises:
        ValueError: A value is outside its range.
    """
    if not 0 <= grams_per_m2 < inf:
        raise ValueError(f"fog of {grams_per_m2} g/m2: want 0 or more")
    _check_share(share)
    return share * grams_per_m2 / 1000 / _REFERENCE_EVAPORATION * 60
