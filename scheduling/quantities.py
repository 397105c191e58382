"""Quantities as people write them, read into SI.

Inside the program: metres, m2, litres, kg, degC, minutes, kg/m3, km/h, kJ/mol, MPa.
The US factors are exact by definition (international yard and pound of 1959).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

LONGEST_TEXT = 40
"""Characters a written quantity may have; more is a slip of the paste key."""

INCH = Fraction("0.0254")
FOOT = Fraction("0.3048")
"""Metres, exact."""

POUND = Fraction("0.45359237")
"""Kilograms, exact."""

GRAVITY = Fraction("9.80665")
"""Standard gravity, m/s2, exact."""

_NUMBER = r"\d+ +\d+/\d+|\d+/\d+|\d+(?:\.\d+)?"
_SIGNS = frozenset("°²³")


class UnitError(ValueError):
    """A written quantity cannot be read; the message says what would be right."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One sort of quantity and the ways it may be written.

    Attributes:
        noun: With its article, for messages.
        example: One or two right ways to write it, quoted.
        scales: SI units in one of each written unit.
        spellings: Every accepted spelling, in small letters, to its written unit.
        chain: Written units that may follow each other in one text, largest first.
        zeros: Written units whose zero is elsewhere, and where, in that unit.
        signed: Whether it may be negative.
        pattern: Finds one number with its unit.
    """

    noun: str
    example: str
    scales: Mapping[str, Fraction]
    spellings: Mapping[str, str]
    chain: tuple[str, ...]
    zeros: Mapping[str, int]
    signed: bool
    pattern: re.Pattern[str]

    @property
    def want(self) -> str:
        """What a right text looks like, as the end of a message."""
        return f"wants {self.noun} with a unit, such as {self.example}"

    def read(self, text: object) -> float:
        """Reads a written quantity into the unit used inside.

        Args:
            text: A text with a unit; anything else is refused, numbers too.

        Raises:
            UnitError: The text is not such a quantity.
        """
        if not isinstance(text, str):
            raise UnitError(self.want)
        plain = text.strip(" ")
        if len(plain) > LONGEST_TEXT:
            raise UnitError(f"wants {self.noun} in at most {LONGEST_TEXT} characters")
        # Small letters are only safe to make from letters known to have them.
        if not all(sign.isascii() or sign in _SIGNS for sign in plain):
            raise UnitError(self.want)
        if "," in plain:
            raise UnitError("wants a decimal point instead of the comma")
        below = plain.startswith("-")
        if below and not self.signed:
            raise UnitError(f"wants {self.noun} that is not negative")
        return self._sum(self._parts(plain.removeprefix("-").lower()), below=below)

    def _parts(self, text: str) -> list[tuple[Fraction, str]]:
        """Splits a text into its numbers and written units, at least one pair."""
        parts: list[tuple[Fraction, str]] = []
        place = 0
        while place < len(text) or not parts:
            found = self.pattern.match(text, place)
            if found is None:
                raise UnitError(self.want)
            parts.append((self._number(found[1]), self.spellings[found[2]]))
            place = found.end()
        return parts

    def _number(self, text: str) -> Fraction:
        whole, _, share = text.rpartition(" ")
        try:
            value = Fraction(share)
        except ZeroDivisionError:
            raise UnitError(self.want) from None
        if not whole:
            return value
        if value >= 1:
            raise UnitError(self.want)
        return int(whole.strip(" ")) + value

    def _sum(self, parts: list[tuple[Fraction, str]], *, below: bool) -> float:
        for (number, unit), (after, smaller) in pairwise(parts):
            in_order = (
                unit in self.chain
                and smaller in self.chain
                and self.chain.index(unit) < self.chain.index(smaller)
            )
            carried = after * self.scales[smaller] >= self.scales[unit]
            if not in_order or carried or number.denominator != 1:
                raise UnitError(self.want)
        total = Fraction(0)
        for number, unit in parts:
            signed = -number if below else number
            total += (signed - self.zeros.get(unit, 0)) * self.scales[unit]
        return float(total)


def _kind(
    noun: str,
    example: str,
    scales: Mapping[str, Fraction],
    also: Mapping[str, str] | None = None,
    *,
    chain: tuple[str, ...] = (),
    zeros: Mapping[str, int] | None = None,
    signed: bool = False,
) -> Kind:
    spellings = {unit: unit for unit in scales} | dict(also or {})
    # The longest spelling first, so that "mm" is not read as "m" and a stray "m".
    units = "|".join(map(re.escape, sorted(spellings, key=len, reverse=True)))
    pattern = re.compile(rf" *({_NUMBER}) *({units})", re.ASCII)
    return Kind(noun, example, scales, spellings, chain, zeros or {}, signed, pattern)


LENGTH = _kind(
    "a length",
    '"1500 mm" or "4 ft 11 1/16 in"',
    {
        "mm": Fraction("0.001"),
        "cm": Fraction("0.01"),
        "m": Fraction(1),
        "in": INCH,
        "ft": FOOT,
    },
    {
        '"': "in",
        "inch": "in",
        "inches": "in",
        "'": "ft",
        "foot": "ft",
        "feet": "ft",
    },
    chain=("ft", "in"),
)
"""Metres."""

MASS = _kind(
    "a mass",
    '"25 kg" or "5 lb 3 oz"',
    {
        "kg": Fraction(1),
        "g": Fraction("0.001"),
        "lb": POUND,
        "oz": POUND / 16,
    },
    {"lbs": "lb"},
    chain=("lb", "oz"),
)
"""Kilograms."""

TEMPERATURE = _kind(
    "a temperature",
    '"21 C" or "70 F"',
    {"c": Fraction(1), "f": Fraction(5, 9)},
    {"degc": "c", "°c": "c", "degf": "f", "°f": "f"},
    zeros={"f": 32},
    signed=True,
)
"""degC."""

DURATION = _kind(
    "a duration",
    '"18 min" or "1 h 30 min"',
    {
        "s": Fraction(1, 60),
        "min": Fraction(1),
        "h": Fraction(60),
        "d": Fraction(1440),
    },
    {
        "minute": "min",
        "minutes": "min",
        "hour": "h",
        "hours": "h",
        "day": "d",
        "days": "d",
    },
    chain=("d", "h", "min", "s"),
)
"""Minutes."""

DENSITY = _kind(
    "a density",
    '"2143 kg/m3" or "133.8 lb/ft3"',
    {"kg/m3": Fraction(1), "lb/ft3": POUND / FOOT**3},
    {"kg/m³": "kg/m3", "lb/ft³": "lb/ft3"},
)
"""kg/m3."""

SPEED = _kind(
    "a speed",
    '"5 km/h" or "3 mph"',
    {"km/h": Fraction(1), "mph": Fraction("1.609344"), "m/s": Fraction("3.6")},
)
"""km/h."""

AREA = _kind(
    "an area",
    '"0.8 m2" or "9 ft2"',
    {"m2": Fraction(1), "ft2": FOOT**2},
    {"m²": "m2", "ft²": "ft2"},
)
"""m2."""

ENERGY = _kind("an energy", '"42 kJ/mol"', {"kj/mol": Fraction(1)})
"""kJ/mol."""

STRENGTH = _kind(
    "a strength",
    '"40 MPa" or "5800 psi"',
    {"mpa": Fraction(1), "psi": POUND * GRAVITY / INCH**2 / 1_000_000},
    {"n/mm2": "mpa", "n/mm²": "mpa"},
)
"""MPa."""

PERCENT = _kind("a percentage", '"50 %"', {"%": Fraction(1)})
"""Percent, so that a humidity in a file carries its unit like the rest."""


def length(text: object) -> float:
    """Reads a length into metres, for example ``4' 11 1/16"``."""
    return LENGTH.read(text)


def mass(text: object) -> float:
    """Reads a mass into kilograms, for example ``5 lb 3 oz``."""
    return MASS.read(text)


def temperature(text: object) -> float:
    """Reads a temperature into degC, for example ``70 F``; may be negative."""
    return TEMPERATURE.read(text)


def duration(text: object) -> float:
    """Reads a duration into minutes, for example ``1 h 30 min``."""
    return DURATION.read(text)


def density(text: object) -> float:
    """Reads a density into kg/m3, for example ``133.8 lb/ft3``."""
    return DENSITY.read(text)


def speed(text: object) -> float:
    """Reads a speed into km/h, for example ``3 mph``."""
    return SPEED.read(text)


def area(text: object) -> float:
    """Reads an area into m2, for example ``9 ft2``."""
    return AREA.read(text)


def energy(text: object) -> float:
    """Reads an energy into kJ/mol, for example ``42 kJ/mol``."""
    return ENERGY.read(text)
