"""The log of work replayed: how a forecast by what was known before would have done.

Pour by pour in order of time, every step of a kind that had been done before is
forecast in three ways: as learned by the time its pour began, by the rate of the trade,
and by the plain average of the ratios until then.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from statistics import fmean, median

from scheduling.learned import Replayed, Score, WorkForecast
from scheduling.observation import WorkObservation
from scheduling.pace import Judged, weighable
from scheduling.spread import Spread
from scheduling.work import HANDS_ON

GROWTH = 1.1
"""A step is learned anew only once there is so many times as much of it as last time:
with each casting up to the tenth, and from then on one time in ten."""


def forecasts(observations: Iterable[WorkObservation]) -> list[WorkForecast]:
    """Forecasts every step by the castings that had been done when its pour began.

    Args:
        observations: Of all pours, in any order; those that ``pace.weighable`` leaves
            out are neither learned nor forecast.

    Returns:
        In order of time; without the first casting of each step.
    """
    usable = [each for each in weighable(observations) if not each.why_not]
    of_pour: dict[str, list[WorkObservation]] = {}
    for each in usable:
        of_pour.setdefault(each.pour, []).append(each)
    coming = sorted(usable, key=lambda each: each.until or each.at, reverse=True)
    past: dict[str, _Past] = {each.step: _Past() for each in usable}
    found: list[WorkForecast] = []
    for about in of_pour.values():
        while coming and (coming[-1].until or coming[-1].at) < about[0].at:
            done = coming.pop()
            past[done.step].add(done)
        found += [
            past[each.step].forecast(each) for each in about if past[each.step].known
        ]
    return sorted(found, key=lambda forecast: forecast.said.at)


def scores(found: Sequence[WorkForecast]) -> list[Score]:
    """How each of the three ways would have done; none where nothing was forecast.

    Args:
        found: Of the steps to judge by, such as those of one kind.

    Returns:
        ``learned``, ``default`` and ``average``, in person-minutes.
    """
    if not found:
        return []
    actual = [one.actual_min for one in found]

    def score(
        way: str, said: Iterable[float], ends: Sequence[tuple[float, float]] = ()
    ) -> Score:
        late = [forecast - took for forecast, took in zip(said, actual, strict=True)]
        covered = [low <= took <= high for (low, high), took in zip(ends, actual)]  # noqa: B905 - an average has no ends
        return Score(
            way,
            len(late),
            error_min=median(map(abs, late)),
            late_min=fmean(late),
            covered=fmean(covered) if covered else None,
        )

    return [
        score(
            "learned",
            (one.learned[1] for one in found),
            [(one.learned[0], one.learned[2]) for one in found],
        ),
        score(
            "default",
            (one.default_min for one in found),
            [one.default_ends for one in found],
        ),
        score("average", (one.average_min for one in found)),
    ]


class _Past:
    """The castings of one step so far, and the forecasts that come of them."""

    def __init__(self) -> None:
        self._said: list[WorkObservation] = []
        self._ratios = 0.0
        self._learned_from = 0
        self._factor = HANDS_ON

    @property
    def known(self) -> bool:
        """Whether the step had been done before."""
        return bool(self._said)

    def add(self, done: WorkObservation) -> None:
        self._said.append(done)
        self._ratios += done.actual_min / done.rate_min

    def forecast(self, said: WorkObservation) -> WorkForecast:
        """The forecasts of a step; it was done before."""
        usual = HANDS_ON.scaled(said.rate_min)
        taught = self._learned().scaled(said.rate_min)
        return Replayed(
            said=said,
            actual_min=said.actual_min,
            default_min=usual.p50,
            default_ends=(usual.p10, usual.p90),
            learned=(taught.p10, taught.p50, taught.p90),
            average_min=said.rate_min * self._ratios / len(self._said),
        )

    def _learned(self) -> Spread:
        """The factor as learned, anew if enough has come together since last time."""
        count = len(self._said)
        if count > self._learned_from and count >= GROWTH * self._learned_from:
            self._factor = Judged(self._said).whoever()
            self._learned_from = count
        return self._factor
