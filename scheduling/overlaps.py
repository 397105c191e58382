"""Work on two pours at once by one person: neither time is that of the step."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from scheduling.observation import WorkObservation


def told_apart(said: Iterable[WorkObservation]) -> Iterator[WorkObservation]:
    """Yields the observations, those of work on two pours at once with why not.

    Both of two that overlap are left out, where one named person did both. One that
    nobody knows the end of, or who did it, interrupts nothing. Two in one pour are
    known to that pour already.
    """
    people: dict[str, list[WorkObservation]] = {}
    for each in said:
        people.setdefault(each.by, []).append(each)
    for name, own in people.items():
        yield from _of_one_person(own) if name else own


def _of_one_person(own: Sequence[WorkObservation]) -> Iterator[WorkObservation]:
    own = sorted(own, key=lambda each: each.at)
    other_pour = [""] * len(own)
    at_work: list[int] = []
    for number, each in enumerate(own):
        at_work = [at for at in at_work if _until(own[at]) > each.at]
        for at in at_work:
            if own[at].pour != each.pour and each.at < _until(each):
                other_pour[at] = other_pour[at] or each.pour
                other_pour[number] = other_pour[number] or own[at].pour
        at_work.append(number)
    for each, pour in zip(own, other_pour, strict=True):
        left_out = pour and not each.why_not
        yield replace(each, why_not=f"also at work on {pour}") if left_out else each


def _until(said: WorkObservation) -> datetime:
    return said.until or said.at
