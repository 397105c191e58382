"""The cure in words, for the screen and for the verb."""

from __future__ import annotations

from datetime import datetime, time, timedelta, tzinfo

from scheduling.clocks import Band
from scheduling.cure import WhatIf
from scheduling.hours import ShopHours, wall_instant
from scheduling.shell import CoverName
from scheduling.spread import Spread
from scheduling.units import Units
from tui.output import length

SHORT: dict[CoverName, str] = {
    "open": "open",
    "plastic": "plastic",
    "blanket": "blanket",
    "heated tent": "heat",
}
"""Covers where there is little room."""

NOT_IN_SIGHT = "not in sight"
"""Says that something lies beyond the horizon of the forecast."""

_NOTHING_MPA = 0.05
"""Strength, MPa, under which a figure of it would read as nothing."""

_FAR = timedelta(days=6)
"""From when on a weekday could be taken for another."""

_DAY = timedelta(days=1)


def moment(at: datetime, now: datetime, zone: tzinfo) -> str:
    """Says an instant: ``Wed 07:50``, or ``9 Apr`` where the weekday is not enough."""
    local = at.astimezone(zone)
    if abs(at - now) < _FAR:
        return f"{local:%a %H:%M}"
    return f"{local.day} {local:%b}"


def band(found: Band | None, now: datetime, zone: tzinfo) -> tuple[str, str]:
    """Says when something is ready, and between what.

    Returns:
        The median, and what nine and one time in ten lie between: clock times where
        they are within a day of each other, else days. ``done`` for what was done.
    """
    if found is None:
        return NOT_IN_SIGHT, ""
    if found.p10 == found.p90:
        return moment(found.p50, now, zone), "done"
    early, late = found.p10.astimezone(zone), found.p90.astimezone(zone)
    if found.p90 - found.p10 < _DAY:
        ends = f"{early:%H:%M}-{late:%H:%M}"
    elif abs(found.p90 - now) < _FAR:
        ends = f"{early:%a}-{late:%a}"
    elif early.month == late.month:
        ends = f"{early.day}-{late.day} {late:%b}"
    else:
        ends = f"{early.day} {early:%b}-{late.day} {late:%b}"
    return moment(found.p50, now, zone), ends


def strength(found: Spread, units: Units) -> str:
    """Says a strength with its band: ``14 MPa (11 to 17)``."""
    if found.p90 < _NOTHING_MPA:
        return f"0 {units.strength_unit}"
    low, high = units.strength_number(found.p10), units.strength_number(found.p90)
    middle = units.strength_number(found.p50)
    return f"{middle} {units.strength_unit} ({low} to {high})"


def demould(
    one: WhatIf, now: datetime, hours: ShopHours, zone: tzinfo
) -> tuple[str, str]:
    """Says when the piece could be demoulded, and how that lies to the opening."""
    if one.demould_at is None:
        return NOT_IN_SIGHT, ""
    at = one.demould_at
    return moment(at, now, zone), against_opening(at, hours, zone)


def degrees(units: Units, *celsius: float) -> str:
    """Says whole degrees: ``12 °C``, or ``14 to 24 °C``."""
    numbers = (f"{units.temperature_value(one):.0f}" for one in celsius)
    return f"{' to '.join(numbers)} {units.temperature_unit}"


def against_opening(at: datetime, hours: ShopHours, zone: tzinfo) -> str:
    """Says how an instant lies to the opening of the shop.

    ``3 h 29 after`` that day's opening, or ``before 07:30`` of the next one (``before
    Mon`` where that is another day) when it falls at night or on a day off.
    """
    local = at.astimezone(zone)
    midnight = wall_instant(datetime.combine(local.date(), time()), zone)
    try:
        opens = hours.next_day_open(midnight - timedelta(seconds=1))
        if opens < at < hours.day_close(opens):
            return f"{length((at - opens) / timedelta(minutes=1))} after"
        opens = opens if at <= opens else hours.next_day_open(at)
    except ValueError:  # the calendar has no working day for it
        return ""
    opening = opens.astimezone(zone)
    same = opening.date() == local.date()
    return f"before {opening:%H:%M}" if same else f"before {opening:%a}"
