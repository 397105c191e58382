"""Power cuts and kills at every call: nothing acknowledged is lost, ever.

The counts are small enough for every run; ``tests/soak/power_cuts.py`` has the long
ones. Deliberate bugs show that the enumeration would notice.
"""

from __future__ import annotations

from contextlib import suppress

import pytest

from scheduling.log import Log
from support.logs import (
    FOLDER,
    SLAB,
    TUB,
    WORKS,
    Day,
    event,
    is_kept,
    kills,
    power_cuts,
)
from support.memorydisk import MUTANTS, Killed, MemoryDisk


@pytest.mark.parametrize("work", ["journals", "seals", "carries_over"])
def test_no_power_cut_loses_what_was_acknowledged(work):
    states, wrong, _, _ = power_cuts(MemoryDisk, work)
    assert wrong == 0
    assert states >= 400


@pytest.mark.parametrize("work", WORKS)
def test_nor_does_a_second_one_in_the_recovery(work):
    _, wrong, second, second_wrong = power_cuts(MemoryDisk, work, every=12, again=7)
    assert (wrong, second_wrong) == (0, 0)
    assert second >= 300  # of the four together 3000 and more


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.__name__)
def test_deliberate_bugs_are_caught(mutant):
    states, wrong, _, _ = power_cuts(mutant, "journals", every=6)
    assert wrong >= states / 10 > 0


@pytest.mark.parametrize("mutant", MUTANTS[:3], ids=lambda mutant: mutant.__name__)
def test_deliberate_bugs_are_caught_when_sealing_too(mutant):
    _, wrong, _, _ = power_cuts(mutant, "seals", every=5)
    assert wrong


def test_the_first_versions_file_survives_a_kill_and_then_a_power_cut():
    """The next program must not trust a name that the dead one did not sync."""
    disk = MemoryDisk()
    day = Day(disk)

    def kill(call, path):
        if call == "sync_folder" and path.name == "before-journal":
            raise Killed

    disk.before = kill
    with suppress(Killed):
        day.carries_over()
    disk.before = lambda _call, _path: None
    Log(FOLDER, disk).append(event(4, pour=TUB))
    assert disk.stamp(FOLDER / f"{SLAB}.json") is None
    assert all(is_kept(left, day.first) for left in disk.crashes())


class TestKills:
    @pytest.mark.parametrize("work", WORKS)
    def test_a_kill_at_any_call_loses_nothing(self, work):
        points, wrong = kills(work)
        assert wrong == []
        assert points["half append"] > 0
        assert points["sync"] > 0

    def test_the_named_points_are_among_them(self):
        sealing, _ = kills("seals")
        mending, _ = kills("mends")
        # Half of a line or of a temporary file, a whole one not yet synced, one that
        # is synced and not yet in its place, in its place and not durable, the
        # journal gone or not yet.
        assert {
            "half append",
            "append",
            "sync",
            "replace",
            "sync_folder",
            "unlink",
        } <= {*sealing}
        assert {"half append", "sync", "replace", "truncate"} <= {*mending}
