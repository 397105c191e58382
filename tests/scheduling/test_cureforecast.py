"""The cure of a pour: one demould time everywhere, and what moves it."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.climate import Constant
from scheduling.cureforecast import LONGEST_D, STEPS_H, cure_of
from scheduling.forecast import Setting
from scheduling.heat import WHY_IT_DIFFERS
from scheduling.job import Finish
from scheduling.process import StepKey
from scheduling.sealing import seals, ships
from scheduling.shop import StrengthTest, Timing, TypicalDay
from scheduling.spread import Spread
from scheduling.strengthband import StrengthBand
from scheduling.timeline import Status

HOUR = timedelta(hours=1)
MINUTE = timedelta(minutes=1)
SECOND = timedelta(seconds=1)
SCREEDED = 80
COOL = TypicalDay(12.0, 21.0, time(5), time(15))
LATER = 200
"""A minute of the first day, with everything under its blanket."""


@pytest.fixture(scope="session")
def cast(sprayed, shop):
    """Makes a bare pour in a cool shop, screeded at minute 80 and covered."""

    def made(*, day=COOL, blankets=True, **options):
        pour = sprayed(shop=replace(shop, climate=day), **options)
        pour.step("screed", 74, SCREEDED)
        pour.step("cover", 84, 88)
        if blankets:
            pour.add("skipped", 94, "green-trim")
            pour.step("blankets", 95, 100)
        return pour

    return made


def cure(pour, minutes=LATER, **options):
    state, timeline = pour.state, pour.timeline(minutes)
    setting = pour.forecaster.setting(state)
    return cure_of(state, timeline, setting, at=pour.at(minutes), **options)


def marks(found):
    return {mark.what: mark for mark in found.marks}


def rows(found):
    return {row.cover: row for row in found.what_if}


class TestAgreement:
    def test_there_is_one_demould_time(self, cast):
        pour = cast()
        timeline = pour.timeline(LATER)
        found = marks(cure(pour))["demould"]
        assert found.at == timeline.demould == timeline.span(StepKey("cure")).opens
        assert found.standing == timeline.span(StepKey("cure")).standing
        assert "heat balance, indicative" in found.standing
        bells = [one for one in pour.alerts(LATER) if one.kind == "demould-ready"]
        hours = pour.forecaster.setting(pour.state).hours
        assert bells[0].due == hours.next_open(found.at.p50)
        assert found.words == "18 h at 21 °C"

    @pytest.mark.parametrize("energy", [None, 34.0, 50.0])
    def test_with_a_learned_energy_too(self, sprayed, shop, energy):
        timing = Timing("demould", "M1", Spread(17 * 60.0, 0.2), 9, energy)
        pour = sprayed(shop=replace(shop, climate=COOL, timings=(timing,)))
        pour.step("screed", 74, SCREEDED)
        pour.step("cover", 84, 88)
        pour.step("blankets", 95, 100)
        found = cure(pour)
        ready = pour.timeline(LATER).demould
        assert marks(found)["demould"].at == ready
        assert abs(rows(found)["blanket"].demould_at - ready.p50) < MINUTE
        bells = [one for one in pour.alerts(LATER) if one.kind == "demould-ready"]
        hours = pour.forecaster.setting(pour.state).hours
        assert bells[0].due == hours.next_open(ready.p50)
        run = pour.timeline(LATER).cast.at_energy(energy)
        assert run.elapsed(pour.at(SCREEDED), ready.p50) == pytest.approx(17 * 60)

    def test_every_mark_is_a_span_of_the_timeline(self, cast, jobs):
        pour = cast(job=replace(jobs["bare"], finish=Finish(sealer="epoxy")))
        timeline = pour.timeline(LATER)
        found = marks(cure(pour))
        assert list(found) == ["demould", "hone", "slurry", "seal", "ship"]
        assert found["hone"].at == timeline.span(StepKey("hardening")).opens
        assert found["slurry"].at == timeline.span(StepKey("slurry age")).opens
        assert found["seal"].at == seals(timeline)
        setting = pour.forecaster.setting(pour.state)
        assert found["ship"].at == ships(timeline, setting.mix(pour.state.job))
        assert "film age 5 d" in found["seal"].words
        assert all(mark.standing for mark in found.values())

    def test_a_job_without_slurry_waits_for_none(self, cast, jobs):
        plain = replace(jobs["bare"], finish=Finish("acid", grits=0, slurry=0))
        found = marks(cure(cast(job=plain)))
        assert list(found) == ["demould", "hone", "seal", "ship"]
        assert found["hone"].words == "3 d at 21 °C"

    def test_the_points_have_the_threshold_s_age_at_its_time(self, cast):
        found = cure(cast())
        ready = marks(found)["demould"].at.p50
        before = [point for point in found.points if point.at <= ready][-1]
        after = next(point for point in found.points if point.at > ready)
        assert before.equivalent_age_h <= 18 <= after.equivalent_age_h

    def test_the_row_of_what_lies_there_is_the_forecast(self, cast):
        found = cure(cast())
        assert found.cover == "blanket"
        ready = marks(found)["demould"].at.p50
        assert abs(rows(found)["blanket"].demould_at - ready) < MINUTE

    @pytest.mark.parametrize("cover", ["open", "plastic", "blanket", "heated tent"])
    @pytest.mark.parametrize("low", [2.0, None])
    def test_supposed_it_is_the_row(self, cast, cover, low):
        pour = cast()
        row = rows(cure(pour, low_c=low)).get(cover)
        found = cure(pour, low_c=low, cover=cover)
        assert found.cover == cover
        if row is not None:
            assert abs(marks(found)["demould"].at.p50 - row.demould_at) < MINUTE
        assert abs(rows(found)[cover].demould_at - marks(found)["demould"].at.p50) < (
            MINUTE
        )

    def test_tries_count_in_every_row(self, cast):
        pour = cast()
        tried = 23 * 60
        pour.add("touch", tried, "demould", feel="soft")
        found = cure(pour, tried + 5)
        assert marks(found)["demould"].at.p10 > pour.at(tried)
        assert all(row.demould_at > pour.at(tried) for row in found.what_if)

    def test_asking_changes_nothing(self, cast):
        pour = cast()
        before = cure(pour)
        cure(pour, low_c=-5.0, cover="open")
        assert cure(pour) == before


class TestWhatMovesIt:
    def test_a_colder_night_is_later_and_a_blanket_helps(self, cast):
        pour = cast()
        found = [rows(cure(pour, low_c=low)) for low in (14.0, 8.0, 0.0, -8.0)]
        for cover in ("plastic", "blanket"):
            times = [row[cover].demould_at for row in found]
            assert times == sorted(times)
        for row in found:
            order = [row[c].demould_at for c in ("heated tent", "blanket", "plastic")]
            assert order == sorted(order)
        assert [row["plastic"].low_c for row in found] == [14.0, 8.0, 0.0, -8.0]

    @settings(max_examples=10, deadline=None)
    @given(low=st.floats(-10, 12), minutes=st.integers(101, 900))
    def test_at_any_time_of_the_night(self, cast, low, minutes):
        pour = cast()
        plain, cold = (rows(cure(pour, minutes, low_c=c)) for c in (low, low - 2))
        slip = SECOND  # of two roundings
        for cover in plain:
            assert cold[cover].demould_at >= plain[cover].demould_at - slip
            assert cold[cover].coldest_c <= plain[cover].coldest_c + 1e-6
            assert plain[cover].coldest_c <= plain[cover].warmest_c

    def test_readings_move_it_and_undone_ones_do_not(self, cast):
        pour = cast()
        before = cure(pour)
        read = pour.add("reading", LATER - 10, piece_c=15.0)
        after = cure(pour)
        assert after.piece_c < before.piece_c
        assert marks(after)["demould"].at.p50 > marks(before)["demould"].at.p50
        assert after.measured == ((pour.at(LATER - 10), 15.0),)
        pour.add("undone", LATER, event=read.id)
        assert cure(pour) == before

    def test_it_restarts_from_the_newest(self, cast):
        pour = cast()
        for minutes, temp in ((120, 15.0), (180, 26.0)):
            pour.add("reading", minutes, piece_c=temp)
        assert cure(pour, 180).piece_c == pytest.approx(26.0)
        assert cure(pour, 150).piece_c == pytest.approx(20.5)

    def test_a_piece_said_to_lie_open_is_later(self, cast):
        pour = cast()
        before = cure(pour)
        pour.add("uncovered", 120, "cover")
        opened = cure(pour)
        assert opened.cover == "open"
        assert list(rows(opened)) == ["open", "plastic", "blanket", "heated tent"]
        assert marks(opened)["demould"].at.p50 > marks(before)["demould"].at.p50
        pour.add("covered", 130, "cover", **{"with": "heated tent"})
        warm = cure(pour)
        assert warm.cover == "heated tent"
        assert marks(warm)["demould"].at.p50 < marks(opened)["demould"].at.p50

    def test_blankets_that_are_planned_count_and_skipped_ones_do_not(self, cast):
        pour = cast(blankets=False)
        planned = marks(cure(pour))["demould"].at.p50
        pour.add("skipped", LATER - 1, "green-trim")
        pour.add("skipped", LATER, "blankets")
        assert cure(pour).cover == "plastic"
        assert marks(cure(pour))["demould"].at.p50 > planned

    def test_a_respray_before_casting_changes_nothing_after_it(self, cast):
        pour = cast()
        before = marks(cure(pour))["demould"].at
        pour.add("resprayed", 30, "spray", "field")
        assert marks(cure(pour))["demould"].at == before

    def test_the_warmth_of_the_mix_counts(self, cast):
        cold, warm = cast(), cast()
        for pour, temp in ((cold, 12.0), (warm, 28.0)):
            pour.add("reading", SCREEDED - 5, mix_c=temp)
        assert marks(cure(cold))["demould"].at.p50 > marks(cure(warm))["demould"].at.p50


class TestCourse:
    def test_points_run_from_casting_to_the_last_mark(self, cast):
        found = cure(cast())
        times = [point.at for point in found.points]
        assert times[0] == found.cast_at
        assert times == sorted(set(times))
        last = max(mark.at.p50 for mark in found.marks)
        assert times[-1] == last
        assert len(times) <= 300
        assert not any(at.minute % 15 or at.second for at in times[1:-1])
        for before, after in pairwise(times[:-1]):
            age_h = (after - times[0]) / HOUR
            assert after - before <= next(s for h, s in STEPS_H if age_h <= h) * HOUR
        ages = [point.equivalent_age_h for point in found.points]
        strengths = [point.strength_mpa.p50 for point in found.points]
        assert ages[0] == 0
        assert ages == sorted(ages)
        assert strengths == sorted(strengths)

    def test_they_go_no_further_than_a_week(self, cast, jobs, shop):
        mix = replace(shop.mixes["M1"], thresholds={})
        slow = replace(shop, climate=TypicalDay(2.0, 6.0), mixes={"M1": mix})
        pour = cast(job=jobs["bare"], day=slow.climate)
        found = cure(pour)
        assert found.points[-1].at - found.cast_at <= timedelta(days=LONGEST_D)

    def test_now_is_on_the_course(self, cast):
        pour = cast()
        found = cure(pour)
        assert found.age_h == pytest.approx((LATER - SCREEDED) / 60)
        around = [p for p in found.points if abs(p.at - found.at) < HOUR]
        temps = [point.piece_c for point in around]
        assert min(temps) - 0.1 <= found.piece_c <= max(temps) + 0.1
        band = StrengthBand.of(pour.forecaster.setting(pour.state).mix(pour.state.job))
        assert found.strength_mpa == band.at(found.equivalent_age_h)

    def test_in_a_flat_shop_it_is_warmer_than_the_air_and_comes_back_to_it(self, cast):
        found = cure(cast(day=TypicalDay()))
        assert all(point.air_c == 21 for point in found.points)
        assert max(point.piece_c for point in found.points) > 24
        assert min(point.piece_c for point in found.points) > 20.9
        assert found.points[-1].piece_c == pytest.approx(21, abs=0.1)
        ready = marks(found)["demould"].at.p50 - found.cast_at
        assert 8 * HOUR < ready < 18 * HOUR

    def test_one_that_is_not_cast_is_forecast_as_it_is_planned(self, sprayed, shop):
        pour = sprayed(shop=replace(shop, climate=COOL))
        found = cure(pour, 20)
        assert found.cast_at is None
        assert found.age_h == found.equivalent_age_h == 0
        assert found.strength_mpa.p50 == 0
        timeline = pour.timeline(20)
        assert found.points[0].at == timeline.span(StepKey("screed")).finish
        assert marks(found)["demould"].at == timeline.demould
        assert list(rows(found)) == ["plastic", "blanket", "heated tent"]
        assert rows(found)["blanket"].demould_at <= rows(found)["plastic"].demould_at

    def test_one_that_is_done_has_its_history(self, cast):
        pour = cast()
        for step, at in (("back-grind", 1500), ("demould", 1560)):
            pour.step(step, at, at + 20)
        found = cure(pour, 1700)
        assert found.cover == "open"
        assert pour.timeline(1700).span(StepKey("demould")).status is Status.DONE
        assert found.what_if == ()
        mark = marks(found)["demould"]
        assert mark.at.p10 == mark.at.p50 == mark.at.p90 == pour.at(1560)
        assert mark.standing == "as it was done"
        assert "estimate" in marks(found)["hone"].standing
        assert found.points[0].at == found.cast_at
        assert not any("Tonight" in words for words in found.warnings)

    def test_a_sealed_one_was_sealed_when_it_was(self, cast):
        pour = cast()
        pour.step("demould", 1560, 1580)
        pour.step("coat-1", 8000, 8010)
        mark = marks(cure(pour, 8100))["seal"]
        assert mark.at.p10 == mark.at.p90 == pour.at(8000)
        assert mark.standing == "as it was done"

    def test_a_climate_that_is_everywhere_the_same_has_none(self, jobs, shop, monday):
        setting = Setting.of(shop)
        timeline = setting.plan(jobs["bare"], monday, climate=Constant(21))
        assert timeline.cast is None
        demould = timeline.demould.p50 - timeline.span(StepKey("screed")).finish
        assert demould == 18 * HOUR


class TestWords:
    def test_a_cold_night_is_said_as_its_bell_says_it(self, cast):
        pour = cast(day=TypicalDay(1.0, 6.0), blankets=False)
        bell = next(a for a in pour.alerts(LATER) if a.kind == "tonight-cold")
        found = cure(pour)
        assert bell.line in found.warnings
        assert any("may not film" in words for words in found.warnings)

    def test_freezing_before_its_strength_is_said_with_its_source(self, cast):
        pour = cast(day=TypicalDay(-6.0, 4.0))
        found = cure(pour, cover="open")
        freezes = [words for words in found.warnings if "freezes" in words]
        assert len(freezes) == 1
        assert "3.5 MPa stands one freeze (published" in freezes[0]
        warm = cure(cast())
        assert not any("freezes" in words for words in warm.warnings)

    def test_too_warm_and_too_cool_are_said(self, cast):
        hot = cure(cast(day=TypicalDay(38.0, 40.0)))
        assert any("warms to" in words and "45" in words for words in hot.warnings)
        # Not in its first hours, of which another notice speaks.
        pour = cast(day=TypicalDay(16.5, 16.5), blankets=False)
        pour.add("reading", 1300, piece_c=11.5)
        assert any("11.5" in words for words in cure(pour, 1300).warnings)

    def test_the_polymer_s_cure_and_the_books_are_told(self, cast):
        found = cure(cast())
        text = "\n".join(found.explanation)
        assert "stands in for 7 days moist" in text or any(
            "7 days" in words for words in found.warnings
        )
        assert WHY_IT_DIFFERS in found.explanation
        assert "not tested" in text
        assert "earlier the standard wants tests (from memory)" in text
        for book, standing in (
            ("DIN 1045-3 would ask", "published, second hand"),
            ("EN 13670 class 2 would ask", "from memory"),
            ("UFGS-03301 would ask", "published"),
            ("ACI 308 would ask", "from memory"),
            ("ACI 347 would let", "published, second hand"),
        ):
            line = next(words for words in found.explanation if book in words)
            assert f"({standing})" in line

    def test_the_initial_set_is_told_as_a_band(self, cast):
        words = next(one for one in cure(cast()).explanation if "Initial set" in one)
        # Cast at 09:20; by the heat model alone, with a retarder later.
        assert words.startswith("Initial set Mon 1")
        assert ", counted from casting: by the heat model, 12.5 kJ per kg" in words
        assert "(published: NT BUILD 476)" in words
        assert "Indicative" in words
        frozen = cast(day=TypicalDay(-15.0, -15.0), blankets=False)
        frozen.add("reading", SCREEDED, piece_c=-15.0)
        frozen.add("reading", SCREEDED + 600, piece_c=-15.0)
        text = "\n".join(cure(frozen, SCREEDED + 610).explanation)
        assert "Initial set not within 36 h of casting" in text

    def test_a_mix_without_polymer_is_warned_of(self, sprayed, shop):
        mix = replace(shop.mixes["M1"], polymer_pct=0.0)
        pour = sprayed(shop=replace(shop, mixes={"M1": mix}))
        found = cure(pour, 20)
        assert any("7 days moist" in words for words in found.warnings)

    def test_tests_of_the_shop_are_named(self, sprayed, shop):
        tests = (StrengthTest(24.0, 14.0), StrengthTest(72.0, 28.0))
        mix = replace(shop.mixes["M1"], tests=tests)
        found = cure(sprayed(shop=replace(shop, mixes={"M1": mix})), 20)
        assert any("calibrated by 2 tests" in words for words in found.explanation)


class TestFold:
    @pytest.mark.parametrize(
        ("data", "name"),
        [
            ({}, "plastic"),
            ({"with": "blanket"}, "blanket"),
            ({"with": "heated tent"}, "heated tent"),
        ],
    )
    def test_a_piece_is_covered_with_something(self, cast, data, name):
        pour = cast()
        pour.add("covered", 150, "cover", **data)
        pour.add("uncovered", 160, "cover")
        covers = ((pour.at(150), name), (pour.at(160), "open"))
        assert pour.state.piece_covers == covers
        assert not pour.state.covers

    @pytest.mark.parametrize("name", ["straw", 3, None, ["blanket"], {"a": 1}])
    def test_what_nobody_knows_covers_nothing(self, cast, name):
        pour = cast()
        pour.add("covered", 150, "cover", **{"with": name})
        assert pour.state.piece_covers == ()

    def test_undone_it_is_gone_and_they_come_in_the_order_of_time(self, cast):
        pour = cast()
        late = pour.add("covered", 170, "cover", **{"with": "blanket"})
        pour.add("uncovered", 160, "cover")
        assert [name for _, name in pour.state.piece_covers] == ["open", "blanket"]
        pour.add("undone", 180, event=late.id)
        assert [name for _, name in pour.state.piece_covers] == ["open"]

    def test_a_zone_s_plastic_is_no_cover_of_the_piece(self, sprayed):
        pour = sprayed()
        pour.add("covered", 20, "spray", "field")
        assert pour.state.piece_covers == ()
        assert pour.state.covers["field"]
