"""Readings as a person types them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.readings import read_readings, say_readings
from scheduling.units import Units

SI, US = Units("si"), Units("us")


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("19.5", {"shop_c": 19.5}),
        ("19,5", {"shop_c": 19.5}),
        ("-3", {"shop_c": -3.0}),
        ("form 18", {"form_c": 18.0}),
        ("FORM 18 mix 22.5", {"form_c": 18.0, "mix_c": 22.5}),
        (
            "20 piece 24 rh 45% wind 3",
            {"shop_c": 20, "piece_c": 24, "rh_pct": 45, "wind_kmh": 3},
        ),
        ("shop 20 shop 21", {"shop_c": 21.0}),
        ("rh 100 wind 0", {"rh_pct": 100.0, "wind_kmh": 0.0}),
    ],
)
def test_reads_pairs_of_a_word_and_a_number(text, values):
    assert read_readings(text, SI) == values


@pytest.mark.parametrize(
    ("text", "values"),
    [
        # Exact by definition: 70 degF is 21.111 degC, a mile 1.609344 km.
        ("70", {"shop_c": 21.111}),
        ("form 32", {"form_c": 0.0}),
        ("wind 10", {"wind_kmh": 16.093}),
        ("rh 45", {"rh_pct": 45.0}),
    ],
)
def test_us_units_are_turned_into_those_of_the_log(text, values):
    assert read_readings(text, US) == pytest.approx(values, abs=0.001)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "warm",
        "form",
        "18 form",
        "form mix 18",
        "18 19",
        "form 18 19",
        "1e3",
        "+18",
        "nan",
        "inf",
        "٢٠",
        "19.5.2",
        "1234",
        "-31",
        "61",
        "mix 61",
        "rh 0",
        "rh 101",
        "rh -5",
        "wind -1",
        "wind 151",
        "20 C",
    ],
)
def test_nonsense_is_refused_whole(text):
    with pytest.raises(BadInput):
        read_readings(text, SI)


def test_the_refusal_says_what_is_wanted():
    with pytest.raises(BadInput, match="rh between 1 and 100"):
        read_readings("rh 101", SI)
    with pytest.raises(BadInput, match="one of shop, form, mix, piece, rh, wind"):
        read_readings("roof 20", SI)


@settings(max_examples=80, deadline=None)
@given(text=st.text(max_size=20))
def test_whatever_is_typed_is_read_or_refused(text):
    try:
        values = read_readings(text, SI)
    except BadInput:
        return
    assert values
    assert all(-30 <= value <= 150 for value in values.values())


def test_said_in_the_user_s_units():
    values = {"shop_c": 20.0, "rh_pct": 45.0, "wind_kmh": 5.0}
    said = say_readings(values, SI)
    assert said.startswith("shop 20")
    assert "rh 45 %" in said
    assert "wind 5" in said
    assert "68" in say_readings(values, US)
    assert say_readings({}, SI) == ""
