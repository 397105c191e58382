"""Where the work of a pour finds room: shop hours, hands and equipment."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from scheduling.hours import ShopHours
from scheduling.process import Process, Step

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Busy:
    """What a step takes up, from when to when.

    Attributes:
        start: When it begins.
        finish: When it ends.
        crew: Hands it takes.
        equipment: What it takes one of each of.
    """

    start: datetime
    finish: datetime
    crew: int
    equipment: tuple[str, ...]


@dataclass
class Room:
    """The shop, as far as it is not taken up yet.

    Attributes:
        process: The steps that are to find room.
        hours: When the shop is open, and how many hands are in.
        equipment: How many there are of each; one where it is not named.
        recorded: Who is in, as last recorded, with the instant; None if never.
        busy: What is taken up.
    """

    process: Process
    hours: ShopHours
    equipment: dict[str, int]
    recorded: tuple[datetime, tuple[str, ...]] | None
    busy: list[Busy] = field(default_factory=list)

    def take(self, step: Step, start: datetime, finish: datetime) -> None:
        """Takes up what a step needs."""
        self.busy.append(Busy(start, finish, step.crew, step.equipment))

    def find(self, step: Step, ready: datetime) -> tuple[datetime, datetime]:
        """Returns start and finish in shop hours with the hands and equipment free."""
        start, finish = self._in_hours(step, ready)
        while (free := self._blocked(step, start, finish)) is not None:
            start, finish = self._in_hours(step, free)
        return start, finish

    def _in_hours(self, step: Step, start: datetime) -> tuple[datetime, datetime]:
        length = step.minutes * _MINUTE
        if step.unbroken:
            first = not any(self.process.step(k).unbroken for k in step.after)
            start = self.hours.next_open(start) if first else start
            return start, start + length
        if step.pausable:
            start = self.hours.next_open(start)
        else:
            start = self.hours.fits(start, step.minutes)
        # Work longer than any stretch of the day stops for breaks all the same.
        return start, self.hours.finish(start, step.minutes)

    def _blocked(
        self, step: Step, start: datetime, finish: datetime
    ) -> datetime | None:
        """Returns when to try again if hands or equipment are taken, else None."""
        overlapping = [
            one for one in self.busy if one.start < finish and one.finish > start
        ]
        if not overlapping:
            return None
        hands = self._hands(start)
        crew = min(step.crew, hands)
        moments = {start} | {one.start for one in overlapping if one.start > start}
        for moment in moments:
            there = [one for one in overlapping if one.start <= moment < one.finish]
            taken = sum(min(one.crew, hands) for one in there)
            clash = taken + crew > hands or any(
                sum(name in one.equipment for one in there)
                >= self.equipment.get(name, 1)
                for name in step.equipment
            )
            if clash:
                return min(one.finish for one in there)
        return None

    def _hands(self, when: datetime) -> int:
        recorded = self.recorded
        if recorded is not None and self.hours.day_close(recorded[0]) >= when:
            return max(1, len(recorded[1]))
        return max(1, self.hours.hands(when))
