"""How the error of each way to forecast went on from pour to pour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from scheduling.learned import Forecast

LATEST = 9
"""How many windows one figure is taken over."""


@dataclass(frozen=True, slots=True)
class Point:
    """Median absolute errors of the latest windows, minutes on the wall.

    Attributes:
        window: How many windows there had been by then.
        learned_min: With what was learned by then.
        default_min: With the fixed default.
        average_min: With the plain average of past times.
    """

    window: int
    learned_min: float
    default_min: float
    average_min: float


def course(forecasts: Sequence[Forecast]) -> tuple[Point, ...]:
    """Returns the errors as the windows went on, each of the LATEST until then.

    Args:
        forecasts: Of one threshold, the oldest first.
    """
    return tuple(
        _point(count, forecasts[max(0, count - LATEST) : count])
        for count in range(1, len(forecasts) + 1)
    )


def _point(count: int, latest: Sequence[Forecast]) -> Point:
    return Point(
        count,
        median(abs(one.learned[1] - one.actual_min) for one in latest),
        median(abs(one.default_min - one.actual_min) for one in latest),
        median(abs(one.average_min - one.actual_min) for one in latest),
    )
