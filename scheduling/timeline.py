"""A pour's process laid over a climate, with what has happened so far.

`lay_out` is pure: process, state, climate, hours and the moment come in, spans come
out. Planned and forecast are the same function, without and with the events.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from scheduling.clocks import Band
from scheduling.process import Process, StepKey
from scheduling.touch import Window

if TYPE_CHECKING:  # brings the heat balance in, after the first paint
    from scheduling.cast import Cast

CLOSING_SHARE = 0.6
"""Share of a window that is gone when it counts as closing: common practice."""

OVER = ("done", "skipped")
"""Statuses of what is behind."""

P90_SIGMA = 1.2816
"""Standard deviations from the median to the P90 of a normal distribution."""


class Status(StrEnum):
    """What a span is doing at the moment it is looked at."""

    WAITING = "waiting"
    NEXT = "next"
    OPEN = "open"
    CLOSING = "closing"
    CLOSED = "closed"
    RUNNING = "running"
    DONE = "done"
    SKIPPED = "skipped"


@dataclass(frozen=True, slots=True)
class Span:
    """One row of a timeline: a step, or the wait before one.

    Attributes:
        key: Step id and zone; for a wait its name and the zone.
        phase: One of the twelve.
        kind: ``hands-on`` or ``wait``.
        words: For people.
        start: When it starts or started.
        finish: When it ends or ended, P50; for a wait, when it opens.
        minutes: Elapsed work at the P50, or the length of the wait itself.
        crew: Hands; 0 for a wait.
        equipment: What it occupies.
        clock: Name of the clock that drives it, or "".
        reference_min: Threshold of that clock, or None.
        standing: Where that threshold is from, or "".
        opens: When the wait opens, or None.
        closes: When it must be done by, or None.
        finish_sd_min: Standard deviation of the finish, minutes, propagated.
        status: At the moment of the timeline.
        holds: For a wait, the step it opens; else the span's own key.
        found: Of a wait, what touch tests and clocks say of it.
        may_start: When the gap before a step lets it start, once that gap is running.
        caution: The usual caution, or "".
    """

    key: StepKey
    phase: str
    kind: str
    words: str
    start: datetime
    finish: datetime
    minutes: float
    crew: int
    equipment: tuple[str, ...]
    clock: str
    reference_min: float | None
    standing: str
    opens: Band | None
    closes: Band | None
    finish_sd_min: float
    status: Status
    holds: StepKey
    found: Window | None = None
    may_start: datetime | None = None
    caution: str = ""

    @property
    def window(self) -> Window | None:
        """What is found of a zone that waits for lift 1; None of any other span."""
        return self.found if self.holds.step == "lift-1" else None

    @property
    def slack_min(self) -> float | None:
        """Minutes between the forecast end and the closing; negative is too late."""
        if self.closes is None:
            return None
        return (self.closes.p50 - self.finish) / timedelta(minutes=1)

    def finishes(self) -> Band:
        """Returns the finish as a band, from its propagated spread."""
        spread = timedelta(minutes=P90_SIGMA * self.finish_sd_min)
        early = max(self.start, self.finish - spread)
        return Band(early, self.finish, self.finish + spread)


@dataclass(frozen=True, slots=True)
class PotLife:
    """The pot life of one batch.

    Attributes:
        since: Water on cement.
        ends: When it is over, P50.
        used: Whether none of it is left to use: all is placed, or it has gone off.
    """

    since: datetime
    ends: datetime
    used: bool


@dataclass(frozen=True, slots=True)
class Timeline:
    """All spans of one pour.

    Attributes:
        process: What was laid out.
        start: When the pour began or would.
        at: The moment it was looked at; None for a plan.
        spans: Steps and waits in process order, each wait before its step.
        demould: When the cure opens, or None if it is not within reach.
        pot_lives: Of each batch begun, by the step that mixed it.
        cast: The piece from its casting on; None where the climate itself says how
            warm it is.
    """

    process: Process
    start: datetime
    at: datetime | None
    spans: tuple[Span, ...]
    demould: Band | None
    pot_lives: dict[StepKey, PotLife]
    cast: Cast | None = field(default=None, compare=False)

    def span(self, key: StepKey) -> Span | None:
        """Returns the span of a step or wait, or None."""
        return next((span for span in self.spans if span.key == key), None)

    def wait_for(self, key: StepKey) -> Span | None:
        """Returns the wait that opens a step, or None."""
        return next(
            (s for s in self.spans if s.kind == "wait" and s.holds == key), None
        )

    def steps(self) -> list[Span]:
        """Returns the hands-on spans."""
        return [span for span in self.spans if span.kind == "hands-on"]

    @property
    def finished(self) -> bool:
        """Whether every step is behind."""
        return all(span.status in OVER for span in self.steps())

    def zones_to_touch(self) -> list[str]:
        """Returns zones whose face coat is waiting for lift 1, the first to test first.

        Zones not yet found ready come before those that were, each by the time since
        it was last touched or sprayed.
        """
        waits = [
            span
            for span in self.spans
            if span.window is not None
            and span.status not in OVER
            and self.is_sprayed(span.key.zone)
        ]

        def order(span: Span) -> tuple[bool, datetime]:
            found = span.window
            assert found is not None
            last = found.going_off_at or found.ready_at or found.soft_at or span.start
            return found.ready_at is not None, last

        return [span.key.zone for span in sorted(waits, key=order)]

    def begun(self, wait: Span) -> bool:
        """Whether what a wait is counted from has really happened."""
        gap = self.process.step(wait.holds).gap
        origin = self.span(gap.after) if gap else None
        if gap is None or origin is None:
            return False
        if gap.from_start and origin.status is Status.RUNNING:
            return True
        return origin.status is Status.DONE

    def waits_to_touch(self) -> list[Span]:
        """Returns the other waits that are running: no zone's, and not the cure's."""
        return [
            span
            for span in self.spans
            if span.kind == "wait"
            and span.window is None
            and span.key.step != "cure"
            and span.status not in OVER
            and self.begun(span)
        ]

    def curing(self) -> bool:
        """Whether the piece is cast and still in its form."""
        cure = next((s for s in self.spans if s.key.step == "cure"), None)
        demould = self.span(StepKey("demould"))
        cast = self.span(StepKey("screed"))
        return (
            cure is not None
            and cast is not None
            and cast.status is Status.DONE
            and (demould is None or demould.status not in OVER)
        )

    def is_sprayed(self, zone: str) -> bool:
        """Whether the face coat of a zone is on."""
        spray = self.span(StepKey("spray", zone))
        return spray is not None and spray.status is Status.DONE

    def next_step(self) -> Span | None:
        """Returns the hands-on span to do now or next: running first, then earliest.

        Ties go to the order of the process.
        """
        todo = [s for s in self.steps() if s.status not in OVER]
        running = [span for span in todo if span.status is Status.RUNNING]
        if running:
            return running[0]
        return min(todo, key=lambda span: span.start, default=None)
