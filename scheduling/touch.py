"""What touch tests say about a window or a wait, and tries about the demould.

Tests bound the truth: the opening lies between the last "soft" and the first
"ready". The forecast is the threshold's log-normal cut to those bounds at once.
Opening and closing of one wait on one day move together: the correlation of their
logarithms is taken as 0.7, an estimate.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import erfc, exp, log, sqrt
from statistics import NormalDist
from typing import Literal

from scheduling.clocks import Band, Runs
from scheduling.spread import Spread

Feel = Literal["soft", "ready", "going-off", "gone"]
FEELS: tuple[Feel, ...] = ("soft", "ready", "going-off", "gone")

TOGETHER = 0.7
"""Correlation of the logarithms of opening and closing (estimate)."""

TEST_EVERY = timedelta(minutes=3)
"""Time between two touch tests of a zone: common practice."""

_NORMAL = NormalDist()
_NEVER = float("inf")


@dataclass(frozen=True, slots=True)
class Touch:
    """One answer of a fingertip.

    Attributes:
        at: When.
        feel: What was felt.
        event: Id of the event that says so, or "".
    """

    at: datetime
    feel: Feel
    event: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class DemouldTry:
    """One try whether the piece may leave its form.

    Attributes:
        at: When.
        ready: Whether it could.
        first_possible: Of a ready one, whether it was tried as early as it could have
            been ready; false where it waited for the shop, None where nobody said.
        event: Id of the event that says so, or "".
    """

    at: datetime
    ready: bool
    first_possible: bool | None = None
    event: str = field(default="", compare=False)

    @property
    def touch(self) -> Touch:
        """What it says about the opening, as a touch test says it."""
        return Touch(self.at, "ready" if self.ready else "soft", self.event)


def say_try(*, ready: bool, first_possible: bool | None) -> str:
    """Says how a try of the demould went."""
    if not ready:
        return "not ready"
    how = {True: ", first possible moment", False: ", it waited for us", None: ""}
    return f"ready{how[first_possible]}"


@dataclass(frozen=True, slots=True)
class Race:
    """One threshold being run by one clock.

    Attributes:
        clock: The clock.
        spread: The threshold, reference minutes.
        credit: Reference minutes added by fogging.
    """

    clock: Runs
    spread: Spread
    credit: float = 0.0

    def score(self, start: datetime, when: datetime) -> float:
        """Returns how many sigmas of the threshold have been run at an instant."""
        run = self.clock.elapsed(start, when) - self.credit
        if run <= 0:
            return -_NEVER
        if self.spread.sigma == 0:
            return _NEVER if run >= self.spread.p50 else -_NEVER
        return log(run / self.spread.p50) / self.spread.sigma

    def when(self, start: datetime, score: float) -> datetime | None:
        """Returns when so many sigmas are run; None beyond the clock's horizon."""
        minutes = self.spread.p50 * exp(self.spread.sigma * score) + self.credit
        return self.clock.reaches(start, minutes)


@dataclass(frozen=True, slots=True)
class Window:
    """When a zone or another wait opens and closes, as far as is known.

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


def opening(start: datetime, race: Race, touches: tuple[Touch, ...]) -> Window:
    """Returns when a wait begun at ``start`` opens, given what was felt since."""
    felt = [touch for touch in touches if touch.at >= start]
    ready_at = next((t.at for t in felt if t.feel != "soft"), None)
    soft_at = _last(
        [t.at for t in felt if t.feel == "soft" and (not ready_at or t.at < ready_at)]
    )
    opens = _band(start, race, soft_at, ready_at)
    return Window(
        opens=opens,
        closes=None,
        ready_at=ready_at,
        soft_at=soft_at,
        untouched=_band(start, race, None, None) if felt else opens,
    )


def window(
    start: datetime,
    opens: Race | None,
    closes: Race | None,
    touches: tuple[Touch, ...],
) -> Window:
    """Returns the window of a wait begun at ``start``, given what was felt since.

    Args:
        start: When the zone was sprayed, the batch mixed, the coat put on.
        opens: Towards its opening, or None where it has none.
        closes: Towards its closing, or None where it has none.
        touches: What was felt, in order of time.
    """
    found = opening(start, opens, touches) if opens else Window(None, None)
    if closes is None:
        return found
    felt = [touch for touch in touches if touch.at >= start]
    gone_at = next((t.at for t in felt if t.feel == "gone"), None)
    holding_at = _last(
        [t.at for t in felt if t.feel != "gone" and (not gone_at or t.at < gone_at)]
    )
    shift, width = 0.0, 1.0
    if felt and opens:
        bounds = _scores(start, opens, found.soft_at, found.ready_at)
        shift = TOGETHER * _quantile(0.5, *bounds, 0.0, 1.0)
        width = sqrt(1 - TOGETHER**2)
    closing = _band(start, closes, holding_at, gone_at, shift, width)
    return replace(
        found,
        closes=_later(closing, found.opens),
        gone_at=gone_at,
        going_off_at=next((t.at for t in felt if t.feel == "going-off"), None),
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


def _below(z: float) -> float:
    """Share of a standard normal below z, exact far out in the lower tail too."""
    return 0.5 * erfc(-z / sqrt(2))


def _quantile(share: float, low: float, high: float, mean: float, sd: float) -> float:
    """Quantile of a normal (mean, sd) cut to low..high; the bound where none is left.

    The upper tail is read as the lower one of the mirrored normal, where a float
    still tells small shares apart.
    """
    side = 1.0 if low <= mean else -1.0
    first = _below(side * (low - mean) / sd)
    last = _below(side * (high - mean) / sd)
    point = first + share * (last - first)
    if not 0 < point < 1:
        known = [bound for bound in (low, high) if abs(bound) != _NEVER]
        return sum(known) / len(known) if known else mean
    z = mean + side * sd * _NORMAL.inv_cdf(point)
    return min(high, max(low, z))


def _scores(
    start: datetime, race: Race, after: datetime | None, before: datetime | None
) -> tuple[float, float]:
    """Sigmas run at the two instants a threshold lies between, where known."""
    return (
        race.score(start, after) if after else -_NEVER,
        race.score(start, before) if before else _NEVER,
    )


def _band(
    start: datetime,
    race: Race,
    after: datetime | None,
    before: datetime | None,
    mean: float = 0.0,
    sd: float = 1.0,
) -> Band | None:
    """When a threshold is reached, given two instants it lies between, where known."""
    low, high = _scores(start, race, after, before)
    when: list[datetime] = []
    for share in (0.1, 0.5, 0.9):
        instant = race.when(start, _quantile(share, low, high, mean, sd))
        if instant is None:
            return None
        # What was felt counts more than the model, where the two cannot agree.
        instant = max(instant, after) if after else instant
        when.append(min(instant, before) if before else instant)
    return Band(*when)


def _later(band: Band | None, other: Band | None) -> Band | None:
    """The band, nowhere before the other: nothing closes before it opens."""
    if band is None or other is None:
        return band
    return Band(
        max(band.p10, other.p10), max(band.p50, other.p50), max(band.p90, other.p90)
    )
