"""What a pour teaches of work: how long a step took beside the rate of the trade.

Interrupted and corrected steps teach nothing. A time that was put right within 5 min of
the fact counts as not corrected (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from scheduling.draft import step_family
from scheduling.forecast import Setting
from scheduling.observation import WorkObservation
from scheduling.pour import PourState, StepRecord
from scheduling.process import Step, StepKey

LATE_WORDS = "a time of it was given or put right more than 5 min after the fact"
NOTE_WORDS = "a note says not to learn from it"
HOURS_WORDS = "interrupted: the shop was closed or on a break"
ELSEWHERE_WORDS = "interrupted: the same person had other work running"
AT_ONCE_WORDS = "its start and its end are one moment"
RESPRAYED_WORDS = "the zone was sprayed anew"

_MINUTE = timedelta(minutes=1)


class WorkLessons:
    """One pour as the trade would have it without what its shop learned.

    Attributes:
        state: What happened.
        job: What was made.
        setting: Hours, zone and climate of the shop as it was then.
        process: The steps at the rates of the trade.
    """

    def __init__(self, state: PourState) -> None:
        """Writes the process down.

        Args:
            state: The pour, folded, with its start on record.
        """
        assert state.job is not None
        assert state.begun is not None
        self.state = state
        self.job = state.job
        # What was accepted by then must not be taken for the rate of the trade.
        self.setting = Setting.of(replace(state.shop, timings=(), paces=()))
        self.process = self.setting.process(
            state.job, on=state.begun, casting=state.casting
        )
        self._unlearned = {
            StepKey(note.step, note.zone) for note in state.notes if not note.learn
        }

    def work(self) -> Iterator[WorkObservation]:
        """Yields every step that has a start and an end."""
        for step in self.process.steps:
            record = self.state.record(step.key)
            if record.started is None or record.finished is None or step.work <= 0:
                continue
            took = (record.finished - record.started) / _MINUTE
            yield WorkObservation(
                pour=self.state.pour,
                at=record.started,
                step=step_family(step.key.step),
                by=record.by,
                rate_min=step.work,
                actual_min=took * step.crew,
                why_not=self._why_no_work(step, record, took),
                until=record.finished,
            )

    def _why_no_work(self, step: Step, record: StepRecord, took: float) -> str:
        assert record.started is not None
        assert record.finished is not None
        marks = record.started_event, record.finished_event
        if why := self.why_not(marks, (step.key,)):
            return why
        if took <= 0:
            return AT_ONCE_WORDS
        if step.key.zone in self.state.resprayed:
            return RESPRAYED_WORDS
        if not step.unbroken:
            hours = self.setting.hours
            if hours.working_minutes(record.started, record.finished) < took - 0.01:
                return HOURS_WORDS
        if record.by and any(
            other is not record
            and other.by == record.by
            and other.started is not None
            and other.started < record.finished
            and (other.ended is None or other.ended > record.started)
            for other in self.state.steps.values()
        ):
            return ELSEWHERE_WORDS
        return ""

    def why_not(self, events: tuple[str, ...], steps: tuple[StepKey, ...]) -> str:
        """Why nothing is to be learned from what hangs on such events and steps."""
        if not self._unlearned.isdisjoint((StepKey(""), *steps)):
            return NOTE_WORDS
        return "" if self.state.late.isdisjoint(events) else LATE_WORDS
