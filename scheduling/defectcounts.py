"""The defects of all pours counted, and where their zones stood in a window.

Counts and cases, and nothing more than they carry: no shares, no causes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduling.defect import CODES, FOUND_AT
from scheduling.defects import Evidence, ZoneTimes
from scheduling.learned import Learned

SHOWN_AT: dict[str, tuple[str, ...]] = {
    "face opens": ("ghosting",),
    "face closes": ("peel", "craze"),
}
"""Which defects are looked for beside a threshold: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Counts:
    """In how many pours something was found, of how many.

    Attributes:
        pours: Pours that were cast.
        codes: Pours with a defect of each code, the most frequent first.
        found_at: Pours with a defect found at each stage, in the order of the work;
            "" where nobody said.
    """

    pours: int
    codes: dict[str, int]
    found_at: dict[str, int]


def counts(found: Iterable[Evidence]) -> Counts:
    """Counts pours, and nothing more than they carry: no shares, no causes."""
    pours = 0
    codes: Counter[str] = Counter()
    stages: Counter[str] = Counter()
    for one in found:
        pours += one.cast
        codes.update({case.defect.code for case in one.cases})
        stages.update({case.defect.found_at for case in one.cases})
    order = list(CODES)
    return Counts(
        pours,
        dict(sorted(codes.items(), key=lambda pair: (-pair[1], order.index(pair[0])))),
        {stage: stages[stage] for stage in (*FOUND_AT, "") if stages[stage]},
    )


@dataclass(frozen=True, slots=True)
class AtWindow:
    """When lift 1 was begun, in reference minutes since the zone was sprayed.

    Attributes:
        showing: In the zones that showed the defect, sorted.
        others: In the zones of pours out of their form that have none on record.
    """

    showing: tuple[float, ...]
    others: tuple[float, ...]


def at_window(
    found: Iterable[Evidence],
    name: str,
    codes: Sequence[str] | None = None,
    learned: Learned | None = None,
) -> AtWindow:
    """Returns when lift 1 was begun in zones with a defect, and in those without.

    A pour whose defect names none of several zones says nothing of either: none of
    its zones counts.

    Args:
        found: Of the pours.
        name: Of the threshold: one of SHARES.
        codes: Of the defects; None takes those of SHOWN_AT.
        learned: The threshold as it was learned: then only pours of its mix count, on
            the clock that its band is of. None takes all, each on the clock of its
            own timeline.
    """
    wanted = SHOWN_AT[name] if codes is None else codes
    if learned is not None:
        found = [one for one in found if one.mix == learned.mix]
    showing: list[float] = []
    others: list[float] = []
    for one in found:
        concerned = [case.zones for case in one.cases if case.defect.code in wanted]
        if any(len(zones) != 1 for zones in concerned):
            continue
        marked = {zones[0].zone for zones in concerned}
        for times in one.zones:
            reached = _reached(times, name, learned)
            if reached is not None and (times.zone in marked or one.seen):
                (showing if times.zone in marked else others).append(reached)
    return AtWindow(tuple(sorted(showing)), tuple(sorted(others)))


def _reached(times: ZoneTimes, name: str, learned: Learned | None) -> float | None:
    mark = times.marks.get(name)
    if learned is None or mark is None:
        return times.reached.get(name)
    from scheduling.sightings import minutes  # noqa: PLC0415 - brings numpy in

    energy, share = (
        None if constant is None else constant.p50
        for constant in (learned.energy, learned.share)
    )
    return minutes(mark, energy, share)
