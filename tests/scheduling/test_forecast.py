"""A pour's process, climate and timeline put together, and kept in between."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from scheduling.climate import Constant
from scheduling.forecast import Forecaster, Setting
from scheduling.pour import PourState
from scheduling.process import StepKey
from scheduling.shop import Mix, Person
from scheduling.timeline import Status


def test_planned_and_forecast_are_one_function(scripted, shop, jobs, monday):
    """A pour that has only begun is forecast as it was planned."""
    plan = Setting.of(shop).plan(jobs["two-legged-desk"], monday)
    seen = scripted(jobs["two-legged-desk"]).timeline(0)
    assert [s.start for s in plan.spans] == [s.start for s in seen.spans]
    assert [s.finish for s in plan.spans] == [s.finish for s in seen.spans]
    assert plan.at is None
    assert Status.NEXT in {s.status for s in seen.spans}


def test_the_hands_of_the_day_go_into_the_process(shop, jobs, monday):
    alone = replace(shop, people=(Person("Ines"),))
    lift = StepKey("lift-1", "field")
    crews = [
        Setting.of(home).process(jobs["bare"], on=monday).step(lift).crew
        for home in (alone, shop)
    ]
    assert crews == [1, 2]


def test_a_closed_day_counts_the_hands_of_the_next_open_one(shop, jobs, monday):
    saturday = monday + timedelta(days=5)
    lift = StepKey("lift-1", "field")
    assert Setting.of(shop).process(jobs["bare"], on=saturday).step(lift).crew == 2


def test_a_mix_the_shop_no_longer_has_is_the_built_in_one(shop, jobs):
    setting = Setting.of(replace(shop, mixes={}))
    assert setting.mix(jobs["bare"]) == Mix("M1")


def test_a_climate_given_replaces_the_typical_day(shop, jobs, monday):
    setting = Setting.of(shop)
    plain = setting.plan(jobs["bare"], monday)
    cold = setting.plan(jobs["bare"], monday, climate=Constant(12, 50, 0))
    assert cold.demould.p50 > plain.demould.p50


def test_the_mix_has_its_own_activation_energy(shop, jobs, monday):
    keen = replace(shop, mixes={"M1": Mix(activation_energy=50.0)})
    cold = Constant(12, 50, 0)
    demould = [
        Setting.of(home).plan(jobs["bare"], monday, climate=cold).demould.p50
        for home in (shop, keen)
    ]
    assert demould[1] > demould[0]


def test_a_pour_without_a_start_has_no_timeline(monday):
    with pytest.raises(ValueError, match="no start on record"):
        Forecaster().timeline(PourState("slab.0401"), monday)


def test_what_did_not_change_is_kept_and_what_did_is_not(sprayed):
    pour = sprayed()
    before = pour.timeline(16)
    assert pour.timeline(17).process is before.process
    pour.touch("soft", 18)
    assert pour.timeline(18).process is before.process
    pour.add("reading", 19, shop_c=15.0)
    assert pour.timeline(19).demould.p50 > before.demould.p50


def test_a_forecaster_that_knew_another_state_gives_the_same_as_a_fresh_one(sprayed):
    used = sprayed()
    used.timeline(16)
    used.add("reading", 16, shop_c=14.0, rh_pct=70.0)
    used.timeline(20)
    used.add("undone", 21, event=used.events[-1].id)
    kept = used.timeline(22)
    fresh = Forecaster().timeline(used.state, used.at(22))
    assert kept.spans == fresh.spans


def test_the_climate_of_a_pour_meets_its_readings(sprayed):
    pour = sprayed()
    pour.add("reading", 16, shop_c=14.0)
    climate = pour.forecaster.climate(pour.state)
    assert climate.air(pour.at(16)).temp_c == pytest.approx(14.0)
    assert climate.air(pour.at(16 + 3 * 1440)).temp_c == pytest.approx(21.0, abs=0.1)
