"""The charts of what was learned: before and after, forecast and actual, backtest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo
from math import ceil

from scheduling.course import Point
from scheduling.learned import Forecast, LearnedPace, Seen
from scheduling.spread import Spread
from tui.timingwords import Scale
from tui.widgets.chart import (
    Axis,
    Bracket,
    Chart,
    Dots,
    Ink,
    Line,
    Panel,
    Points,
    number_axis,
)

_SAMPLES = 120
"""Points of a curve."""

_TAIL = 0.03
"""Share of the cases that may lie outside a chart at either end."""

_MARKED = 0.55
"""How high what was seen is spread, as a share of the higher curve."""

_MOST = 60
"""Waits drawn, the newest; more would hide each other."""

_LABEL = 9
"""Cells a label wants, with what parts it from the next."""


def before_and_after(
    default: Spread,
    learned: Spread,
    *,
    title: str = "reference",
    seen: Sequence[Seen] = (),
    cases: Iterable[tuple[str, Sequence[float]]] = (),
    reached: str = "reached",
    scale: Scale | None = None,
    width: int = 80,
) -> Chart:
    """Returns the two bands as curves over what was seen.

    Args:
        default: Before.
        learned: After.
        title: What the axis counts.
        seen: Drawn as marks under the curves, the oldest lowest.
        cases: Where defects happened, by their word, in the unit of the bands.
        reached: What the upper ends of what was seen are called.
        scale: Of the axis; None is the one that suits the minutes.
        width: Cells there are for the labels.
    """
    scale = scale or Scale.of(max(default.p50, learned.p50))
    happened = [(word, tuple(at)) for word, at in cases if at]
    ends = [end for one in seen for end in (one.low, one.high) if end is not None]
    ends += [at for _, every in happened for at in every]
    low = min(one.quantile(_TAIL) for one in (default, learned))
    high = max(one.quantile(1 - _TAIL) for one in (default, learned))
    # One absurd entry must not squeeze the curves into a corner: it lies at the edge.
    low, high = max(min([low, *ends]), low / 3), min(max([high, *ends]), high * 1.5)
    if high <= low:
        low, high = low * 0.9, high * 1.1
    curves = [
        _curve(default, "before", "faint", low, high, scale, dotted=True),
        _curve(learned, "after", "first", low, high, scale),
    ]
    tops = [y for line in curves for _, y in line.points]
    top = max(tops, default=1.0)
    marks = _marks(seen[-_MOST:], low, high, top * _MARKED, scale, reached)
    for word, every in happened:
        shown = tuple((_within(at, low, high) / scale.minutes, top) for at in every)
        marks.append(Dots(word, shown, "second", word[:1].upper()))
    return Chart(
        axis=_numbers(low / scale.minutes, high / scale.minutes, width),
        panels=(
            Panel(
                f"{title} {scale.word}".strip(),
                lines=tuple(line for line in curves if line.points),
                dots=tuple(one for one in marks if one.points),
                base=0.0,
            ),
        ),
        brackets=(
            _bracket("before", default, scale),
            _bracket("after", learned, scale),
        ),
    )


def _curve(
    spread: Spread,
    name: str,
    ink: Ink,
    low: float,
    high: float,
    scale: Scale,
    *,
    dotted: bool = False,
) -> Line:
    points: Points = ()
    if spread.sigma > 0:
        step = (high - low) / _SAMPLES
        at = [low + step * (number + 0.5) for number in range(_SAMPLES)]
        points = tuple(
            (x / scale.minutes, spread.density(x) * scale.minutes) for x in at
        )
    return Line(name, points, ink, dotted)


def _marks(
    seen: Sequence[Seen],
    low: float,
    high: float,
    top: float,
    scale: Scale,
    reached: str,
) -> list[Dots]:
    """What was seen, each at a height of its own so that none hides another."""
    soft: list[tuple[float, float]] = []
    ready: list[tuple[float, float]] = []
    odd: list[tuple[float, float]] = []
    for number, one in enumerate(seen):
        y = top * (number + 0.5) / len(seen)
        for end, marks in ((one.low, soft), (one.high, ready)):
            if end is not None:
                place = _within(end, low, high) / scale.minutes, y
                (odd if one.odd else marks).append(place)
    return [
        Dots("not yet", tuple(soft), "second", "["),
        Dots(reached, tuple(ready), "second", "]"),
        Dots("odd", tuple(odd), "faint", "?"),
    ]


def forecast_and_actual(forecasts: Sequence[Forecast], width: int = 80) -> Chart | None:
    """Returns what was forecast against what it was; None where nothing was forecast.

    Args:
        forecasts: Of one threshold.
        width: Cells there are for the labels.
    """
    if not forecasts:
        return None
    actual = [one.actual_min for one in forecasts]
    learned = [one.learned[1] for one in forecasts]
    default = [one.default_min for one in forecasts]
    scale = Scale.of(sorted(actual)[len(actual) // 2])
    return _against(
        f"actual {scale.word} over forecast {scale.word}",
        [("default", default, actual, "x"), ("learned", learned, actual, "o")],
        [("as forecast", 1.0)],
        scale,
        width,
    )


def rate_and_actual(pace: LearnedPace, width: int = 80) -> Chart | None:
    """Returns what steps took against the rate of the trade; None without castings.

    Args:
        pace: Of one step.
        width: Cells there are for the labels.
    """
    said = [one.said for one in pace.seen]
    if not said:
        return None
    scale = Scale.of(max(one.actual_min for one in said))
    rate, actual = [one.rate_min for one in said], [one.actual_min for one in said]
    return _against(
        f"actual {scale.word} over rate {scale.word}",
        [("castings", rate, actual, "o")],
        [("default", pace.default.p50), ("learned", pace.learned.p50)],
        scale,
        width,
    )


def _against(
    title: str,
    series: Sequence[tuple[str, Sequence[float], Sequence[float], str]],
    slopes: Sequence[tuple[str, float]],
    scale: Scale,
    width: int,
) -> Chart:
    """Points over an axis, with straight lines through the origin."""
    xs = [x / scale.minutes for _, across, _, _ in series for x in across]
    low, high = min(xs), max(xs)
    room = (high - low) * 0.05 or high * 0.1
    low, high = max(0.0, low - room), high + room
    return Chart(
        axis=_numbers(low, high, width),
        panels=(
            Panel(
                title,
                lines=tuple(
                    Line(
                        name,
                        ((low, low * slope), (high, high * slope)),
                        "faint" if number == 0 else "first",
                        dotted=number == 0,
                    )
                    for number, (name, slope) in enumerate(slopes)
                ),
                dots=tuple(
                    Dots(
                        name,
                        tuple(
                            (x / scale.minutes, y / scale.minutes)
                            for x, y in zip(across, up, strict=True)
                        ),
                        "faint" if glyph == "x" else "first",
                        glyph,
                    )
                    for name, across, up, glyph in series
                ),
            ),
        ),
    )


def backtest(course: Sequence[Point], width: int = 80) -> Chart | None:
    """Returns the error of each way to forecast as pours go on; None with fewer than 2.

    Args:
        course: Of the errors, the oldest first.
        width: Cells there are for the labels.
    """
    if len(course) < 2:
        return None
    scale = Scale.of(max(max(one.default_min, one.learned_min) for one in course))
    by_default = _course(((one.window, one.default_min) for one in course), scale)
    by_average = _course(((one.window, one.average_min) for one in course), scale)
    by_learned = _course(((one.window, one.learned_min) for one in course), scale)
    lines = (
        Line("default", by_default, "faint", dotted=True),
        Line("learned", by_learned),
    )
    return Chart(
        axis=_numbers(course[0].window, course[-1].window, width),
        panels=(
            Panel(
                f"error, {scale.word}",
                lines=lines,
                dots=(Dots("average", by_average, "second", "a"),) * bool(by_average),
                base=0.0,
            ),
        ),
    )


def _course(values: Iterable[tuple[int, float | None]], scale: Scale) -> Points:
    return tuple((x, y / scale.minutes) for x, y in values if y is not None)


def over_time(pace: LearnedPace, zone: tzinfo, width: int = 80) -> Chart | None:
    """Returns the factor of each casting by its day; None with fewer than 2.

    Args:
        pace: Of one step.
        zone: For the labels.
        width: Cells there are for them.
    """
    said = [one for one in pace.seen if one.said.rate_min > 0]
    if len(said) < 2:
        return None
    first, last = said[0].said.at.timestamp(), said[-1].said.at.timestamp()
    if last <= first:
        return None
    points = [
        (w.said.at.timestamp(), w.said.actual_min / w.said.rate_min) for w in said
    ]
    kept = tuple(p for p, w in zip(points, said, strict=True) if not w.odd)
    odd = tuple(p for p, w in zip(points, said, strict=True) if w.odd)
    level = ((first, pace.learned.p50), (last, pace.learned.p50))
    return Chart(
        axis=_dates(first, last, zone, width),
        panels=(
            Panel(
                "actual over rate",
                lines=(Line("learned", level, "faint", dotted=True),),
                dots=tuple(
                    one
                    for one in (Dots("castings", kept), Dots("odd", odd, "faint", "?"))
                    if one.points
                ),
            ),
        ),
    )


def _dates(low: float, high: float, zone: tzinfo, width: int) -> Axis:
    count = max(1, width // (2 * _LABEL))
    step = (high - low) / count
    ticks = []
    for number in range(count):
        at = low + step * number
        local = datetime.fromtimestamp(at, zone)
        ticks.append((at, f"{local.day} {local:%b %y}"))
    return Axis(low, high, tuple(ticks))


def _numbers(low: float, high: float, width: int) -> Axis:
    if not high > low:
        high = low + 1.0
    return number_axis(low, high, max(2, min(10, ceil(width / (2 * _LABEL)))))


def _bracket(label: str, spread: Spread, scale: Scale) -> Bracket:
    p10, p50, p90 = (x / scale.minutes for x in (spread.p10, spread.p50, spread.p90))
    return Bracket(label, p10, p50, p90)


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high - (high - low) * 1e-6)
