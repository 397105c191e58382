"""The end of a job: sealing and shipping, and what speaks against a timeline."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.climate import Constant, Measured, Reading
from scheduling.folder import BARE
from scheduling.forecast import Setting
from scheduling.job import SEALERS, Finish
from scheduling.notices import notices, spray_air
from scheduling.process import StepKey
from scheduling.sealing import COATING_C, MISSED, seals, ships
from scheduling.shop import Mix
from scheduling.spread import Spread
from scheduling.thresholds import RECOAT, SEALER_POT_LIFE
from scheduling.timeline import Status
from scheduling.units import Units

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
URETHANE = Finish(sealer="waterborne urethane", coats=2, two_part=True)


@pytest.fixture(scope="session")
def plan(shop, jobs, monday):
    """Plans the bare job, with a finish, mix and climate, from a Monday's opening."""

    def made(finish=None, mix=None, climate=None, units=None):
        job = replace(jobs["bare"], finish=finish or jobs["bare"].finish)
        mix = mix or Mix()
        home = Setting.of(replace(shop, mixes={"M1": mix}))
        air = climate or Constant(21)
        timeline = home.plan(job, monday, climate=air)
        found = notices(timeline, air, job, mix, units or Units())
        return timeline, {one.what: one for one in found}

    return made


def start(timeline, step):
    return timeline.span(StepKey(step)).start


class TestBands:
    def test_a_penetrating_sealer_waits_for_the_drying_alone(self, plan):
        timeline, _ = plan()
        found = seals(timeline)
        drying = timeline.span(StepKey("drying")).opens
        assert found.p50 == start(timeline, "coat-1")
        assert found.p10 == drying.p10 < found.p50 < found.p90 == drying.p90

    def test_a_film_waits_for_its_age_too(self, plan):
        timeline, _ = plan(URETHANE)
        age = timeline.span(StepKey("film age")).opens
        assert seals(timeline).p90 == age.p90
        cast = timeline.span(StepKey("screed")).finish
        assert start(timeline, "coat-1") - cast >= 5 * DAY

    def test_out_of_reach_there_is_no_band(self, plan):
        timeline, _ = plan()
        never = tuple(
            replace(span, opens=None) if span.key.step == "drying" else span
            for span in timeline.spans
        )
        assert seals(replace(timeline, spans=never)) is None

    def test_a_coat_that_is_on_is_certain(self, plan):
        timeline, _ = plan()
        done = tuple(
            replace(span, status=Status.DONE) if span.key.step == "coat-1" else span
            for span in timeline.spans
        )
        found = seals(replace(timeline, spans=done))
        assert found.p10 == found.p50 == found.p90

    def test_shipping_wants_the_wrap_and_the_age(self, plan):
        slow, _ = plan(URETHANE)
        assert ships(slow, Mix()).p50 == slow.span(StepKey("wrap")).finish
        old = Mix(thresholds={"ship": Spread(40 * 1440.0)})
        timeline, _ = plan(mix=old)
        cast = timeline.span(StepKey("screed")).finish
        assert ships(timeline, old).p50 - cast == 40 * DAY

    @settings(max_examples=20, deadline=None)
    @given(temp=st.floats(5, 35), sealer=st.sampled_from(SEALERS))
    def test_bands_are_in_order_for_every_family(self, plan, temp, sealer):
        timeline, _ = plan(Finish(sealer=sealer), climate=Constant(temp))
        for band in (seals(timeline), ships(timeline, Mix())):
            assert band.p10 <= band.p50 <= band.p90
        assert seals(timeline).p50 < ships(timeline, Mix()).p50


class TestToTheEnd:
    @pytest.mark.parametrize("sealer", SEALERS)
    def test_every_family_has_its_windows_up_to_the_wrap(self, plan, sealer):
        timeline, _ = plan(Finish(sealer=sealer, coats=3, two_part=True))
        steps = [span.key.step for span in timeline.spans]
        assert steps[-1] == "wrap"
        for coat in (2, 3):
            wait = timeline.wait_for(StepKey(f"coat-{coat}"))
            assert wait.key.step == f"recoat wait {coat}"
            assert wait.reference_min == RECOAT[sealer][0].p50
            assert wait.opens.p50 < wait.closes.p50
        film = sealer not in ("penetrating", "densifier")
        assert ("film hardening" in steps) is film
        assert sealer in MISSED

    def test_crate_and_delivery_wait_for_their_age(self, shop, jobs, monday):
        job = replace(jobs["bare"], optional=("crate", "install"))
        timeline = Setting.of(shop).plan(job, monday)
        cast = timeline.span(StepKey("screed")).finish
        assert start(timeline, "crate") - cast >= 5 * DAY
        assert start(timeline, "install") >= start(timeline, "crate")


