"""Learned windows at length: ``PYTHONPATH=.:tests python tests/soak/timings.py``."""

from __future__ import annotations

import numpy as np

from support.taught import Truth, outdoor_day
from support.taughtcounts import (
    against_truth,
    calibration,
    covered_by_zones,
    recovered,
)
from support.taughtpaper import closings


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
    for together in (0.0, 0.5, 0.8):
        for zones in (3, 6):
            share = covered_by_zones(
                np.random.default_rng(3), 1000, 10, zones, together
            )
            print(
                f"10 pours of {zones} zones correlated {together}: 80 % intervals hold "
                f"{100 * share:.1f} % of 10000"
            )
    print("demould, 60 pours:", recovered("demould", Truth(1100, 0.08), 60, 250))
    for count in (50, 200, 400):
        found = recovered(
            "face opens", Truth(24, 0.12, share=0.45), count, 100, days=outdoor_day
        )
        print(f"face opens, {count} pours at 5 to 32 degC: {found}")
    for every, rows in ((1, "all"), (2, "half"), (0, "none")):
        found = closings(np.random.default_rng(4), 400, every)
        print(f"30 rows of paper, going off written in {rows}: {found}")
    # How much a shop differs from day to day is an assumption: three of them.
    for day in (0.1, 0.12, 0.15):
        found = against_truth(np.random.default_rng(2), 400, 25, day)
        print(f"{100 * day:.0f} % from day to day: {found}")


if __name__ == "__main__":
    main()
