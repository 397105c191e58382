"""Numbers from outside, and regression values, for maturity and its fits.

Every case names its standing: published, published second hand, library's own test
(asserted in a public library's tests), oracle (a library computed it here), derived
(arithmetic of the stated formula, no outside authority) or from memory.
"""

from math import log10

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from structuralcodes.codes import ec2_2004, mc2010

from scheduling.maturity import (
    GAS_CONSTANT,
    arrhenius,
    en_1992_1_1,
    freiesleben_hansen_pedersen,
    matured,
    nurse_saul,
)
from scheduling.maturityfit import fit_constants, fit_hyperbola

Q_5000 = 5000 * GAS_CONSTANT / 1000
"""Activation energy, kJ/mol, of the Q = 5000 K that some tables are written in."""

AS_IF_273 = -0.15
"""Added to a temperature, turns our 273.15 into the 273 of those tables, degC."""

MAT_08 = ([28, 34, 30, 24, 20], [4, 4, 8, 8, 24])
"""Temperatures (degC) and hours of a history of two days."""


def reckon(method, temps_c, hours):
    block = (np.array(temps_c, dtype=float), np.array(hours, dtype=float))
    return matured(method, [block])


def rate(method, temp_c):
    return reckon(method, [temp_c], [1]).age_h


@pytest.mark.parametrize(
    ("temp_c", "factor", "within"), [(15, 0.585, 0.001), (35, 1.65, 0.002)]
)
def test_mat_01_published(temp_c, factor, within):
    # Published: NIST monograph of Bentz and Garboczi on cement hydration, text under
    # Table IX: Ea 38.2 kJ/mol, reference 25 degC.
    assert rate(arrhenius(38.2, 25), temp_c) == pytest.approx(factor, abs=within)


def test_mat_02_published_second_hand():
    # Published, second hand: a civil engineering page on the quality control of
    # concrete, 28 d at 15 degC with datum -11: 728 degC d.
    factor = reckon(nurse_saul(-11), [15], [28 * 24]).factor_ch
    assert factor / 24 == pytest.approx(728, abs=1e-9)


def test_mat_03_published_second_hand():
    # Published, second hand: a page on the maturity of concrete, 28 d at 18 degC with
    # datum -11: 19 488 degC h (which convention rounds to 19 800).
    factor = reckon(nurse_saul(-11), [18], [28 * 24]).factor_ch
    assert factor == pytest.approx(19_488, abs=1e-9)


def test_mat_04_from_memory():
    # From memory: a textbook's example after Plowman; the form of its percentage is
    # published second hand. 7 d of 12 h at 20 and 12 h at 10 degC, datum -11.
    factor = reckon(nurse_saul(-11), [20, 10], [84, 84]).factor_ch
    assert factor == pytest.approx(4368, abs=1e-9)
    assert 32 + 54 * log10(factor / 1000) == pytest.approx(66.5, abs=0.1)


def test_mat_05_librarys_own_test():
    # Library's own test: structuralcodes, test_ec2_2004_shrinkage_and_creep.py.
    temps, days = [19, 20, 20, 21, 22, 23], np.array([1, 2, 1, 1, 1, 2])
    age_h = reckon(en_1992_1_1(), temps, days * 24).age_h
    assert age_h / 24 == pytest.approx(8.37986781, abs=1e-7)


def test_mat_06_librarys_own_test():
    # Library's own test: structuralcodes, test_mc2010_creep_and_shrinkage.py.
    age_h = reckon(en_1992_1_1(), [20, 25], [7 * 24, 7 * 24]).age_h
    assert age_h / 24 == pytest.approx(15.7723, rel=1e-5)


MAT_07 = {
    0: 0.367139038,
    5: 0.477835280,
    10: 0.616143358,
    15: 0.787502378,
    20: 0.998124628,
    23: 1.146239388,
    25: 1.255057274,
    30: 1.566243172,
    35: 1.940580224,
    40: 2.387978720,
    60: 5.144807677,
    80: 10.160983522,
}
"""An hour by EN 1992-1-1 B.10. Oracle: structuralcodes 0.7.2, ec2_2004.t_T(T, 1.0)."""


