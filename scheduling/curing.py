"""Curing and protection of ordinary concrete by the books, for comparison only.

None of these drives a wait of this program: a thin polymer mix under its first cover is
another case. Each rule says where it is from and what that is worth.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, isfinite
from typing import Final, Literal

PUBLISHED: Final = "published"
SECOND_HAND: Final = "published, second hand"
MEMORY: Final = "from memory"

Standing = Literal["published", "published, second hand", "from memory"]
CuringClass = Literal[1, 2, 3, 4]
Exposure = Literal["usual", "dry inside", "wear"]
Binder = Literal["I", "IS or IP", "II", "silica fume", "to 25 %", "over 25 %"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of a book.

    Attributes:
        words: What it says, short.
        source: Where it is from.
        standing: What that is worth.
    """

    words: str
    source: str
    standing: Standing


DIN_1045_3 = Rule(
    "moist curing in days, by surface temperature and r = fcm2 / fcm28; below 5 degC "
    "that time is added; longer if it stays workable over 5 h",
    "DIN 1045-3 (national annex of EN 13670); four pages agree, a fifth has "
    "1, 2, 3, 4 d from 25 degC",
    SECOND_HAND,
)
EN_13670 = Rule(
    "moist curing in days, by curing class, surface temperature and r = fcm2 / fcm28; "
    "classes 2, 3, 4 are 35, 50, 70 % of fck, class 1 is 12 h",
    "EN 13670 Annex F",
    MEMORY,
)
UFGS_03301 = Rule(
    "moist curing in days, by binder; out of the rain for 12 h, out of flowing water "
    "for 14 d (7 d with Type III)",
    "UFGS-03301, 3.5.1",
    PUBLISHED,
)
ACI_308 = Rule(
    "7 d, or 3 d with high early strength, or to 70 % of the specified strength, at "
    "10 degC or more",
    "ACI 308 and 301",
    MEMORY,
)
ACI_347 = Rule(
    "upright faces may be stripped after 12 h in all, not in one piece, with the air "
    "around at 10 degC (50 F) or more",
    "ACI 347R-94 as two answers in Concrete Construction cite it",
    SECOND_HAND,
)
FREEZING = Rule(
    "3.5 MPa (about 500 psi) stands one freeze; it is there within 24 h with w/c under "
    "0.60 as a rule",
    "PCA EB001, chapter 14; Concrete Construction",
    PUBLISHED,
)
COLD_WEATHER = Rule(
    "cold weather: the air is, or is expected, under 5 degC (40 F) while it is "
    "protected",
    "ACI's page on cold weather",
    PUBLISHED,
)
COLD_DAYS = Rule(
    "cold weather: three days with a mean under 5 degC, and not above 10 degC for more "
    "than half of any 24 h",
    "PCA EB001, chapter 14",
    PUBLISHED,
)
ACI_306 = Rule(
    "least temperature as placed, greatest drop in the 24 h after protection, and days "
    "of protection, in cold weather",
    "ACI 306R",
    MEMORY,
)

FREEZING_MPA = 3.5
"""Strength that stands one freeze, MPa (see FREEZING)."""

COLD_C = 5.0
"""Air that makes it cold weather, degC (see COLD_WEATHER)."""

STRIPPING_HOURS = 12.0
STRIPPING_C = 10.0
"""Hours that count towards stripping, and the air they need, degC (see ACI_347)."""

_LEAST_C = 5.0
_FROM_C = (25.0, 15.0, 10.0, _LEAST_C)
_FROM_R = (0.50, 0.30, 0.15, 0.0)
_DIN = ((1, 2, 2, 3), (1, 2, 4, 5), (2, 4, 7, 10), (3, 6, 10, 15))
_EN: dict[CuringClass, tuple[tuple[float, ...], ...]] = {
    1: ((0.5, 0.5, 0.5),) * 4,
    2: ((1, 1.5, 2.5), (1, 2.5, 5), (1.5, 4, 8), (2, 5, 11)),
    3: ((1.5, 2.5, 3.5), (2, 4, 7), (2.5, 7, 12), (3.5, 9, 18)),
    4: ((3, 5, 6), (5, 9, 12), (7, 13, 21), (9, 18, 30)),
}

UFGS_DAYS: dict[Binder, int] = {
    "I": 7,
    "IS or IP": 7,
    "silica fume": 7,
    "II": 14,
    "to 25 %": 14,
    "over 25 %": 21,
}
"""Days of moist curing by binder (see UFGS_03301): type of cement, a blend with silica
fume, or the share of fly ash or slag."""

