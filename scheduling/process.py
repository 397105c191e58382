"""The steps of a pour and the gaps between them.

A step is work for hands. A gap is a wait between two steps: a clock that opens the
later step and may close it again. Everything a pour does is built from these two.
`build` in `scheduling.recipe` writes the default process of a job.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

from scheduling.spread import Spread
from scheduling.thresholds import Threshold
from scheduling.work import HANDS_ON

Phase = Literal[
    "form build",
    "release",
    "caulk",
    "face coat",
    "wait",
    "back coat",
    "compaction",
    "cure",
    "grind",
    "slurry",
    "sand",
    "seal",
]
"""The twelve phases; every step and every wait belongs to one."""

PHASES: tuple[Phase, ...] = get_args(Phase)
"""All of them, in the order of the work."""


@dataclass(frozen=True, slots=True)
class StepKey:
    """Which step of a pour: its id, and its zone where it has one."""

    step: str
    zone: str = ""

    def __str__(self) -> str:
        return f"{self.step} {self.zone}".strip()


@dataclass(frozen=True, slots=True)
class Gap:
    """A wait before a step, on a clock.

    Attributes:
        name: What the wait is called; "" when it has no row of its own.
        phase: The phase the wait belongs to.
        after: The step it is counted from.
        from_start: Counted from that step's start instead of its finish.
        opens: Threshold after which the step may start, or None.
        closes: Threshold by which it must be done, or None.
        lead: Minutes the step may start before the opening (mixing ahead).
    """

    name: str
    phase: Phase
    after: StepKey
    opens: Threshold | None = None
    closes: Threshold | None = None
    from_start: bool = False
    lead: float = 0.0

    @property
    def is_pot_life(self) -> bool:
        """Whether it is how long the batch that it is counted from can be used."""
        return self.closes is not None and self.closes.name.endswith("pot life")


@dataclass(frozen=True, slots=True)
class Step:
    """One piece of hands-on work.

    Attributes:
        key: Id and zone.
        phase: One of PHASES.
        words: What to do, for people.
        work: Person-minutes at the P50.
        crew: Hands it takes at once.
        equipment: What it occupies, by name.
        after: Steps that must be finished first.
        gaps: Waits that open or close it.
        pour_day: Belongs to the day of the pour, which is kept together.
        unbroken: Once the mixing has begun, neither lunch nor closing stops it.
        pausable: May stop for breaks and go on later.
        caution: The usual caution, or "".
        pace: Spread of the hands-on time about its median, as ratios.
    """

    key: StepKey
    phase: Phase
    words: str
    work: float
    crew: int = 1
    equipment: tuple[str, ...] = ()
    after: tuple[StepKey, ...] = ()
    gaps: tuple[Gap, ...] = ()
    pour_day: bool = False
    unbroken: bool = False
    pausable: bool = False
    caution: str = ""
    pace: Spread = HANDS_ON

    @property
    def minutes(self) -> float:
        """Elapsed minutes at the P50: the work shared by the crew."""
        return self.work / self.crew

    @property
    def gap(self) -> Gap | None:
        """The wait that has a row of its own, if any."""
        return next((gap for gap in self.gaps if gap.name), None)


@dataclass(frozen=True, slots=True)
class Process:
    """All steps of one pour in the order they are usually done.

    Attributes:
        steps: In order.
        zones: Zone names in spraying order.
        zone_area: Face area of each zone, m2.
        batches: How many back batches are mixed.
        piece_kg: Mass of the piece.
    """

    steps: tuple[Step, ...]
    zones: tuple[str, ...]
    zone_area: dict[str, float]
    batches: int
    piece_kg: float
    _index: dict[StepKey, Step] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_index", {step.key: step for step in self.steps})

    def step(self, key: StepKey) -> Step:
        """Returns the step of a key; KeyError when the pour has none such."""
        return self._index[key]

    def __contains__(self, key: StepKey) -> bool:
        return key in self._index

    @property
    def person_hours(self) -> float:
        """Hands-on work of the whole process, person-hours at the P50."""
        return sum(step.work for step in self.steps) / 60
