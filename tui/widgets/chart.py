"""A chart as values: panels of lines, dots and ribbons over one axis.

What is drawn, and nothing of how: ``tui.widgets.plot`` draws it. Numbers are plain; a
time is its seconds since 1970.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Literal

Ink = Literal["first", "second", "faint"]
"""Colours by what they are for; the same series also differ in their strokes."""

Points = tuple[tuple[float, float], ...]

_FLAT = 1e-9
"""Relative height below which a curve is drawn as flat."""

LABEL = 9
"""Cells a label wants, with what parts it from the next."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points of increasing x.

    Attributes:
        name: For the legend.
        points: x and y.
        ink: Its colour.
        dotted: Dots with gaps instead of a stroke.
    """

    name: str
    points: Points
    ink: Ink = "first"
    dotted: bool = False


@dataclass(frozen=True, slots=True)
class Dots:
    """Single points, each drawn as a letter, over everything else.

    Attributes:
        name: For the legend.
        points: x and y, in any order.
        ink: Their colour.
        glyph: One cell wide.
    """

    name: str
    points: Points
    ink: Ink = "first"
    glyph: str = "o"


@dataclass(frozen=True, slots=True)
class Ribbon:
    """What lies between two dotted lines.

    Attributes:
        name: For the legend.
        points: x, low y and high y, of increasing x.
        ink: Their colour.
    """

    name: str
    points: tuple[tuple[float, float, float], ...]
    ink: Ink = "faint"


@dataclass(frozen=True, slots=True)
class Span:
    """What was seen from one side or both: an x lies after low and not after high."""

    low: float | None
    high: float | None
    odd: bool = False


@dataclass(frozen=True, slots=True)
class Spans:
    """Spans, each on a row of its own or beside others, as many as there is room for.

    Attributes:
        low: What their low ends are called, for the legend.
        high: The same of their high ends.
        each: The spans, the lowest row first.
    """

    low: str
    high: str
    each: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """One field with a scale of its own.

    Attributes:
        title: Of the panel, with the unit.
        lines: Drawn one over the other, the last on top.
        ribbons: Beneath the lines.
        dots: Over the lines.
        spans: Over the lines and below the dots, or None.
        base: Lowest y that is shown whatever the data, or None.
    """

    title: str
    lines: tuple[Line, ...] = ()
    ribbons: tuple[Ribbon, ...] = ()
    dots: tuple[Dots, ...] = ()
    spans: Spans | None = None
    base: float | None = None


@dataclass(frozen=True, slots=True)
class Bracket:
    """Something that falls at an x which is known only as a band."""

    label: str
    low: float
    at: float
    high: float


@dataclass(frozen=True, slots=True)
class Axis:
    """The axis that all panels share, low below high, with its labels."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """Everything a plot draws, compared to see whether to draw it again.

    Attributes:
        axis: The shared axis.
        panels: Top to bottom.
        brackets: Below the panels, with a line up through them.
        now: An x with a bar through everything, or None.
        shaded: Stretches of the axis with another ground.
    """

    axis: Axis
    panels: tuple[Panel, ...]
    brackets: tuple[Bracket, ...] = ()
    now: float | None = None
    shaded: tuple[tuple[float, float], ...] = ()

    def is_shaded(self, x: float) -> bool:
        """Whether a place on the axis has the other ground."""
        return any(low <= x < high for low, high in self.shaded)


def between(points: Points, x: float) -> float:
    """The y on the straight lines through points.

    Args:
        points: Of increasing x, at least one.
        x: From the first x to the last.
    """
    after = bisect_right(points, x, key=lambda point: point[0])
    left, low = points[max(0, after - 1)]
    right, high = points[min(after, len(points) - 1)]
    if right <= left:
        return low
    return low + (high - low) * (x - left) / (right - left)


def reach(panel: Panel, axis: Axis) -> tuple[float, float]:
    """Lowest and highest y of a panel that the axis shows, never the same."""
    found = list(_shown(panel, axis))
    if panel.base is not None:
        found.append(panel.base)
    if not found:
        return 0.0, 1.0
    low, high = min(found), max(found)
    flat = high - low <= _FLAT * max(1.0, abs(low), abs(high))
    room = 1.0 if flat else (high - low) * 0.04
    return low if low == panel.base else low - room, high + room


def _shown(panel: Panel, axis: Axis) -> Iterator[float]:
    lines = [line.points for line in panel.lines]
    for ribbon in panel.ribbons:
        lines.append(tuple((x, low) for x, low, _ in ribbon.points))
        lines.append(tuple((x, high) for x, _, high in ribbon.points))
    for points in lines:
        for end in (axis.low, axis.high):
            if points and points[0][0] <= end <= points[-1][0]:
                yield between(points, end)
    for points in (*lines, *(dots.points for dots in panel.dots)):
        yield from (y for x, y in points if axis.low <= x <= axis.high)


def round_numbers(low: float, high: float, most: int) -> list[float]:
    """Multiples of 1, 2 or 5 times a power of ten from low to high.

    Args:
        low: Below high.
        high: Above low.
        most: About how many steps there may be between the ends, at least 1; more
            where that would leave a single number.
    """
    rough = (high - low) / most
    power = 10.0 ** floor(log10(rough))
    steps = [one * power for one in (0.2, 0.5, 1, 2, 5, 10)]
    at = next((n for n, one in enumerate(steps) if one >= rough), len(steps) - 1)
    found: list[float] = []
    while at >= 0 and len(found) < 2:
        step = steps[at]
        numbers = range(ceil(low / step), floor(high / step) + 1)
        found = [number * step for number in numbers]
        at -= 1
    return found


def number_axis(low: float, high: float, most: int = 8) -> Axis:
    """An axis of plain numbers with round labels; arguments as ``round_numbers``."""
    return Axis(low, high, tuple((x, f"{x:g}") for x in round_numbers(low, high, most)))


def fitted_axis(low: float, high: float, width: int) -> Axis:
    """An axis of plain numbers with as many labels as there are cells for.

    Args:
        low: At its left end.
        high: At its right end; where that is not above low, the axis is one long.
        width: Cells there are for the labels.
    """
    if not high > low:
        high = low + 1.0
    return number_axis(low, high, max(2, min(10, ceil(width / (2 * LABEL)))))


def in_order(brackets: Iterable[Bracket]) -> list[Bracket]:
    """Brackets by where they fall."""
    return sorted(brackets, key=lambda one: (one.at, one.low))
