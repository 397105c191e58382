"""Time to learn the work of 1,000 pours of ten steps, and to replay it.

Run it: ``PYTHONPATH=. python tests/bench/work.py``. The aim: under 2 s each.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from math import exp

import numpy as np

from scheduling.observation import WorkObservation
from scheduling.pace import learn_work
from scheduling.work import RATES
from scheduling.workbacktest import forecasts, scores

BEGUN = datetime(2026, 3, 2, 8, tzinfo=UTC)
STEPS = [step for step in RATES if not step.startswith("spray-")][:10]
PEOPLE = ("Ines", "Otto", "Bo")


def log_of(rng, pours):
    """Steps of so many pours, one after the other, of a shop with ways of its own."""
    factors = {name: exp(rng.normal(0, 0.2)) for name in (*STEPS, *PEOPLE)}
    said = []
    for number in range(pours):
        at = BEGUN + timedelta(days=number)
        for step in STEPS:
            by = PEOPLE[rng.integers(len(PEOPLE))]
            took = 20 * factors[step] * factors[by] * exp(rng.normal(0, 0.18))
            until = at + timedelta(minutes=took)
            said.append(
                WorkObservation(f"p{number}", at, step, by, 20.0, took, "", until)
            )
            at = until
    return said


def main():
    """Measures and prints."""
    log = log_of(np.random.default_rng(1), 1000)
    began = time.perf_counter()
    learn_work(log)
    print(f"{len(log)} steps learned:  {time.perf_counter() - began:.2f} s")
    began = time.perf_counter()
    found = forecasts(log)
    print(f"{len(found)} steps replayed:  {time.perf_counter() - began:.2f} s")
    for score in scores(found):
        held = "" if score.covered is None else f", holds {100 * score.covered:.0f} %"
        print(f"  {score.way}: off by {score.error_min:.2f} min{held}")


if __name__ == "__main__":
    main()
