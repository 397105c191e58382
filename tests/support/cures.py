"""Made-up cures: plausible curves of no model, for screen, plot and verb."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import cos, exp, pi

from scheduling.clocks import Band
from scheduling.cure import Cure, Instant, Mark, WhatIf
from scheduling.spread import Spread

COVERS = ("open", "plastic", "blanket", "heated tent")
DEMOULD_H = {"open": 24.5, "plastic": 20.98, "blanket": 17.93, "heated tent": 15.45}
"""Hours from the casting to the demould on a night down to 12 degC."""

HORIZON_H = 8 * 24
HOUR = timedelta(hours=1)


def air(hour: float, low_c: float) -> float:
    """A night with its low at 05:00 and a day 9 K warmer."""
    return low_c + 4.5 * (1 - cos(2 * pi * (hour - 5) / 24))


def piece(cast_at: datetime, age_h: float, cover: str, low_c: float) -> float:
    at = cast_at + age_h * HOUR
    lift = {"open": 3.0, "plastic": 6.0, "blanket": 11.0, "heated tent": 13.0}[cover]
    return (
        air(at.hour + at.minute / 60, low_c)
        + lift * exp(-(((age_h - 9) / 6) ** 2))
        + 4 * exp(-age_h / 4)
    )


def history(cast_at: datetime, hours: float, cover: str, low_c: float) -> list[Instant]:
    """Every quarter of an hour from the casting on."""
    found = []
    equivalent = 0.0
    for quarter in range(int(4 * hours) + 1):
        age_h = quarter / 4
        at = cast_at + age_h * HOUR
        piece_c = piece(cast_at, age_h, cover, low_c)
        grown = max(0.0, equivalent - 5)
        strength = Spread(40 * grown / (20 + grown), 0.18)
        air_c = air(at.hour + at.minute / 60, low_c)
        found.append(Instant(at, piece_c, air_c, equivalent, strength))
        equivalent += 0.25 * exp(0.045 * (piece_c - 21))
    return found


def band(at: datetime, before_h: float, after_h: float) -> Band:
    return Band(at - before_h * HOUR, at, at + after_h * HOUR)


def demould_h(cover: str, low_c: float) -> float:
    return DEMOULD_H[cover] + 0.8 * (12 - low_c)


def what_if(cast_at: datetime, cover: str, low_c: float) -> WhatIf:
    at = cast_at + demould_h(cover, low_c) * HOUR
    pieces = [piece(cast_at, h, cover, low_c) for h in range(8, 24)]
    return WhatIf(cover, low_c, at, min(pieces), max(pieces))


def cure(
    at: datetime,
    *,
    age_h: float = 7.0,
    low_c: float | None = None,
    cover: str | None = None,
    pour: str = "court-bench-0402",
    warnings: tuple[str, ...] = (),
) -> Cure:
    """A cure that began some hours ago, for a night of its own unless one is given."""
    low_c = 12.0 if low_c is None else low_c
    cover = cover or "plastic"
    cast_at = at - age_h * HOUR
    points = tuple(history(cast_at, HORIZON_H, cover, low_c))
    now = points[round(4 * age_h)]
    ready = cast_at + demould_h(cover, low_c) * HOUR
    return Cure(
        pour=pour,
        at=at,
        cast_at=cast_at,
        age_h=age_h,
        equivalent_age_h=now.equivalent_age_h,
        piece_c=now.piece_c,
        strength_mpa=now.strength_mpa,
        points=points,
        measured=tuple(
            (cast_at + h * HOUR, piece(cast_at, h, cover, low_c) + d)
            for h, d in ((0.5, 0.4), (2, -0.5), (4, 0.3), (6.5, 0.2))
            if h <= age_h
        ),
        marks=(
            Mark("demould", band(ready, 4, 6), "estimate", "18 h at 21 °C"),
            Mark("hone", band(ready + 18 * HOUR, 12, 30), "estimate", "36 h at 21 °C"),
            Mark("slurry", band(ready + 18 * HOUR, 12, 30), "estimate", "36 h"),
            Mark("seal", band(cast_at + 120 * HOUR, 40, 60), "estimate", "5 days"),
            Mark("ship", None, "estimate", "sealed and wrapped"),
        ),
        what_if=tuple(what_if(cast_at, each, low_c) for each in COVERS),
        cover=cover,
        low_c=low_c,
        warnings=warnings,
        explanation=(
            "The heat of hydration is a model fitted to other mixes.",
            "No break test of this mix is on record, so the band is wide.",
        ),
    )


def not_cast(at: datetime, pour: str = "court-bench-0402") -> Cure:
    """What is known before the piece is cast: next to nothing."""
    return Cure(
        pour=pour,
        at=at,
        cast_at=None,
        age_h=0.0,
        equivalent_age_h=0.0,
        piece_c=18.0,
        strength_mpa=Spread(0.0),
        points=(),
        measured=(),
        marks=(Mark("demould", None, "estimate", "18 h at 21 °C"),),
        what_if=(),
        cover="open",
        low_c=12.0,
        warnings=(),
        explanation=(),
    )