class TestNotices:
    def test_a_good_day_has_only_the_word_about_the_cover(self, plan):
        _, found = plan(URETHANE)
        assert set(found) == {"cure"}
        assert not found["cure"].warns

    def test_each_says_where_it_is_from(self, plan):
        _, found = plan(climate=Constant(8, 90))
        assert {"cold", "dew"} <= set(found)
        assert all(one.standing for one in found.values())

    @pytest.mark.parametrize(
        ("temp", "words"), [(9.9, "may not film"), (12, "12 to 16 h"), (16, "")]
    )
    def test_cold_under_the_cover(self, plan, temp, words):
        _, found = plan(climate=Constant(temp))
        assert ("cold" in found) is bool(words)
        if words:
            assert words in found["cold"].words

    def test_a_cold_night_counts_and_one_after_the_first_day_does_not(
        self, plan, monday
    ):
        # Cold enough for long enough that the piece follows the air under its blanket.
        night = monday + 12 * HOUR
        for at, cold in ((night, True), (night + 2 * DAY, False)):
            temps = (21, -15, -15, -15, -15, 21)
            hours = (Reading(at + 2 * n * HOUR, shop_c=c) for n, c in enumerate(temps))
            _, found = plan(climate=Measured(Constant(21), hours))
            assert ("cold" in found) is cold

    @pytest.mark.parametrize(("polymer", "words"), [(0, "7 days moist"), (4.9, "7 da")])
    def test_a_plain_mix_wants_moist_curing(self, plan, polymer, words):
        _, found = plan(mix=Mix(polymer_pct=polymer))
        assert found["cure"].warns
        assert "will not do" in found["cure"].words
        assert words in found["cure"].words

    def test_a_polymer_mix_wants_its_first_day(self, plan):
        _, found = plan(mix=Mix(polymer_pct=5))
        assert "stands in for 7 days" in found["cure"].words
        slow = Mix(thresholds={"demould": Spread(30 * 60.0)})
        _, found = plan(mix=slow)
        assert "cure" not in found

    @pytest.mark.parametrize(
        ("days", "ages"), [(1.5, "two are a good start"), (4.5, "the label wins")]
    )
    def test_a_film_before_its_age(self, plan, days, ages):
        timeline, _ = plan(URETHANE)
        cast = timeline.span(StepKey("screed")).finish
        early = tuple(
            replace(span, start=cast + days * DAY)
            if span.key.step == "coat-1"
            else span
            for span in timeline.spans
        )
        found = notices(
            replace(timeline, spans=early),
            Constant(21),
            replace(BARE, finish=URETHANE),
            Mix(),
            Units(),
        )
        words = " ".join(one.words for one in found if one.what == "age")
        assert ages in words
        assert ("28" in words) is (days < 4)

    def test_a_young_penetrating_seal_is_said_but_has_no_film(self, plan):
        quick = {"hone": Spread(60.0), "slurry": Spread(60.0), "demould": Spread(60.0)}
        quick |= {"dry to seal": Spread(60.0), "slurry sand-off": Spread(60.0)}
        _, found = plan(mix=Mix(thresholds=quick))
        assert "two are a good start" in found["age"].words

    @pytest.mark.parametrize(("rh", "wet"), [(84, True), (85, True), (80, False)])
    def test_the_dew_point_rule_for_a_piece_as_warm_as_the_air(self, plan, rh, wet):
        _, found = plan(climate=Constant(21, rh))
        assert ("dew" in found) is wet

    def test_a_cold_piece_in_a_warm_room_is_wet(self, plan):
        timeline, found = plan(climate=Constant(21, 60))
        assert "dew" not in found
        timeline, _ = plan(climate=Measured(Constant(21, 60), []))
        at = start(timeline, "coat-1")
        cold = Measured(Constant(21, 60), [Reading(at, piece_c=14)])
        _, found = plan(climate=cold)
        assert "coat 1: surface 14.0 °C" in found["dew"].words

    @pytest.mark.parametrize("family", COATING_C)
    @pytest.mark.parametrize(
        ("air", "unfit"), [((21, 50), False), ((21, 70), True), ((26, 50), True)]
    )
    def test_two_part_films_want_mild_dry_air(self, plan, family, air, unfit):
        finish = Finish(sealer=family, two_part=True)
        _, found = plan(finish, climate=Constant(*air))
        assert ("two-part" in found) is unfit
        _, found = plan(replace(finish, two_part=False), climate=Constant(*air))
        assert "two-part" not in found

    def test_a_missed_recoat_window_says_what_to_do(self, plan):
        # Of so many coats one has to wait over a night, and its window is 6 h.
        timeline, found = plan(Finish(sealer="polyaspartic", coats=10))
        late = [
            span.key.step
            for span in timeline.steps()
            if span.key.step.startswith("coat") and (span.slack_min or 0) < 0
        ]
        assert late
        assert found["recoat"].words.startswith(late[-1].replace("-", " "))
        assert "sand first" in found["recoat"].words
        assert "recoat" not in plan(Finish(sealer="polyaspartic", coats=2))[1]

    def test_us_units_are_spoken(self, plan):
        _, found = plan(climate=Constant(8, 90), units=Units("us"))
        assert "46 °F" in found["cold"].words
        assert "5 °F above the dew point" in found["dew"].words

    def test_what_is_behind_is_left_out(self, plan, jobs):
        timeline, found = plan(climate=Constant(8, 90))
        assert found
        done = tuple(replace(span, status=Status.DONE) for span in timeline.spans)
        over = replace(timeline, spans=done)
        assert notices(over, Constant(8, 90), jobs["bare"], Mix(), Units()) == []


