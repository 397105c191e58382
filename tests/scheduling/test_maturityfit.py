"""Fits: what they recover, and what they refuse; reading the tests of a file."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.maturity import arrhenius_rate
from scheduling.maturityfit import (
    FitError,
    fit_constants,
    fit_datum,
    fit_energy,
    fit_hyperbola,
    fit_line,
)
from scheduling.specimencsv import read_specimens

AGES = np.array([0.5, 1, 2, 4, 8, 16])


def strengths(ages, ultimate=60.0, k=0.5, start=0.2):
    return ultimate * k * (ages - start) / (1 + k * (ages - start))


@settings(max_examples=40, deadline=None)
@given(st.floats(10, 120), st.floats(0.05, 5), st.floats(0, 0.4), st.floats(0.01, 100))
def test_exact_data_give_the_constants_back_in_any_unit(ultimate, k, start, unit):
    found = fit_hyperbola(AGES * unit, strengths(AGES, ultimate, k, start))
    assert found.ultimate.value == pytest.approx(ultimate, rel=1e-4)
    assert found.rate.value == pytest.approx(k / unit, rel=1e-4)
    assert found.start.value == pytest.approx(start * unit, abs=1e-4 * unit)
    assert found.residual == pytest.approx(0, abs=1e-3)
    assert found.tests == len(AGES)


@settings(max_examples=30, deadline=None)
@given(st.floats(20, 80), st.floats(0.1, 5))
def test_energy_of_exact_rates_is_theirs(energy, k):
    temps = [8, 23, 38]
    found, r2 = fit_energy(temps, [k * arrhenius_rate(t, energy, 20) for t in temps])
    assert found.value == pytest.approx(energy, rel=1e-9)
    assert (found.error, r2) == (pytest.approx(0, abs=1e-5), pytest.approx(1))


@settings(max_examples=30, deadline=None)
@given(st.floats(-15, 5), st.floats(0.01, 1))
def test_datum_of_exact_rates_is_theirs(datum, slope):
    found, r2 = fit_datum([8, 23, 38], [slope * (t - datum) for t in (8, 23, 38)])
    assert found.value == pytest.approx(datum, abs=1e-6)
    assert (found.error, r2) == (pytest.approx(0, abs=1e-4), pytest.approx(1))


def test_errors_of_a_line_are_those_of_the_textbook():
    # y = x strewn by (1, -2, 1): slope 1, residual variance 6.
    line = fit_line([0, 1, 2], [1, -1, 3])
    assert line.slope.value == pytest.approx(1)
    assert line.slope.error == pytest.approx(3**0.5)
    assert line.intercept.error == pytest.approx((6 * (1 / 3 + 1 / 2)) ** 0.5)
    assert line.r2 == pytest.approx(1 - 6 / 8)


def test_the_datums_error_is_that_of_shifted_rates():
    # To first order the intercept moves with the mean of the rates, by 1 / slope.
    exact = fit_datum([10, 20, 30], [1, 2, 3])[0]
    found = fit_datum([10, 20, 30], [1.01, 1.98, 3.01])[0]
    assert found.value == pytest.approx(exact.value, abs=0.5)
    assert 0.1 < found.error < 1


@pytest.mark.parametrize(
    ("ages", "strength", "says"),
    [
        ([1, 2, 4], [10, 20, 30], "4 ages or more"),
        ([1, 1, 2, 2, 4], [10, 11, 20, 21, 30], "4 ages or more"),
        ([1, 2, 3, 4, 5], [1, 4, 9, 16, 25], "later tests"),
        ([1, 2, 3, 4, 5], [10, 20, 30, 40, 50], "later tests"),
    ],
)
def test_tests_that_do_not_tell_are_refused(ages, strength, says):
    with pytest.raises(FitError, match=says):
        fit_hyperbola(ages, strength)


def test_too_few_or_contrary_temperatures_are_refused():
    test = (list(AGES), list(strengths(AGES)))
    with pytest.raises(FitError, match="3 curing temperatures"):
        fit_constants({8: test, 23: test})
    with pytest.raises(FitError, match="at 23 degC"):
        fit_constants({8: test, 23: ([1, 2], [1, 2]), 38: test})
    slower = {
        t: (AGES, strengths(AGES, k=k)) for t, k in ((8, 1), (23, 0.6), (38, 0.3))
    }
    with pytest.raises(FitError, match="rise with temperature"):
        fit_constants(slower)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.01, 1000), st.floats(0.1, 250)), min_size=4, max_size=12
    )
)
def test_any_tests_are_fitted_or_refused(tests):
    ages, strength = zip(*tests, strict=True)
    try:
        found = fit_hyperbola(ages, strength)
    except FitError:
        return
    assert found.start.value < min(ages)
    assert found.rate.value > 0
    values = (found.ultimate, found.rate, found.start)
    assert all(np.isfinite((one.value, one.error)).all() for one in values)


@pytest.fixture
def read(tmp_path):
    def _read(text):
        path = tmp_path / "tests.csv"
        path.write_text(text, encoding="utf-8")
        return read_specimens(path)

    return _read


class TestSpecimens:
    def test_days_and_megapascals_by_temperature(self, read):
        text = "temp_c,age_d,strength_mpa\n8,1.5,8.6\n8,3,19.6\n23,1,11\n"
        found = read(text).tests
        assert found == {8.0: ([1.5, 3], [8.6, 19.6]), 23.0: ([1], [11])}

    def test_hours_and_psi_and_fahrenheit(self, read):
        text = "Curing temp (°F);Age (h);f'c (psi)\n68;36;1450,377\n"
        (((temp_c, (ages, strength))),) = read(text).tests.items()
        assert (temp_c, ages) == (20.0, [1.5])
        assert strength == [pytest.approx(10, abs=1e-5)]

    @pytest.mark.parametrize(
        "heading",
        ["Equivalent age (h),Strength (N/mm²)", "te [h],Compressive strength, MPa"],
    )
    def test_without_temperatures(self, read, heading):
        heading = heading.replace(" strength, ", " strength ")
        assert read(f"{heading}\n24,10\n48,20\n").tests == {None: ([1, 2], [10, 20])}

    @pytest.mark.parametrize(
        ("text", "want"),
        [
            ("", "an age column"),
            ("age,strength_mpa\n1,10\n", "an age column with its unit"),
            ("age_d,strength\n1,10\n", "a strength column with its unit"),
            ("age_d,age_h,strength_mpa\n1,24,10\n", "one of them"),
            ("age_d,strength_mpa,temp_c,temp_f\n1,10,20,68\n", "one of them"),
            ("age_d,strength_mpa,temp\n1,10,20\n", "its unit"),
            ("age_d,strength_mpa\n", "tests under"),
            ("age_d,strength_mpa\n0,10\n", "above 0"),
            ("age_d,strength_mpa\n-1,10\n", "0 to 3653 d"),
            ("age_d,strength_mpa\n1,nan\n", "a number"),
            ("age_d,strength_mpa\n1,0\n", "0.1 to 250 MPa"),
            ("age_d,strength_mpa\n1,\n", "a number"),
            ("age_d,strength_mpa,temp_c\n1,10,200\n", "-30 to 120"),
        ],
    )
    def test_what_is_wrong_is_told(self, read, text, want):
        with pytest.raises(BadInput) as caught:
            read(text)
        assert want in caught.value.faults[0].want
