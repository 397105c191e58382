"""Laws of strength and their inverses, and the band that tests draw closer."""

from __future__ import annotations

from dataclasses import replace
from math import inf, log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.maturity import arrhenius_rate
from scheduling.shop import Mix, StrengthTest
from scheduling.strength import (
    ACI_ROWS,
    CEMENT_CLASSES,
    Aci209,
    Eurocode,
    Exponential,
    Hyperbolic,
)
from scheduling.strengthband import StrengthBand

mpa = st.floats(5, 120)
laws = (
    st.builds(Hyperbolic, mpa, st.floats(5, 200), st.floats(0, 20))
    | st.builds(Exponential, mpa, st.floats(5, 200), st.floats(0.3, 2))
    | st.builds(Eurocode, mpa, st.sampled_from(CEMENT_CLASSES), st.booleans())
    | st.builds(Aci209, mpa, st.sampled_from(list(ACI_ROWS)))
)
ages = st.floats(1, 5000)


class TestLaws:
    @settings(max_examples=200, deadline=None)
    @given(law=laws, age_h=ages, later=ages)
    def test_strength_grows_and_age_is_its_inverse(self, law, age_h, later):
        early, late = sorted((age_h, later))
        strength = law.strength(early)
        assert 0 <= strength <= law.strength(late)
        if strength > 0.01:
            assert law.age(strength) == pytest.approx(early, rel=1e-6)

    @given(law=laws)
    def test_nothing_at_no_age_and_never_the_impossible(self, law):
        assert law.strength(0) == 0
        assert law.age(1e6) == inf

    @pytest.mark.parametrize("bad", [-1, float("nan"), inf])
    @pytest.mark.parametrize(
        "law",
        [
            Hyperbolic(60, 48, 7),
            Exponential(60, 30, 1),
            Eurocode(50, "42.5N"),
            Aci209(50, "I moist"),
        ],
    )
    def test_bad_ages_and_strengths_are_refused(self, law, bad):
        with pytest.raises(ValueError, match="want"):
            law.strength(bad)
        with pytest.raises(ValueError, match="want"):
            law.age(bad)

    @pytest.mark.parametrize(
        ("law", "values"),
        [
            (Hyperbolic, (0, 48, 0)),
            (Hyperbolic, (60, 0, 0)),
            (Hyperbolic, (60, 48, -1)),
            (Exponential, (60, 0, 1)),
            (Exponential, (60, 30, 0)),
            (Exponential, (60, 30, float("nan"))),
            (Eurocode, (201, "42.5N")),
            (Aci209, (float("nan"), "I moist")),
        ],
    )
    def test_bad_constants_are_refused(self, law, values):
        with pytest.raises(ValueError, match="want"):
            law(*values)

    def test_reference_temperatures(self):
        # EN and Model Code 20 degC; ACI 209 and C1074 23 degC (from memory).
        assert Eurocode(50, "42.5N").reference_c == 20
        assert Exponential(60, 30, 1).reference_c == 20
        assert Aci209(50, "I moist").reference_c == 23
        assert Hyperbolic(60, 48).reference_c == 23


MIX = Mix()


def calibrated(*shares):
    """The band of a mix whose tests at 24 h are so many times what its law says."""
    expected = MIX.strength.strength(24 * arrhenius_rate(21, 42, 20))
    tests = tuple(StrengthTest(24, share * expected) for share in shares)
    return StrengthBand.of(replace(MIX, tests=tests))


