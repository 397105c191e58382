"""What was learned, in words; the verb and the screen say the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from scheduling.clocks import Band
from scheduling.learned import Estimate, LearnedPace, Score
from scheduling.observation import Observation, WorkObservation
from scheduling.shop import Timing
from scheduling.shopbook import Decision
from scheduling.spread import Spread
from scheduling.units import Units
from scheduling.work import AREAS, LENGTHS, rates_of
from tui.output import length

_MINUTE = timedelta(minutes=1)

_EACH = {
    "strips": "strip",
    "corners": "corner",
    "simple_knock_outs": "knock-out",
    "basin_knock_outs": "basin",
    "legs": "leg",
    "inserts": "insert",
    "foams": "foam core",
    "batches": "batch",
    "extra_lifters": "extra lifter",
    "two_part": "two-part mix",
}
"""One of each count that a rate is multiplied by."""


@dataclass(frozen=True, slots=True)
class Scale:
    """The unit long and short times are shown in."""

    word: str
    minutes: float

    @classmethod
    def of(cls, minutes: float) -> Scale:
        """The unit in which a time is easily read."""
        if minutes < 240:
            return cls("min", 1.0)
        return cls("h", 60.0) if minutes < 5760 else cls("days", 1440.0)


def figure(minutes: float, scale: Scale) -> str:
    """Says a number of a unit, as fine as it is worth."""
    value = minutes / scale.minutes
    return f"{value:.1f}" if value < 19.95 else f"{value:.0f}"


def against(scale: Scale) -> str:
    """The title of a plot of what came against what was forecast."""
    return f"actual (up) against forecast (across), {scale.word}"


def ends(spread: Spread, scale: Scale) -> str:
    """Says between what nine and one time in ten lie."""
    return f"{figure(spread.p10, scale)}-{figure(spread.p90, scale)}"


def band(spread: Spread, scale: Scale) -> str:
    """Says a band: ``14.2 min (11.0-19.3)``."""
    return f"{figure(spread.p50, scale)} {scale.word} ({ends(spread, scale)})"


def factor(spread: Spread) -> str:
    """Says a factor on the rate of the trade."""
    return f"x{spread.p50:.2f} ({spread.p10:.2f}-{spread.p90:.2f})"


def count(number: int, word: str) -> str:
    """Says a number of things."""
    return f"{number} {word}{'s' * (number != 1)}"


def temperatures(found: tuple[float, float] | None, units: Units) -> str:
    """Says between what temperatures, given in degC: ``15-24 °C``."""
    if found is None:
        return "not measured"
    low, high = (f"{units.temperature_value(each):.0f}" for each in found)
    both = low if low == high else f"{low}-{high}"
    return f"{both} {units.temperature_unit}"


def decided(
    word: str, one: Decision, zone: tzinfo, learned_from: int | None = None
) -> str:
    """Says who accepted or refused a value, when, and from what.

    Args:
        word: ``accepted`` or ``refused``.
        one: What was decided.
        zone: Of the shop.
        learned_from: How many pours or castings there are by now, if that is known.
    """
    value = one.value
    timing = isinstance(value, Timing)
    if isinstance(value, Timing):
        what = band(value.spread, Scale.of(value.spread.p50))
    else:
        what = factor(value.factor)
    at = one.event.at.astimezone(zone)
    by = f" by {one.event.by}" if one.event.by else ""
    more = (learned_from or 0) - one.learned_from
    since = f", {more} more since" if more > 0 else ""
    pours = count(one.learned_from, "pour" if timing else "casting")
    return f"{word}{by} {at.day} {at:%b %Y}: {what}, from {pours}{since}"


# -- windows


def lasted(said: Observation) -> str:
    """Says between what a wait was seen to lie, minutes on the wall."""
    after, before = said.after, said.before
    if after and before:
        return f"between {length(after.wall_min)} and {length(before.wall_min)}"
    if after:
        return f"not by {length(after.wall_min)}"
    return f"by {length(before.wall_min)}" if before else "never seen"


def odd_window(said: Observation, weight: float) -> str:
    """Says which window counted for so little, and what it said."""
    where = f"{said.pour} {said.zone}".rstrip()
    return f"counted {weight:.1f}: {where}, {lasted(said)}"


def odd_work(said: WorkObservation, weight: float) -> str:
    """Says which step counted for so little, and what it took."""
    by = f" by {said.by}" if said.by else ""
    return (
        f"counted {weight:.1f}: {said.pour}, {said.step}{by} took "
        f"{length(said.actual_min)} of work, {length(said.rate_min)} by the rate"
    )


def left_out(reasons: Iterable[str]) -> list[str]:
    """Says how many entries taught nothing, and why; nothing where there are none."""
    counts = Counter(reasons)
    if not counts:
        return []
    said = ", ".join(f"{why} ({number})" for why, number in counts.most_common())
    return [f"left out: {said}"]


def estimate(found: Estimate, unit: str = "") -> str:
    """Says what the log tells of a constant of a clock."""
    if not found.told:
        return f"{found.prior:.3g}{unit}, which the log does not tell better"
    return (
        f"{found.p50:.3g}{unit} ({found.p10:.3g}-{found.p90:.3g}), "
        f"{found.prior:.3g} before"
    )


def backtest(scores: Sequence[Score]) -> str:
    """Says how far off each way to forecast the past would have been, in 78 cells.

    ``backtest 35: off 1.9 min, default 3.9, average 4.5; band held 91 %``; "" where
    nothing was forecast.
    """
    by = {one.way: one for one in scores}
    learned = by.get("learned")
    if learned is None:
        return ""
    scale = Scale.of(max(one.error_min for one in scores))
    off = f"off {figure(learned.error_min, scale)} {scale.word}"
    others = "".join(
        f", {way} {figure(by[way].error_min, scale)}"
        for way in ("default", "average")
        if way in by
    )
    held = learned.covered
    band = "" if held is None else f"; band held {held * 100:.0f} %"
    return f"backtest {learned.windows}: {off}{others}{band}"


def wall(found: Band | None, begun: datetime) -> str:
    """Says how long a wait is on the wall."""
    return length((found.p50 - begun) / _MINUTE) if found else "not in sight"


# -- work


def rates(
    step: str, before: float, after: float, units: Units, most: int | None = None
) -> str:
    """Says a step's rates before and after: ``8.0 -> 6.9 min/m² flat``.

    Args:
        step: Its id without the number.
        before: The factor on the rate of the trade.
        after: The same.
        units: Of the shop.
        most: How many rates are said, None for all.
    """
    said = [_rate(each, before, after, units) for each in rates_of(step)]
    return ", ".join(said[:most])


def _rate(rate: tuple[str, float], before: float, after: float, units: Units) -> str:
    per, minutes = rate
    unit = ""
    if per in AREAS:
        minutes, unit = units.each_area(minutes), f"/{units.area_unit} {per}"
    elif per in LENGTHS:
        minutes, unit = units.each_edge(minutes), f"/{units.edge_unit} {per}"
    elif per:
        unit = f"/{_EACH[per]}"
    fine = 1 if minutes >= 1 else 2
    return f"{minutes * before:.{fine}f} -> {minutes * after:.{fine}f} min{unit}"


def people(one: LearnedPace) -> str:
    """Says the factor of each person, with the castings it is from."""
    return ", ".join(
        f"{who} x{spread.p50:.2f} ({castings})" for who, spread, castings in one.people
    )


def trend(one: LearnedPace, zone: tzinfo) -> str:
    """Says whether a step is done faster as time goes on; "" where nothing is known.

    No claim is made that is not sure 19 times in 20; the range is the 80 % interval.
    """
    found = one.trend
    if found is None:
        return ""
    since = found.since.astimezone(zone)
    about = f"since {since:%B %Y}, {count(found.castings, 'casting')}"
    if not found.told:
        return f"neither faster nor slower for sure {about}"
    word = "faster" if found.change < 0 else "slower"
    low, high = sorted(abs(end) * 100 for end in (found.low, found.high))
    return (
        f"{word} by {abs(found.change) * 100:.0f} % {about} "
        f"(8 in 10: {low:.0f} to {high:.0f} %)"
    )
