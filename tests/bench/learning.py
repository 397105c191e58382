"""Time to learn the windows of 1,000 pours, of one more, of none, and to replay 300.

Run it: ``PYTHONPATH=.:tests python tests/bench/learning.py``. The aims: under 2 s,
under 100 ms, under 1 ms, under 10 s.
"""

from __future__ import annotations

import time

import numpy as np
from shops import spread

from scheduling.backtest import backtest
from scheduling.shop import Shop
from scheduling.timings import Windows
from support.taught import drawn, pours, prior_of

NAMES = (
    "face opens", "face closes", "face pot life", "back pot life", "lift 2 opens",
    "green trim opens", "demould", "hone", "slurry", "cover by",
)  # fmt: skip
MORE = 30


def log_of(rng, count):
    """Waits of so many pours, each with every threshold and two zones."""
    return [
        wait.said
        for name in (*NAMES, "face opens", "face closes")
        for wait in pours(rng, drawn(rng, prior_of(name))[0], count, name=name)
    ]


def main():
    """Measures and prints."""
    rng = np.random.default_rng(1)
    log = log_of(rng, 1000 + MORE)
    of_pour = {}
    for said in log:
        of_pour.setdefault(said.pour, []).append(said)
    days = list(of_pour.values())
    past = [said for about in days[:1000] for said in about]
    windows = Windows(Shop())
    began = time.perf_counter()
    windows.add(past)
    windows.learned()
    took = time.perf_counter() - began
    print(f"1,000 pours, {len(past)} waits: {took:.2f} s")
    values = []
    for about in days[1000:]:
        began = time.perf_counter()
        windows.add(about)
        windows.learned()
        values.append((time.perf_counter() - began) * 1000)
    print(f"one more                      {spread(values)}")
    values = []
    for _ in range(MORE):
        began = time.perf_counter()
        windows.add([])
        windows.learned()
        values.append((time.perf_counter() - began) * 1000)
    print(f"nothing more                  {spread(values)}")
    began = time.perf_counter()
    found = backtest(log_of(rng, 300), Shop())
    took = time.perf_counter() - began
    print(f"300 pours replayed, {len(found)} forecasts: {took:.2f} s")


if __name__ == "__main__":
    main()
