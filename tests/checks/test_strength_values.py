"""Strength laws held against numbers from outside; every case names its standing.

published, published second hand, library's own test, oracle (a library computed it),
derived (arithmetic of the stated formula) or from memory.
"""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from pathlib import Path
from statistics import fmean, median, stdev

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from structuralcodes.codes import ec2_2004, mc2010

from scheduling.strength import (
    ACI_ROWS,
    CEMENT_CLASSES,
    SLOPES,
    Aci209,
    Eurocode,
    Exponential,
    Hyperbolic,
)

DATA = Path(__file__).parent / "data"


def days(law, day):
    return law.strength(24 * day)


@pytest.mark.parametrize(
    ("day", "share"),
    [
        (9, 0.8261668305331398),
        (27, 0.995422968073841),
        (56, 1.075970779425791),
        (365, 1.198124627036262),
    ],
)
def test_str_01_library_test(day, share):
    # Library's own test: fib structuralcodes, tests of ec2_2004 property development,
    # s = 0.25.
    law = Eurocode(100, "42.5N")
    assert days(law, day) / 100 == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize(
    ("cement", "shares"),
    [
        ("52.5R", (0.423881847, 0.662980240, 0.818730753, 0.920495918)),
        ("42.5N", (0.342023560, 0.598240390, 0.778800783, 0.901627883)),
        ("32.5N", (0.195778571, 0.457984849, 0.683861409, 0.854361260)),
    ],
)
def test_str_02_oracle(cement, shares):
    # Oracle: structuralcodes 0.7.2, ec2_2004.beta_cc(t, s) with s = 0.20, 0.25, 0.38.
    for day, share in zip((1, 3, 7, 14), shares, strict=True):
        law = Eurocode(100, cement)
        assert days(law, day) / 100 == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize(
    ("day", "mean_28d", "share"), [(7, 38, 0.683861409), (3, 70, 0.662980240)]
)
def test_str_03_oracle(day, mean_28d, share):
    # Oracle: structuralcodes 0.7.2, mc2010.beta_cc(t, fcm, "32.5 N"); the second shows
    # that above 60 MPa every class takes s = 0.20.
    law = Eurocode(mean_28d, "32.5N", model_code=True)
    assert days(law, day) / mean_28d == pytest.approx(share, abs=1e-9)


def test_only_the_model_code_has_the_rule_above_60():
    assert Eurocode(60, "32.5N", model_code=True).slope == 0.38
    assert Eurocode(60.1, "32.5N", model_code=True).slope == 0.20
    assert Eurocode(70, "32.5N").slope == 0.38


@settings(max_examples=200, deadline=None)
@given(st.floats(0.05, 3650), st.floats(5, 120), st.sampled_from(CEMENT_CLASSES))
def test_eurocode_oracle(day, mean_28d, cement):
    # Oracle: structuralcodes over drawn inputs.
    ours = days(Eurocode(mean_28d, cement), day) / mean_28d
    assert ours == pytest.approx(float(ec2_2004.beta_cc(day, SLOPES[cement])), rel=1e-9)
    name = f"{cement[:-1]} {cement[-1]}"
    theirs = float(mc2010.beta_cc(day, mean_28d, name))
    ours = days(Eurocode(mean_28d, cement, model_code=True), day) / mean_28d
    assert ours == pytest.approx(theirs, rel=1e-9)


ACI = {
    "I moist": {
        3: 0.458015,
        7: 0.703518,
        14: 0.880503,
        28: 1.007194,
        56: 1.085271,
        91: 1.118623,
    },
    "III moist": {3: 0.592885, 7: 0.800915, 14: 0.922266, 28: 0.997862},
    "I steam": {1: 0.512821, 3: 0.779221, 7: 0.915033},
    "III steam": {1: 0.595238, 3: 0.824176, 7: 0.925926},
}


@pytest.mark.parametrize("row", ACI_ROWS)
def test_str_04_derived(row):
    # Derived from constants that are from memory. At 28 d it is not 1, and must not be.
    for day, share in ACI[row].items():
        assert days(Aci209(100, row), day) / 100 == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize(
    ("row", "printed"),
    [
        ("I moist", {3: 0.46, 7: 0.70, 14: 0.88, 28: 1.0, 56: 1.08, 91: 1.12}),
        ("III moist", {3: 0.59, 7: 0.80, 14: 0.92, 28: 1.0}),
    ],
)
def test_str_04_from_memory(row, printed):
    # From memory: the rounded table of ACI 209; 1.0 stands at 28 d for 1.007.
    for day, share in printed.items():
        assert days(Aci209(100, row), day) / 100 == pytest.approx(share, abs=0.0076)


def test_str_05_derived():
    law = Hyperbolic(60, half_after_h=48, starts_h=7.2)
    expected = {1: 15.555556, 2.3: 30.0, 3: 34.468085, 7: 46.206897, 28: 55.959596}
    for day, mpa in expected.items():
        assert days(law, day) == pytest.approx(mpa, abs=1e-6)


