"""A temperature history: readings at instants, with the gaps that nothing bridges."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from scheduling.maturity import Matured, Method, matured

if TYPE_CHECKING:
    from scheduling.maturity import Floats

COLDEST_C = -30.0
WARMEST_C = 120.0
"""Readings outside these, degC, are taken for a slip or a broken probe."""

GAP_H = 2.0
"""Longest time between two readings, h, that is still counted, unless told."""

_BLOCK = 1 << 14
"""Intervals worked on at a time: few enough to stay in the processor's cache."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A time without readings that was too long to count.

    Attributes:
        after_h: When it begins, h after the history does.
        hours: How long it lasts.
    """

    after_h: float
    hours: float


class History:
    """What one probe read, in the order of time.

    The temperature of an interval is the mean of its two readings, as is the practice
    in maturity. An interval longer than the limit is a gap: its time counts nothing.

    Attributes:
        at_h: When each reading was taken, h after the first.
        temps_c: What was read, degC.
        limit_h: Longest interval that counts, h.
        start: When the first reading was taken, or None where only the time elapsed
            is known.
    """

    def __init__(
        self,
        at_h: Sequence[float] | Floats,
        temps_c: Sequence[float] | Floats,
        *,
        limit_h: float = GAP_H,
        start: datetime | None = None,
    ) -> None:
        """Takes the readings.

        Args:
            at_h: When each was taken, h from any zero, each later than the one before.
            temps_c: Their temperatures, -30 to 120 degC, one a time, two at least.
            limit_h: Longest interval that counts, h, above 0.
            start: When the first was taken, aware.

        Raises:
            ValueError: Something is not as said.
        """
        hours = np.asarray(at_h, dtype=np.float64)
        self.temps_c = np.asarray(temps_c, dtype=np.float64)
        self.limit_h = limit_h
        self.start = start
        if hours.ndim != 1 or hours.shape != self.temps_c.shape or len(hours) < 2:
            raise ValueError(
                f"{hours.size} times and {self.temps_c.size} temperatures: want "
                "one for each, two or more"
            )
        if not limit_h > 0:
            raise ValueError(f"a gap limit of {limit_h} h: want more than 0")
        wrong = ~((self.temps_c >= COLDEST_C) & (self.temps_c <= WARMEST_C))
        if wrong.any():
            raise ValueError(
                f"{self.temps_c[wrong.argmax()]:g} degC: want {COLDEST_C:g} to "
                f"{WARMEST_C:g} degC"
            )
        self.at_h = hours - hours[0]
        steps = np.diff(self.at_h)
        if not (steps > 0).all() or not self.at_h[-1] < inf:
            raise ValueError("times: want each later than the one before")

    @property
    def hours(self) -> float:
        """Time from the first reading to the last, gaps included, h."""
        return float(self.at_h[-1])

    @property
    def readings(self) -> int:
        """How many readings there are."""
        return len(self.at_h)

    @cached_property
    def gaps(self) -> tuple[Gap, ...]:
        """The gaps, in the order of time."""
        steps = np.diff(self.at_h)
        return tuple(
            Gap(float(self.at_h[place]), float(steps[place]))
            for place in np.flatnonzero(self._is_gap(steps))
        )

    @property
    def counted_h(self) -> float:
        """Time that counts, h: all but the gaps."""
        return self.hours - sum(gap.hours for gap in self.gaps)

    def instant(self, hours: float) -> datetime | None:
        """The instant some hours after the first reading, if that is dated."""
        return None if self.start is None else self.start + timedelta(hours=hours)

    def intervals(self) -> Iterator[tuple[Floats, Floats]]:
        """Mean temperatures (degC) and lengths (h) of the intervals, in blocks.

        A gap has the length 0.
        """
        for first in range(0, self.readings - 1, _BLOCK):
            block = slice(first, first + _BLOCK + 1)
            temps = self.temps_c[block]
            steps = np.diff(self.at_h[block])
            steps[self._is_gap(steps)] = 0.0
            yield (temps[1:] + temps[:-1]) * 0.5, steps

    def matured(self, methods: Iterable[Method]) -> list[Matured]:
        """Returns the maturity by each of some methods."""
        return [matured(method, self.intervals()) for method in methods]

    def _is_gap(self, steps: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        # Hours come from instants by a division: an interval of just the limit counts.
        return steps > self.limit_h * (1 + 1e-9)
