"""SI quantities shown in people's units."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import isfinite
from typing import Literal

from scheduling.quantities import FOOT, GRAVITY, INCH, POUND, SPEED

_LITRES_PER_FT3 = float(FOOT**3 * 1000)
_PSI_PER_MPA = float(1_000_000 * INCH**2 / (POUND * GRAVITY))


@dataclass(frozen=True, slots=True)
class Units:
    """Shows SI values in the shop's own units, each as one text with its unit.

    Every method refuses NaN and infinity with ``ValueError``.

    Attributes:
        system: ``si`` or ``us``.
    """

    system: Literal["si", "us"] = "si"

    def length(self, metres: float) -> str:
        """Millimetres (to 0.1 under 100 mm), or feet and inches to 1/16 in."""
        if self.system == "us":
            return _feet_and_inches(metres)
        millimetres = metres * 1000
        if abs(millimetres) >= 100:
            return f"{_fixed(millimetres, 0)} mm"
        return f"{_fixed(millimetres, 1).removesuffix('.0')} mm"

    def edge(self, metres: float) -> str:
        """A length of strips or fillet, where the sixteenths do not matter."""
        if self.system == "us":
            return f"{_fixed(metres / float(FOOT), 1)} ft"
        return f"{_fixed(metres, 2)} m"

    def area(self, square_metres: float) -> str:
        """An area, to 0.01 m2 or 0.1 ft2."""
        if self.system == "us":
            return f"{_fixed(square_metres / float(FOOT**2), 1)} ft²"
        return f"{_fixed(square_metres, 2)} m²"

    @property
    def area_unit(self) -> str:
        """The sign after an area."""
        return "ft²" if self.system == "us" else "m²"

    def each_area(self, per_square_metre: float) -> float:
        """The plain number of something by the square metre, by the unit of areas."""
        us = self.system == "us"
        return per_square_metre * float(FOOT**2) if us else per_square_metre

    @property
    def edge_unit(self) -> str:
        """The sign after a length of edge."""
        return "ft" if self.system == "us" else "m"

    def each_edge(self, per_metre: float) -> float:
        """The plain number of something by the metre, by the unit of edges."""
        return per_metre * float(FOOT) if self.system == "us" else per_metre

    def volume(self, litres: float) -> str:
        """A volume, to 0.01 L or 0.01 ft3."""
        if self.system == "us":
            return f"{_fixed(litres / _LITRES_PER_FT3, 2)} ft³"
        return f"{_fixed(litres, 2)} L"

    def mass(self, kilograms: float) -> str:
        """A mass, in g or oz when under 1 kg or 1 lb, as the fine scale shows it."""
        if self.system == "us":
            return _us_mass(kilograms / float(POUND))
        size = abs(kilograms)
        if size >= 1:
            return f"{_fixed(kilograms, 1 if size >= 100 else 2)} kg"
        return f"{_fixed(kilograms * 1000, 0 if size >= 0.1 else 1)} g"

    @property
    def temperature_unit(self) -> str:
        """The sign after a temperature, for prompts."""
        return "°F" if self.system == "us" else "°C"

    def temperature_value(self, celsius: float) -> float:
        """The plain number of a temperature in the shop's units."""
        return celsius * 9 / 5 + 32 if self.system == "us" else celsius

    def from_temperature_value(self, value: float) -> float:
        """The degC of a plain number in the shop's units."""
        return (value - 32) * 5 / 9 if self.system == "us" else value

    def temperature(self, celsius: float) -> str:
        """A temperature, to 0.1 degC or 1 degF."""
        decimals = 0 if self.system == "us" else 1
        value = self.temperature_value(celsius)
        return f"{_fixed(value, decimals)} {self.temperature_unit}"

    def temperature_step(self, celsius: float) -> str:
        """A difference of temperatures, whole."""
        step = celsius * 9 / 5 if self.system == "us" else celsius
        return f"{_fixed(step, 0)} {self.temperature_unit}"

    def evaporation(self, kg_m2h: float) -> str:
        """Water lost from a surface, to 0.01 kg/m2h or 0.001 lb/ft2h."""
        if self.system == "us":
            return f"{_fixed(kg_m2h * float(FOOT**2 / POUND), 3)} lb/ft²h"
        return f"{_fixed(kg_m2h, 2)} kg/m²h"

    @property
    def strength_unit(self) -> str:
        """The sign after a strength."""
        return "psi" if self.system == "us" else "MPa"

    def strength_value(self, mpa: float) -> float:
        """The plain number of a strength in the shop's units."""
        return mpa * _PSI_PER_MPA if self.system == "us" else mpa

    def strength_number(self, mpa: float) -> str:
        """A strength without its unit, to 0.1 MPa under 10 MPa, 1 MPa or 10 psi."""
        if self.system == "us":
            return _fixed(self.strength_value(mpa), -1)
        return _fixed(mpa, 1 if mpa < 10 else 0)

    def speed(self, kmh: float) -> str:
        """An air speed, to 0.1 km/h or 0.1 mph."""
        if self.system == "us":
            return f"{_fixed(kmh / float(SPEED.scales['mph']), 1)} mph"
        return f"{_fixed(kmh, 1)} km/h"


def _fixed(value: float, decimals: int) -> str:
    """A number at fixed decimals (negative ones are tens), never "-0"."""
    if not isfinite(value):
        raise ValueError(f"{value} is not a quantity that can be shown")
    # Adding zero turns a negative zero into a plain one.
    return f"{round(value, decimals) + 0.0:.{max(decimals, 0)}f}"


def _us_mass(pounds: float) -> str:
    size = abs(pounds)
    if size >= 1:
        return f"{_fixed(pounds, 1 if size >= 100 else 2)} lb"
    return f"{_fixed(pounds * 16, 2)} oz"


def _feet_and_inches(metres: float) -> str:
    if not isfinite(metres):
        raise ValueError(f"{metres} is not a quantity that can be shown")
    sixteenths = round(abs(metres) / float(INCH) * 16)
    feet, rest = divmod(sixteenths, 12 * 16)
    inches, share = divmod(rest, 16)
    words = [f"{feet} ft"] if feet else []
    if rest or not feet:
        whole = [str(inches)] if inches or not share else []
        part = [str(Fraction(share, 16))] if share else []
        words.append(f"{' '.join(whole + part)} in")
    sign = "-" if metres < 0 and sixteenths else ""
    return sign + " ".join(words)
