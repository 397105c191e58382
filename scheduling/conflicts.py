"""Where pours that share a shop get in each other's way, said in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduling.process import StepKey
from scheduling.timeline import OVER, Span, Timeline

HORIZON = timedelta(hours=24)
"""How far ahead clashes are looked for."""

_TABLE_FROM, _TABLE_TO = StepKey("base"), StepKey("demould")


@dataclass(frozen=True, slots=True)
class Conflict:
    """One clash.

    Attributes:
        start: When it begins.
        finish: When it ends.
        pours: The pours that clash.
        words: What clashes, for people.
    """

    start: datetime
    finish: datetime
    pours: tuple[str, ...]
    words: str


def conflicts(
    timelines: Mapping[str, Timeline],
    *,
    hands: Callable[[datetime], int],
    equipment: Mapping[str, int],
    now: datetime,
) -> list[Conflict]:
    """Returns the clashes of the next day, the first first.

    Args:
        timelines: Of the open pours, by name.
        hands: How many are in at an instant.
        equipment: How many there are of each; one where it is not named.
        now: The instant.
    """
    spans = [
        (pour, span)
        for pour, timeline in timelines.items()
        for span in timeline.steps()
        if span.status not in OVER and span.start < now + HORIZON and span.finish > now
    ]
    found: list[Conflict] = []
    for pour, span in sorted(spans, key=lambda each: each[1].start):
        there = [
            (other, one) for other, one in spans if one.start <= span.start < one.finish
        ]
        pours = tuple(dict.fromkeys(other for other, _ in there))
        if len(pours) < 2 or pour not in pours:
            continue
        there_now = [one for _, one in there]
        found.extend(_clashes(there_now, pours, span, hands(span.start), equipment))
    return [*_tables(timelines, equipment, now), *_merged(found)]


def _clashes(
    there: Sequence[Span],
    pours: tuple[str, ...],
    span: Span,
    hands: int,
    equipment: Mapping[str, int],
) -> list[Conflict]:
    clashes: list[Conflict] = []
    finish = min(one.finish for one in there)
    wanted = sum(one.crew for one in there)
    if wanted > hands:
        words = f"{wanted} hands wanted, {hands} in"
        clashes.append(Conflict(span.start, finish, pours, words))
    for name in span.equipment:
        users = sum(name in one.equipment for one in there)
        if users > equipment.get(name, 1):
            words = f"{users} want the {name}, there is {equipment.get(name, 1)}"
            clashes.append(Conflict(span.start, finish, pours, words))
    return clashes


def _tables(
    timelines: Mapping[str, Timeline], equipment: Mapping[str, int], now: datetime
) -> list[Conflict]:
    """A table is held from the form's base to demould."""
    held: dict[str, datetime] = {}
    for pour, timeline in timelines.items():
        begin, end = timeline.span(_TABLE_FROM), timeline.span(_TABLE_TO)
        if end is None or end.status in OVER:
            continue
        if begin is None or begin.start <= now:
            held[pour] = end.finish
    tables = equipment.get("table", 1)
    if len(held) <= tables:
        return []
    words = f"{len(held)} pours hold a table, there is {tables}"
    if tables > 1:
        words = f"{len(held)} pours hold a table, there are {tables}"
    return [Conflict(now, min(held.values()), tuple(held), words)]


def _merged(found: list[Conflict]) -> list[Conflict]:
    """Runs together clashes of the same pours and words; a moment's is none."""
    merged: dict[tuple[tuple[str, ...], str], list[Conflict]] = {}
    for one in found:
        runs = merged.setdefault((one.pours, one.words), [])
        if runs and one.start <= runs[-1].finish:
            finish = max(runs[-1].finish, one.finish)
            runs[-1] = Conflict(runs[-1].start, finish, one.pours, one.words)
        else:
            runs.append(one)
    lasting = [one for runs in merged.values() for one in runs if _lasts(one)]
    return sorted(lasting, key=lambda one: one.start)


def _lasts(one: Conflict) -> bool:
    return one.finish - one.start >= timedelta(minutes=1)
