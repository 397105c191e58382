"""The chart of a wait or a step before and after, over what was seen of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduling.learned import Seen
from scheduling.spread import Spread
from tui.timings.words import Scale
from tui.widgets.chart import (
    Bracket,
    Chart,
    Dots,
    Ink,
    Line,
    Panel,
    Points,
    fitted_axis,
)

_SAMPLES = 120
"""Points of a curve."""

_TAIL = 0.03
"""Share of the cases that may lie outside a chart at either end."""

_MARKED = 0.55
"""How high what was seen is spread, as a share of the higher curve."""

_MOST = 60
"""Waits drawn, the newest; more would hide each other."""


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
        axis=fitted_axis(low / scale.minutes, high / scale.minutes, width),
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


def _bracket(label: str, spread: Spread, scale: Scale) -> Bracket:
    p10, p50, p90 = (x / scale.minutes for x in (spread.p10, spread.p50, spread.p90))
    return Bracket(label, p10, p50, p90)


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high - (high - low) * 1e-6)
