"""The chart of a cure: temperatures and strength over one time axis."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo
from math import ceil

from scheduling.cure import Cure
from scheduling.hours import ShopHours
from scheduling.units import Units
from tui.widgets.chart import LABEL, Axis, Bracket, Chart, Dots, Line, Panel, Ribbon

ZOOMS = (timedelta(hours=24), timedelta(hours=48), timedelta(days=7))
"""Time across the chart at each zoom, closest first."""

_PAST = 0.35
"""Where the now bar stands at most, as a share of the width."""

_STEPS_H = (1, 2, 3, 4, 6, 12)

_GRAIN = timedelta(minutes=15)
"""How finely closed hours are shaded."""


def chart(
    cure: Cure,
    span: timedelta,
    *,
    zone: tzinfo,
    units: Units,
    hours: ShopHours,
    width: int,
) -> Chart:
    """Returns the chart of a cure.

    Args:
        cure: A cure that has begun.
        span: Time across the chart.
        zone: For the labels.
        units: For the scales.
        hours: Outside them the ground is shaded.
        width: Cells there are for the labels.
    """
    assert cure.cast_at is not None
    start = max(cure.cast_at, cure.at - span * _PAST)
    return Chart(
        axis=time_axis(start, start + span, zone, width),
        panels=(_temperature(cure, units), _strength(cure, units)),
        brackets=tuple(
            Bracket(
                mark.what,
                mark.at.p10.timestamp(),
                mark.at.p50.timestamp(),
                mark.at.p90.timestamp(),
            )
            for mark in cure.marks
            if mark.at is not None
        ),
        now=cure.at.timestamp(),
        shaded=closed(start, start + span, hours),
    )


def _temperature(cure: Cure, units: Units) -> Panel:
    value = units.temperature_value
    times = [point.at.timestamp() for point in cure.points]
    air = [value(point.air_c) for point in cure.points]
    piece = [value(point.piece_c) for point in cure.points]
    read = tuple((at.timestamp(), value(temp)) for at, temp in cure.measured)
    return Panel(
        f"temperature, {units.temperature_unit}",
        lines=(
            Line("air", tuple(zip(times, air, strict=True)), "faint", dotted=True),
            Line("piece", tuple(zip(times, piece, strict=True)), "first"),
        ),
        dots=(Dots("measured", read, "first"),) if read else (),
    )


def _strength(cure: Cure, units: Units) -> Panel:
    value = units.strength_value
    points = [(point.at.timestamp(), point.strength_mpa) for point in cure.points]
    return Panel(
        f"strength, {units.strength_unit}, indicative",
        lines=(
            Line("median", tuple((at, value(mpa.p50)) for at, mpa in points), "second"),
        ),
        ribbons=(
            Ribbon(
                "8 in 10",
                tuple((at, value(mpa.p10), value(mpa.p90)) for at, mpa in points),
            ),
        ),
        base=0.0,
    )


def time_axis(start: datetime, end: datetime, zone: tzinfo, width: int) -> Axis:
    """Returns an axis with clock times, and weekdays at midnight.

    Args:
        start: Its left end.
        end: Its right end, after the start.
        zone: In which the labels are.
        width: Cells there are for them.
    """
    most = max(1, width // LABEL)
    hours = (end - start) / timedelta(hours=1)
    step = next((one for one in _STEPS_H if hours / one <= most), 24)
    days = ceil(hours / 24 / most) if step == 24 else 1
    ticks = []
    wall = start.astimezone(zone).replace(
        hour=0, minute=0, second=0, microsecond=0, tzinfo=None
    )
    while (at := wall.replace(tzinfo=zone)) < end:
        if at >= start:
            label = f"{wall:%a} {wall.day}" if wall.hour == 0 else f"{wall:%H:%M}"
            ticks.append((at.timestamp(), label))
        wall += timedelta(hours=step) * days
    return Axis(start.timestamp(), end.timestamp(), tuple(ticks))


def closed(
    start: datetime, end: datetime, hours: ShopHours
) -> tuple[tuple[float, float], ...]:
    """Returns the stretches in which the shop is closed, s since 1970."""
    found: list[tuple[float, float]] = []
    at = start
    while at < end:
        if not hours.is_open(at + _GRAIN / 2):
            left, right = at.timestamp(), (at + _GRAIN).timestamp()
            if found and found[-1][1] >= left:
                left = found.pop()[0]
            found.append((left, right))
        at += _GRAIN
    return tuple(found)
