"""The default process of a job: which steps, in which order, opened by which waits."""

from __future__ import annotations

from collections.abc import Iterable

from scheduling.batch import order
from scheduling.draft import ProcessDraft
from scheduling.finishing import cure, demould, finish, seal
from scheduling.formwork import make_form
from scheduling.job import Job, Piece
from scheduling.pouring import WEIGH_OFF, back_coat, face_coat, weigh_off
from scheduling.process import Process, StepKey
from scheduling.shop import Mix, Pace, Timing
from scheduling.takeoff import take_off

ENTRIES = ("form", "weigh-off", "face coat")
"""Where a pour may be joined: from its form, its weigh-off or its face mix."""


def build(
    job: Job,
    mix: Mix,
    *,
    mixer_load: float,
    hands: int = 2,
    casting: int = 1,
    timings: Iterable[Timing] = (),
    paces: Iterable[Pace] = (),
) -> Process:
    """Returns the process of one casting of a job.

    Args:
        job: What is to be made.
        mix: Its mix, with the shop's own thresholds where it has them.
        mixer_load: Usable batch mass, kg.
        hands: People expected on the day of the pour, at least 1.
        casting: 1 for the first from a form; later ones reuse it.
        timings: Accepted thresholds of the shop; those of this mix and sealer count.
        paces: Accepted paces of the shop.
    """
    takeoff = take_off(job.shape, mix)
    amounts = order(takeoff, mixer_load, coupon="coupon" in job.optional)
    draft = ProcessDraft(
        job,
        mix,
        takeoff,
        amounts,
        hands=max(1, hands),
        casting=casting,
        timings=timings,
        paces=paces,
    )
    if isinstance(job.shape, Piece):
        make_form(draft)
        weigh_off(draft)
    face_coat(draft)
    back_coat(draft)
    cure(draft)
    demould(draft)
    finish(draft)
    seal(draft)
    return draft.process()


def person_hours(
    job: Job, mix: Mix, *, mixer_load: float, paces: Iterable[Pace] = ()
) -> float:
    """Returns hands-on person-hours of one casting, the form shared by all of them."""
    paces = tuple(paces)
    first = build(job, mix, mixer_load=mixer_load, paces=paces).person_hours
    if job.castings == 1:
        return first
    later = build(job, mix, mixer_load=mixer_load, casting=2, paces=paces).person_hours
    return (first + (job.castings - 1) * later) / job.castings


def steps_before(process: Process, entry: str) -> list[StepKey]:
    """Returns the steps that are taken as done when a pour is joined at an entry."""
    before: list[StepKey] = []
    if entry == "form":
        return before
    for step in process.steps:
        name = step.key.step
        if name.startswith("mix-face") or (entry == "weigh-off" and name in WEIGH_OFF):
            break
        before.append(step.key)
    return before
