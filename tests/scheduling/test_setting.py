"""Setting times: what must hold, and what is refused."""

from __future__ import annotations

from math import inf, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.hydration import M1_BINDER, HydrationHeat
from scheduling.setting import initial_set, setting_at, setting_from_penetration


@settings(max_examples=50, deadline=None)
@given(st.floats(30, 600), st.floats(1, 10), st.floats(0.5, 2))
def test_readings_on_a_power_law_give_it_back(initial_min, power, share):
    minutes = [initial_min * share * step for step in (0.8, 1, 1.2)]
    found = setting_from_penetration(
        minutes, [3.5 * (at / initial_min) ** power for at in minutes]
    )
    assert found.initial.minutes == pytest.approx(initial_min, rel=1e-6)
    assert found.exponent == pytest.approx(power, rel=1e-6)
    assert found.final.minutes == pytest.approx(
        initial_min * (27.6 / 3.5) ** (1 / power), rel=1e-6
    )


def test_a_set_before_the_first_reading_is_extrapolated_too():
    found = setting_from_penetration([300, 330, 360], [8, 16, 30])
    assert found.initial.extrapolated
    assert not found.final.extrapolated


@pytest.mark.parametrize(
    ("minutes", "resistance", "says"),
    [
        ([1, 2], [1, 2], "3 or more"),
        ([1, 2, 3], [1, 2], "3 or more"),
        ([0, 2, 3], [1, 2, 3], "more than 0"),
        ([1, 2, 3], [1, nan, 3], "more than 0"),
        ([1, 2, inf], [1, 2, 3], "more than 0"),
        ([5, 5, 5], [1, 2, 3], "apart"),
        ([1, 2, 3], [3, 2, 1], "does not grow"),
    ],
)
def test_readings_that_do_not_tell_are_refused(minutes, resistance, says):
    with pytest.raises(ValueError, match=says):
        setting_from_penetration(minutes, resistance)


@settings(max_examples=50, deadline=None)
@given(st.floats(1, 1000), st.floats(0, 40), st.floats(0, 40))
def test_the_band_holds_its_likeliest_and_warmth_shortens_it(minutes, here, there):
    band = setting_at(minutes, here, there)
    assert band.soonest <= band.likeliest <= band.latest
    if there > here:
        assert band.latest <= minutes
    if there == here:
        assert band.soonest == band.latest == minutes


def test_a_setting_time_of_nothing_is_refused():
    for minutes in (0, -1, nan, inf):
        with pytest.raises(ValueError, match="more than 0"):
            setting_at(minutes, 20, 20)


def band(temp_c, hours=48):
    return initial_set(M1_BINDER, [temp_c] * (4 * hours + 1), 0.25)


def test_a_piece_held_at_the_model_s_reference_sets_at_its_ages():
    model = HydrationHeat(M1_BINDER, 1.0)
    assert model.degree(model.age(0.048)) == pytest.approx(0.048)
    assert model.age(1.0) == inf
    soonest, latest = band(21.1)
    assert latest == pytest.approx(model.age(0.15 * 0.32))
    assert model.degree(soonest) * M1_BINDER.heat / 0.85 == pytest.approx(12.5)


@settings(max_examples=30, deadline=None)
@given(st.floats(3, 30), st.floats(1, 10))
def test_warmth_brings_the_set_of_a_piece_forward(temp_c, warmer):
    (soon, late), (sooner, earlier) = band(temp_c), band(temp_c + warmer)
    assert sooner < soon < late
    assert earlier < late


def test_a_set_that_is_not_reached_is_none():
    assert band(20, hours=3) is None
