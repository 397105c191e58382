"""What screens read of a process that was laid out: its spans, with their status."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduling.cast import STANDING as BALANCE
from scheduling.cast import reads_piece
from scheduling.clocks import Band
from scheduling.pour import PourState
from scheduling.process import Gap, Process, Step, StepKey
from scheduling.thresholds import Threshold
from scheduling.timeline import CLOSING_SHARE, P90_SIGMA, Span, Status
from scheduling.touch import Window, opened_at

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a step or wait lies.

    Attributes:
        start: When it begins.
        finish: When it ends.
        variance: Of its end, minutes squared.
        over: Whether it is done or skipped.
    """

    start: datetime
    finish: datetime
    variance: float
    over: bool = False


@dataclass(frozen=True, slots=True)
class Laid:
    """A process laid out.

    Attributes:
        process: The steps.
        state: What has happened.
        at: Now; None for a plan.
        warm: Whether the piece has a temperature of its own.
        placed: Where each step lies.
        waits: The wait before a step, and its window, by the step it holds.
        bounds: The earliest closing that bears on a step.
        may_start: From when on a wait lets a step begin, where its clock runs already.
    """

    process: Process
    state: PourState
    at: datetime | None
    warm: bool
    placed: Mapping[StepKey, Placed]
    waits: Mapping[StepKey, tuple[Gap, Window]]
    bounds: Mapping[StepKey, Band]
    may_start: Mapping[StepKey, datetime]

    def spans(self) -> Iterator[Span]:
        """Yields each step, after the wait that holds it."""
        upcoming = self._upcoming()
        for step in self.process.steps:
            if step.key in self.waits:
                yield self._wait_span(step)
            yield self._step_span(step, upcoming)

    def _upcoming(self) -> StepKey | None:
        todo = [
            (self.placed[step.key].start, index, step.key)
            for index, step in enumerate(self.process.steps)
            if not self.placed[step.key].over
            and not self.state.record(step.key).running
        ]
        return min(todo)[2] if todo else None

    def _step_span(self, step: Step, upcoming: StepKey | None) -> Span:
        placed = self.placed[step.key]
        record = self.state.record(step.key)
        if record.skipped:
            status = Status.SKIPPED
        elif placed.over:
            status = Status.DONE
        elif record.running:
            status = Status.RUNNING
        elif step.key == upcoming:
            status = Status.NEXT
        else:
            status = Status.WAITING
        bound = next((g for g in step.gaps if g.closes and not g.name), None)
        threshold = bound.closes if bound else None
        return Span(
            key=step.key,
            phase=step.phase,
            kind="hands-on",
            words=step.words,
            start=placed.start,
            finish=placed.finish,
            minutes=step.minutes,
            crew=step.crew,
            equipment=step.equipment,
            clock=threshold.clock if threshold else "",
            reference_min=threshold.spread.p50 if threshold else None,
            standing=self._standing(threshold) if threshold else "",
            opens=None,
            closes=self.bounds.get(step.key),
            finish_sd_min=placed.variance**0.5,
            status=status,
            holds=step.key,
            may_start=self.may_start.get(step.key),
            caution=step.caution,
        )

    def _wait_span(self, step: Step) -> Span:
        gap, found = self.waits[step.key]
        origin = self.placed[gap.after]
        since = origin.start if gap.from_start else origin.finish
        opens = found.opens
        finish = opens.p50 if opens else since + timedelta(days=60)
        width = (opens.p90 - opens.p10) / _MINUTE / (2 * P90_SIGMA) if opens else 0.0
        threshold = gap.opens
        assert threshold is not None
        return Span(
            key=StepKey(gap.name, step.key.zone),
            phase=gap.phase,
            kind="wait",
            words=f"{gap.name}: {threshold.clock} clock",
            start=since,
            finish=max(since, finish),
            minutes=max(0.0, (finish - since) / _MINUTE),
            crew=0,
            equipment=(),
            clock=threshold.clock,
            reference_min=threshold.spread.p50,
            standing=self._standing(threshold),
            opens=opens,
            closes=found.closes,
            finish_sd_min=(origin.variance + width**2) ** 0.5,
            status=self._wait_status(step, found, origin),
            holds=step.key,
            found=found,
        )

    def _standing(self, threshold: Threshold) -> str:
        if not self.warm or not reads_piece(threshold):
            return threshold.standing
        return f"{threshold.standing}; {BALANCE}"

    def _wait_status(self, step: Step, found: Window, origin: Placed) -> Status:
        record = self.state.record(step.key)
        if record.skipped:
            return Status.SKIPPED
        if self.placed[step.key].over or record.running:
            return Status.DONE
        if self.at is None or not origin.over or found.opens is None:
            return Status.WAITING
        return window_status(found, self.at)


def window_status(found: Window, at: datetime) -> Status:
    """Returns whether a window is waiting, open, closing or closed at an instant."""
    if found.gone_at is not None and found.gone_at <= at:
        return Status.CLOSED
    opened = opened_at(found)
    if opened is None or at < opened:
        return Status.WAITING
    if found.closes is None:
        return Status.OPEN
    if at >= found.closes.p50:
        return Status.CLOSED
    closing = opened + CLOSING_SHARE * (found.closes.p50 - opened)
    if at >= closing or found.going_off_at is not None:
        return Status.CLOSING
    return Status.OPEN
