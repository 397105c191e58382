"""Where pours that share a shop get in each other's way."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from scheduling.conflicts import HORIZON, conflicts
from scheduling.forecast import Setting


@pytest.fixture
def setting(shop):
    return Setting.of(shop)


@pytest.fixture
def clashes(setting, jobs, monday):
    """The clashes of some jobs, each with the minute it would begin at."""

    def found(*begun, equipment=None, now=0.0, people=None):
        here = (
            setting
            if people is None
            else Setting.of(replace(setting.shop, people=people))
        )
        timelines = {
            f"{name}.{number}": here.plan(
                jobs[name], monday + timedelta(minutes=minute)
            )
            for number, (name, minute) in enumerate(begun)
        }
        return conflicts(
            timelines,
            hands=here.hours.hands,
            equipment=setting.shop.equipment if equipment is None else equipment,
            now=monday + timedelta(minutes=now),
        )

    return found


def test_one_pour_is_never_in_its_own_way(clashes):
    assert clashes(("two-legged-desk", 0)) == []


def test_two_pours_far_apart_do_not_meet(clashes):
    assert clashes(("bare", 0), ("bare", 240)) == []


def test_two_at_once_want_one_mixer_and_one_gun(clashes):
    found = clashes(("bare", 0), ("bare", 0))
    words = {one.words for one in found}
    assert "2 want the mixer, there is 1" in words
    assert "2 want the gun, there is 1" in words
    assert all(one.pours == ("bare.0", "bare.1") for one in found)


def test_enough_of_everything_leaves_the_hands(clashes):
    plenty = {"mixer": 2, "gun": 2, "table": 2}
    words = {one.words for one in clashes(("bare", 0), ("bare", 0), equipment=plenty)}
    assert words
    assert all(" hands wanted, 2 in" in each for each in words)


def test_clashes_come_in_order_and_end_after_they_begin(clashes):
    found = [
        one
        for one in clashes(("bare", 0), ("bare", 5), ("bare", 10))
        if "table" not in one.words
    ]
    assert [one.start for one in found] == sorted(one.start for one in found)
    assert all(one.start < one.finish for one in found)


def test_what_is_over_or_beyond_a_day_is_no_clash(clashes):
    assert clashes(("bare", 0), ("bare", 0), now=40 * 1440) == []
    later = HORIZON / timedelta(minutes=1) + 24 * 60
    assert not [
        one
        for one in clashes(("bare", later), ("bare", later))
        if "table" not in one.words
    ]


def test_a_table_is_held_from_the_form_to_demould(clashes):
    begun = [("two-legged-desk", 0), ("court-bench", 0)]
    held = [c for c in clashes(*begun, now=150, equipment={}) if "table" in c.words]
    (clash,) = held
    assert clash.words == "2 pours hold a table, there is 1"
    assert set(clash.pours) == {"two-legged-desk.0", "court-bench.1"}
    assert not [
        c
        for c in clashes(*begun, now=150, equipment={"table": 2})
        if "table" in c.words
    ]
    three = [*begun, ("trough-vanity", 0)]
    words = [c.words for c in clashes(*three, now=160, equipment={"table": 2})]
    assert "3 pours hold a table, there are 2" in words


def test_no_pours_no_clashes(clashes):
    assert clashes() == []
