"""The maturity methods: what must hold whatever the history."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.maturity import (
    METHODS,
    arrhenius,
    arrhenius_rate,
    en_1992_1_1,
    equivalent_age,
    freiesleben_hansen_pedersen,
    matured,
    nurse_saul,
)

ALL = (
    nurse_saul(),
    nurse_saul(-10),
    arrhenius(42, 20),
    freiesleben_hansen_pedersen(),
    en_1992_1_1(),
)
each = pytest.mark.parametrize("method", ALL, ids=lambda method: method.name)
temps = st.floats(-30, 120)
histories = st.lists(st.tuples(temps, st.floats(0, 100)), min_size=1, max_size=30)


def reckon(method, history):
    block = tuple(np.array(column) for column in zip(*history, strict=True))
    return matured(method, [block])


def test_every_method_has_its_name():
    assert tuple(dict.fromkeys(method.name for method in ALL)) == METHODS


@each
@settings(max_examples=25, deadline=None)
@given(history=histories, place=st.integers(0, 30), share=st.floats(0, 1))
def test_adds_up_over_any_split(method, history, place, share):
    place = min(place, len(history) - 1)
    temp, hours = history[place]
    first = [*history[:place], (temp, hours * share)]
    rest = [(temp, hours * (1 - share)), *history[place + 1 :]]
    whole, parts = (
        reckon(method, history),
        [reckon(method, one) for one in (first, rest)],
    )
    assert whole.age_h == pytest.approx(sum(one.age_h for one in parts), abs=1e-9)
    if whole.factor_ch is not None:
        total = sum(one.factor_ch for one in parts)
        assert whole.factor_ch == pytest.approx(total, abs=1e-9)
    blocks = [
        tuple(np.array(column) for column in zip(*one, strict=True))
        for one in (first, rest)
    ]
    assert matured(method, blocks).age_h == pytest.approx(whole.age_h, abs=1e-9)


@each
@settings(max_examples=50, deadline=None)
@given(a=st.floats(0, 80), b=st.floats(0, 80))
def test_warmer_is_never_slower(method, a, b):
    low, high = sorted((a, b))
    assert reckon(method, [(low, 1)]).age_h <= reckon(method, [(high, 1)]).age_h


@settings(max_examples=50, deadline=None)
@given(datum=st.floats(-30, 30), below=st.floats(0, 50), hours=st.floats(0, 1000))
def test_nothing_at_or_below_the_datum(datum, below, hours):
    found = reckon(nurse_saul(datum), [(datum - below, hours)])
    assert found.factor_ch == 0


@each
def test_at_the_reference_age_is_clock_time(method):
    found = reckon(method, [(method.constants["reference_c"], 36.0)])
    # EN 1992-1-1 has 0.998 an hour at 20 degC, by its rounded constants.
    rel = 0.002 if method.name == "en-1992-1-1" else 1e-12
    assert found.age_h == pytest.approx(36, rel=rel)


@settings(max_examples=25, deadline=None)
@given(histories)
def test_two_references_differ_by_a_factor(history):
    history = [*history, (20.0, 1.0)]
    ratio = reckon(arrhenius(42, 20), history).age_h
    ratio /= reckon(arrhenius(42, 23), history).age_h
    assert ratio == pytest.approx(1 / arrhenius_rate(20, 42, 23), rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(histories, st.floats(1, 100), st.floats(-30, 60))
def test_arrhenius_for_rows_is_that_for_numbers(history, energy, reference):
    found = reckon(arrhenius(energy, reference), history).age_h
    assert found == pytest.approx(equivalent_age(history, energy, reference), rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.floats(1e-9, 1e-4))
def test_freiesleben_hansen_pedersen_is_continuous_at_20(step):
    method = freiesleben_hansen_pedersen()
    low, high = (reckon(method, [(20 + side, 1)]).age_h for side in (-step, step))
    assert low < 1 < high
    assert high - low < step


def test_en_1992_counts_nothing_outside_its_range_and_says_so():
    found = reckon(en_1992_1_1(), [(-0.1, 3), (0, 1), (80, 1), (80.1, 2)])
    inside = reckon(en_1992_1_1(), [(0, 1), (80, 1)])
    assert found.age_h == inside.age_h
    assert (found.outside_h, inside.outside_h) == (5, 0)


def test_each_method_has_only_the_figures_it_has():
    history = [(25.0, 10.0)]
    assert reckon(nurse_saul(25), history).age_h is None
    assert reckon(nurse_saul(30), history).factor_ch == 0
    for method in ALL[2:]:
        assert reckon(method, history).factor_ch is None


def test_a_reference_below_absolute_zero_is_refused():
    with pytest.raises(ValueError, match="-274"):
        arrhenius(42, -274)