class TestSpraying:
    @pytest.mark.parametrize(
        ("air", "word"),
        [
            ((21, 50, 0), "fine"),
            ((28, 35, 1), "fine"),
            ((32, 30, 1), "caution"),
            ((32, 30, 5), "act"),
        ],
    )
    def test_the_word_follows_the_air(self, plan, air, word):
        timeline, found = plan(climate=Constant(*air))
        spraying = spray_air(timeline, Constant(*air))
        assert spraying.word == word
        assert spraying.uno == pytest.approx(spraying.menzel, rel=0.1)
        assert ("evaporation" in found) is (word != "fine")

    def test_the_worst_zone_counts_and_the_form_is_the_surface(
        self, shop, jobs, monday
    ):
        setting = Setting.of(shop)
        timeline = setting.plan(jobs["two-legged-desk"], monday)
        ends = [s.finish for s in timeline.steps() if s.key.step == "spray"]
        warm = [Reading(at, form_c=21 + n) for n, at in enumerate(ends)]
        climate = Measured(Constant(21), warm)
        assert spray_air(timeline, climate).at == ends[-1]

    def test_condensation_is_no_evaporation(self, plan):
        timeline, _ = plan()
        at = timeline.span(StepKey("spray", "field")).finish
        wet = Measured(Constant(25, 90), [Reading(at, form_c=10)])
        spraying = spray_air(timeline, wet)
        assert (spraying.uno, spraying.menzel, spraying.word) == (0, 0, "fine")

    def test_sprayed_there_is_nothing_to_say(self, sprayed):
        assert spray_air(sprayed().timeline(20), Constant(40, 5, 20)) is None


class TestPotLife:
    @pytest.mark.parametrize("family", SEALER_POT_LIFE)
    def test_of_a_mixed_sealer_rings_at_half_and_four_fifths(
        self, sprayed, jobs, family
    ):
        finish = Finish(sealer=family, coats=2, two_part=True)
        pour = sprayed(replace(jobs["bare"], finish=finish))
        began = 6 * 1440.0
        pour.step("coat-1", began, None)
        rung = [a for a in pour.alerts(began + 1) if a.step == "coat-1"]
        assert {a.kind for a in rung} == {"pot-life"}
        life = SEALER_POT_LIFE[family].p50
        due = [pour.minutes(a.due) - began for a in rung]
        assert due == pytest.approx([0.5 * life, 0.8 * life])
        assert "half the sealer's pot life" in rung[0].line
        pour.add("finished", began + 5, "coat-1")
        assert not [a for a in pour.alerts(began + 6) if a.kind == "pot-life"]

    def test_a_warm_shop_shortens_it(self, sprayed, jobs):
        finish = Finish(sealer="epoxy", coats=1, two_part=True)
        pour = sprayed(replace(jobs["bare"], finish=finish))
        pour.add("reading", 1440, shop_c=31)
        pour.step("coat-1", 1440, None)
        rung = [a for a in pour.alerts(1441) if a.step == "coat-1"]
        assert pour.minutes(rung[0].due) - 1440 == pytest.approx(7.5, abs=0.2)

    def test_one_part_has_none(self, sprayed, jobs):
        pour = sprayed(replace(jobs["bare"], finish=Finish(sealer="acrylic")))
        pour.step("coat-1", 1440, None)
        assert not [a for a in pour.alerts(1441) if a.step == "coat-1"]
