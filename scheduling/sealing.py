"""The end of a job: when it may be sealed and shipped, and what speaks against it.

The families are generic and every figure here is somebody's rule for other work than
this: the label of the drum always wins.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from scheduling.air import MARGIN_C, WETTEST_RH_PCT, dew_point, may_coat
from scheduling.climate import Climate
from scheduling.clocks import Band
from scheduling.job import Finish
from scheduling.notice import Notice
from scheduling.process import StepKey
from scheduling.shop import Mix
from scheduling.thresholds import DEFAULTS, ESTIMATE, PENETRATING_FAMILIES, PRACTICE
from scheduling.timeline import OVER, Span, Timeline
from scheduling.units import Units

YOUNGEST_D = 4.0
"""Age at coat 1, days, below which it is said to be young. Two days after casting is
called a good start and four or more better: published, a training site."""

DAMPEST_RH_PCT = 70.0
"""Humidity from which a two-part film is not to be coated: published, working
conditions of a varnish maker."""

COATING_C: dict[str, tuple[float, float]] = {
    "waterborne urethane": (12.0, 25.0),
    "solvent urethane": (12.0, 25.0),
    "epoxy": (15.0, 25.0),
}
"""Air, degC, in which a two-part film of each family is to be coated: published, the
same maker's."""

MISSED: dict[str, tuple[str, str]] = {
    "penetrating": ("what has dried repels the next coat", PRACTICE),
    "densifier": ("what has dried leaves a white crust", PRACTICE),
    "acrylic": ("a solvent one takes it all the same, scuff another", PRACTICE),
    "waterborne urethane": ("sand with 220 to 400 first", PRACTICE),
    "solvent urethane": (
        "sand the gloss off with 150 to 200 first",
        "published: a guide for coating steel",
    ),
    "epoxy": (
        "sand with about 100 first, wipe with solvent",
        "published: a guide for coating floors",
    ),
    "polyaspartic": ("sand first", PRACTICE),
}
"""What a coat after its window asks for, and the standing of that, by family."""

_MINUTE = timedelta(minutes=1)
_DAY = timedelta(days=1)


def seals(timeline: Timeline) -> Band | None:
    """Returns when coat 1 may go on; None where a wait before it is out of reach.

    The P50 is when hands can begin it. The P10 and P90 are those of the slower of the
    waits before it (drying, age of the film), so they leave out that the work before
    those may run late.
    """
    coat = timeline.span(StepKey("coat-1"))
    waits = [span for span in timeline.spans if span.key.step in _BEFORE_COATS]
    if coat is None or any(wait.opens is None for wait in waits):
        return None
    if coat.status in OVER:
        return Band(coat.start, coat.start, coat.start)
    opens = [wait.opens for wait in waits if wait.opens]
    early = min(coat.start, max(band.p10 for band in opens))
    return Band(early, coat.start, max(coat.start, *(band.p90 for band in opens)))


_BEFORE_COATS = ("drying", "film age")


def ships(timeline: Timeline, mix: Mix) -> Band | None:
    """Returns when the piece may leave: wrapped, and of an age to be handled."""
    cast = timeline.span(StepKey("screed"))
    wrap = timeline.span(StepKey("wrap"))
    if cast is None or wrap is None:
        return None
    age = mix.thresholds.get("ship", DEFAULTS["ship"].spread)
    wrapped = wrap.finishes()
    return Band(
        max(cast.finish + age.p10 * _MINUTE, wrapped.p10),
        max(cast.finish + age.p50 * _MINUTE, wrapped.p50),
        max(cast.finish + age.p90 * _MINUTE, wrapped.p90),
    )


def sealing_notices(
    timeline: Timeline, climate: Climate, finish: Finish, mix: Mix, units: Units
) -> Iterator[Notice]:
    """Yields what speaks against the coats that are still to come."""
    coats = [
        span
        for span in timeline.steps()
        if span.key.step.startswith("coat-") and span.status not in OVER
    ]
    yield from _young(timeline, coats, finish, mix)
    yield from _first(_wet(span, climate, units) for span in coats)
    if finish.two_part and finish.sealer in COATING_C:
        yield from _first(_unfit(span, climate, finish, units) for span in coats)
    for span in coats:
        if span.slack_min is not None and round(span.slack_min) < 0:
            after, standing = MISSED[finish.sealer]
            words = f"{_name(span)} comes after its recoat window has closed: {after}"
            yield Notice("recoat", words, standing)


def _first(found: Iterator[Notice | None]) -> Iterator[Notice]:
    """The first there is: one coat says it for all."""
    first = next((one for one in found if one is not None), None)
    if first is not None:
        yield first


def _name(span: Span) -> str:
    return span.key.step.replace("-", " ")


def _young(
    timeline: Timeline, coats: list[Span], finish: Finish, mix: Mix
) -> Iterator[Notice]:
    cast = timeline.span(StepKey("screed"))
    if cast is None or not coats or coats[0].key.step != "coat-1":
        return
    age_d = (coats[0].start - cast.finish) / _DAY
    film = mix.thresholds.get("film age", DEFAULTS["film age"].spread).scaled(1 / 1440)
    if finish.sealer not in PENETRATING_FAMILIES and age_d < film.p50:
        yield Notice(
            "age",
            f"coat 1 would go on at {age_d:.1f} days, and a film wants {film.p50:.0f} "
            f"({film.p10:.0f} to {film.p90:.0f}) after the pour; the label wins",
            ESTIMATE,
        )
    if age_d < YOUNGEST_D:
        yield Notice(
            "age",
            f"coat 1 would go on at {age_d:.1f} days: two are a good start and four or "
            "more better, longer when it is cool; general advice for silane, epoxy and "
            "urethane is 28, for slabs that dry far slower than a thin piece",
            "published: a training site and sealer advice sites",
        )


def _wet(span: Span, climate: Climate, units: Units) -> Notice | None:
    air = climate.air(span.start)
    surface_c = climate.at("piece", span.start).temp_c
    if air.rh_pct <= 0 or may_coat(surface_c, air.temp_c, air.rh_pct):
        return None
    point = units.temperature(dew_point(air.temp_c, air.rh_pct))
    margin = units.temperature_step(MARGIN_C)
    return Notice(
        "dew",
        f"{_name(span)}: surface {units.temperature(surface_c)}, air at "
        f"{air.rh_pct:.0f} % with its dew point at {point}; wanted are {margin} above "
        f"the dew point and less than {WETTEST_RH_PCT:.0f} %: warm the piece, dry the "
        "air or wait",
        "published, second hand: ISO 8502-4, ISO 12944-7",
    )


def _unfit(span: Span, climate: Climate, finish: Finish, units: Units) -> Notice | None:
    air = climate.air(span.start)
    low_c, high_c = COATING_C[finish.sealer]
    if air.rh_pct < DAMPEST_RH_PCT and low_c <= air.temp_c <= high_c:
        return None
    return Notice(
        "two-part",
        f"{_name(span)}: air {units.temperature(air.temp_c)} at {air.rh_pct:.0f} %; a "
        f"two-part {finish.sealer} wants {units.temperature(low_c)} to "
        f"{units.temperature(high_c)} and less than {DAMPEST_RH_PCT:.0f} %",
        "published: a varnish maker's working conditions",
    )
