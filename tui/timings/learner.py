"""What the log teaches, read and learned beside the keys of the program.

A pour is read and its lessons are drawn between two keys; what they teach is learned
in a thread: what is new is added to what was learned, and anew only when something of
that is gone.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from typing_extensions import override

from scheduling.errors import LogFault
from scheduling.folding import fold
from scheduling.observation import Lessons, Observation, WorkObservation
from scheduling.pour import PourState
from scheduling.steady import on_scale
from tui.pours import Pours
from tui.reviewing import REST_S, BesideTheKeys
from tui.timings.teaching import Growing, learn, replay

if TYPE_CHECKING:
    from scheduling.course import Point
    from scheduling.defects import Evidence
    from scheduling.learned import (
        Forecast,
        Learned,
        LearnedPace,
        Score,
        Seen,
        WorkForecast,
    )
    from scheduling.shop import Shop

Wait = tuple[str, str]
"""Name and mix of a threshold."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known so far.

    Attributes:
        windows: Of every threshold that was seen, for each mix.
        work: Of every step that was seen.
        seen: Between what the waits lay, by name and mix of the threshold.
        forecasts: The waits as they would have been forecast, by the same.
        course: How the errors of those went on, by the same.
        scores: How each way would have done, by the same.
        too_wide: How many waits were seen too far apart to judge by, by the same.
        work_forecasts: The castings as they would have been forecast, by their step.
        work_scores: How each way would have done, by the same.
        evidence: Defects, and what is on record of their zones.
    """

    windows: tuple[Learned, ...] = ()
    work: tuple[LearnedPace, ...] = ()
    seen: dict[Wait, tuple[Seen, ...]] = field(default_factory=dict)
    forecasts: dict[Wait, tuple[Forecast, ...]] = field(default_factory=dict)
    course: dict[Wait, tuple[Point, ...]] = field(default_factory=dict)
    scores: dict[Wait, tuple[Score, ...]] = field(default_factory=dict)
    too_wide: dict[Wait, int] = field(default_factory=dict)
    work_forecasts: dict[str, tuple[WorkForecast, ...]] = field(default_factory=dict)
    work_scores: dict[str, tuple[Score, ...]] = field(default_factory=dict)
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True)
class _Read:
    """What is kept of one pour."""

    lessons: Lessons
    evidence: Evidence | None


class Learner(BesideTheKeys):
    """What all pours teach.

    Attributes:
        known: What is known so far; a new value whenever there is more.
        doing: What is being read or learned, in words; "" when all has been.
    """

    def __init__(
        self, pours: Pours, wanted: Callable[[], bool], told: Callable[[], None]
    ) -> None:
        """Reads nothing yet.

        Args:
            pours: The shop's.
            wanted: Whether anybody looks at it just now.
            told: Called when there is more to look at.
        """
        super().__init__(pours, wanted)
        self.known = Known()
        self._told = told
        self._kept: dict[str, _Read] = {}
        self._learning = ""
        self._fault = ""
        self._learned: object = None
        self._growing = Growing()
        self._replayed: dict[str, object] = {}
        self._learned_from = 0

    @property
    def learned(self) -> bool:
        """Whether everything that there is has been learned from."""
        return self._learned is not None and not self.doing

    @property
    def doing(self) -> str:
        """What is being read or learned, in words; "" when all has been."""
        said = (self.reading, self._learning, self._fault)
        return ", ".join(words for words in said if words)

    @override
    async def read(self) -> None:
        """Reads what is new in memory and in the archive, and learns from it."""
        for name, pour in list(self._pours.pours.items()):
            if self._seen.get(name) is pour.state or not self._wanted():
                continue
            try:
                await self._keep(name, pour.state, pour.state)
            except LogFault as fault:
                self._pours.faults[name] = str(fault)
            await asyncio.sleep(REST_S)
        await super().read()
        if self._wanted():
            await self._learn(whole=True)

    @override
    async def take(self, name: str, stamp: object) -> None:
        events = on_scale(self._pours.log.events(name), self._pours.time)
        await self._keep(name, stamp, fold(name, events))
        if len(self._kept) >= 2 * self._learned_from:
            await self._learn(whole=False)

    async def _keep(self, name: str, seen: object, state: PourState) -> None:
        try:
            found = await asyncio.to_thread(_drawn, state)
        except Exception as error:
            self._seen[name] = seen  # once is enough to find out
            raise LogFault(f"{name} teaches nothing ({error})") from error
        self._seen[name] = seen
        if self._kept.get(name) != found:
            self._kept[name] = found
            self.version += 1

    async def _learn(self, *, whole: bool) -> None:
        """Learns from what has been read; the past is replayed when that is all."""
        book, shop = self._pours.book, self._pours.shop
        basis = (self.version, book.windows, shop)
        if basis == self._learned:
            return
        read = list(self._kept.values())
        self._learned_from = max(1, len(read))
        windows = (*book.past, *(w for one in read for w in one.lessons.windows))
        lessons = Lessons(windows, tuple(w for one in read for w in one.lessons.work))
        evidence = tuple(one.evidence for one in read if one.evidence is not None)
        self._learning, self._fault = "learning", ""
        self._told()
        try:
            self.known = await asyncio.to_thread(
                _learned, lessons, evidence, shop, self.known, self._growing
            )
            self._told()
            if whole and not await self._replay(lessons, shop):
                return
        except Exception as error:  # noqa: BLE001 - what is known is shown all the same
            _log.exception("nothing more can be learned from the log")
            self._fault = f"nothing more can be learned ({error})"
        finally:
            self._learning = ""
        if whole:
            self._learned = basis
        self._told()

    async def _replay(self, lessons: Lessons, shop: Shop) -> bool:
        """Forecasts the past, a threshold at a time, so that leaving waits for one.

        A threshold of which nothing has changed is not forecast again.

        Returns:
            Whether it has come to the end.
        """
        if not self._wanted():
            return False
        if self._replayed.get("") != lessons.work:
            self._learning = "backtest of work"
            self.known = await asyncio.to_thread(
                _worked_again, lessons.work, self.known
            )
            self._replayed[""] = lessons.work
            self._told()
        windows = lessons.windows
        names = sorted({one.name for one in windows})
        for number, name in enumerate(names):
            if not self._wanted():
                return False
            left = len(names) - number
            of_name = tuple(one for one in windows if one.name == name)
            if self._replayed.get(name) == (of_name, shop):
                continue
            self._learning = f"backtest: {left} wait{'s' * (left != 1)} to go"
            self.known = await asyncio.to_thread(_replayed, of_name, shop, self.known)
            self._replayed[name] = of_name, shop
            self._told()
        return True


def _drawn(state: PourState) -> _Read:
    """What one pour has to say; in a thread."""
    from scheduling.defects import evidence  # noqa: PLC0415 - after the first paint
    from scheduling.lessons import lessons  # noqa: PLC0415 - after the first paint

    if state.job is None or state.begun is None:
        return _Read(Lessons(), None)
    return _Read(lessons(state), evidence(state))


def _learned(
    lessons: Lessons,
    evidence: tuple[Evidence, ...],
    shop: Shop,
    known: Known,
    growing: Growing,
) -> Known:
    """What the lessons teach, with the replay there was until now; in a thread."""
    from scheduling.seen import seen  # noqa: PLC0415 - brings numpy in

    found = learn(lessons, shop, growing)
    gone = {name for name, _ in known.forecasts}
    gone -= {one.name for one in lessons.windows}
    return replace(
        _without(known, gone),
        windows=found.windows,
        work=found.work,
        seen={(one.name, one.mix): seen(one) for one in found.windows},
        evidence=evidence,
    )


def _replayed(windows: tuple[Observation, ...], shop: Shop, known: Known) -> Known:
    """The past of one threshold as it would have been forecast; in a thread."""
    from scheduling.backtest import scores, too_wide  # noqa: PLC0415 - brings numpy in
    from scheduling.course import course  # noqa: PLC0415 - for this screen

    each: dict[Wait, list[Forecast]] = {}
    for one in replay(windows, shop):
        each.setdefault((one.said.name, one.said.mix), []).append(one)
    forecasts = {key: tuple(every) for key, every in each.items()}
    judged = {key: tuple(scores(every)) for key, every in forecasts.items()}
    courses = {key: course(every) for key, every in forecasts.items()}
    known = _without(known, {one.name for one in windows})
    return replace(
        known,
        forecasts={**known.forecasts, **forecasts},
        course={**known.course, **courses},
        scores={**known.scores, **judged},
        too_wide={**known.too_wide, **too_wide(windows)},
    )


def _worked_again(work: tuple[WorkObservation, ...], known: Known) -> Known:
    """All castings as they would have been forecast; in a thread."""
    from scheduling.workbacktest import (  # noqa: PLC0415 - brings numpy in
        forecasts,
        scores,
    )

    each: dict[str, list[WorkForecast]] = {}
    for one in forecasts(work):
        each.setdefault(one.said.step, []).append(one)
    return replace(
        known,
        work_forecasts={step: tuple(found) for step, found in each.items()},
        work_scores={step: tuple(scores(found)) for step, found in each.items()},
    )


def _without(known: Known, names: Collection[str]) -> Known:
    """What is known, without the replay of some thresholds."""
    return replace(
        known,
        forecasts={k: v for k, v in known.forecasts.items() if k[0] not in names},
        course={k: v for k, v in known.course.items() if k[0] not in names},
        scores={k: v for k, v in known.scores.items() if k[0] not in names},
        too_wide={k: v for k, v in known.too_wide.items() if k[0] not in names},
    )
