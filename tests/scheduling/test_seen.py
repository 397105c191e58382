"""Between what waits lay, against the minutes of each mark taken alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from scheduling.seen import seen
from scheduling.sightings import minutes
from support import timings

AT = datetime(2030, 4, 2, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize("shared", [True, False], ids=["face", "hydration"])
def test_each_end_is_on_the_clock_as_it_was_learned(shared):
    one = timings.learned(AT, pours=12)
    if not shared:
        one = replace(one, share=None)
    found = seen(one)
    assert len(found) == 12
    energy = one.energy.p50
    share = one.share.p50 if one.share else None
    for weighed, ends in zip(one.seen, found, strict=True):
        said = weighed.said
        assert ends.pour == said.pour
        assert ends.odd == weighed.odd
        for mark, end in ((said.after, ends.low), (said.before, ends.high)):
            if mark is None:
                assert end is None
            else:
                assert end == pytest.approx(minutes(mark, energy, share))


def test_of_nothing_seen_there_is_nothing():
    assert seen(timings.learned(AT, pours=0)) == ()
