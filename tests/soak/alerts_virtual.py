"""A1 in full: a hundred seeds of every scenario; run by hand.

python tests/soak/alerts_virtual.py [SEEDS]
"""

from __future__ import annotations

import logging
import sys

from support.alertstory import SCENARIOS, Story


def main(seeds=100):
    logging.disable(logging.WARNING)
    for scenario in SCENARIOS:
        told = [Story(seed, scenario).run() for seed in range(seeds)]
        late = sorted(each for one in told for each in one.lateness)
        print(
            f"A1 {scenario}: {seeds} seeds, {24 * seeds} deadlines, "
            f"{sum(len(one.missed) for one in told)} missed, "
            f"{sum(len(one.doubled) for one in told)} doubled, "
            f"{sum(len(one.early) for one in told)} early, "
            f"{sum(one.unsure for one in told)} rung at once because the clock was "
            f"unsure, "
            f"{sum(one.astride for one in told)} by a clock set after the reboot, "
            f"late p50 {late[len(late) // 2]:.2f} s max {late[-1]:.2f} s",
            flush=True,
        )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
