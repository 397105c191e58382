"""Hands-on work: person-minutes of each step from the takeoff.

Every rate is common practice for a practised hand at its P50, with no published
source; the shop's own log is what should replace it. The spread of hands-on time
(P10 = 0.7, P90 = 1.6 of the median) is an estimate.
"""

from __future__ import annotations

from dataclasses import dataclass

from scheduling.spread import Spread

HANDS_ON = Spread.of(0.7, 1.0, 1.6)
"""Spread of hands-on time about its median, an estimate."""

REUSED_FORM = 0.15
"""Share of the form work left on a second casting from one form: common practice."""


@dataclass(frozen=True, slots=True)
class Quantities:
    """What a step's rate is multiplied by, for a whole casting or one zone.

    Areas m2, lengths m, the rest counts.
    """

    base: float = 0.0
    plan: float = 0.0
    face: float = 0.0
    flat: float = 0.0
    upright: float = 0.0
    edge: float = 0.0
    fillet: float = 0.0
    strips: int = 0
    corners: int = 0
    simple_knock_outs: int = 0
    basin_knock_outs: int = 0
    legs: int = 0
    inserts: int = 0
    foams: int = 0
    foam: float = 0.0
    batches: int = 0
    extra_lifters: int = 0
    two_part: int = 0


@dataclass(frozen=True, slots=True)
class Rate:
    """Person-minutes: a fixed part and so many per unit of each quantity.

    Attributes:
        fixed: Minutes whatever the size.
        per: Minutes per unit, by the name of a field of Quantities.
        least: The step never takes less than this, minutes.
    """

    fixed: float = 0.0
    per: tuple[tuple[str, float], ...] = ()
    least: float = 0.0

    def minutes(self, quantities: Quantities) -> float:
        """Returns person-minutes at the P50 for the given quantities."""
        total = self.fixed
        for name, each in self.per:
            total += each * float(getattr(quantities, name))
        return max(self.least, total)


def _rate(fixed: float = 0.0, least: float = 0.0, **per: float) -> Rate:
    return Rate(fixed, tuple(per.items()), least)


RATES: dict[str, Rate] = {
    "template": _rate(60, plan=10, simple_knock_outs=8, basin_knock_outs=8),
    "drawing": _rate(30, plan=10, simple_knock_outs=6, basin_knock_outs=6),
    "mock-weigh-off": _rate(10),
    "base": _rate(10, base=4),
    "cut-strips": _rate(edge=3, strips=1.5),
    "assemble": _rate(edge=8, corners=6, upright=15),
    "square-check": _rate(5, legs=2),
    "edge-seal": _rate(edge=1.5),
    "knock-outs": _rate(simple_knock_outs=12),
    "basin-plugs": _rate(basin_knock_outs=45),
    "insert-jigs": _rate(inserts=5),
    "clean": _rate(3, face=2),
    "wax": _rate(least=3, face=3),
    "fillets": _rate(least=3, fillet=2.5, corners=1),
    "clay-fillets": _rate(least=3, fillet=3),
    "peel": _rate(fillet=1),
    "last-look": _rate(4, face=1.5),
    "set-up": _rate(25),
    "sand-moisture": _rate(10),
    "weigh-dry": _rate(batches=10),
    "weigh-wet": _rate(batches=4),
    "mix-face": _rate(7),
    "flow-check": _rate(2.5),
    "spray-corners": _rate(fillet=1.5),
    "spray-field": _rate(least=5, face=3),
    "mix-back": _rate(7),
    "lift": _rate(flat=8, upright=20.5),
    "roll": _rate(flat=4, upright=10.5),
    "scrim": _rate(plan=3),
    "foam": _rate(foams=4, foam=3),
    "inserts": _rate(inserts=5),
    "screed": _rate(least=3, plan=5),
    "coupon": _rate(5),
    "cover": _rate(3, face=1),
    "wash-tools": _rate(25, batches=5),
    "green-trim": _rate(least=5, edge=1.5),
    "blankets": _rate(3),
    "back-grind": _rate(face=6, least=5),
    "demould": _rate(
        10,
        edge=2,
        simple_knock_outs=3,
        basin_knock_outs=3,
        legs=10,
        extra_lifters=10,
    ),
    "ease-edges": _rate(least=3, fillet=2.5),
    "defect-map": _rate(5, face=2),
    "hand-sand": _rate(face=8, least=5),
    "acid-wash": _rate(face=4, least=5),
    "hone": _rate(face=8, least=5),
    "slurry": _rate(face=10, edge=2, least=5),
    "sand": _rate(face=8, least=5),
    "wash-down": _rate(5, face=2),
    "dryness-check": _rate(5),
    "mask": _rate(5, face=3),
    "coat": _rate(face=5, two_part=8, least=3),
    "check-over": _rate(15),
    "wrap": _rate(20, face=10),
    "crate": _rate(90),
    "install": _rate(70, plan=20),
}
"""Rates by step. Placing and rolling together are 12 min/m2 flat and 31 upright."""

_SEVERAL = {"spray": ("spray-field", "spray-corners")}
"""Rates of the steps that are not reckoned by the one rate of their own name."""

AREAS = ("base", "plan", "face", "flat", "upright", "foam")
LENGTHS = ("edge", "fillet")
"""The Quantities that are areas and lengths; the rest are counts."""


def rates_of(family: str) -> tuple[tuple[str, float], ...]:
    """What a step takes by the rate of the trade.

    Args:
        family: Id of the step without its number.

    Returns:
        The quantity and person-minutes per unit of it (m2, m or one), "" for the
        minutes whatever the size; empty for a step that has no rate.
    """
    found: list[tuple[str, float]] = []
    for name in _SEVERAL.get(family, (family,)):
        rate = RATES.get(name, Rate())
        found += [("", rate.fixed)] if rate.fixed else []
        found += rate.per
    return tuple(found)
