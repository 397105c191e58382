"""The past forecast again, each wait with what was known before it: table and plot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from scheduling.learned import Forecast, Score, WorkForecast
from scheduling.observation import Lessons
from scheduling.shop import Shop
from scheduling.shopbook import PACE, TIMING
from tui import output
from tui.textplot import Letters, against
from tui.timings import words
from tui.timings.teaching import replay
from tui.timings.words import Scale, figure
from tui.verbs.timings.offers import Wanted

FEWEST = 5
"""Windows under which a threshold is not shown."""

WORK = "work"
"""What stands in the place of the mix for steps."""

WAYS = ("learned", "default", "average")
"""The ways to forecast that are compared."""

_FAR = 3.0
"""Times the median actual at which the axes of a plot end at the latest."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One threshold of one mix, or one step.

    Attributes:
        name: Of the threshold or the step.
        mix: That it holds for; WORK of a step.
        forecasts: The oldest first, at least FEWEST.
        scores: By one of WAYS; a way that could forecast nothing has none.
        too_wide: How many more were seen too far apart to judge by.
    """

    name: str
    mix: str
    forecasts: tuple[Forecast, ...] | tuple[WorkForecast, ...]
    scores: dict[str, Score]
    too_wide: int


def tried(lessons: Lessons, wanted: Wanted, shop: Shop) -> list[Tried]:
    """Replays the log; what has fewer than FEWEST forecasts is not among it.

    Work is among it only where it is asked for: there are many steps.
    """
    work = _worked(lessons, wanted) if wanted.work or wanted.name else []
    return [*([] if wanted.work else _waited(lessons, wanted, shop)), *work]


def _worked(lessons: Lessons, wanted: Wanted) -> list[Tried]:
    from scheduling.workbacktest import (  # noqa: PLC0415 - brings numpy in
        forecasts,
        scores,
    )

    groups: dict[str, list[WorkForecast]] = {}
    for each in forecasts(lessons.work):
        if wanted.fits((PACE, each.said.step, "")):
            groups.setdefault(each.said.step, []).append(each)
    return [
        Tried(step, WORK, tuple(found), {one.way: one for one in scores(found)}, 0)
        for step, found in groups.items()
        if len(found) >= FEWEST
    ]


def _waited(lessons: Lessons, wanted: Wanted, shop: Shop) -> list[Tried]:
    from scheduling.backtest import scores, too_wide  # noqa: PLC0415 - brings numpy in

    wide = too_wide(lessons.windows)
    groups: dict[tuple[str, str], list[Forecast]] = {}
    # All of them are replayed whatever is wanted: a mix learns from the others.
    for each in replay(lessons.windows, shop):
        key = (each.said.name, each.said.mix)
        if wanted.fits((TIMING, *key)):
            groups.setdefault(key, []).append(each)
    return [
        Tried(
            name,
            mix,
            tuple(found),
            {one.way: one for one in scores(found)},
            wide[name, mix],
        )
        for (name, mix), found in sorted(groups.items(), key=lambda item: item[0][1])
        if len(found) >= FEWEST
    ]


def show(found: Sequence[Tried]) -> None:
    """Prints the table and a plot for each threshold."""
    if not found:
        output.line(
            f"nothing to compare yet: it takes {FEWEST} waits of one kind and mix, or "
            "castings of one step, each with a pour before it"
        )
        return
    waits = any(each.mix != WORK for each in found)
    of = "on the wall" if waits else "of work"
    output.line(f"median error {of}; in how many cases the 80 % band held")
    output.parted_table(
        ("wait", "windows", "learned", "default", "average", "held / default"),
        ((each.mix, _row(each)) for each in found),
    )
    for each in found:
        if each.too_wide:
            windows = words.count(each.too_wide, "window")
            output.lines(
                f"{each.name}, {each.mix}: {windows} more, seen too far apart to "
                "judge by",
                indent="  ",
            )
    if waits:
        output.lines("The weather of each day is taken as known.", indent="  ")
    for each in found:
        output.line()
        for line in _plot(each):
            output.line(line)


def _row(each: Tried) -> tuple[str, ...]:
    learned, default, average = (each.scores.get(way) for way in WAYS)
    return (
        each.name,
        str(len(each.forecasts)),
        *(_error(score) for score in (learned, default, average)),
        f"{_held(learned)} / {_held(default)}",
    )


def _error(score: Score | None) -> str:
    if score is None or not score.windows:
        return ""
    scale = Scale.of(score.error_min)
    return f"{figure(score.error_min, scale)} {scale.word}"


def _held(score: Score | None) -> str:
    if score is None or score.covered is None:
        return "-"
    return f"{score.covered * 100:.0f} %"


def _plot(each: Tried) -> Iterable[str]:
    """Actual against forecast; right on the dotted line is right on time."""
    actual = [one.actual_min for one in each.forecasts]
    far = _FAR * median(actual)
    scale = Scale.of(median(actual))
    values = [
        value
        for one in each.forecasts
        for value in (
            one.actual_min,
            one.default_min,
            one.learned[1],
            one.average_min,
        )
    ]
    most = min(max(values), far) / scale.minutes
    series = [
        Letters("x", [_point(one.default_min, one, scale) for one in each.forecasts]),
        Letters("a", [_point(one.average_min, one, scale) for one in each.forecasts]),
        Letters("o", [_point(one.learned[1], one, scale) for one in each.forecasts]),
    ]
    yield f"{each.name}, {each.mix}: {words.against(scale)}"
    yield from against(series, most, output.width())
    yield "o learned   x default   a average   . as forecast"


def _point(
    forecast: float, one: Forecast | WorkForecast, scale: Scale
) -> tuple[float, float]:
    return forecast / scale.minutes, one.actual_min / scale.minutes
