"""What touch tests say about a zone's window.

Tests bound the truth: the opening lies between the last "soft" and the first
"ready". The forecast is the threshold's log-normal cut to those bounds at once.
Opening and closing of one zone on one day move together: the correlation of their
logarithms is taken as 0.7, an estimate.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp, log, sqrt
from statistics import NormalDist
from typing import Literal

from scheduling.clocks import Band, Clock
from scheduling.spread import Spread

Feel = Literal["soft", "ready", "going-off", "gone"]
FEELS: tuple[Feel, ...] = ("soft", "ready", "going-off", "gone")

TOGETHER = 0.7
"""Correlation of the logarithms of opening and closing (estimate)."""

TEST_EVERY = timedelta(minutes=3)
"""Time between two touch tests of a zone: common practice."""

_NORMAL = NormalDist()
_ALMOST_ONE = 1 - 1e-12


@dataclass(frozen=True, slots=True)
class Touch:
    """One answer of a fingertip: what was felt, and when."""

    at: datetime
    feel: Feel


@dataclass(frozen=True, slots=True)
class Race:
    """One threshold being run by one clock.

    Attributes:
        clock: The clock.
        spread: The threshold, reference minutes.
        credit: Reference minutes added by fogging.
    """

    clock: Clock
    spread: Spread
    credit: float = 0.0

    def score(self, start: datetime, when: datetime) -> float:
        """Returns how many sigmas of the threshold have been run at an instant."""
        run = self.clock.elapsed(start, when) - self.credit
        if run <= 0:
            return float("-inf")
        if self.spread.sigma == 0:
            return float("inf") if run >= self.spread.p50 else float("-inf")
        return log(run / self.spread.p50) / self.spread.sigma

    def when(self, start: datetime, score: float) -> datetime | None:
        """Returns when so many sigmas are run; None beyond the clock's horizon."""
        minutes = self.spread.p50 * exp(self.spread.sigma * score) + self.credit
        return self.clock.reaches(start, minutes)


@dataclass(frozen=True, slots=True)
class Window:
    """When a zone opens and closes, as far as is known.

    Attributes:
        opens: Forecast of the opening.
        closes: Forecast of the closing.
        ready_at: The first touch that found it ready or beyond, or None.
        soft_at: The last touch that found it soft, or None.
        gone_at: The touch that found it gone, or None.
        going_off_at: The first touch that found it going off, or None.
        untouched: Forecast of the opening as it was before any touch.
    """

    opens: Band | None
    closes: Band | None
    ready_at: datetime | None = None
    soft_at: datetime | None = None
    gone_at: datetime | None = None
    going_off_at: datetime | None = None
    untouched: Band | None = None


def window(
    start: datetime, opening: Race, closing: Race, touches: tuple[Touch, ...]
) -> Window:
    """Returns the window of a zone sprayed at ``start``, given what was felt since."""
    felt = [touch for touch in touches if touch.at >= start]
    ready_at = next((t.at for t in felt if t.feel != "soft"), None)
    soft_at = _last(
        [t.at for t in felt if t.feel == "soft" and (not ready_at or t.at < ready_at)]
    )
    gone_at = next((t.at for t in felt if t.feel == "gone"), None)
    holding_at = _last(
        [t.at for t in felt if t.feel != "gone" and (not gone_at or t.at < gone_at)]
    )
    low = opening.score(start, soft_at) if soft_at else float("-inf")
    high = opening.score(start, ready_at) if ready_at else float("inf")
    opens = _band(start, opening, low, high, 0.0, 1.0)
    shift, width = 0.0, 1.0
    if felt:
        shift = TOGETHER * _quantile(0.5, low, high, 0.0, 1.0)
        width = sqrt(1 - TOGETHER**2)
    closes = _band(
        start,
        closing,
        closing.score(start, holding_at) if holding_at else float("-inf"),
        closing.score(start, gone_at) if gone_at else float("inf"),
        shift,
        width,
    )
    return Window(
        opens=opens,
        closes=closes,
        ready_at=ready_at,
        soft_at=soft_at,
        gone_at=gone_at,
        going_off_at=next((t.at for t in felt if t.feel == "going-off"), None),
        untouched=_band(start, opening, float("-inf"), float("inf"), 0.0, 1.0)
        if felt
        else opens,
    )


def opened_at(found: Window) -> datetime | None:
    """Returns when a window counts as open: touched ready, or else by forecast.

    By forecast it is never called open within one testing interval of a soft touch.
    """
    if found.ready_at is not None or found.opens is None:
        return found.ready_at
    if found.soft_at is None:
        return found.opens.p50
    return max(found.opens.p50, found.soft_at + TEST_EVERY)


def _last(instants: list[datetime]) -> datetime | None:
    return instants[-1] if instants else None


def _quantile(share: float, low: float, high: float, mean: float, sd: float) -> float:
    """Quantile of a normal (mean, sd) cut to low..high; the bound where none is left.

    Far out in a tail the normal's mass is below what a float can hold: the bound
    that is known is then the best answer.
    """
    below = _NORMAL.cdf((low - mean) / sd)
    above = _NORMAL.cdf((high - mean) / sd)
    if above - below < 1e-12:
        known = [bound for bound in (low, high) if abs(bound) != float("inf")]
        return sum(known) / len(known) if known else mean
    point = below + share * (above - below)
    z = mean + sd * _NORMAL.inv_cdf(min(_ALMOST_ONE, max(1 - _ALMOST_ONE, point)))
    return min(high, max(low, z))


def _band(
    start: datetime, race: Race, low: float, high: float, mean: float, sd: float
) -> Band | None:
    when = [
        race.when(start, _quantile(share, low, high, mean, sd))
        for share in (0.1, 0.5, 0.9)
    ]
    p10, p50, p90 = when
    if p10 is None or p50 is None or p90 is None:
        return None
    return Band(p10, p50, p90)
