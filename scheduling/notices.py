"""What speaks against a timeline, from the spraying to the last coat."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduling.air import (
    MIST_FLOOR_C,
    Evaporating,
    evaporating,
    evaporation,
    evaporation_menzel,
)
from scheduling.climate import Climate
from scheduling.job import Job
from scheduling.notice import Notice
from scheduling.process import StepKey
from scheduling.sealing import sealing_notices
from scheduling.shop import Mix
from scheduling.thresholds import PRACTICE
from scheduling.timeline import OVER, Timeline
from scheduling.units import Units

FILM_FLOOR_C = 10.0
"""Piece temperature, degC, under which the polymer may not film: common practice."""

COVER_FLOOR_C = 16.0
COVER_FLOOR_H = 12
"""What the piece should not be under, degC, in its first hours: published, a supplier's
note on curing."""

FIRST_DAY_H = 24
"""Hours under cover that every mix wants: published, a fibre maker's guide."""

POLYMER_PCT = 5.0
"""Polymer solids, percent of the cementitious, from which the overnight cover stands in
for moist curing: published, a trade site (others say 6)."""

MOIST_D = 7
"""Days of moist curing without polymer: published, an association's page."""

_HOUR = timedelta(hours=1)
_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class SprayAir:
    """What the air takes from the face coat while it is sprayed.

    Attributes:
        at: The instant it is worst.
        uno: Evaporation by Uno's formula, kg/m2h, 0 or more; both are good to 40 %.
        menzel: The same by Menzel's.
        word: What it asks for.
    """

    at: datetime
    uno: float
    menzel: float
    word: Evaporating


def spray_air(timeline: Timeline, climate: Climate) -> SprayAir | None:
    """Returns the worst evaporation at the end of a zone's spraying, still to come.

    The surface is as warm as the form. None when all is sprayed.
    """
    ends = [
        span.finish
        for span in timeline.steps()
        if span.key.step == "spray" and span.status not in OVER
    ]
    found = [_spray_air(at, climate) for at in ends]
    return max(found, key=lambda one: one.uno, default=None)


def _spray_air(at: datetime, climate: Climate) -> SprayAir:
    air = climate.air(at)
    surface_c = max(climate.at("form", at).temp_c, MIST_FLOOR_C)
    here = (surface_c, max(air.temp_c, MIST_FLOOR_C), air.rh_pct, air.wind_kmh)
    uno = max(evaporation(*here), 0.0)
    menzel = max(evaporation_menzel(*here), 0.0)
    return SprayAir(at, uno, menzel, evaporating(uno))


def notices(
    timeline: Timeline, climate: Climate, job: Job, mix: Mix, units: Units
) -> list[Notice]:
    """Returns what speaks against a timeline, in the order of the work.

    What is behind is left out. Nothing here forbids anything.

    Args:
        timeline: As planned or forecast.
        climate: Which it was laid over.
        job: What is made.
        mix: Of what.
        units: In which the sentences are written.
    """
    return [
        *_evaporation(timeline, climate, units),
        *_cold(timeline, climate, units),
        *_cure(timeline, mix),
        *sealing_notices(timeline, climate, job.finish, mix, units),
    ]


def _evaporation(
    timeline: Timeline, climate: Climate, units: Units
) -> Iterator[Notice]:
    air = spray_air(timeline, climate)
    if air is None or air.word == "fine":
        return
    act = {"caution": "have cover and fog ready", "act": "cover, fog, stop the draught"}
    lost = units.evaporation(air.uno)
    yield Notice(
        "evaporation",
        f"the face coat loses {lost} while it is sprayed: {act[air.word]}",
        "half of the published limits, our judgement; the rate is good to 40 %",
    )


def _cold(timeline: Timeline, climate: Climate, units: Units) -> Iterator[Notice]:
    """Cold in the first day of a piece that is still in its form."""
    cast = timeline.span(StepKey("screed"))
    out = timeline.span(StepKey("demould"))
    if cast is None or (out is not None and out.status in OVER):
        return
    hours = [cast.finish + hour * _HOUR for hour in range(FIRST_DAY_H + 1)]
    piece = timeline.cast
    if piece is None:
        temps = [climate.at("piece", hour).temp_c for hour in hours]
    else:
        temps = [piece.temp_c(hour) for hour in hours]
    lowest = units.temperature(min(temps))
    if min(temps) < FILM_FLOOR_C:
        yield Notice(
            "cold",
            f"the piece cools to {lowest} in its first day: under "
            f"{units.temperature(FILM_FLOOR_C)} the polymer may not film, and the "
            "clocks are not to be trusted; blanket, heat, or another day",
            PRACTICE,
        )
    elif min(temps[: COVER_FLOOR_H + 1]) < COVER_FLOOR_C:
        coolest = units.temperature(min(temps[: COVER_FLOOR_H + 1]))
        yield Notice(
            "cold",
            f"the piece cools to {coolest} under its cover: wanted are "
            f"{units.temperature(COVER_FLOOR_C)} for {COVER_FLOOR_H} to 16 h",
            "published: a supplier's note on curing",
        )


def _cure(timeline: Timeline, mix: Mix) -> Iterator[Notice]:
    """Whether the overnight cover is cure enough."""
    cast = timeline.span(StepKey("screed"))
    out = timeline.span(StepKey("demould"))
    if cast is None or out is None or out.status in OVER:
        return
    if mix.polymer_pct < POLYMER_PCT:
        yield Notice(
            "cure",
            f"with {mix.polymer_pct:g} % polymer this mix wants {MOIST_D} days moist "
            "under polythene, in the form or out of it; overnight cover will not do",
            f"published: an association's page ({MOIST_D} days), a trade site "
            f"({POLYMER_PCT:g} % polymer instead)",
        )
    elif out.start - cast.finish < FIRST_DAY_H * _HOUR:
        hours = round((out.start - cast.finish) / _HOUR)
        yield Notice(
            "cure",
            f"{mix.polymer_pct:g} % polymer stands in for {MOIST_D} days moist, but "
            f"not for the first {FIRST_DAY_H} h under cover: demoulded at {hours} h, "
            "cover it again; wetting it later leaves it cloudy",
            "published: a trade site (polymer), a fibre maker's guide (cover); the "
            "clouding is common practice",
            warns=False,
        )
