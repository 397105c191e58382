"""The charts of what was said beforehand against what came: of waits and of work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo

from scheduling.course import Point
from scheduling.learned import Forecast, LearnedPace, WorkForecast
from tui.timings import words
from tui.timings.words import Scale
from tui.widgets.chart import (
    LABEL,
    Axis,
    Chart,
    Dots,
    Line,
    Panel,
    Points,
    fitted_axis,
)


def forecast_and_actual(
    forecasts: Sequence[Forecast] | Sequence[WorkForecast], width: int = 80
) -> Chart | None:
    """Returns what it was against what was forecast; None where nothing was forecast.

    Args:
        forecasts: Of one threshold or one step, each by what was known before it.
        width: Cells there are for the labels.
    """
    if not forecasts:
        return None
    actual = [one.actual_min for one in forecasts]
    learned = [one.learned[1] for one in forecasts]
    default = [one.default_min for one in forecasts]
    scale = Scale.of(sorted(actual)[len(actual) // 2])
    return _against(
        words.against(scale),
        [("default", default, actual, "x"), ("learned", learned, actual, "o")],
        scale,
        width,
    )


def _against(
    title: str,
    series: Sequence[tuple[str, Sequence[float], Sequence[float], str]],
    scale: Scale,
    width: int,
) -> Chart:
    """Points over an axis, with the line on which a forecast was right."""
    xs = [x / scale.minutes for _, across, _, _ in series for x in across]
    low, high = min(xs), max(xs)
    room = (high - low) * 0.05 or high * 0.1
    low, high = max(0.0, low - room), high + room
    return Chart(
        axis=fitted_axis(low, high, width),
        panels=(
            Panel(
                title,
                lines=(Line("as forecast", ((low, low), (high, high)), "faint", True),),
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
        axis=fitted_axis(course[0].window, course[-1].window, width),
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
    count = max(1, width // (2 * LABEL))
    step = (high - low) / count
    ticks = []
    for number in range(count):
        at = low + step * number
        local = datetime.fromtimestamp(at, zone)
        ticks.append((at, f"{local.day} {local:%b %y}"))
    return Axis(low, high, tuple(ticks))
