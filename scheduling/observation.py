"""What a past pour says about one timing, and how far its clock had run by then.

A wait is never seen to end: it is known to be longer than it was at the last "soft" and
no longer than at the first "ready". How much reference time that is depends on how
strongly the clock answers to temperature and evaporation, which is itself to be
learned: so a mark keeps the parts, and gives the sum for any energy and share.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

ENERGIES = (32.0, 41.5, 51.0)
"""Activation energies at which a mark is reckoned, kJ/mol: both ends of the published
spread for setting, and its middle."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How far the clock of a wait had run at one instant.

    Attributes:
        wall_min: Minutes on the wall since the wait began.
        hydration: Reference minutes at each of ENERGIES by the part of the clock that
            answers to temperature; of a clock that does not, thrice the same.
        evaporation: Reference minutes by evaporation alone, less what fogging gave
            back; 0 where the clock knows none.
    """

    wall_min: float
    hydration: tuple[float, float, float]
    evaporation: float = 0.0


@dataclass(frozen=True, slots=True)
class Observation:
    """One wait of one pour: its threshold lies after one mark and not after another.

    Attributes:
        pour: Its name.
        at: When the wait began.
        name: Of the threshold.
        mix: Of the job; of a recoat or a sealer's pot life the sealer's family.
        zone: Of the form, or "".
        after: The last mark at which the threshold was not reached, or None.
        before: The first mark at which it was, or None; not both are None.
        temp_c: Mean temperature of the place the clock reads, degC.
        why_not: Why nothing is learned from it, in words; "" when something is.
        measured: Whether the weather its clock ran in was read, and not assumed. Where
            it was not, its marks are those of the mix's own constants, whatever the
            energy and the share: it teaches the threshold and nothing about those.
    """

    pour: str
    at: datetime
    name: str
    mix: str
    zone: str
    after: Mark | None
    before: Mark | None
    temp_c: float
    why_not: str = ""
    measured: bool = True


@dataclass(frozen=True, slots=True)
class WorkObservation:
    """One step of one pour, done.

    Attributes:
        pour: Its name.
        at: When it began.
        step: Id of the step without its number: ``hone`` for ``hone-2``.
        by: Who did it, or "".
        rate_min: Person-minutes by the rate of the trade, before any pace of the shop.
        actual_min: Person-minutes it took.
        why_not: Why nothing is learned from it, in words; "" when something is.
        until: When it ended, or None where nobody knows.
    """

    pour: str
    at: datetime
    step: str
    by: str
    rate_min: float
    actual_min: float
    why_not: str = ""
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Lessons:
    """Everything one pour has to say."""

    windows: tuple[Observation, ...] = ()
    work: tuple[WorkObservation, ...] = ()
