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
    Span,
    Spans,
    fitted_axis,
)

_SAMPLES = 120
"""Points of a curve."""

_TAIL = 0.03
"""Share of the cases that may lie outside a chart at either end."""


def before_and_after(
    before: Spread,
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
        before: In force.
        learned: After.
        title: What the axis counts.
        seen: Drawn over the curves, the oldest lowest, as many as there is room for.
        cases: Where defects happened, by their word, in the unit of the bands.
        reached: What the upper ends of what was seen are called.
        scale: Of the axis; None is the one that suits the minutes.
        width: Cells there are for the labels.
    """
    scale = scale or Scale.of(max(before.p50, learned.p50))
    happened = [(word, tuple(at)) for word, at in cases if at]
    ends = [end for one in seen for end in (one.low, one.high) if end is not None]
    ends += [at for _, every in happened for at in every]
    low = min(one.quantile(_TAIL) for one in (before, learned))
    high = max(one.quantile(1 - _TAIL) for one in (before, learned))
    # One absurd entry must not squeeze the curves into a corner: it lies at the edge.
    low, high = max(min([low, *ends]), low / 3), min(max([high, *ends]), high * 1.5)
    if high <= low:
        low, high = low * 0.9, high * 1.1
    curves = [
        _curve(before, "before", "faint", low, high, scale, dotted=True),
        _curve(learned, "after", "first", low, high, scale),
    ]
    tops = [y for line in curves for _, y in line.points]
    top = max(tops, default=1.0)

    def place(end: float | None) -> float | None:
        return None if end is None else _within(end, low, high) / scale.minutes

    marks = []
    for word, every in happened:
        shown = tuple((_within(at, low, high) / scale.minutes, top) for at in every)
        marks.append(Dots(word, shown, "second", word[:1].upper()))
    return Chart(
        axis=fitted_axis(low / scale.minutes, high / scale.minutes, width),
        panels=(
            Panel(
                f"{title} {scale.word}".strip(),
                lines=tuple(line for line in curves if line.points),
                dots=tuple(marks),
                spans=Spans(
                    "not yet",
                    reached,
                    tuple(Span(place(x.low), place(x.high), x.odd) for x in seen),
                ),
                base=0.0,
            ),
        ),
        brackets=(
            _bracket("before", before, scale),
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


def _bracket(label: str, spread: Spread, scale: Scale) -> Bracket:
    p10, p50, p90 = (x / scale.minutes for x in (spread.p10, spread.p50, spread.p90))
    return Bracket(label, p10, p50, p90)


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high - (high - low) * 1e-6)
