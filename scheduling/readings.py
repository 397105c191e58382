"""Readings as a person types them: ``19.5``, ``form 18 mix 22 rh 45 wind 3``."""

from __future__ import annotations

import re

from scheduling.errors import BadInput, Fault
from scheduling.quantities import SPEED
from scheduling.units import Units
from scheduling.written import harmless

_NUMBER = re.compile(r"-?[0-9]{1,3}([.,][0-9]{1,3})?", re.ASCII)
_WORDS = {
    "shop": "shop_c",
    "form": "form_c",
    "mix": "mix_c",
    "piece": "piece_c",
    "rh": "rh_pct",
    "wind": "wind_kmh",
}
_RANGES = {"rh_pct": (1.0, 100.0), "wind_kmh": (0.0, 150.0)}
_TEMPERATURE = (-30.0, 60.0)


def read_readings(text: str, units: Units) -> dict[str, float]:
    """Returns what was typed, in degC, percent and km/h, by its key in the log.

    Args:
        text: Pairs of a word (shop, form, mix, piece, rh, wind) and a number in the
            user's units; a number without a word is the shop's temperature.
        units: The user's.

    Raises:
        BadInput: A word or number that cannot be read, or a value out of range.
    """
    values: dict[str, float] = {}
    key = "shop_c"
    expecting = False
    for part in text.lower().replace("%", " ").split():
        if part in _WORDS:
            if expecting:
                raise _refused(part, "a number after each word, such as form 18 rh 45")
            key, expecting = _WORDS[part], True
            continue
        if _NUMBER.fullmatch(part) is None:
            raise _refused(part, f"a number, or one of {', '.join(_WORDS)}")
        if not expecting and values:
            raise _refused(part, f"say what it is: one of {', '.join(_WORDS)}")
        values[key] = _value(key, float(part.replace(",", ".")), part, units)
        key, expecting = "shop_c", False
    if expecting or not values:
        raise _refused(text.strip(), "a number after each word, such as form 18 rh 45")
    return values


def _value(key: str, number: float, text: str, units: Units) -> float:
    if key == "wind_kmh" and units.system == "us":
        number *= float(SPEED.scales["mph"])
    elif key.endswith("_c"):
        number = units.from_temperature_value(number)
    low, high = _RANGES.get(key, _TEMPERATURE)
    if not low <= number <= high:
        raise _refused(text, f"{key.rsplit('_', 1)[0]} between {low:g} and {high:g}")
    return round(number, 3)


def say_readings(values: dict[str, float], units: Units) -> str:
    """Says readings in the user's units."""
    words: list[str] = []
    for word, key in _WORDS.items():
        if key not in values:
            continue
        value = values[key]
        if key == "rh_pct":
            words.append(f"{word} {value:g} %")
        elif key == "wind_kmh":
            words.append(f"{word} {units.speed(value)}")
        else:
            words.append(f"{word} {units.temperature(value)}")
    return ", ".join(words)


def _refused(value: str, want: str) -> BadInput:
    return BadInput(Fault("reading", "", harmless(value), want))
