"""What the whole log teaches, the archive too, read one pour at a time.

Of a pour its lessons are kept and nothing else. The modules that learn bring numpy in,
so they are read in only when there is something to learn.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scheduling.learned import Forecast, Learned, LearnedPace
from scheduling.observation import Lessons, Observation
from scheduling.shop import Shop
from tui.pours import Pours
from tui.reviewing import oldest_first, read_each, read_one

if TYPE_CHECKING:
    from scheduling.timings import Windows


@dataclass(frozen=True, slots=True)
class Taught:
    """What was learned.

    Attributes:
        windows: Of every threshold that was seen, for each mix.
        work: Of every step that was seen.
    """

    windows: tuple[Learned, ...] = ()
    work: tuple[LearnedPace, ...] = ()


def lessons_of(pours: Pours, name: str) -> Lessons:
    """Reads what one pour has to say, and keeps nothing else of it.

    Returns:
        No lessons where its start is not on record.

    Raises:
        LogFault: It cannot be read or laid out.
    """
    from scheduling.lessons import lessons  # noqa: PLC0415 - after the first paint

    return read_one(pours, name, lambda state, _: lessons(state), "teaches nothing")


def all_lessons(pours: Pours, faults: list[str]) -> Iterator[Lessons]:
    """Reads what every pour there ever was has to say, and the windows from paper.

    Args:
        pours: The shop's.
        faults: What cannot be read is added to these, in words.

    Raises:
        LogFault: The folder of the log cannot be listed.
    """
    yield Lessons(windows=pours.book.past)
    yield from read_each(pours, oldest_first(pours.log), faults, lessons_of)


def together(lessons: Iterable[Lessons]) -> Lessons:
    """All lessons as one."""
    kept = list(lessons)
    return Lessons(
        tuple(said for each in kept for said in each.windows),
        tuple(said for each in kept for said in each.work),
    )


class Growing:
    """The windows of a log while it grows: only what is new is learned.

    What was learned cannot be taken out again. So when anything of it is gone, such as
    a touch undone or corrected, or when the shop's file is another, it starts anew.
    """

    def __init__(self) -> None:
        self._shop: Shop | None = None
        self._windows: Windows | None = None
        self._added: Counter[Observation] = Counter()

    def learn(self, windows: Iterable[Observation], shop: Shop) -> list[Learned]:
        """Returns what all windows teach; arguments as ``learn``."""
        from scheduling.timings import Windows  # noqa: PLC0415 - brings numpy in

        now = Counter(windows)
        learner, fresh = self._windows, now - self._added
        gone = now.total() != fresh.total() + self._added.total()
        if learner is None or shop != self._shop or gone:
            learner, fresh = Windows(shop), now
        self._windows = None  # a sum that fails halfway is not gone on with
        learner.add(fresh.elements())
        found = learner.learned()
        self._windows, self._shop, self._added = learner, shop, now
        return found


def learn(lessons: Lessons, shop: Shop, growing: Growing | None = None) -> Taught:
    """Returns what the lessons teach.

    Args:
        lessons: Of all pours.
        shop: As its file has it: what was accepted must not be its own evidence.
        growing: What learned from the same log before, or None.
    """
    from scheduling.pace import learn_work  # noqa: PLC0415 - brings numpy in

    windows = (growing or Growing()).learn(lessons.windows, shop)
    return Taught(tuple(windows), tuple(learn_work(lessons.work)))


def replay(windows: Iterable[Observation], shop: Shop) -> list[Forecast]:
    """Returns each wait of the past as it would have been forecast before it.

    Args:
        windows: Of all pours.
        shop: As its file has it.
    """
    from scheduling.backtest import backtest  # noqa: PLC0415 - brings numpy in

    return list(backtest(windows, shop))