@pytest.mark.parametrize(("temp_c", "worth"), MAT_07.items())
def test_mat_07_oracle(temp_c, worth):
    assert rate(en_1992_1_1(), temp_c) == pytest.approx(worth, abs=1e-9)
    assert ec2_2004.t_T(temp_c, 1.0) == pytest.approx(worth, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 80), st.floats(0, 1000)), min_size=1))
def test_mat_07_oracle_over_drawn_histories(history):
    # Oracle: structuralcodes, EN 1992-1-1 B.10 and Model Code 2010 5.1-85.
    temps, days = map(np.array, zip(*history, strict=True))
    age_d = reckon(en_1992_1_1(), temps, days * 24).age_h / 24
    assert age_d == pytest.approx(ec2_2004.t_T(temps, days), rel=1e-9)
    assert age_d == pytest.approx(mc2010.t_T(temps, days), rel=1e-9)


class TestMat08:
    """One history by every method. Derived; that of EN 1992-1-1 is an oracle's too."""

    @pytest.mark.parametrize(
        ("datum_c", "factor_ch", "age_h"), [(0, 1160, 58.0), (-10, 1640, 54.666667)]
    )
    def test_mat_08_nurse_saul_derived(self, datum_c, factor_ch, age_h):
        found = reckon(nurse_saul(datum_c), *MAT_08)
        assert found.factor_ch == pytest.approx(factor_ch, abs=1e-6)
        assert found.age_h == pytest.approx(age_h, abs=1e-6)

    def test_mat_08_en_1992_oracle(self):
        temps, hours = map(np.array, MAT_08)
        age = reckon(en_1992_1_1(), temps, hours).age_h
        assert age == pytest.approx(59.261365, abs=1e-6)
        assert age == pytest.approx(24 * ec2_2004.t_T(temps, hours / 24), abs=1e-9)

    @pytest.mark.parametrize(
        ("reference_c", "age_h"), [(20, 63.123073), (23, 53.097606)]
    )
    def test_mat_08_arrhenius_derived(self, reference_c, age_h):
        # Q = 5000 K with 0 degC taken as 273 K; ours is 273.15, which moves it 0.1 %.
        temps, hours = map(np.array, MAT_08)
        age = reckon(arrhenius(Q_5000, reference_c), temps, hours).age_h
        assert age == pytest.approx(age_h, rel=1e-3)
        method = arrhenius(Q_5000, reference_c + AS_IF_273)
        age = reckon(method, temps + AS_IF_273, hours).age_h
        assert age == pytest.approx(age_h, abs=1e-6)

    def test_mat_08_freiesleben_hansen_pedersen_derived(self):
        age = reckon(freiesleben_hansen_pedersen(), *MAT_08).age_h
        assert age == pytest.approx(59.461536, abs=1e-6)


@pytest.mark.parametrize(
    ("temp_c", "worth"),
    [
        (-5, 0.068078),
        (0, 0.151142),
        (5, 0.292568),
        (10, 0.497379),
        (15, 0.747653),
        (20, 1),
        (23, 1.149387),
        (25, 1.259219),
        (30, 1.573624),
        (35, 1.952355),
        (40, 2.405615),
        (50, 3.582146),
        (60, 5.208107),
    ],
)
def test_mat_09_derived(temp_c, worth):
    # Derived: the constants 33.5 and 1.47 are from memory; 273.15, reference 20 degC.
    found = rate(freiesleben_hansen_pedersen(), temp_c)
    assert found == pytest.approx(worth, abs=1e-6)


@pytest.mark.parametrize(
    ("reference_c", "temp_c", "worth"),
    [
        (20, 5, 0.398214),
        (20, 10, 0.547169),
        (20, 15, 0.743591),
        (20, 23, 1.188812),
        (20, 30, 1.756277),
        (20, 40, 2.975480),
        (23, 5, 0.334968),
        (23, 10, 0.460265),
        (23, 20, 0.841176),
        (23, 30, 1.477338),
        (23, 40, 2.502902),
    ],
)
def test_mat_10_derived(reference_c, temp_c, worth):
    # Derived: Q = 5000 K with 0 degC taken as 273 K; ours, 273.15, moves it 0.115 % at
    # the most here.
    ours = rate(arrhenius(Q_5000, reference_c), temp_c)
    assert ours == pytest.approx(worth, rel=1.2e-3)
    theirs = rate(arrhenius(Q_5000, reference_c + AS_IF_273), temp_c + AS_IF_273)
    assert theirs == pytest.approx(worth, abs=1e-6)