class TestBand:
    def test_without_tests_it_is_the_law_and_says_so(self):
        band = StrengthBand.of(MIX)
        hours = arrhenius_rate(21, 42, 20)
        assert band.at(18).p50 == pytest.approx(MIX.strength.strength(18 * hours))
        assert band.standing == "shop default: an estimate, not tested"
        assert 14 < band.at(18).p50 < 16
        assert band.at(18).p10 < 12
        assert band.at(18).p90 > 18
        assert band.at(0).p90 == 0

    def test_tests_pull_the_law_to_them(self):
        one, many = calibrated(1.3), calibrated(*[1.3] * 12)
        law = StrengthBand.of(MIX).at(24).p50
        assert law < one.at(24).p50 < many.at(24).p50 < 1.3 * law
        assert many.at(24).p50 == pytest.approx(1.3 * law, rel=0.02)
        assert one.standing == "calibrated by 1 test"
        assert many.standing == "calibrated by 12 tests"

    def test_the_band_narrows_with_tests_but_not_under_their_scatter(self):
        widths = [
            calibrated(*[1.0] * count).at(24).sigma for count in (0, 1, 3, 10, 100)
        ]
        assert widths == sorted(widths, reverse=True)
        assert len(set(widths)) == 5
        assert widths[-1] > 0.08
        wild = calibrated(0.7, 1.0, 1.4, 0.8, 1.25)
        scatter = log(1.4 / 0.7) / 2.6
        assert wild.scatter > scatter > 0.2
        assert wild.at(24).sigma > wild.scatter

    def test_early_and_late_tests_tell_rate_from_scale(self):
        # As strong in the end but twice as fast: early tests stronger, late ones not.
        law = MIX.strength
        hours = arrhenius_rate(21, 42, 20)
        tests = tuple(
            StrengthTest(age_h, law.strength(age_h * hours * 1.3))
            for age_h in (12, 16, 20, 600, 700, 800)
        )
        band = StrengthBand.of(replace(MIX, tests=tests))
        assert band.fit.rate > 0.1
        assert abs(band.fit.scale) < 0.05

    def test_a_cold_test_counts_for_less_age(self):
        cold = replace(MIX, tests=(StrengthTest(24, 15, 8.0),))
        warm = replace(MIX, tests=(StrengthTest(24, 15, 21.0),))
        cold_band, warm_band = StrengthBand.of(cold), StrengthBand.of(warm)
        assert cold_band.at(24).p50 > warm_band.at(24).p50

    def test_tests_before_the_law_starts_are_left_out(self):
        mix = Mix(strength=Hyperbolic(60, 48, 12), tests=(StrengthTest(6, 1),))
        assert StrengthBand.of(mix).tests == 0
        assert StrengthBand.of(mix).at(13).p90 < 10

    @settings(max_examples=150, deadline=None)
    @given(
        law=laws,
        tests=st.lists(
            st.builds(StrengthTest, ages, mpa, st.floats(5, 40)), max_size=5
        ),
        age_h=ages,
        later=ages,
    )
    def test_bands_of_any_mix(self, law, tests, age_h, later):
        band = StrengthBand.of(Mix(strength=law, tests=tuple(tests)))
        early, late = band.at(min(age_h, later)), band.at(max(age_h, later))
        assert 0 <= early.p10 <= early.p50 <= early.p90 < inf
        assert early.p50 <= late.p50 * (1 + 1e-12)

    @settings(max_examples=150, deadline=None)
    @given(law=laws, age_h=ages)
    def test_reaching_is_the_inverse(self, law, age_h):
        band = StrengthBand.of(Mix(strength=law))
        strength = band.at(age_h).p50
        if 0.1 < strength < 150:
            reached = band.reaches(strength)
            assert reached is None or reached.p50 == pytest.approx(age_h, rel=1e-6)
            assert reached is None or reached.p10 < reached.p50 < reached.p90

    def test_one_case_in_ten_is_where_the_band_says(self):
        band = StrengthBand.of(MIX)
        reached = band.reaches(14)
        early, late = reached.p50 * 0.5, reached.p50 * 2
        # The log-normal through the median keeps the ratio of the two crossings.
        soonest = next(t / 100 for t in range(100, 9000) if band.at(t / 100).p90 >= 14)
        latest = next(t / 100 for t in range(100, 9000) if band.at(t / 100).p10 >= 14)
        assert early < soonest < reached.p50 < latest < late
        ratio = reached.p90 / reached.p10
        assert ratio == pytest.approx(latest / soonest, rel=0.01)

    def test_a_strength_that_never_comes(self):
        band = StrengthBand.of(Mix(strength=Hyperbolic(20, 48)))
        assert band.reaches(25) is None
        with pytest.raises(ValueError, match="want"):
            band.reaches(0)
        with pytest.raises(ValueError, match="want"):
            band.at(-1)
