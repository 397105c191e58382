"""What a pour's lessons cost, cold; run on demand.

``PYTHONPATH=.:tests python tests/bench/lessons.py``. Printed are the best and the
median of some rounds for pours of the sample jobs with every step marked: their
lessons, and the fold before them.
Nothing is kept from one round to the next but what the program itself keeps.
"""

from __future__ import annotations

from dataclasses import replace
from statistics import median
from time import perf_counter

from conftest import MONDAY, Scripted
from scheduling.folder import SAMPLE_SHOP, sample_jobs, samples
from scheduling.folding import fold
from scheduling.forecast import Setting
from scheduling.jobfile import read_job
from scheduling.lessons import lessons
from scheduling.shopfile import read_shop

ROUNDS = 40


def marked(job, shop):
    """A pour done as it was planned, its zones touched and its demould tried."""
    plan = Setting.of(shop).plan(job, MONDAY)
    pour = Scripted(job, shop)
    for span in sorted(plan.steps(), key=lambda span: span.start):
        pour.step(
            span.key.step,
            pour.minutes(span.start),
            pour.minutes(span.finish),
            span.key.zone,
        )
    for zone in plan.process.zones:
        wait = next(s for s in plan.spans if s.window and s.key.zone == zone)
        opened = pour.minutes(wait.opens.p50)
        pour.touch("soft", opened - 4, zone)
        pour.touch("ready", opened - 1, zone)
    ready = pour.minutes(plan.demould.p50)
    pour.add("touch", ready - 60, "demould", feel="soft")
    pour.add("touch", ready, "demould", feel="ready", first_possible=True)
    for hour in range(0, 30, 6):
        pour.add("reading", 60 * hour, shop_c=20.0, form_c=19.0)
    return pour.events


def told(seconds):
    return f"{1000 * min(seconds):.1f} / {1000 * median(seconds):.1f} ms"


def main():
    shop = replace(read_shop(samples() / SAMPLE_SHOP), zone="UTC")
    for path in sample_jobs():
        job = read_job(path)
        events = marked(job, shop)
        taken, folding = [], []
        for _ in range(ROUNDS):
            begun = perf_counter()
            state = fold("bare.0401", events)
            folded = perf_counter()
            found = lessons(state)
            taken.append(perf_counter() - folded)
            folding.append(folded - begun)
        print(
            f"{job.id}: {len(events)} events, {len(found.windows)} waits, "
            f"{len(found.work)} steps: {told(taken)}, fold {told(folding)}"
        )


if __name__ == "__main__":
    main()
