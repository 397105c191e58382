"""What is said beside a cure: what may go wrong, why it is indicative, what books ask.

A new kind of notice about the timeline belongs into ``scheduling.notices``; it is said
here without more ado.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from statistics import fmean

from scheduling import curing
from scheduling.cast import Cast
from scheduling.cure import Cure
from scheduling.curealerts import PROBE_RANGE_C, TONIGHT_COLD, kept_from
from scheduling.forecast import Setting
from scheduling.heat import AHEAD_OF_PRACTICE, STEP_H, WHY_IT_DIFFERS
from scheduling.hydration import M1_BINDER, STANDING
from scheduling.job import Job
from scheduling.notices import notices
from scheduling.setting import (
    ENERGY_BAND_KJ_MOL,
    INITIAL_SET_DEGREE,
    INITIAL_SET_KJ_KG,
    initial_set,
)
from scheduling.strength import Eurocode
from scheduling.strengthband import StrengthBand
from scheduling.timeline import OVER, Timeline
from scheduling.units import Units

FIRST_DAY_H = 24
"""Hours of the piece whose mean temperature the books' tables are entered with."""

_EARLY = (
    " Its law, of EN 1992-1-1, is for 3 days and more: earlier the standard wants "
    "tests (from memory)."
)

_SET_STEPS = round(36 / STEP_H)
"""Steps of a piece through which its set is looked for."""

Said = tuple[str, bool]
"""A sentence, and whether it speaks against the cure."""

_HOUR = timedelta(hours=1)


def warnings(
    cure: Cure, timeline: Timeline, setting: Setting, job: Job
) -> tuple[Said, ...]:
    """Returns what goes wrong or may, and what only goes with it.

    Args:
        cure: As far as it is known.
        timeline: Which it was worked out from.
        setting: Of the pour.
        job: What is made.
    """
    assert timeline.cast is not None
    units = Units(setting.shop.units)
    noticed = [
        one
        for one in notices(
            timeline, timeline.cast.casts.climate, job, setting.mix(job), units
        )
        if one.what != "evaporation"
    ]
    too_cold = any(one.what == "cold" for one in noticed)
    return (
        *((words, True) for words in _cold_night(timeline, setting)),
        *((words, True) for words in _frozen(cure, setting)),
        *((words, True) for words in _range(cure, timeline, setting, too_cold)),
        *((f"{one.words} ({one.standing})", one.warns) for one in noticed),
    )


def explanation(piece: Cast, band: StrengthBand, setting: Setting) -> tuple[str, ...]:
    """Returns why the figures are indicative, and what the books would ask for."""
    units = Units(setting.shop.units)
    return (
        f"Strength: {band.standing}.{_EARLY if isinstance(band.law, Eurocode) else ''}",
        _set(piece, setting),
        f"Heat of the cement: {STANDING}.",
        AHEAD_OF_PRACTICE,
        WHY_IT_DIFFERS,
        *_books(piece, band, units),
    )


def _cold_night(timeline: Timeline, setting: Setting) -> Iterator[str]:
    wait = next((s for s in timeline.spans if s.key.step == "cure"), None)
    if wait is None or _out(timeline):
        return
    word = kept_from(wait, setting.hours)
    if word:
        yield TONIGHT_COLD.format(word)


def _out(timeline: Timeline) -> bool:
    """Whether the piece has left its form."""
    demould = next((s for s in timeline.steps() if s.key.step == "demould"), None)
    return demould is not None and demould.status in OVER


def _frozen(cure: Cure, setting: Setting) -> Iterator[str]:
    for point in cure.points:
        weak = point.strength_mpa.p50 < curing.FREEZING_MPA
        if point.at >= cure.at and point.piece_c < 0 and weak:
            when = _said(point.at, setting)
            yield (
                f"the piece freezes {when} at {point.strength_mpa.p50:.1f} MPa: "
                f"{curing.FREEZING_MPA} MPa stands one freeze "
                f"({curing.FREEZING.standing}: {curing.FREEZING.source})"
            )
            return


