"""Made-up values of what a log teaches, of no model: for screen, plots and words."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import sin

from scheduling.course import course
from scheduling.learned import (
    Estimate,
    Learned,
    LearnedPace,
    Replayed,
    Score,
    Seen,
    Trend,
    Weighed,
)
from scheduling.observation import Mark, Observation, WorkObservation
from scheduling.spread import Spread
from scheduling.thresholds import DEFAULTS
from scheduling.work import HANDS_ON
from tui.timings.learner import Known

DAY = timedelta(days=1)


def mark(wall_min):
    return Mark(wall_min, (wall_min * 1.1, wall_min, wall_min * 0.9), wall_min * 0.8)


def wait(at, number, *, name="face opens", mix="M1", pour=None, middle=14.0):
    """A wait between two touches; every fifth is known from one side only."""
    swing = middle * (1 + 0.25 * sin(2.3 * number))
    after = None if number % 5 == 3 else mark(swing - 1.5)
    before = None if number % 5 == 4 else mark(swing + 1.5)
    return Observation(
        pour=pour or f"desk-{number:02d}",
        at=at - (30 - number) * DAY,
        name=name,
        mix=mix,
        zone="top",
        after=after,
        before=before,
        temp_c=14 + (number * 5) % 13,
    )


def learned(at, *, name="face opens", mix="M1", pours=9, middle=14.0, sigma=0.18):
    """A threshold learned from some pours, the second of them absurd."""
    seen = tuple(
        Weighed(
            wait(at, number, name=name, mix=mix, middle=middle),
            0.02 if number == 1 else 0.97,
        )
        for number in range(pours)
    )
    return Learned(
        name=name,
        mix=mix,
        default=DEFAULTS[name].spread,
        learned=Spread(middle, sigma) if pours else DEFAULTS[name].spread,
        pours=pours,
        bracketed=sum(bool(one.said.after and one.said.before) for one in seen),
        temp_range_c=(14.0, 26.0) if pours else (21.0, 21.0),
        energy=Estimate(34.0, 38.0, 43.0, 42.0, told=pours >= 9),
        share=Estimate(0.25, 0.4, 0.5, 0.4, told=False),
        seen=seen,
        left_out=(
            Observation("desk-20", at, name, mix, "top", mark(9), None, 20.0, "trial"),
        )
        * min(pours, 2),
    )


def pace(at, *, step="hone", castings=12, factor=0.82, trend=True):
    seen = tuple(
        Weighed(
            WorkObservation(
                pour=f"desk-{number:02d}",
                at=at - (120 - 9 * number) * DAY,
                step=step,
                by="Ines" if number % 3 else "Bo",
                rate_min=20 + 3 * number,
                actual_min=(20 + 3 * number) * factor * (1 + 0.2 * sin(2 * number)),
            ),
            0.9,
        )
        for number in range(castings)
    )
    since = at - 120 * DAY
    found = Trend(since, castings, -0.18, -0.26, -0.09, told=True) if trend else None
    return LearnedPace(
        step=step,
        default=HANDS_ON,
        learned=Spread(factor, 0.15),
        castings=castings,
        people=(("Ines", Spread(0.8, 0.12), 8), ("Bo", Spread(0.95, 0.2), 4)),
        trend=found,
        seen=seen,
    )


def forecasts(at, *, name="face opens", mix="M1", count=20):
    found = []
    for number in range(count):
        said = wait(at, number, name=name, mix=mix)
        actual = 14 * (1 + 0.25 * sin(2.3 * number))
        middle = 18 - 4 * min(1.0, number / 8)
        found.append(
            Replayed(
                said,
                actual,
                18.0,
                (9.0, 36.0),
                (middle * 0.8, middle, middle * 1.25),
                15.5,
            )
        )
    return tuple(found)


def work_forecasts(pace):
    return tuple(
        Replayed(
            one.said,
            one.said.actual_min,
            one.said.rate_min,
            (one.said.rate_min * 0.7, one.said.rate_min * 1.4),
            tuple(one.said.rate_min * factor for factor in (0.7, 0.85, 1.0)),
            one.said.rate_min * 0.9,
        )
        for one in pace.seen[1:]
    )


def ends(one):
    """Between what the waits lay, as if the clock ran with the wall's."""
    return tuple(
        Seen(
            each.said.pour,
            each.said.after and each.said.after.wall_min,
            each.said.before and each.said.before.wall_min,
            each.odd,
        )
        for each in one.seen
    )


def known(at: datetime, evidence=(), **changes) -> Known:
    """What a log of thirty pours might teach."""
    windows = (
        learned(at),
        learned(at, name="face closes", pours=4, middle=41.0),
        learned(at, name="face opens", mix="white", pours=3, middle=16.5, sigma=0.3),
        learned(at, name="demould", pours=7, middle=990.0, sigma=0.1),
        learned(at, name="lift 2 opens", pours=0),
    )
    work = (
        pace(at),
        pace(at, step="mix-back", castings=5, factor=1.2, trend=False),
    )
    of_opening = forecasts(at)
    values = {
        "windows": windows,
        "work": work,
        "seen": {(one.name, one.mix): ends(one) for one in windows},
        "forecasts": {("face opens", "M1"): of_opening},
        "course": {("face opens", "M1"): course(of_opening)},
        "scores": {
            ("face opens", "M1"): (
                Score("learned", 20, 1.9, 0.2, 0.91),
                Score("default", 20, 3.9, 1.5, 0.8),
                Score("average", 20, 4.5, 1.2, None),
            )
        },
        "too_wide": {("face opens", "M1"): 3},
        "work_forecasts": {"hone": work_forecasts(work[0])},
        "evidence": evidence,
    }
    return Known(**{**values, **changes})


class Teacher:
    """Stands in for what reads and learns."""

    def __init__(self, known: Known, doing: str = "") -> None:
        self.known = known
        self.doing = doing
        self.looks = 0

    def look(self) -> None:
        self.looks += 1

    async def stop(self) -> None:
        pass
