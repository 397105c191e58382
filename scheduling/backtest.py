"""The log replayed: how a forecast by what was known before would have done.

Pour by pour in order of time, every wait whose end is known closely is forecast in
three ways: as learned from what had been seen by the time the pour began, by the fixed
default, and by the plain average of the ready stamps until then, whatever the weather.
All three forecast the same waits: none before there is a ready stamp to average.

Only thresholds are forecast. The weather of the wait itself is taken as known:
reference minutes become minutes on the wall by the rate of that very day, so what a
forecast of the weather would add to the error is not in these figures.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from statistics import fmean, median

from scheduling.learned import Forecast, Replayed, Score
from scheduling.observation import Mark, Observation
from scheduling.shop import Shop
from scheduling.sightings import minutes
from scheduling.timings import Outlook, Windows, default_outlook, is_known
from scheduling.touch import TEST_EVERY

CLOSELY = 0.25
"""A wait is judged by when its bracket is no wider than this much of its middle: the
middle of a wider one would flatter whoever forecasts middles (estimate) ..."""

CLOSELY_MIN = 2 * TEST_EVERY / timedelta(minutes=1)
"""... or than two gaps between touch tests, minutes on the wall (estimate)."""

GROWTH = 1.05
"""A threshold is learned anew only once there is so many times as much of it as last
time: with each pour up to the twentieth, and from then on one time in twenty."""


def backtest(observations: Iterable[Observation], shop: Shop) -> list[Forecast]:
    """Forecasts every wait that can be judged by what was known before its pour.

    What is forecast is reference minutes. They are turned into minutes on the wall by
    how fast the clock, with the constants of that forecast, ran on average until the
    middle of what was seen: the day itself is taken as known.

    Args:
        observations: Of all pours, in any order; those with a reason to learn nothing
            from are neither learned nor forecast. Waits that are not known closely
            are learned from, but not judged by.
        shop: As its file has it, without accepted values.

    Returns:
        In order of time.
    """
    usable = list(_usable(observations))
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
        forecasts += filter(None, map(past.forecast, about))
    return sorted(forecasts, key=lambda forecast: forecast.said.at)


def too_wide(observations: Iterable[Observation]) -> Counter[tuple[str, str]]:
    """Counts the waits seen from both sides, but too far apart to judge a forecast by.

    Args:
        observations: As for the backtest.

    Returns:
        How many there are of each threshold and mix; 0 where there are none.
    """
    return Counter(
        (said.name, said.mix)
        for said in _usable(observations)
        if said.after and said.before and not _is_close(said.after, said.before)
    )


def _usable(observations: Iterable[Observation]) -> Iterator[Observation]:
    return (
        said
        for said in observations
        if not said.why_not and is_known(said.name, said.mix)
    )


def _is_close(after: Mark, before: Mark) -> bool:
    middle = (after.wall_min + before.wall_min) / 2
    return before.wall_min - after.wall_min <= max(CLOSELY * middle, CLOSELY_MIN)


def scores(forecasts: Sequence[Forecast]) -> list[Score]:
    """How each of the three ways would have done.

    Args:
        forecasts: Of the waits to judge by, such as those of one threshold.

    Returns:
        ``learned``, ``default`` and ``average``; nothing where nothing was forecast.
    """
    if not forecasts:
        return []
    return [
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
        _score("average", [f.average_min - f.actual_min for f in forecasts]),
    ]


def _score(way: str, late: list[float], covered: list[bool] | None = None) -> Score:
    return Score(
        way=way,
        windows=len(late),
        error_min=float(median(map(abs, late))),
        late_min=float(fmean(late)),
        covered=float(fmean(covered)) if covered else None,
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

    def forecast(self, said: Observation) -> Forecast | None:
        """The forecasts of a wait; None where there is nothing to judge them by."""
        after, before = said.after, said.before
        stamps = self._stamps.get((said.name, said.mix))
        if not (stamps and after and before and _is_close(after, before)):
            return None
        default = default_outlook(said.name, said.mix, self._shop)
        learned = self._outlook(said.name, said.mix)
        usual = default.spread.scaled(_wall_per_minute(default, after, before))
        taught = learned.spread.scaled(_wall_per_minute(learned, after, before))
        return Replayed(
            said=said,
            actual_min=(after.wall_min + before.wall_min) / 2,
            default_min=usual.p50,
            default_ends=(usual.p10, usual.p90),
            learned=(taught.p10, taught.p50, taught.p90),
            average_min=fmean(stamps),
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
