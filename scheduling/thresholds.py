"""Every threshold of the trade in one table: how much reference time a wait takes.

A threshold is written in reference minutes (21 degC, 50 % RH, still air) on the
clock that drives it. None of these is published for this craft: each carries its
standing, and a mix in the shop file may replace it by the shop's own value.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

from scheduling.spread import Spread

ClockName = Literal["hydration", "face", "drying", "silicone", "coating", "plain"]
Place = Literal["shop", "form", "mix", "piece"]
PLACES: tuple[Place, ...] = get_args(Place)

_H = 60.0
_D = 24 * _H


@dataclass(frozen=True, slots=True)
class Threshold:
    """One threshold on one clock.

    Attributes:
        name: As a mix in the shop file names it.
        spread: Reference minutes.
        clock: The rate law that drives it.
        place: Whose temperature the clock reads.
        standing: Where the value is from, in words.
        energy: Activation energy its clock runs with, kJ/mol; None is the mix's.
        share: Of evaporation in a ``face`` clock; None is the one of its kind.
        size: What the spread was multiplied by for the piece at hand.
    """

    name: str
    spread: Spread
    clock: ClockName
    place: Place
    standing: str
    energy: float | None = None
    share: float | None = None
    size: float = 1.0

    def scaled(self, size: float) -> Threshold:
        """The same threshold for a piece that wants so many times the minutes."""
        return replace(self, spread=self.spread.scaled(size), size=self.size * size)


ESTIMATE = "shop default: an estimate, not measured"
PRACTICE = "shop default: common practice, no source"


def _row(
    name: str,
    band: tuple[float, float, float],
    clock: ClockName,
    place: Place,
    standing: str = ESTIMATE,
) -> tuple[str, Threshold]:
    return name, Threshold(name, Spread.of(*band), clock, place, standing)


def _hours(p10: float, p50: float, p90: float) -> tuple[float, float, float]:
    return (p10 * _H, p50 * _H, p90 * _H)


def _days(p10: float, p50: float, p90: float) -> tuple[float, float, float]:
    return (p10 * _D, p50 * _D, p90 * _D)


DEFAULTS: dict[str, Threshold] = dict(
    (
        _row("face opens", (10, 18, 40), "face", "form"),
        _row("face closes", (30, 45, 75), "face", "form"),
        _row("face pot life", (20, 35, 60), "hydration", "mix"),
        _row("back pot life", (30, 45, 60), "hydration", "mix"),
        _row("roll by", (5, 10, 20), "hydration", "mix"),
        _row("lift 2 opens", (5, 15, 30), "hydration", "mix"),
        _row("lift 2 closes", (45, 60, 90), "hydration", "mix"),
        _row("upright lift 2 opens", (20, 40, 90), "hydration", "mix"),
        _row("upright lift 2 closes", (45, 60, 90), "hydration", "mix"),
        _row("cover by", (5, 15, 20), "face", "form"),
        _row("green trim opens", _hours(1.5, 3, 5), "hydration", "piece"),
        _row("green trim closes", _hours(5, 6, 7), "hydration", "piece"),
        _row("demould", _hours(14, 18, 24), "hydration", "piece"),
        _row("basin or leg demould", _hours(20, 24, 30), "hydration", "piece"),
        _row("hone", _hours(24, 36, 72), "hydration", "piece"),
        _row("acid wash", _days(2.5, 3, 4), "hydration", "piece", PRACTICE),
        _row("slurry", _hours(24, 36, 72), "hydration", "piece"),
        _row("slurry sand-off", _hours(4, 16, 48), "drying", "shop"),
        _row("dry to seal", _hours(16, 24, 72), "drying", "shop"),
        _row("film age", _days(3, 5, 10), "plain", "shop"),
        _row("ship", _days(3, 5, 7), "plain", "shop"),
        _row("release haze", (20, 30, 45), "plain", "shop", PRACTICE),
        _row("film wrap", _hours(24, 48, 72), "coating", "shop", PRACTICE),
    )
)
"""Thresholds by name, every one a shop default that the shop's log should replace."""


RECOAT: dict[str, tuple[Spread, Spread]] = {
    "penetrating": (Spread.of(5, 10, 30), Spread.of(25, 30, 40)),
    "densifier": (Spread.of(20, 30, 60), Spread.of(120, 240, 480)),
    "acrylic": (
        Spread.of(2 * _H, 3 * _H, 4 * _H),
        Spread.of(24 * _H, 48 * _H, 72 * _H),
    ),
    "waterborne urethane": (
        Spread.of(2 * _H, 3 * _H, 6 * _H),
        Spread.of(20 * _H, 24 * _H, 29 * _H),
    ),
    "solvent urethane": (
        Spread.of(6 * _H, 8 * _H, 12 * _H),
        Spread.of(40 * _H, 48 * _H, 58 * _H),
    ),
    "epoxy": (
        Spread.of(8 * _H, 10 * _H, 12 * _H),
        Spread.of(20 * _H, 24 * _H, 29 * _H),
    ),
    "polyaspartic": (
        Spread.of(90, 120, 180),
        Spread.of(5 * _H, 6 * _H, 7 * _H),
    ),
}
"""When the next sealer coat may and may no longer go on, reference minutes at 21 degC
on the coating clock, by family. Common practice, no source; the closings of the
penetrating families are estimates. The label wins."""

SEALER_POT_LIFE: dict[str, Spread] = {
    "waterborne urethane": Spread.of(1 * _H, 2 * _H, 4 * _H),
    "solvent urethane": Spread.of(2 * _H, 3.5 * _H, 6 * _H),
    "epoxy": Spread.of(20, 30, 45),
    "polyaspartic": Spread.of(10, 17, 30),
}
"""How long a two-part sealer can be used once it is mixed, reference minutes on the
coating clock, by family. The ranges are common practice, no source; their middles are
estimates. The label wins."""

PENETRATING_FAMILIES = ("penetrating", "densifier")
"""Families that leave no film: the film's age, wrap and scuffing do not apply."""
