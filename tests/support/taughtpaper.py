"""The paper of invented shops: firsts only, felt every three minutes until gone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from math import exp

import numpy as np

from scheduling.pastwindow import PastWindow
from scheduling.shop import Shop
from scheduling.timings import learn_windows
from support.taught import FIRST_DAY, TEST_EVERY_MIN, Truth, some_day, speed

GOING_OFF = 0.85
"""Of the time until it is gone, the share after which it goes off."""

HELD_OUT = 50
"""True closings after the learning by which a shop is judged."""


def paper(rng, opens, closes, rows, going_off_every):
    """Rows of a shop's paper.

    Args:
        rng: Randomness.
        opens: The truth of the opening.
        closes: That of the closing.
        rows: How many.
        going_off_every: Every so many rows have when it first went off; 0 is none.
    """
    for number in range(rows):
        day, sprayed = some_day(rng), FIRST_DAY + timedelta(days=7 * number)
        wait = opens.p50 * exp(opens.day * rng.normal()) / speed(opens, day)
        gone = closes.p50 * exp(closes.day * rng.normal()) / speed(closes, day)
        felt = np.arange(rng.uniform(0, TEST_EVERY_MIN), gone + 4, TEST_EVERY_MIN)
        touches = {
            "last_soft": felt[felt < wait][-1:],
            "first_ready": felt[felt >= wait][:1],
            "first_gone": felt[felt >= gone][:1],
        }
        if going_off_every and number % going_off_every == 0:
            touches["first_going_off"] = felt[felt >= GOING_OFF * gone][:1]
        if gone <= 1.2 * wait:
            continue  # no window at all: nobody would have kept the piece
        yield PastWindow(
            sprayed.date(), "M1", "", day.temp_c, day.rh_pct, day.wind_kmh, sprayed,
            **{
                name: sprayed + timedelta(minutes=round(at[0]))
                for name, at in touches.items()
                if len(at)
            },
        )  # fmt: skip


@dataclass(frozen=True)
class OfPaper:
    """How the closings of many shops were learned from their paper."""

    off: float
    covered: float

    def __str__(self):
        return (
            f"closing learned {100 * self.off:+.1f} % off, 80 % bands hold "
            f"{100 * self.covered:.0f} % of true closings"
        )


def closings(rng, shops, going_off_every, rows=30):
    """Learns the closings of shops whose face coat closes after 45 minutes.

    Args:
        rng: Randomness.
        shops: How many.
        going_off_every: Every so many rows have when it first went off; 0 is none.
        rows: Of the paper of each.
    """
    opens, closes = Truth(18, 0.12, 42, 0.4), Truth(45, 0.12, 42, 0.5)
    off, covered = [], []
    for _ in range(shops):
        said = [
            one
            for row in paper(rng, opens, closes, rows, going_off_every)
            for one in row.observations()
        ]
        _, learned = learn_windows(said, Shop())
        off.append(learned.learned.p50 / closes.p50 - 1)
        clock = Truth(1, 1, learned.energy.p50, learned.share.p50)
        for _ in range(HELD_OUT):
            day = some_day(rng)
            gone = closes.p50 * exp(closes.day * rng.normal()) / speed(closes, day)
            run = gone * speed(clock, day)
            covered.append(learned.learned.p10 <= run <= learned.learned.p90)
    return OfPaper(float(np.mean(off)), float(np.mean(covered)))
