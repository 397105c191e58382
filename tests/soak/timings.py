"""Learned windows at length: ``PYTHONPATH=.:tests python tests/soak/timings.py``."""

from __future__ import annotations

import numpy as np

from support.taughtcounts import against_truth, calibration


def main():
    """Draws many shops and prints how well their windows are learned."""
    for name, count, mixes in (
        ("face opens", 5, 1),
        ("face opens", 20, 1),
        ("face closes", 20, 3),
        ("demould", 20, 1),
        ("face opens", 100, 1),
    ):
        found = calibration(np.random.default_rng(1), name, 1000, count, mixes)
        print(f"{name}, {mixes} mixes, {count} pours each: {found}")
    for day in (0.1, 0.12, 0.15):
        found = against_truth(np.random.default_rng(2), 400, 25, day)
        print(f"{100 * day:.0f} % from day to day: {found}")


if __name__ == "__main__":
    main()