def test_str_06_derived():
    law = Exponential(60, tau_h=28.8, shape=0.8)
    expected = {
        1: 18.865098,
        1.2: 22.072766,
        3: 37.110309,
        7: 47.012513,
        28: 55.361113,
    }
    for day, mpa in expected.items():
        assert days(law, day) == pytest.approx(mpa, abs=1e-6)


MIX = (
    "cement",
    "slag",
    "fly_ash",
    "water",
    "superplasticizer",
    "coarse",
    "fine",
)


def rows():
    """The rows of the Yeh set (published data), as numbers."""
    text = (DATA / "yeh_concrete_strength.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return [
        {name: float(value) for name, value in row.items()}
        for row in csv.DictReader(lines)
    ]


YEH = rows()


def mixes():
    """Ages and strengths of each mix."""
    found = defaultdict(list)
    for row in YEH:
        mix = tuple(row[name] for name in MIX)
        found[mix].append((row["age_d"], row["strength_mpa"]))
    return found


class TestYeh:
    # Published data (Yeh 1998); the statistics are derived from it.

    def test_sums(self):
        sums = {name: sum(row[name] for row in YEH) for name in YEH[0]}
        assert sums == pytest.approx(
            {
                "cement": 289602.9,
                "slag": 76112.7,
                "fly_ash": 55814.0,
                "water": 187014.3,
                "superplasticizer": 6390.8,
                "coarse": 1002106.5,
                "fine": 796787.9,
                "age_d": 47032,
                "strength_mpa": 36892.5,
            },
            abs=0.05,
        )

    def test_strengths_and_first_row(self):
        strengths = [row["strength_mpa"] for row in YEH]
        assert len(strengths) == 1030
        assert fmean(strengths) == pytest.approx(35.817961, abs=1e-6)
        assert stdev(strengths) == pytest.approx(16.705742, abs=1e-6)
        assert (min(strengths), max(strengths)) == (2.33, 82.6)
        first = tuple(YEH[0].values())
        assert first == (540, 0, 0, 162, 2.5, 1040, 676, 28, 79.99)
        assert len(YEH) - len({tuple(row.values()) for row in YEH}) == 25

    def test_ages_and_mixes(self):
        assert Counter(row["age_d"] for row in YEH) == {
            1: 2,
            3: 134,
            7: 126,
            14: 62,
            28: 425,
            56: 91,
            90: 54,
            91: 22,
            100: 52,
            120: 3,
            180: 26,
            270: 13,
            360: 6,
            365: 14,
        }
        ages = [len({age for age, _ in tests}) for tests in mixes().values()]
        assert len(ages) == 427
        assert sum(count >= 4 for count in ages) == 132
        assert sum(count >= 5 for count in ages) == 93

    def test_str_07(self):
        # Plain cement only; tests of one mix at one age are averaged first.
        ratios = defaultdict(list)
        for mix, tests in mixes().items():
            by_age = defaultdict(list)
            for age, mpa in tests:
                by_age[age].append(mpa)
            means = {age: fmean(found) for age, found in by_age.items()}
            if mix[1] or mix[2] or 28 not in means:
                continue
            for age in (3, 7, 14, 90):
                if age in means:
                    ratios[age].append(means[age] / means[28])
        found = {age: (len(part), fmean(part)) for age, part in ratios.items()}
        expected = {
            3: (22, 0.4945),
            7: (45, 0.6503),
            14: (11, 0.8295),
            90: (23, 1.1917),
        }
        for age, (count, mean) in expected.items():
            assert found[age][0] == count
            assert found[age][1] == pytest.approx(mean, abs=0.001)

    def test_str_07_lies_between_slow_and_ordinary(self):
        # A fair band from outside: measured gain to 28 d sits between class S and N,
        # a little under S at 7 d.
        slow, ordinary = Eurocode(100, "32.5N"), Eurocode(100, "42.5N")
        assert days(slow, 3) / 100 < 0.4945 < days(ordinary, 3) / 100
        assert days(slow, 7) / 100 * 0.95 < 0.6503 < days(ordinary, 7) / 100
        assert days(slow, 14) / 100 * 0.95 < 0.8295 < days(ordinary, 14) / 100

    def test_hyperbola_on_83_mixes(self):
        fits = []
        for tests in mixes().values():
            ages = {age for age, _ in tests}
            if len(ages) < 5 or min(ages) > 3:
                continue
            age, mpa = np.array(tests).T
            (ultimate, k), _ = curve_fit(
                lambda t, su, k: [
                    Hyperbolic(su, 24 / k).strength(24 * one) for one in t
                ],
                age,
                mpa,
                p0=(1.1 * mpa.max(), 0.2),
                bounds=((1, 1e-3), (190, 10)),
            )
            law = Hyperbolic(ultimate, 24 / k)
            left = mpa - [days(law, one) for one in age]
            r2 = 1 - left @ left / ((mpa - mpa.mean()) @ (mpa - mpa.mean()))
            fits.append((ultimate, k, r2))
        assert len(fits) == 83
        for values, expected in zip(
            zip(*fits, strict=True), (51.48, 0.1349, 0.9685), strict=True
        ):
            assert median(values) == pytest.approx(expected, rel=0.02)
