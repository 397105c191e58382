"""Laying a process over time: what lies before each step, its clocks, its events."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

from scheduling.cast import Cast, Casts, reads_piece
from scheduling.clocks import Band, ClockBook, Runs
from scheduling.covering import (
    CASTING,
    COVERING,
    UNCOVERING,
    Change,
    CoverChanges,
    cover_changes,
)
from scheduling.hours import ShopHours
from scheduling.laws import CLOSE_SHARE, OPEN_SHARE, fog_credit_minutes
from scheduling.pour import PourState
from scheduling.process import Gap, Process, Step, StepKey
from scheduling.room import Room
from scheduling.spans import Laid, Placed
from scheduling.thresholds import Threshold
from scheduling.timeline import P90_SIGMA, PotLife, Timeline
from scheduling.touch import TEST_EVERY, Race, Window, window

_MINUTE = timedelta(minutes=1)


def lay_out(
    process: Process,
    *,
    start: datetime,
    book: ClockBook,
    hours: ShopHours,
    equipment: dict[str, int],
    state: PourState | None = None,
    at: datetime | None = None,
    casts: Casts | None = None,
    under: Change | None = None,
) -> Timeline:
    """Returns the timeline of one pour.

    Args:
        process: The steps.
        start: When the first step may begin.
        book: The clocks over the climate of the pour.
        hours: When the shop is open, and how many hands are in.
        equipment: How many there are of each; one where it is not named.
        state: What has happened, or None for a plan.
        at: Now, when there is a state; forecasts start no earlier.
        casts: How warm a piece of this pour is from its casting on; None leaves it as
            warm as the climate has it.
        under: From when on, whatever is planned, what is to lie over the piece.
    """
    layout = _Layout(
        process=process,
        start=start,
        book=book,
        hours=hours,
        equipment=equipment,
        state=state or PourState(""),
        at=at,
        casts=casts,
        under=under,
    )
    return layout.timeline()


@dataclass
class _Layout:
    """One laying out; collects placements step by step in process order."""

    process: Process
    start: datetime
    book: ClockBook
    hours: ShopHours
    equipment: dict[str, int]
    state: PourState
    at: datetime | None
    casts: Casts | None
    under: Change | None

    def timeline(self) -> Timeline:
        self.placed: dict[StepKey, Placed] = {}
        self.waits: dict[StepKey, tuple[Gap, Window]] = {}
        self.bounds: dict[StepKey, Band] = {}
        self.may_start: dict[StepKey, datetime] = {}
        self.room = Room(self.process, self.hours, self.equipment, self.state.hands)
        steps = self.process.steps
        first, last = self.pour_day
        self.place_all(steps[:first], self.start)
        self.place_pour_day(steps[first:last])
        self.place_all(steps[last:], self.start)
        return self.finished()

    @cached_property
    def pour_day(self) -> tuple[int, int]:
        """First and one past the last index of the steps that share the pour's day."""
        days = [i for i, step in enumerate(self.process.steps) if step.pour_day]
        return (days[0], days[-1] + 1) if days else (0, 0)

    @cached_property
    def passed(self) -> dict[StepKey, datetime]:
        """Unmarked steps that a later marked step shows to be done, with its start."""
        passed: dict[StepKey, datetime] = {}
        for key, record in self.state.steps.items():
            when = record.started or record.ended
            if key not in self.process or when is None or record.skipped:
                continue
            stack = list(self.process.step(key).after)
            seen: set[StepKey] = set()
            while stack:
                before = stack.pop()
                if before in seen:
                    continue
                seen.add(before)
                known = self.state.steps.get(before)
                if known is None:
                    passed[before] = min(passed.get(before, when), when)
                if known is None or known.skipped:
                    # What was marked itself says what lies before it.
                    stack.extend(self.process.step(before).after)
        return passed

    # -- placing

    def place_pour_day(self, steps: tuple[Step, ...]) -> None:
        """Places the day of the pour; it moves whole to a day that is long enough."""
        if not steps:
            return
        kept = (
            dict(self.placed),
            dict(self.waits),
            dict(self.bounds),
            list(self.room.busy),
        )
        self.place_all(steps, self.start)
        todo = [step for step in steps if not self.begun(step.key)]
        if not todo or any(self.begun(step.key) for step in steps if step.unbroken):
            return
        first = min(self.placed[step.key].start for step in todo)
        last = max(self.placed[step.key].finish for step in todo)
        closing = self.hours.day_close(first)
        morning = self.hours.next_day_open(first)
        next_closing = self.hours.day_close(morning)
        left = self.hours.working_minutes(first, closing)
        if last <= closing or left >= self.hours.working_minutes(morning, next_closing):
            return
        self.placed, self.waits, self.bounds, self.room.busy = kept
        self.place_all(steps, morning)

    def begun(self, key: StepKey) -> bool:
        return key in self.state.steps or key in self.passed

    def place_all(self, steps: Iterable[Step], earliest: datetime) -> None:
        for step in steps:
            self.placed[step.key] = self.place(step, earliest)

    def place(self, step: Step, earliest: datetime) -> Placed:
        before = [self.placed[key] for key in step.after]
        ready, variance = earliest, 0.0
        for one in before:
            if one.finish >= ready:
                ready, variance = one.finish, one.variance
        for gap in step.gaps:
            opened = self.open_gap(step, gap)
            if opened is not None and opened.finish >= ready:
                ready, variance = opened.finish, opened.variance
        actual = self.actual(step)
        if actual is not None:
            return actual
        if self.at is not None:
            ready = max(ready, self.at)
        start, finish = self.room.find(step, ready)
        own = _own_variance(step)
        self.room.take(step, start, finish)
        return Placed(start, finish, variance + own)

    def actual(self, step: Step) -> Placed | None:
        """Returns where a step lies that has begun, or None."""
        key = step.key
        record = self.state.record(key)
        if key.step == "spray" and key.zone in self.state.resprayed:
            again = self.state.resprayed[key.zone]
            return Placed(again, again, 0.0, over=True)
        if record.ended is not None:
            return Placed(record.started or record.ended, record.ended, 0.0, over=True)
        if record.started is not None:
            due = record.started + step.minutes * _MINUTE
            finish = max(due, self.at or due)
            self.room.take(step, record.started, finish)
            own = _own_variance(step)
            return Placed(record.started, finish, own)
        when = self.passed.get(key)
        return None if when is None else Placed(when, when, 0.0, over=True)

    def open_gap(self, step: Step, gap: Gap) -> Placed | None:
        """Runs a gap's clock; returns the wait up to the step's earliest start."""
        origin = self.placed.get(gap.after)
        if origin is None:
            return None
        since = origin.start if gap.from_start else origin.finish
        found = self.window(step.key, gap, since)
        if gap.closes is not None and found.closes is not None:
            bound = self.bounds.get(step.key, found.closes)
            self.bounds[step.key] = min(bound, found.closes, key=lambda one: one.p50)
        if gap.opens is None:
            return None
        if gap.name:
            self.waits[step.key] = (gap, found)
        if found.opens is None:
            return Placed(since, since + timedelta(days=60), 0.0)
        opened = found.opens.p50
        if found.soft_at is not None and found.ready_at is None:
            opened = max(opened, found.soft_at + TEST_EVERY)
        opened -= gap.lead * _MINUTE
        if origin.over or (gap.from_start and self.state.record(gap.after).started):
            self.may_start[step.key] = opened
        width = (found.opens.p90 - found.opens.p10) / _MINUTE / (2 * P90_SIGMA)
        return Placed(since, max(since, opened), origin.variance + width**2)

    def window(self, key: StepKey, gap: Gap, since: datetime) -> Window:
        """Returns the wait of a step, cut to what was felt of it."""
        zone = gap.after.zone
        opens = self.race(gap.opens, OPEN_SHARE, zone, since)
        closes = self.race(gap.closes, CLOSE_SHARE, zone, since)
        held = key
        if gap.opens is not None:
            held = self.held.get((gap.after, gap.opens.name), key)
        return window(since, opens, closes, self.state.touched(gap, held))

    @cached_property
    def held(self) -> dict[tuple[StepKey, str], StepKey]:
        """The step that a wait holds: what is mixed ahead of it waits for the same."""
        return {
            (gap.after, gap.opens.name): step.key
            for step in self.process.steps
            for gap in step.gaps
            if gap.name and gap.opens
        }

    def race(
        self, threshold: Threshold | None, share: float, zone: str, since: datetime
    ) -> Race | None:
        if threshold is None:
            return None
        if threshold.clock != "face":
            return Race(self.clock(threshold), threshold.spread)
        state = self.state
        share = share if threshold.share is None else threshold.share
        grams = sum(g for when, g in state.fogs.get(zone, ()) if when >= since)
        clock = self.book.clock(
            threshold.clock,
            threshold.place,
            share,
            state.covers.get(zone, ()),
            threshold.energy,
        )
        return Race(clock, threshold.spread, fog_credit_minutes(grams, share))

    def clock(self, threshold: Threshold) -> Runs:
        cast = self.cast() if reads_piece(threshold) else None
        if cast is not None:
            return cast.at_energy(threshold.energy)
        return self.book.clock(
            threshold.clock, threshold.place, energy=threshold.energy
        )

    def cast(self) -> Cast | None:
        """The piece, as far as what lies over it is known by now."""
        placed = self.placed.get(CASTING)
        if self.casts is None or placed is None:
            return None
        return self.casts.cast(placed.finish, self.covers())

    def covers(self) -> CoverChanges:
        brought = [
            (self.placed[key].finish, name)
            for key, name in COVERING
            if key in self.placed and self.state.record(key).skipped is None
        ]
        record = self.state.record(UNCOVERING)
        uncovered = record.started or record.ended
        if uncovered is None and UNCOVERING in self.placed:
            uncovered = self.placed[UNCOVERING].start
        return cover_changes(brought, self.state.piece_covers, uncovered, self.under)

    # -- reading the result

    def finished(self) -> Timeline:
        laid = Laid(
            process=self.process,
            state=self.state,
            at=self.at,
            warm=self.casts is not None,
            placed=self.placed,
            waits=self.waits,
            bounds=self.bounds,
            may_start=self.may_start,
        )
        spans = tuple(laid.spans())
        cure = next(
            (s for s in spans if s.kind == "wait" and s.key.step == "cure"), None
        )
        return Timeline(
            self.process,
            self.start,
            self.at,
            spans,
            cure.opens if cure else None,
            self.pot_lives(),
            self.cast(),
        )

    def pot_lives(self) -> dict[StepKey, PotLife]:
        """Returns the pot life of each batch in hand, by the step that mixed it."""
        lives: dict[StepKey, PotLife] = {}
        for step in self.process.steps:
            for gap in step.gaps:
                if not gap.is_pot_life:
                    continue
                gone = any(
                    touch.feel == "gone" for touch in self.state.touched(gap, step.key)
                )
                used = gone or self.placed[step.key].over
                known = lives.get(gap.after)
                if known is not None:
                    lives[gap.after] = replace(known, used=known.used and used)
                    continue
                mixed = self.state.record(gap.after).started
                if mixed is None:
                    continue
                ends = self.window(step.key, gap, mixed).closes
                if ends is not None:
                    lives[gap.after] = PotLife(mixed, ends.p50, used)
        return lives


def _own_variance(step: Step) -> float:
    """Variance of the time a step takes, minutes squared."""
    relative = (step.pace.p90 - step.pace.p10) / step.pace.p50 / (2 * P90_SIGMA)
    return (step.minutes * relative) ** 2
