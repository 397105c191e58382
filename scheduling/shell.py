"""A piece as a heat balance sees it: a flat shell, a form below, a cover above."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Literal

from scheduling.hydration import M1_BINDER, M1_CEMENTITIOUS, Binder, HydrationHeat
from scheduling.shop import Mix

CoverName = Literal["open", "plastic", "blanket", "heated tent"]

M1_WATER = 32 / 247.45
"""Water in the fresh back coat of mix M1, by mass (derived from its batch)."""

FORM_SIDE = 4.0
"""Heat lost through the form, W/m2K (estimate): 18 mm of board and the air below it."""

HELD_C = 18.0
"""What the air of a heated tent is held at unless told otherwise, degC (estimate)."""


def paste_heat_capacity(water: float) -> float:
    """Heat capacity of fresh paste or mortar, J/kgK: 4180 of water, 750 of all else.

    Args:
        water: Its share by mass, 0 to 1.

    Raises:
        ValueError: The share is outside its range.

    Source: NIST, Bentz, on the heat capacity of fresh cement paste (published); that
    sand, fibre and polymer count like cement is an estimate. A hard piece has less.
    """
    if not 0 <= water <= 1:
        raise ValueError(f"share of water {water}: want 0 to 1")
    return 4180 * water + 750 * (1 - water)


_M1 = Mix()
_M1_HEAT_CAPACITY = paste_heat_capacity(M1_WATER)


@dataclass(frozen=True, slots=True)
class Shell:
    """A flat piece, by what its heat hangs on.

    Attributes:
        thickness: m, above 0 to 0.3.
        density: Wet, kg/m3, above 0.
        heat_capacity: J/kgK, above 0.

    Raises:
        ValueError: A value is outside its range.
    """

    thickness: float
    density: float = _M1.back_density
    heat_capacity: float = _M1_HEAT_CAPACITY

    def __post_init__(self) -> None:
        if not 0 < self.thickness <= 0.3:
            raise ValueError(f"thickness {self.thickness} m: want above 0 to 0.3 m")
        if not (0 < self.density < inf and 0 < self.heat_capacity < inf):
            raise ValueError("density and heat capacity of a piece: want above 0")

    @property
    def capacity(self) -> float:
        """J per m2 and K."""
        return self.thickness * self.density * self.heat_capacity

    def time_constant_h(self, loss: float) -> float:
        """How fast it comes to the air, h.

        Args:
            loss: Of both sides together, W/m2K, above 0.
        """
        return self.capacity / loss / 3600

    def biot(self, loss: float, conductivity: float = 1.5) -> float:
        """How far from one temperature through its thickness; under 0.1 it has one.

        h (d / 2) / k with h the mean of both sides.

        Args:
            loss: Of both sides together, W/m2K.
            conductivity: k, W/mK (the default is an estimate).
        """
        return loss / 2 * self.thickness / 2 / conductivity

    def hydration(self, binder: Binder = M1_BINDER) -> HydrationHeat:
        """Its heat of hydration per m2, as much cementitious in it as in mix M1."""
        return HydrationHeat(binder, self.thickness * self.density * M1_CEMENTITIOUS)


@dataclass(frozen=True, slots=True)
class Cover:
    """What lies over the piece.

    Attributes:
        name: As people call it.
        top: Heat lost upwards, W/m2K, above 0.
        least_air_c: The air around the piece is held not under it, degC; None is as
            the shop has it.

    Raises:
        ValueError: The loss is not above 0.
    """

    name: CoverName
    top: float
    least_air_c: float | None = None

    def __post_init__(self) -> None:
        if not 0 < self.top < inf:
            raise ValueError(
                f"loss through {self.name}: {self.top} W/m2K, want above 0"
            )

    @property
    def loss(self) -> float:
        """Heat lost by both sides together, W/m2K."""
        return FORM_SIDE + self.top


def heated_tent(held_c: float = HELD_C) -> Cover:
    """A blanket in a tent whose air is held not under a temperature, degC."""
    return Cover("heated tent", COVERS["blanket"].top, held_c)


COVERS: dict[CoverName, Cover] = {
    "open": Cover("open", 9.65),
    "plastic": Cover("plastic", 6.16),
    "blanket": Cover("blanket", 2.77),
}
"""Covers and what they let through. Derived, so that a 22 mm shell of mix M1 comes to
the air with a time constant of 67 min open, 90 min under plastic and 135 min under
plastic and a blanket; those three are themselves derived, not measured."""
COVERS["heated tent"] = heated_tent()
