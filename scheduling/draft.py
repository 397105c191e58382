"""The process of one casting while it is being written, step by step."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from scheduling.batch import Order, lifting_crew
from scheduling.cautions import caution
from scheduling.job import Job
from scheduling.process import Gap, Phase, Process, Step, StepKey
from scheduling.shop import Mix, Pace, Timing
from scheduling.takeoff import Takeoff
from scheduling.thresholds import DEFAULTS, Threshold
from scheduling.work import HANDS_ON, RATES, Quantities

OWN = "this shop's own value"
"""Standing of a threshold that the shop file gives."""


def learned_from(pours: int) -> str:
    """Standing of a threshold that was learned from so many pours and accepted."""
    return f"learned from {pours} pour{'s' * (pours != 1)}"


def step_family(step: str) -> str:
    """The id of a step without its number: ``hone`` for ``hone-2``."""
    return re.sub(r"-\d+$", "", step)


class ProcessDraft:
    """Collects the steps of one casting, and holds what they are reckoned from.

    Attributes:
        job: What is to be made.
        takeoff: Its quantities.
        order: What is mixed for it.
        hands: People expected on the day of the pour.
        casting: 1 for the first from a form.
        lifters: How many of them lift the piece.
        whole: What the rates of a step about the whole casting are multiplied by.
        steps: The steps so far, in the order of the work.
    """

    def __init__(
        self,
        job: Job,
        mix: Mix,
        takeoff: Takeoff,
        order: Order,
        *,
        hands: int,
        casting: int,
        timings: Iterable[Timing] = (),
        paces: Iterable[Pace] = (),
    ) -> None:
        self.job = job
        self.takeoff = takeoff
        self.order = order
        self.hands = hands
        self.casting = casting
        self.lifters = min(lifting_crew(takeoff.piece_kg), hands)
        self.whole = _whole(job, takeoff, order, self.lifters)
        self.steps: list[Step] = []
        self._own_thresholds = mix.thresholds
        self._timings = {(timing.name, timing.mix): timing for timing in timings}
        self._paces = {pace.step: pace.factor for pace in paces}

    @property
    def last(self) -> StepKey:
        """The step added last."""
        return self.steps[-1].key

    def wants(self, name: str) -> bool:
        """Whether an optional step is switched on in the job."""
        return name in self.job.optional

    def threshold(self, name: str) -> Threshold:
        """The threshold as it was learned, else the shop's own, else the default."""
        threshold = DEFAULTS[name]
        own = self._own_thresholds.get(name)
        if own is not None:
            threshold = replace(threshold, spread=own, standing=OWN)
        return self.learned(threshold, self.job.mix)

    def learned(self, threshold: Threshold, mix: str) -> Threshold:
        """A threshold as the shop's log taught it and the owner accepted, if so.

        Args:
            threshold: As it is without.
            mix: That it is for; a sealer's family for what depends on that.
        """
        timing = self._timings.get((threshold.name, mix))
        if timing is None:
            return threshold
        return replace(
            threshold,
            spread=timing.spread,
            energy=timing.energy,
            share=timing.share,
            standing=learned_from(timing.pours),
        )

    def add(
        self,
        step: str,
        phase: Phase,
        words: str,
        *,
        zone: str = "",
        rate: str = "",
        work: float | None = None,
        crew: int = 1,
        equipment: tuple[str, ...] = (),
        after: tuple[StepKey, ...] | None = None,
        gaps: tuple[Gap, ...] = (),
        pour_day: bool = False,
        unbroken: bool = False,
        pausable: bool = False,
    ) -> StepKey:
        """Adds a step of the casting.

        Args:
            step: Its name; with the zone it makes the key.
            phase: Of the work.
            words: What to do, for people.
            zone: Of the form, where the step is about one.
            rate: Name of its rate of work, where that is not the step's own.
            work: Person-minutes, None to reckon them by the rate.
            crew: Hands it takes at once.
            equipment: What it occupies, by name.
            after: Steps that must be finished first; None is the step added last.
            gaps: Waits that open or close it.
            pour_day: Belongs to the day of the pour, as an unbroken step always does.
            unbroken: Neither lunch nor closing stops it.
            pausable: May stop for breaks and go on later.

        Returns:
            Its key.
        """
        key = StepKey(step, zone)
        if after is None:
            after = (self.last,) if self.steps else ()
        if work is None:
            work = RATES[rate or step].minutes(self.whole)
        pace = self._paces.get(step_family(step), HANDS_ON)
        finish = self.job.finish
        self.steps.append(
            Step(
                key,
                phase,
                words,
                work * pace.p50,
                crew,
                equipment,
                after,
                gaps,
                pour_day or unbroken,
                unbroken,
                pausable,
                caution(step, sealer=finish.sealer, two_part=finish.two_part),
                pace,
            )
        )
        return key

    def process(self) -> Process:
        """The process as far as it is written."""
        zones = self.takeoff.zones
        return Process(
            tuple(self.steps),
            tuple(zone.name for zone in zones),
            {zone.name: zone.face_m2 for zone in zones},
            self.order.batches,
            self.takeoff.piece_kg,
        )


def _whole(job: Job, takeoff: Takeoff, order: Order, lifters: int) -> Quantities:
    return Quantities(
        base=takeoff.base_m2,
        plan=takeoff.plan_m2,
        face=takeoff.face_m2,
        flat=takeoff.flat_m2,
        upright=takeoff.upright_m2,
        edge=takeoff.edge_m,
        fillet=takeoff.fillet_m,
        strips=takeoff.strips,
        corners=takeoff.corners,
        simple_knock_outs=takeoff.simple_knock_outs,
        basin_knock_outs=takeoff.basin_knock_outs,
        legs=takeoff.legs,
        inserts=takeoff.inserts,
        foams=takeoff.foam_count,
        foam=takeoff.foam_m2,
        batches=order.face_batches + order.batches,
        extra_lifters=lifters - 1,
        two_part=int(job.finish.two_part),
    )
