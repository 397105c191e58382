"""The log replayed: how a forecast by what was known before would have done.

Pour by pour in order of time, every wait that was seen from both sides is forecast in
three ways: as learned from what had been seen by the time the pour began, by the fixed
default, and by the plain average of the ready stamps until then, whatever the weather.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from statistics import fmean, median

from scheduling.learned import Forecast, Score
from scheduling.observation import Mark, Observation
from scheduling.shop import Shop
from scheduling.sightings import minutes
from scheduling.timings import Outlook, Windows, default_outlook, is_known

GROWTH = 1.05
"""A threshold is learned anew only once there is so many times as much of it as last
time: with each pour up to the twentieth, and from then on one time in twenty."""


def backtest(observations: Iterable[Observation], shop: Shop) -> list[Forecast]:
    """Forecasts every wait seen from both sides by what was known before its pour.

    What is forecast is reference minutes. They are turned into minutes on the wall by
    how fast the clock, with the constants of that forecast, ran on average until the
    middle of what was seen: the day itself is taken as known.

    Args:
        observations: Of all pours, in any order; those with a reason to learn nothing
            from are neither learned nor forecast.
        shop: As its file has it, without accepted values.

    Returns:
        In order of time.
    """
    usable = [
        said
        for said in observations
        if not said.why_not and is_known(said.name, said.mix)
    ]
    of_pour: dict[str, list[Observation]] = {}
    for said in sorted(usable, key=lambda said: said.at):
        of_pour.setdefault(said.pour, []).append(said)
    coming = sorted(usable, key=_known_at, reverse=True)
    past = _Past(shop)
    forecasts: list[Forecast] = []
    for about in of_pour.values():
        known: list[Observation] = []
        while coming and _known_at(coming[-1]) < about[0].at:
            known.append(coming.pop())
        past.add(known)
        forecasts += [
            past.forecast(said, said.after, said.before)
            for said in about
            if said.after is not None and said.before is not None
        ]
    return sorted(forecasts, key=lambda forecast: forecast.said.at)


def scores(forecasts: Sequence[Forecast]) -> list[Score]:
    """How each of the three ways would have done.

    Args:
        forecasts: Of the waits to judge by, such as those of one threshold.

    Returns:
        ``learned``, ``default`` and ``average``, without a way that forecast nothing.
    """
    averaged = [f for f in forecasts if f.average_min is not None]
    found = (
        _score(
            "learned",
            [forecast.learned[1] - forecast.actual_min for forecast in forecasts],
            [f.learned[0] <= f.actual_min <= f.learned[2] for f in forecasts],
        ),
        _score(
            "default",
            [forecast.default_min - forecast.actual_min for forecast in forecasts],
            [f.default_ends[0] <= f.actual_min <= f.default_ends[1] for f in forecasts],
        ),
        _score("average", [(f.average_min or 0.0) - f.actual_min for f in averaged]),
    )
    return [score for score in found if score]


def _score(
    way: str, late: list[float], covered: list[bool] | None = None
) -> Score | None:
    if not late:
        return None
    return Score(
        way=way,
        windows=len(late),
        error_min=median(map(abs, late)),
        late_min=fmean(late),
        covered=fmean(covered) if covered else None,
    )


def _known_at(said: Observation) -> datetime:
    """When all of it had been seen."""
    last = said.before or said.after
    return said.at + timedelta(minutes=last.wall_min if last else 0)


class _Past:
    """What was seen so far, and the forecasts that come of it."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._windows = Windows(shop)
        self._waiting: dict[str, list[Observation]] = {}
        self._stamps: dict[tuple[str, str], list[float]] = {}

    def add(self, known: Iterable[Observation]) -> None:
        for said in known:
            self._waiting.setdefault(said.name, []).append(said)
            if said.before is not None:
                stamps = self._stamps.setdefault((said.name, said.mix), [])
                stamps.append(said.before.wall_min)

    def forecast(self, said: Observation, after: Mark, before: Mark) -> Forecast:
        """The forecasts of a wait that was seen to end between two marks."""
        default = default_outlook(said.name, said.mix, self._shop)
        learned = self._outlook(said.name, said.mix)
        stamps = self._stamps.get((said.name, said.mix))
        usual = default.spread.scaled(_wall_per_minute(default, after, before))
        taught = learned.spread.scaled(_wall_per_minute(learned, after, before))
        return Forecast(
            said=said,
            actual_min=(after.wall_min + before.wall_min) / 2,
            default_min=usual.p50,
            default_ends=(usual.p10, usual.p90),
            learned=(taught.p10, taught.p50, taught.p90),
            average_min=fmean(stamps) if stamps else None,
        )

    def _outlook(self, name: str, mix: str) -> Outlook:
        """As learned, anew if enough has come together since last time."""
        waiting, seen = self._waiting.get(name, []), self._windows.seen(name)
        if waiting and seen + len(waiting) >= GROWTH * seen:
            self._windows.add(waiting)
            waiting.clear()
        return self._windows.outlook(name, mix)


def _wall_per_minute(outlook: Outlook, after: Mark, before: Mark) -> float:
    """Minutes on the wall to a reference minute, until the middle of two marks."""
    ran = sum(minutes(m, outlook.energy, outlook.share) for m in (after, before))
    return (after.wall_min + before.wall_min) / ran
