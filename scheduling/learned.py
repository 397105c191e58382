"""What was learned from the log, as values: for the screen, the verb and the shop."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import log
from typing import Generic, TypeVar

from scheduling.observation import Observation, WorkObservation
from scheduling.shop import Pace, Timing
from scheduling.spread import Spread

_Said = TypeVar("_Said")

ODD = 0.5
"""Weight under which an observation counts as odd and is shown as such."""

NARROWER = 0.9
"""A log has narrowed a band whose sigma is under this much of the default's (estimate):
one wait seen from both sides does that, a dozen that bound it from afar do not."""

MOVED = 0.25
"""A log has moved a median by more than this many of the default's sigmas (estimate):
waits seen from one side only may do that and narrow next to nothing."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A constant of a clock as the log leaves it.

    Attributes:
        p10: One case in ten is under it.
        p50: Median; that of the prior where the log tells nothing.
        p90: Nine cases in ten are under it.
        prior: What it is taken as without the log.
        told: Whether the log holds enough to say anything about it.
    """

    p10: float
    p50: float
    p90: float
    prior: float
    told: bool


@dataclass(frozen=True, slots=True)
class Weighed(Generic[_Said]):
    """An observation and how much it counted, 0 to 1; an absurd one next to nothing."""

    said: _Said
    weight: float

    @property
    def odd(self) -> bool:
        """Whether it counted so little that somebody should look at it."""
        return self.weight < ODD


@dataclass(frozen=True, slots=True)
class Learned:
    """One threshold of one mix: before, and after what the log says.

    Attributes:
        name: Of the threshold.
        mix: That it holds for; of a recoat or a sealer's pot life the sealer's family.
        default: Reference minutes without the log: the shop's own or the default.
        learned: Reference minutes of the next pour, by all that is known.
        pours: How many pours it was learned from: those with a wait that is not odd.
        bracketed: How many observations are known from both sides.
        temp_range_c: Coldest and warmest mean temperature among those it was measured
            at, degC; None where it was measured at none.
        energy: Activation energy of its clock, kJ/mol; None where it has none.
        share: Of evaporation in its clock; None where it has none.
        seen: All observations of it, in order of time.
        left_out: Those nothing was learned from, each with why not.
    """

    name: str
    mix: str
    default: Spread
    learned: Spread
    pours: int
    bracketed: int
    temp_range_c: tuple[float, float] | None
    energy: Estimate | None
    share: Estimate | None
    seen: tuple[Weighed[Observation], ...]
    left_out: tuple[Observation, ...] = ()

    @property
    def tells(self) -> bool:
        """Whether the log says more than the default does: narrowed it or moved it."""
        usual, now = self.default, self.learned
        if not self.pours or not usual.sigma:
            return False
        moved = abs(log(now.p50 / usual.p50)) > MOVED * usual.sigma
        return moved or now.sigma < NARROWER * usual.sigma

    @property
    def timing(self) -> Timing:
        """What there is to accept."""
        energy = self.energy.p50 if self.energy and self.energy.told else None
        share = self.share.p50 if self.share and self.share.told else None
        return Timing(self.name, self.mix, self.learned, self.pours, energy, share)


@dataclass(frozen=True, slots=True)
class Seen:
    """Between what one wait lay, reference minutes.

    Attributes:
        pour: Its name.
        low: It was longer than this, or None.
        high: It was no longer than this, or None.
        odd: Whether it counted so little that somebody should look at it.
    """

    pour: str
    low: float | None
    high: float | None
    odd: bool = False


@dataclass(frozen=True, slots=True)
class Trend:
    """Whether a step is being done faster or slower as time goes on.

    Attributes:
        since: The first of the castings.
        castings: How many.
        change: Relative change of the time it takes over them: -0.18 is 18 % faster.
        low: Lower end of its 80 % interval.
        high: Upper end.
        told: Whether its 95 % interval leaves out no change at all: a shop has many
            steps, and at 80 % one in five would seem to change when none does.
    """

    since: datetime
    castings: int
    change: float
    low: float
    high: float
    told: bool


@dataclass(frozen=True, slots=True)
class LearnedPace:
    """How long a step takes, as a factor on the rate of the trade.

    Attributes:
        step: Id of the step without its number.
        default: The factor without the log: 1 at the median.
        learned: The factor of the next casting, whoever does it.
        castings: How many castings it was learned from.
        people: The factor of each person who did it, with how many castings.
        trend: None where there are too few castings to say.
        seen: All observations of it, in order of time.
        left_out: Those nothing was learned from, each with why not.
    """

    step: str
    default: Spread
    learned: Spread
    castings: int
    people: tuple[tuple[str, Spread, int], ...]
    trend: Trend | None
    seen: tuple[Weighed[WorkObservation], ...]
    left_out: tuple[WorkObservation, ...] = ()

    @property
    def pace(self) -> Pace:
        """What there is to accept."""
        return Pace(self.step, self.learned, self.castings)


@dataclass(frozen=True, slots=True)
class Replayed(Generic[_Said]):
    """A wait or step of the past, forecast with only what was known before its pour.

    Of waits only those are forecast whose end is known closely. Minutes are on the wall
    for a wait, person-minutes for work.

    Attributes:
        said: What was seen.
        actual_min: What it took; of a wait the middle of what it was seen to be.
        default_min: As the default of a wait or the rate of the trade has it.
        default_ends: Its P10 and P90.
        learned: P10, P50 and P90 as learned by then.
        average_min: By the plain average of the ready stamps before it; of work the
            rate times that of all ratios of actual to rate before it.
    """

    said: _Said
    actual_min: float
    default_min: float
    default_ends: tuple[float, float]
    learned: tuple[float, float, float]
    average_min: float


Forecast = Replayed[Observation]
WorkForecast = Replayed[WorkObservation]


@dataclass(frozen=True, slots=True)
class Score:
    """How a way to forecast would have done.

    Attributes:
        way: ``learned``, ``default`` or ``average``.
        windows: How many it forecast; of work, how many steps.
        error_min: Median absolute error, minutes on the wall; of work person-minutes.
        late_min: Mean error, the same minutes; above 0 it forecast too late.
        covered: Share of them within its 80 % interval, or None if it has none.
    """

    way: str
    windows: int
    error_min: float
    late_min: float
    covered: float | None
