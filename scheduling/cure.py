"""What is known and forecast of the cure of one pour, as plain values.

A cure is a history and a forecast on one time axis, the moments at which the piece may
be worked on, and the same night under other covers.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from scheduling.clocks import Band
from scheduling.shell import CoverName
from scheduling.spread import Spread

What = Literal["demould", "hone", "slurry", "seal", "ship"]
"""What a cured piece is waited for, in the order of the trade."""


@dataclass(frozen=True, slots=True)
class Instant:
    """One point of the history and forecast; there is none before the casting.

    Attributes:
        at: When, aware.
        piece_c: Of the piece, degC.
        air_c: Of the air over the cover, degC.
        equivalent_age_h: Since the casting, hours at 21 degC.
        strength_mpa: In compression, MPa; a median of 0 before the mix sets.
    """

    at: datetime
    piece_c: float
    air_c: float
    equivalent_age_h: float
    strength_mpa: Spread


@dataclass(frozen=True, slots=True)
class Mark:
    """When the piece is ready for one thing.

    Attributes:
        what: For what.
        at: When, or None beyond the horizon of the forecast; of what is done, when it
            was begun, without a spread.
        standing: Where the threshold is from, or that it is done.
        words: The threshold in words, such as "18 h at 21 degC".
    """

    what: What
    at: Band | None
    standing: str
    words: str


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The coming night under one cover.

    Attributes:
        cover: Over the piece from now to the demould.
        low_c: Of the air tonight, degC.
        demould_at: P50, or None beyond the horizon of the forecast.
        coldest_c: The piece at its coldest up to then, degC.
        warmest_c: The piece at its warmest up to then, degC.
    """

    cover: CoverName
    low_c: float
    demould_at: datetime | None
    coldest_c: float
    warmest_c: float


@dataclass(frozen=True, slots=True)
class Cure:
    """The cure of one pour as seen at one moment.

    Attributes:
        pour: Its name.
        at: The moment, aware.
        cast_at: When the last coat was on, or None while it is not.
        age_h: Since then, hours; 0 before.
        equivalent_age_h: Since then, hours at 21 degC; 0 before.
        piece_c: Of the piece at the moment, degC.
        strength_mpa: In compression at the moment, MPa.
        points: History and forecast, increasing in time; none before the casting.
        measured: Readings of the piece, increasing in time, degC.
        marks: What the piece will be ready for, in the order of the trade.
        what_if: The night under each cover, in the order of ``CoverName``; none once
            the piece is demoulded.
        cover: Over the piece, or supposed to be, in all figures but ``what_if``.
        low_c: Of the air tonight, or supposed to be, degC.
        warnings: What is wrong or may go wrong, a sentence each.
        explanation: Why the figures are indicative, a sentence each.
    """

    pour: str
    at: datetime
    cast_at: datetime | None
    age_h: float
    equivalent_age_h: float
    piece_c: float
    strength_mpa: Spread
    points: tuple[Instant, ...]
    measured: tuple[tuple[datetime, float], ...]
    marks: tuple[Mark, ...]
    what_if: tuple[WhatIf, ...]
    cover: CoverName
    low_c: float
    warnings: tuple[str, ...]
    explanation: tuple[str, ...]
