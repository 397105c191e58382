"""Everything that is known of one pour, as a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from scheduling.climate import Reading
from scheduling.covering import CoverChanges
from scheduling.defect import Defect
from scheduling.job import Job
from scheduling.process import Gap, StepKey
from scheduling.shop import Shop
from scheduling.touch import DemouldTry, Touch


@dataclass(frozen=True, slots=True)
class StepRecord:
    """What is known of one step.

    Attributes:
        started: When it began, or None.
        finished: When it ended, or None.
        skipped: When it was passed over, or None.
        by: Who marked it last.
        forecast: What was forecast for it at the moment it started.
        started_event: Id of the event that started it, for corrections.
        finished_event: Id of the event that finished or skipped it.
    """

    started: datetime | None = None
    finished: datetime | None = None
    skipped: datetime | None = None
    by: str = ""
    forecast: Mapping[str, Any] = field(default_factory=dict)
    started_event: str = ""
    finished_event: str = ""

    @property
    def running(self) -> bool:
        """Whether it has begun and not ended."""
        return self.started is not None and self.ended is None

    @property
    def ended(self) -> datetime | None:
        """When it was finished or skipped, or None."""
        return self.finished or self.skipped


@dataclass(frozen=True, slots=True)
class Note:
    """A line somebody wrote.

    Attributes:
        at: When.
        text: What.
        step: Where it belongs, or "" for the whole pour.
        zone: The same of the form.
        learn: False where nothing is to be learned from what it is about.
    """

    at: datetime
    text: str
    step: str
    zone: str
    learn: bool = True


@dataclass(frozen=True, slots=True)
class PourState:
    """Everything that is known of one pour.

    Attributes:
        pour: Its name.
        job: The job as it was when the pour began; None if no start is recorded.
        shop: The shop as it was then.
        casting: Which casting of the job, from 1.
        begun: When the pour was started.
        steps: What is known of each step.
        touches: Touch tests by zone since it was last sprayed.
        demould_tries: Whether the piece could be demoulded, in time order.
        felt: Touch tests of other waits, by the step that the wait holds; of a pot
            life, by the step that mixed it. In order of time.
        readings: All readings in time order.
        piece_event: Id of the last of them that measured the piece, or "".
        covers: Intervals under plastic by zone; an open one ends in None.
        piece_covers: What people said lies over the whole piece, from when on; in order
            of time.
        fogs: Water added by zone since it was last sprayed, g/m2 with its instant.
        resprayed: When a zone was last sprayed anew.
        resprays: Id of the event that says so, by zone.
        hands: Who is in, as last recorded, with the instant; None if never.
        notes: Everything written.
        defects: Everything found wrong with the piece, in the order it was recorded.
        rang: Alerts that rang, by id, with the first instant.
        answered: Alerts acknowledged, by id.
        silenced: When the bells were last silenced, and until when; None if never.
        tested: When the test bell was last heard, by machine.
        sealed: When the pour was put away, or None.
        last_event: When the newest event happened.
        late: Ids of the events that were written down, or put right, when it was too
            late to know their time well.
    """

    pour: str
    job: Job | None = None
    shop: Shop = field(default_factory=Shop)
    casting: int = 1
    begun: datetime | None = None
    steps: Mapping[StepKey, StepRecord] = field(default_factory=dict)
    touches: Mapping[str, tuple[Touch, ...]] = field(default_factory=dict)
    demould_tries: tuple[DemouldTry, ...] = ()
    felt: Mapping[StepKey, tuple[Touch, ...]] = field(default_factory=dict)
    readings: tuple[Reading, ...] = ()
    piece_event: str = ""
    covers: Mapping[str, tuple[tuple[datetime, datetime | None], ...]] = field(
        default_factory=dict
    )
    piece_covers: CoverChanges = ()
    fogs: Mapping[str, tuple[tuple[datetime, float], ...]] = field(default_factory=dict)
    resprayed: Mapping[str, datetime] = field(default_factory=dict)
    resprays: Mapping[str, str] = field(default_factory=dict)
    hands: tuple[datetime, tuple[str, ...]] | None = None
    notes: tuple[Note, ...] = ()
    defects: tuple[Defect, ...] = ()
    rang: Mapping[str, datetime] = field(default_factory=dict)
    answered: Mapping[str, datetime] = field(default_factory=dict)
    silenced: tuple[datetime, datetime] | None = None
    tested: Mapping[str, datetime] = field(default_factory=dict)
    sealed: datetime | None = None
    last_event: datetime | None = None
    late: frozenset[str] = frozenset()

    def record(self, key: StepKey) -> StepRecord:
        """Returns what is known of a step; an empty record when nothing is."""
        return self.steps.get(key, StepRecord())

    def touched(self, gap: Gap, holds: StepKey) -> tuple[Touch, ...]:
        """Returns what was felt of a wait, in order of time.

        Args:
            gap: The wait.
            holds: The step it holds.
        """
        if gap.name == "cure":
            return tuple(tried.touch for tried in self.demould_tries)
        if gap.after.step == "spray":
            return self.touches.get(gap.after.zone, ())
        if gap.opens is None:
            return self.felt.get(gap.after, ()) if gap.is_pot_life else ()
        begun = self.record(holds).started
        # What is felt of a coat once it is being put on is about its pot.
        return tuple(
            touch
            for touch in self.felt.get(holds, ())
            if begun is None or touch.at < begun
        )
