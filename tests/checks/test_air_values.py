"""Numbers from outside for evaporation, saturation pressure and dew point.

Every case names its standing: published, published second hand, oracle (a library
computed it), derived (arithmetic of the stated formula, no outside authority), from
memory or estimate. The values for Uno's formula are in ``test_clock_values``.
"""

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.air import (
    ACT_KG_M2H,
    CAUTION_KG_M2H,
    LOW_BLEED_SHARE,
    MARGIN_C,
    WETTEST_RH_PCT,
    dew_point,
    evaporating,
    evaporation,
    evaporation_menzel,
    may_coat,
    saturation_pressure,
)

LB_FT2 = 0.45359237 / 0.3048**2
"""kg/m2 in a lb/ft2."""

psychrolib.SetUnitSystem(psychrolib.SI)


def celsius(fahrenheit):
    return (fahrenheit - 32) / 1.8


@pytest.fixture
def oracle_pressure(monkeypatch):
    """Menzel's formula over psychrolib's saturation pressure instead of ours."""
    monkeypatch.setattr(
        "scheduling.air.saturation_pressure",
        lambda temp_c: psychrolib.GetSatVapPres(temp_c) / 1000,
    )


def test_eva_01_nomograph_published_second_hand():
    # Published, second hand: the caption of the ACI nomograph restated on a page about
    # evaporation: 80 F air, 50 %, 87 F concrete, 12 mph: 1.2 kg/m2h, 0.25 lb/ft2h.
    assert evaporation_menzel(31, 27, 50, 19) == pytest.approx(1.2, abs=0.1)
    assert evaporation_menzel(31, 27, 50, 19) / LB_FT2 == pytest.approx(0.25, abs=0.015)
    assert evaporation(31, 27, 50, 19) / LB_FT2 == pytest.approx(0.25, abs=0.015)


@pytest.mark.usefixtures("oracle_pressure")
def test_eva_01x_menzel_derived_over_the_oracle():
    # Derived, with psychrolib's saturation pressure.
    assert evaporation_menzel(31, 27, 50, 19) == pytest.approx(1.190137, abs=1e-6)


def test_eva_01x_us_forms_derived():
    # Derived: the US forms of both formulas give these in lb/ft2h; the rounded
    # constants of the two unit systems differ by 3 % (Uno) and 1.1 % (Menzel).
    assert evaporation(31, 27, 50, 19) == pytest.approx(0.243468 * LB_FT2, rel=0.035)
    ours = evaporation_menzel(31, 27, 50, 19)
    assert ours == pytest.approx(0.236197 * LB_FT2, rel=0.035)


EVA_02 = [
    (20, 20, 50, 0, 0.093195),
    (20, 20, 50, 10, 0.314212),
    (25, 20, 40, 5, 0.389098),
    (30, 30, 30, 20, 1.360371),
    (35, 32, 20, 25, 2.582126),
    (20, 25, 90, 0, -0.040923),
]


@pytest.mark.parametrize(("surface_c", "air_c", "rh_pct", "wind_kmh", "lost"), EVA_02)
@pytest.mark.usefixtures("oracle_pressure")
def test_eva_02_menzel_derived_over_the_oracle(
    surface_c, air_c, rh_pct, wind_kmh, lost
):
    # Derived, with psychrolib's saturation pressure.
    found = evaporation_menzel(surface_c, air_c, rh_pct, wind_kmh)
    assert found == pytest.approx(lost, abs=1e-6)


@pytest.mark.parametrize(("surface_c", "air_c", "rh_pct", "wind_kmh", "lost"), EVA_02)
def test_eva_02_menzel_derived(surface_c, air_c, rh_pct, wind_kmh, lost):
    # Derived; our saturation pressure is another, shorter formula: half a percent.
    found = evaporation_menzel(surface_c, air_c, rh_pct, wind_kmh)
    assert found == pytest.approx(lost, rel=0.005)


EVA_03 = [
    *((70, 70, 70, v, w) for v, w in ((0, 15), (5, 38), (10, 62), (15, 85))),
    *((70, 70, 70, v, w) for v, w in ((20, 110), (25, 135))),
    *((70, 70, rh, 10, w) for rh, w in ((90, 20), (50, 100), (30, 135), (10, 175))),
    *((t, t, 70, 10, w) for t, w in ((50, 26), (60, 43), (80, 77), (90, 110))),
    (70, 50, 70, 10, 125),
    *((t, 40, 100, 10, w) for t, w in ((80, 205), (70, 130), (60, 75))),
    *((70, 40, 50, v, w) for v, w in ((0, 35), (10, 162), (25, 357))),
    (80, 70, 50, 10, 175),
    (60, 70, 50, 10, 45),
    *((90, 90, 10, v, w) for v, w in ((0, 70), (10, 336), (25, 740))),
]
"""Concrete and air in F, RH in percent, wind in mph, thousandths of a lb/ft2h."""


@pytest.mark.parametrize(("concrete_f", "air_f", "rh_pct", "mph", "lost"), EVA_03)
def test_eva_03_lerch_table_from_memory(concrete_f, air_f, rh_pct, mph, lost):
    # From memory: the table of Lerch 1957 (PCA), 26 of its 28 distinct cases; one row,
    # 100 F, misses by 15 % and is left out.
    found = evaporation_menzel(
        celsius(concrete_f), celsius(air_f), rh_pct, mph * 1.609344
    )
    expected = lost / 1000
    assert abs(found / LB_FT2 - expected) <= max(0.115 * expected, 0.004)


