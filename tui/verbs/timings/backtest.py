"""The past forecast again, each wait with what was known before it: table and plot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from scheduling.learned import Forecast, Score
from scheduling.observation import Lessons
from scheduling.shop import Shop
from scheduling.shopbook import TIMING
from tui import output
from tui.textplot import Letters, against
from tui.timings import words
from tui.timings.teaching import replay
from tui.timings.words import Scale, figure
from tui.verbs.timings.offers import Wanted

FEWEST = 5
"""Windows under which a threshold is not shown."""

WAYS = ("learned", "default", "average")
"""The ways to forecast that are compared."""

_FAR = 3.0
"""Times the median actual at which the axes of a plot end at the latest."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One threshold of one mix.

    Attributes:
        name: Of the threshold.
        mix: That it holds for.
        forecasts: The oldest first, at least FEWEST.
        scores: By one of WAYS; a way that could forecast nothing has none.
        too_wide: How many more were seen too far apart to judge by.
    """

    name: str
    mix: str
    forecasts: tuple[Forecast, ...]
    scores: dict[str, Score]
    too_wide: int


def tried(lessons: Lessons, wanted: Wanted, shop: Shop) -> list[Tried]:
    """Replays the log; what has fewer than FEWEST forecasts is not among it."""
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
            f"nothing to compare yet: it takes {FEWEST} waits of one kind and mix, "
            "each with a pour before it"
        )
        return
    output.line("median error on the wall; in how many cases the 80 % band held")
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


def _point(forecast: float, one: Forecast, scale: Scale) -> tuple[float, float]:
    return forecast / scale.minutes, one.actual_min / scale.minutes