def _range(
    cure: Cure, timeline: Timeline, setting: Setting, too_cold: bool
) -> Iterator[str]:
    """The piece outside what is usual before it is demoulded."""
    assert timeline.cast is not None
    if _out(timeline):
        return
    start = max(cure.at, timeline.cast.at)
    until = timeline.demould.p50 if timeline.demould else start + FIRST_DAY_H * _HOUR
    coldest, warmest = timeline.cast.extremes(start, max(start, until))
    low, high = PROBE_RANGE_C
    units = Units(setting.shop.units)
    if coldest < low and not too_cold:
        yield (
            f"the piece cools to {units.temperature(coldest)} before its demould: "
            f"under {units.temperature(low)} look at the blanket and the heat"
        )
    if warmest > high:
        yield (
            f"the piece warms to {units.temperature(warmest)} before its demould: "
            f"over {units.temperature(high)} take something off"
        )


def _said(when: datetime, setting: Setting) -> str:
    return f"{when.astimezone(setting.zone):%a %H:%M}"


def _set(piece: Cast, setting: Setting) -> str:
    """When the mix sets, as a band."""
    temps = (piece.temp_c(piece.at + h * STEP_H * _HOUR) for h in range(_SET_STEPS + 1))
    found = initial_set(M1_BINDER, temps, STEP_H)
    if found is None:
        when = f"not within {_SET_STEPS * STEP_H:g} h of casting"
    else:
        soonest, latest = (_said(piece.at + h * _HOUR, setting) for h in found)
        when = f"{soonest} to {latest}, counted from casting"
    low, _, high = ENERGY_BAND_KJ_MOL
    return (
        f"Initial set {when}: by the heat model, {INITIAL_SET_KJ_KG} kJ per kg of "
        "cement (published: NT BUILD 476) or a degree of hydration of "
        f"{INITIAL_SET_DEGREE} w/cm (from memory), at {low:g} to {high:g} kJ/mol. "
        "Indicative: a retarder holds it back."
    )


def _books(piece: Cast, band: StrengthBand, units: Units) -> Iterator[str]:
    """What the curing tables of ordinary concrete would ask for, to compare."""
    mean_c = fmean(piece.temp_c(piece.at + h * _HOUR) for h in range(FIRST_DAY_H + 1))
    ratio = min(band.at(48).p50 / band.at(28 * 24).p50, 1.2)
    entry = f"at a mean of {units.temperature(mean_c)}, r = {ratio:.2f}"
    rules = (
        (
            "DIN 1045-3",
            curing.DIN_1045_3,
            curing.din_1045_3_days(mean_c, ratio),
        ),
        (
            "EN 13670 class 2",
            curing.EN_13670,
            curing.en_13670_days(2, mean_c, ratio),
        ),
    )
    for name, rule, days in rules:
        asked = f"{_days(days)} moist" if days else "more than its table has"
        yield f"{name} would ask {asked} {entry} ({rule.standing})."
    yield (
        f"UFGS-03301 would ask {curing.UFGS_DAYS['to 25 %']} days moist with up to "
        f"25 % fly ash ({curing.UFGS_03301.standing})."
    )
    share = f"{curing.ACI_308_SHARE * 100:.0f} %"
    yield (
        f"ACI 308 would ask {curing.ACI_308_DAYS} days moist, or until {share} of the "
        f"strength ({curing.ACI_308.standing})."
    )
    hours = [(1.0, piece.air_c(piece.at + (h + 0.5) * _HOUR)) for h in range(72)]
    needed = next(
        (
            number
            for number in range(1, len(hours) + 1)
            if curing.hours_towards_stripping(hours[:number]) >= curing.STRIPPING_HOURS
        ),
        None,
    )
    after = f"after {needed} h" if needed else "not within 72 h"
    yield (
        f"ACI 347 would let upright faces be stripped {after} in this air "
        f"({curing.ACI_347.standing})."
    )
    yield "These rules are for ordinary concrete, to compare; none drives a wait."


def _days(count: float) -> str:
    return "1 day" if count == 1 else f"{count:g} days"