ACI_308_DAYS = 7
ACI_308_EARLY_DAYS = 3
ACI_308_SHARE = 0.70
ACI_308_LEAST_C = 10.0
"""Days, days with high early strength, share of the specified strength that ends it
sooner, and least temperature, degC (see ACI_308)."""


@dataclass(frozen=True, slots=True)
class ColdPlacing:
    """A row of ACI 306R, by least dimension.

    Attributes:
        below_m: The row is for less than this, m.
        least_c: Least temperature as placed, degC.
        most_drop: Greatest drop in the 24 h after protection, K.
    """

    below_m: float
    least_c: float
    most_drop: float


COLD_PLACING = (
    ColdPlacing(0.3, 13.0, 28.0),
    ColdPlacing(0.9, 10.0, 22.0),
    ColdPlacing(1.8, 7.0, 17.0),
    ColdPlacing(inf, 5.0, 11.0),
)
"""See ACI_306."""

Service = Literal["no load, not exposed", "no load, exposed", "partial load, exposed"]
COLD_PROTECTION: dict[Service, tuple[int, int]] = {
    "no load, not exposed": (2, 1),
    "no load, exposed": (3, 2),
    "partial load, exposed": (6, 4),
}
"""Days of protection in cold weather, ordinary and accelerated set (see ACI_306)."""


def din_1045_3_days(
    temp_c: float, ratio: float, exposure: Exposure = "usual"
) -> float | None:
    """Days of curing by DIN 1045-3 (see DIN_1045_3).

    Args:
        temp_c: Of the surface, degC. Exactly 15 belongs to the warmer row.
        ratio: r, mean strength at 2 d over that at 28 d, 0 to 1.2. Exactly 0.30
            belongs to the faster column.
        exposure: ``dry inside`` is X0 or XC1 (half a day); ``wear`` doubles the days.

    Returns:
        The days, or None below 5 degC, where that time does not count.

    Raises:
        ValueError: A value is outside its range.
    """
    row, column = _cell(temp_c, ratio)
    if row is None:
        return None
    if exposure == "dry inside":
        return 0.5
    return _DIN[row][column] * (2.0 if exposure == "wear" else 1.0)


def en_13670_days(
    curing_class: CuringClass, temp_c: float, ratio: float
) -> float | None:
    """Days of curing by EN 13670 Annex F (see EN_13670).

    Args:
        curing_class: 1 to 4.
        temp_c: Of the surface, degC; boundaries as in ``din_1045_3_days``.
        ratio: r, 0 to 1.2.

    Returns:
        The days, or None below 5 degC or with r under 0.15, which have no row.

    Raises:
        ValueError: A value is outside its range.
    """
    row, column = _cell(temp_c, ratio)
    days = _EN[curing_class]
    if row is None or column >= len(days[row]):
        return None
    return days[row][column]


def cold_placing(least_dimension_m: float) -> ColdPlacing:
    """The row of ACI 306R for a least dimension, m, above 0 (see ACI_306).

    Raises:
        ValueError: The dimension is not above 0.
    """
    if not 0 < least_dimension_m < inf:
        raise ValueError(f"least dimension {least_dimension_m} m: want above 0")
    return next(row for row in COLD_PLACING if least_dimension_m < row.below_m)


def hours_towards_stripping(intervals: Iterable[tuple[float, float]]) -> float:
    """Hours that count towards stripping an upright face (see ACI_347).

    Args:
        intervals: Pairs of hours and the air temperature in them, degC.

    Raises:
        ValueError: An interval lasts less than nothing.
    """
    counted = 0.0
    for hours, temp_c in intervals:
        if not 0 <= hours < inf:
            raise ValueError(f"an interval of {hours} h: want 0 or more")
        if temp_c >= STRIPPING_C:
            counted += hours
    return counted


def _cell(temp_c: float, ratio: float) -> tuple[int | None, int]:
    """Row by temperature, None below 5 degC, and column by r; limits belong upwards."""
    if not isfinite(temp_c):
        raise ValueError(f"temperature {temp_c} degC: want a number")
    if not 0 <= ratio <= 1.2:
        raise ValueError(f"r = {ratio}: want 0 to 1.2")
    column = next(i for i, least in enumerate(_FROM_R) if ratio >= least)
    if temp_c < _LEAST_C:
        return None, column
    return next(i for i, least in enumerate(_FROM_C) if temp_c >= least), column