@pytest.mark.parametrize(
    ("energy", "worths"),
    [
        (33.5, (0.476544, 0.615448, 1.573623, 2.405615)),
        (40, (0.412710, 0.560129, 1.718325, 2.852301)),
        (41.5, (0.399238, 0.548086, 1.753565, 2.966642)),
        (45, (0.369488, 0.520984, 1.838627, 3.251582)),
    ],
)
def test_mat_11_derived(energy, worths):
    # Derived: the formula with 273.15, reference 20 degC.
    for temp_c, worth in zip((5, 10, 30, 40), worths, strict=True):
        assert rate(arrhenius(energy, 20), temp_c) == pytest.approx(worth, abs=1e-6)


FIT_01 = {
    8: {1.5: 8.60, 3: 19.62, 6: 32.00, 12: 43.06, 24: 51.10, 48: 56.11},
    23: {0.75: 11.02, 1.5: 22.50, 3: 34.47, 6: 44.42, 12: 51.24, 24: 55.33},
    38: {0.5: 15.62, 1: 27.37, 2: 37.90, 4: 45.57, 8: 50.36, 16: 53.06},
}
"""Strength (MPa) at ages (d) by curing temperature (degC): derived, exact data of the
constants below with Ea 42 kJ/mol, rounded to 0.01 MPa. No published set was found."""

FIT_01_CONSTANTS = {
    8: (62, 0.201256, 0.70),
    23: (60, 0.500000, 0.30),
    38: (56, 1.137852, 0.16),
}


def specimens():
    return {temp: (list(test), list(test.values())) for temp, test in FIT_01.items()}


def hyperbola(age, ultimate, rate_constant, start):
    grown = rate_constant * (age - start)
    return ultimate * grown / (1 + grown)


def test_fit_01_derived():
    found = fit_constants(specimens())
    for temp_c, (ultimate, k, start) in FIT_01_CONSTANTS.items():
        curve = found.curves[temp_c]
        assert curve.ultimate.value == pytest.approx(ultimate, abs=0.02)
        assert curve.rate.value == pytest.approx(k, rel=0.002)
        assert curve.start.value == pytest.approx(start, abs=0.005)
        assert curve.residual < 0.01
    assert found.energy.value == pytest.approx(42.0, rel=0.002)
    assert found.datum.value == pytest.approx(3.364, abs=0.01)


def test_fit_01_oracle():
    # Oracle: scipy.optimize.curve_fit on the same data; its Ea is 42.007 kJ/mol.
    found = fit_constants(specimens())
    for temp_c, (ages, strengths) in specimens().items():
        against_scipy(found.curves[temp_c], ages, strengths, rel=1e-5)
    assert found.energy.value == pytest.approx(42.007, abs=1e-3)


def against_scipy(curve, ages, strengths, *, rel):
    guess = (1.1 * max(strengths), 1 / np.median(ages), 0.5 * min(ages))
    best, covariance = curve_fit(hyperbola, ages, strengths, p0=guess, maxfev=20_000)
    ours = (curve.ultimate, curve.rate, curve.start)
    for mine, value, error in zip(
        ours, best, np.sqrt(np.diag(covariance)), strict=True
    ):
        # A value next to nothing is known no better than its error.
        near = max(1e-4, 1e-3 * mine.error)
        assert mine.value == pytest.approx(value, rel=rel, abs=near)
        assert mine.error == pytest.approx(error, rel=0.02)


@settings(max_examples=40, deadline=None)
@given(st.floats(20, 90), st.floats(0.05, 5), st.floats(0, 0.5), st.integers(0, 2**31))
def test_fit_oracle_over_drawn_specimens(ultimate, k, start, seed):
    # Oracle: scipy.optimize.curve_fit; tests strewn by 3 %, as strength tests are.
    ages = start + np.array([0.3, 0.6, 1.2, 2.5, 5, 10, 20]) / k
    strewn = 1 + np.random.default_rng(seed).normal(0, 0.03, len(ages))
    strengths = hyperbola(ages, ultimate, k, start) * strewn
    against_scipy(fit_hyperbola(ages, strengths), ages, strengths, rel=1e-3)
