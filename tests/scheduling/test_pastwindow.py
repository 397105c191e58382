"""What a row of paper says of the closing: it has firsts only."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduling.pastwindow import PastWindow
from support.taughtpaper import closings

SPRAYED = datetime(2030, 3, 4, 9, 5, tzinfo=UTC)


def bounds(**touches):
    """Minutes that bound the opening and the closing, from minutes of the touches."""
    row = PastWindow(
        SPRAYED.date(), "M1", "", 21.0, 50.0, 0.0, SPRAYED,
        **{name: SPRAYED + timedelta(minutes=at) for name, at in touches.items()},
    )  # fmt: skip
    return tuple(
        (said.after and said.after.wall_min, said.before and said.before.wall_min)
        for said in row.observations()
    )


@pytest.mark.parametrize(
    ("touches", "closing"),
    [
        # Its own gap of 5 min; without it the usual one of 3.
        ({"last_soft": 20, "first_ready": 25, "first_gone": 57}, (47, 57)),
        ({"first_ready": 25, "first_gone": 57}, (51, 57)),
        ({"first_gone": 57}, (51, 57)),
        # A minute is the least the paper can tell.
        ({"last_soft": 20, "first_ready": 20, "first_gone": 57}, (55, 57)),
        # What was felt later than that counts, of whatever kind.
        ({"first_ready": 25, "first_going_off": 53, "first_gone": 57}, (53, 57)),
        ({"first_ready": 25, "first_going_off": 40, "first_gone": 57}, (51, 57)),
        ({"last_soft": 2, "first_ready": 40, "first_gone": 57}, (40, 57)),
        ({"last_soft": 55, "first_gone": 57}, (55, 57)),
        # Nothing from before the spraying.
        ({"first_gone": 6}, (None, 6)),
        # Never gone: longer than the last of them.
        ({"last_soft": 20, "first_ready": 25}, (25, None)),
    ],
)
def test_first_gone_was_not_gone_two_tests_before(touches, closing):
    assert bounds(**touches)[-1] == closing


def test_an_opening_without_a_soft_touch_is_known_from_one_side():
    """The first ready may be the first touch there was."""
    assert bounds(first_ready=25, first_gone=57)[0] == (None, 25)
    assert bounds(first_gone=57)[0] == (None, 57)


@pytest.mark.parametrize("every", [1, 2, 0], ids=["all", "half", "none"])
def test_closings_of_paper_are_learned_whichever_touches_were_written(every):
    """Forty shops, thirty rows each; when it went off in all, half or none of them."""
    found = closings(np.random.default_rng(15), 40, every)
    sys.stdout.write(f"\n{found}\n")
    assert abs(found.off) < 0.05
    assert 0.7 <= found.covered <= 0.9