def test_eva_03_has_its_26_cases():
    assert len(set(EVA_03)) == 26


@pytest.mark.parametrize(
    ("temp_c", "pascal"), [(20, 2338.80370), (23, 2810.44192), (31, 4495.94123)]
)
def test_esat_01_oracle(temp_c, pascal):
    # Oracle: psychrolib 2.5.0, GetSatVapPres; ours is the Magnus form, 0.4 % off.
    assert psychrolib.GetSatVapPres(temp_c) == pytest.approx(pascal, abs=1e-4)
    assert saturation_pressure(temp_c) * 1000 == pytest.approx(pascal, rel=0.004)


def test_esat_01_magnus_derived():
    assert saturation_pressure(20) * 1000 == pytest.approx(2332.6, abs=0.05)


def test_the_thresholds_of_evaporation():
    # Published: FHWA-HRT-05-038, chapter 5. The half for silica fume: published, second
    # hand. That this material takes the half too is our judgement.
    assert (CAUTION_KG_M2H, ACT_KG_M2H, LOW_BLEED_SHARE) == (0.5, 1.0, 0.5)
    words = [evaporating(lost) for lost in (-0.04, 0.24, 0.25, 0.49, 0.5, 3)]
    assert words == ["fine", "fine", "caution", "caution", "act", "act"]
    words = [evaporating(lost, 1) for lost in (0.49, 0.5, 0.99, 1.0)]
    assert words == ["fine", "caution", "caution", "act"]


@pytest.mark.parametrize(
    ("air_c", "points"),
    [
        (25, (6.2, 10.4, 13.8, 16.7, 19.1, 21.3, 23.2, 25.0)),
        (20, (1.9, 6.0, 9.3, 12.0, 14.4, 16.4, 18.3, 20.0)),
        (15, (-2.4, 1.5, 4.7, 7.3, 9.6, 11.6, 13.4, 15.0)),
        (10, (-6.8, -3.0, 0.1, 2.6, 4.8, 6.7, 8.4, 10.0)),
    ],
)
def test_dew_01_published_second_hand(air_c, points):
    # Published, second hand: the table of a weather station's page (Halesowen).
    for rh_pct, expected in zip(range(30, 101, 10), points, strict=True):
        assert dew_point(air_c, rh_pct) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "expected"),
    [
        (20, 60, 12.007470),
        (23, 50, 12.028409),
        (25, 60, 16.701132),
        (30, 55, 19.975915),
        (10, 80, 6.713005),
        (15, 75, 10.609885),
        (35, 40, 19.384649),
        (21, 65, 14.175608),
    ],
)
def test_dew_02_oracle(air_c, rh_pct, expected):
    # Oracle: psychrolib 2.5.0, GetTDewPointFromRelHum.
    theirs = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100)
    assert theirs == pytest.approx(expected, abs=1e-5)
    assert dew_point(air_c, rh_pct) == pytest.approx(expected, abs=0.02)


@settings(max_examples=100, deadline=None)
@given(air_c=st.floats(1, 45), rh_pct=st.floats(10, 100))
def test_dew_02_oracle_over_the_range(air_c, rh_pct):
    # Oracle: psychrolib. Below 0 degC it gives the frost point over ice, which is
    # another thing: not compared there.
    theirs = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100)
    if theirs > 0.05:
        assert dew_point(air_c, rh_pct) == pytest.approx(theirs, abs=0.06)


def test_dew_03_published_second_hand():
    # Published, second hand: a dew-point chart for coating, US: 70 F and 65 % give
    # 57 F, and a surface to coat only above 62 F; the chart rounds down.
    air_c = celsius(70)
    assert dew_point(air_c, 65) * 1.8 + 32 == pytest.approx(57, abs=1.2)
    coldest_f = (dew_point(air_c, 65) + MARGIN_C) * 1.8 + 32
    assert coldest_f == pytest.approx(62, abs=1.2)
    assert not may_coat(celsius(coldest_f - 0.1), air_c, 65)
    assert may_coat(celsius(coldest_f + 0.1), air_c, 65)


def test_dew_04_published_second_hand():
    # Published, second hand: a glossary page about coatings.
    assert dew_point(30, 55) == pytest.approx(20, abs=0.1)


def test_dew_05_oracle_frost_is_another_thing():
    # Oracle: psychrolib gives -9.92, the frost point over ice; derived: ours, over
    # water, is -11.18.
    assert psychrolib.GetTDewPointFromRelHum(5, 0.30) == pytest.approx(-9.92, abs=0.01)
    assert dew_point(5, 30) == pytest.approx(-11.18, abs=0.01)


def test_the_coating_rule_published_second_hand():
    # Published, second hand: ISO 8502-4 and ISO 12944-7.
    assert (MARGIN_C, WETTEST_RH_PCT) == (3, 85)
    assert not may_coat(40, 15, 85)
    assert may_coat(40, 15, 84.9)
    assert not may_coat(15, 21, 70)  # derived: dew point 15.3 degC
