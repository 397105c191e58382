"""What a pour teaches: marks on clocks worked out by hand, and what is left out."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.air import evaporation
from scheduling.climate import Constant
from scheduling.clocks import COVERED_EXPOSURE, Clock
from scheduling.folding import fold
from scheduling.job import Finish
from scheduling.laws import (
    CLOSE_SHARE,
    OPEN_SHARE,
    Face,
    Hydration,
    fog_credit_minutes,
)
from scheduling.lessons import FIRST_POSSIBLE, lessons
from scheduling.observation import ENERGIES, Lessons
from scheduling.pour import PourState
from scheduling.shop import Pace, Timing, TypicalDay
from scheduling.spread import Spread
from scheduling.timings import learn_windows

DAY = 24 * 60.0
THRICE = len(ENERGIES)


def waits(pour, name, zone=None):
    found = lessons(pour.state).windows
    return [w for w in found if w.name == name and zone in (None, w.zone)]


def wait(pour, name, zone=None):
    (found,) = waits(pour, name, zone)
    return found


def done(pour, step):
    (found,) = [work for work in lessons(pour.state).work if work.step == step]
    return found


def steady(shop, temp_c, rh_pct=50.0, wind_kmh=0.0):
    return replace(
        shop, climate=TypicalDay(temp_c, temp_c, rh_pct=rh_pct, wind_kmh=wind_kmh)
    )


def read(pour, at=10, **values):
    """Puts a reading into a pour, at the reference unless it says otherwise."""
    whole = {"shop_c": 21.0, "rh_pct": 50.0, "wind_kmh": 0.0}
    pour.add("reading", at, **(values or whole))
    return pour


def by_hand(temp_c, minutes):
    """Minutes by hydration at each energy: Arrhenius, with 21 degC as 1."""
    inverse = 1 / (temp_c + 273.15) - 1 / 294.15
    return [minutes * exp(-kj * 1000 / 8.314 * inverse) for kj in ENERGIES]


def packed(pour):
    """A bare pour, sprayed until 15, felt soft at 27 and ready at 30, rolled at 46."""
    pour.step("mix-back-1", 23, 30)
    pour.touch("soft", 24)
    pour.touch("soft", 27)
    pour.touch("ready", 30)
    pour.step("lift-1", 36, 42, "field")
    pour.step("roll-1", 42, 46, "field")
    return pour


def screeded(pour):
    packed(pour)
    pour.step("lift-2", 61, 66, "field")
    pour.step("screed", 74, 80)
    pour.step("cover", 84, 88)
    return pour


class TestWhatBoundsAnOpening:
    def test_at_the_reference_its_minutes_are_those_on_the_wall(self, sprayed):
        said = wait(packed(sprayed()), "face opens")
        assert (said.zone, said.mix, said.why_not) == ("field", "M1", "")
        assert said.temp_c == pytest.approx(21)
        for mark, minutes in ((said.after, 12), (said.before, 15)):
            assert mark.wall_min == pytest.approx(minutes)
            assert mark.hydration == pytest.approx([minutes] * THRICE)
            assert mark.evaporation == pytest.approx(minutes)

    def test_ready_at_the_first_touch_bounds_it_from_above_alone(self, sprayed):
        pour = sprayed()
        pour.touch("ready", 30)
        said = wait(pour, "face opens")
        assert said.after is None
        assert said.before.wall_min == pytest.approx(15)

    def test_where_nobody_touches_the_start_of_the_step_bounds_it(self, sprayed):
        pour = sprayed()
        pour.step("lift-1", 36, 42, "field")
        said = wait(pour, "face opens")
        assert said.after is None
        assert said.before.wall_min == pytest.approx(21)

    def test_soft_and_then_nothing_is_later_than(self, sprayed):
        pour = sprayed()
        pour.touch("soft", 30)
        said = wait(pour, "face opens")
        assert (said.after.wall_min, said.before) == (pytest.approx(15), None)

    def test_soft_after_ready_is_not_believed(self, sprayed):
        pour = packed(sprayed())
        pour.touch("soft", 33)
        assert wait(pour, "face opens").after.wall_min == pytest.approx(12)

    def test_a_wait_nobody_marked_the_beginning_of_says_nothing(self, scripted):
        pour = scripted()
        pour.step("lift-1", 36, 42, "field")
        assert lessons(pour.state).windows == ()

    def test_a_skipped_origin_says_nothing(self, scripted):
        pour = scripted()
        pour.add("skipped", 5, "spray", "field")
        pour.step("lift-1", 36, 42, "field")
        assert waits(pour, "face opens") == []

    def test_each_zone_has_its_own(self, scripted, jobs):
        pour = scripted(jobs["two-legged-desk"])
        for start, zone in ((0, "left leg"), (10, "top"), (20, "right leg")):
            pour.step("spray", start, start + 5, zone)
            pour.touch("soft", start + 15, zone)
            pour.touch("ready", start + 18, zone)
        found = waits(pour, "face opens")
        assert {said.zone for said in found} == {"left leg", "top", "right leg"}
        assert {round(said.before.wall_min, 3) for said in found} == {13}

    def test_a_respray_counts_from_itself(self, sprayed):
        pour = sprayed()
        pour.touch("gone", 60)
        pour.add("resprayed", 70, "spray", "field")
        pour.touch("soft", 80)
        pour.touch("ready", 84)
        said = wait(pour, "face opens")
        assert said.after.wall_min == pytest.approx(10)
        assert said.before.wall_min == pytest.approx(14)
        assert waits(pour, "face closes")[0].before is None

    def test_any_wait_can_be_felt(self, scripted):
        pour = scripted()
        pour.step("slurry-1", 0, 10)
        pour.add("touch", 200, "sand-1", feel="soft")
        pour.add("touch", 300, "sand-1", feel="ready")
        pour.step("sand-1", 400, 420)
        said = wait(pour, "slurry sand-off")
        assert said.after.hydration == pytest.approx([190] * THRICE)
        assert said.before.hydration == pytest.approx([290] * THRICE)


class TestWhatBoundsAClosing:
    def test_never_seen_it_is_later_than_the_lift(self, sprayed):
        said = wait(packed(sprayed()), "face closes")
        assert said.after.wall_min == pytest.approx(21)
        assert said.before is None

    def test_the_first_gone_bounds_it_from_above(self, sprayed):
        pour = sprayed()
        pour.touch("ready", 35)
        pour.touch("going-off", 50)
        pour.touch("gone", 58)
        said = wait(pour, "face closes")
        assert said.after.wall_min == pytest.approx(35)
        assert said.before.wall_min == pytest.approx(43)

    def test_lift_2_has_both(self, sprayed):
        pour = packed(sprayed())
        pour.add("touch", 60, "lift-2", "field", feel="soft")
        pour.add("touch", 64, "lift-2", "field", feel="ready")
        pour.add("touch", 90, "lift-2", "field", feel="gone")
        opens, closes = wait(pour, "lift 2 opens"), wait(pour, "lift 2 closes")
        assert opens.after.wall_min == pytest.approx(14)
        assert opens.before.wall_min == pytest.approx(18)
        assert closes.after.wall_min == pytest.approx(18)
        assert closes.before.wall_min == pytest.approx(44)

    def test_a_batch_is_counted_once_from_its_mixing(self, sprayed):
        pour = screeded(sprayed())
        pour.add("touch", 70, "mix-back-1", feel="gone")
        found = waits(pour, "back pot life")
        assert [said.at for said in found] == [pour.at(23)]
        assert found[0].after.wall_min == pytest.approx(36 - 23)
        assert found[0].before.wall_min == pytest.approx(70 - 23)
        # The bucket says nothing of the face coat it waits for.
        assert wait(pour, "face opens").before.wall_min == pytest.approx(15)

    def test_cover_and_roll_are_bounded_by_their_step(self, sprayed):
        pour = screeded(sprayed())
        assert wait(pour, "cover by").after.wall_min == pytest.approx(4)
        assert waits(pour, "roll by") == []  # rolled the moment it was placed

    @pytest.fixture
    def coats(self, jobs):
        finish = Finish(sealer="waterborne urethane", coats=2, two_part=True)
        return replace(jobs["bare"], finish=finish)

    def test_a_coat_and_its_pot_are_told_apart(self, scripted, coats):
        pour = scripted(coats)
        pour.step("coat-1", 0, 20)
        pour.add("touch", 100, "coat-2", feel="soft")
        pour.add("touch", 150, "coat-2", feel="ready")
        pour.add("started", 160, "coat-2")
        pour.add("touch", 250, "coat-2", feel="gone")
        opens = wait(pour, "recoat opens")
        assert opens.mix == "waterborne urethane"
        assert opens.after.wall_min == pytest.approx(80)
        assert opens.before.wall_min == pytest.approx(130)
        assert wait(pour, "recoat closes").before is None
        first, second = waits(pour, "sealer pot life")
        assert (first.after.wall_min, first.before) == (pytest.approx(20), None)
        assert (second.after, second.before.wall_min) == (None, pytest.approx(90))


class TestDemould:
    def tried(self, sprayed, *tries):
        pour = screeded(sprayed())
        for hour in range(0, 30, 2):  # a probe has the piece at the reference
            pour.add("reading", 80 + 60 * hour, piece_c=21.0)
        for minutes, feel, data in tries:
            pour.add("touch", 80 + minutes, "demould", feel=feel, **data)
        return pour

    def test_not_ready_and_ready_bracket_it(self, sprayed):
        first = {"first_possible": True}
        pour = self.tried(sprayed, (900, "soft", {}), (1000, "ready", first))
        said = wait(pour, "demould")
        assert said.after.hydration == pytest.approx([900] * THRICE, rel=1e-4)
        assert said.before.hydration == pytest.approx([1000] * THRICE, rel=1e-4)
        assert said.temp_c == pytest.approx(21)

    @pytest.mark.parametrize("data", [{"first_possible": False}, {}])
    def test_ready_when_tried_is_no_more_than_earlier_than(self, sprayed, data):
        said = wait(self.tried(sprayed, (1000, "ready", data)), "demould")
        assert said.after is None
        assert said.before.wall_min == pytest.approx(1000)

    def test_the_first_possible_moment_says_more(self, sprayed):
        data = {"first_possible": True}
        said = wait(self.tried(sprayed, (1000, "ready", data)), "demould")
        assert said.after.wall_min == pytest.approx(FIRST_POSSIBLE * 1000)

    def test_untried_the_grinding_bounds_it(self, sprayed):
        pour = screeded(sprayed())
        pour.step("back-grind", 80 + 1200, 80 + 1220)
        said = wait(pour, "demould")
        assert (said.after, said.before.wall_min) == (None, pytest.approx(1200))

    def test_the_mark_is_as_old_as_the_cure_says_the_piece_is(self, sprayed, shop):
        """At the mix's own energy; by its own heat under plastic, then a blanket."""
        pour = screeded(sprayed(shop=steady(shop, 14.0)))
        read(pour, shop_c=14.0)
        pour.step("blankets", 100, 110)
        pour.add("touch", DAY, "demould", feel="soft")
        mark = wait(pour, "demould").after
        cast = pour.timeline(DAY).cast
        own = cast.elapsed(pour.at(80), pour.at(DAY))
        low, middle, high = mark.hydration
        # Warmer than 21 degC on the whole or not, 42 kJ/mol lies by 41.5.
        assert own == pytest.approx(middle, rel=0.01)
        assert low != pytest.approx(high, rel=1e-3)
        for energy, minutes in zip(ENERGIES, mark.hydration, strict=True):
            clock = cast.at_energy(energy)
            assert clock.elapsed(pour.at(80), pour.at(DAY)) == pytest.approx(minutes)


class TestClocks:
    def test_at_30_degc_it_is_arrhenius_at_each_energy(self, sprayed, shop):
        pour = packed(sprayed(shop=steady(shop, 30.0)))
        said = wait(read(pour, shop_c=30.0, rh_pct=50.0), "face opens")
        assert said.after.wall_min == pytest.approx(12)
        assert said.after.hydration == pytest.approx(by_hand(30, 12), rel=1e-4)
        wet = evaporation(30, 30, 50, 0) / evaporation(21, 21, 50, 0)
        assert said.after.evaporation == pytest.approx(12 * wet)
        assert said.temp_c == pytest.approx(30)

    def test_plastic_lets_a_tenth_through(self, sprayed):
        pour = read(sprayed())
        pour.add("covered", 18, "spray", "field")
        pour.add("uncovered", 22, "spray", "field")
        pour.touch("soft", 27)
        mark = wait(pour, "face opens").after
        assert mark.hydration == pytest.approx([12] * THRICE)
        assert mark.evaporation == pytest.approx(8 + COVERED_EXPOSURE * 4)

    def test_fog_gives_back_only_what_was_on_by_then(self, sprayed):
        pour = read(sprayed())
        pour.touch("soft", 24)
        pour.add("fogged", 26, "spray", "field", grams_per_m2=10.0)
        pour.touch("ready", 40)
        said = wait(pour, "face opens")
        assert said.after.evaporation == pytest.approx(9)
        given_back = fog_credit_minutes(10, 1.0)
        assert said.before.evaporation == pytest.approx(25 - given_back)

    def test_a_clock_that_knows_no_energy_says_the_same_thrice(self, scripted, shop):
        pour = scripted(shop=steady(shop, 31.0))
        pour.step("coat-1", 0, 20)
        pour.step("coat-2", 60, 80)
        said = wait(pour, "recoat opens")
        assert said.before.hydration == pytest.approx([80] * THRICE)
        assert said.before.evaporation == 0

    def test_a_thick_piece_is_reckoned_as_a_thin_one(self, scripted, jobs):
        thick = replace(jobs["bare"], shape=replace(jobs["bare"].shape, thickness=0.05))
        pour = scripted(thick)
        pour.step("wash-down", 0, 10)
        pour.step("dryness-check", 1010, 1020)
        said = wait(pour, "dry to seal")
        assert said.before.wall_min == pytest.approx(1000)
        assert said.before.hydration == pytest.approx([1000 / 2**1.3] * THRICE)

    @settings(max_examples=25, deadline=None)
    @given(
        temp_c=st.floats(8, 35),
        rh_pct=st.floats(20, 90),
        wind_kmh=st.floats(0, 10),
        energy=st.sampled_from(ENERGIES),
        share=st.floats(0, 1),
        minutes=st.floats(1, 600),
    )
    def test_its_parts_make_the_clock_of_any_energy_and_share(
        self, sprayed, shop, temp_c, rh_pct, wind_kmh, energy, share, minutes
    ):
        pour = sprayed(shop=steady(shop, temp_c, rh_pct, wind_kmh))
        read(pour, shop_c=temp_c, rh_pct=rh_pct, wind_kmh=wind_kmh)
        pour.touch("soft", 15 + minutes)
        mark = wait(pour, "face opens").after
        air = Constant(temp_c, rh_pct, wind_kmh)
        since, at = pour.at(15), pour.at(15 + minutes)
        clock = Clock(Face(share, energy), air, "form")
        hydration = mark.hydration[ENERGIES.index(energy)]
        told = (1 - share) * hydration + share * mark.evaporation
        assert told == pytest.approx(clock.elapsed(since, at), rel=1e-6)
        alone = Clock(Hydration(energy), air, "form")
        assert hydration == pytest.approx(alone.elapsed(since, at), rel=1e-6)

    def test_what_was_accepted_is_not_its_own_measure(self, sprayed, shop):
        timing = Timing("face opens", "M1", Spread(9.0, 0.4), 9, 32.0, 0.1)
        taught = replace(shop, timings=(timing,), paces=(Pace("spray", Spread(3), 4),))
        plain, other = packed(sprayed()), packed(sprayed(shop=taught))
        assert other.state.shop.timings
        assert lessons(other.state) == lessons(plain.state)


class TestWeatherNobodyRead:
    """The typical day stands in for it: a mark is that of the mix's own constants."""

    OWN = 42.0  # kJ/mol, of the sample mix

    def test_its_marks_are_those_of_the_own_constants(self, sprayed, shop):
        pour = packed(sprayed(shop=steady(shop, 30.0, 35.0, 2.0)))
        pour.touch("gone", 50)
        air = Constant(30.0, 35.0, 2.0)
        for name, share, minutes in (
            ("face opens", OPEN_SHARE, 12),
            ("face closes", CLOSE_SHARE, 35),
        ):
            said = wait(pour, name)
            mark = said.after if name == "face opens" else said.before
            assert (said.measured, mark.wall_min) == (False, pytest.approx(minutes))
            clock = Clock(Face(share, self.OWN), air, "form")
            own = clock.elapsed(pour.at(15), pour.at(15 + minutes))
            assert mark.hydration == pytest.approx([own] * THRICE)
            assert mark.evaporation == pytest.approx(own)
            assert own > 1.3 * minutes  # the typical day counts all the same

    def test_a_clock_that_does_not_evaporate_has_its_own_energy(self, sprayed, shop):
        pour = packed(sprayed(shop=steady(shop, 30.0)))
        pour.add("touch", 90, "lift-2", "field", feel="gone")
        said = wait(pour, "lift 2 closes")
        mark = said.before
        assert said.measured is False
        clock = Clock(Hydration(self.OWN), Constant(30.0), "mix")
        own = clock.elapsed(pour.at(46), pour.at(90))
        assert mark.hydration == pytest.approx([own] * THRICE)
        assert mark.evaporation == 0

    def test_the_piece_is_reckoned_by_its_heat_all_the_same(self, sprayed, shop):
        pour = screeded(sprayed(shop=steady(shop, 14.0)))
        pour.add("touch", DAY, "demould", feel="soft")
        said = wait(pour, "demould")
        own = pour.timeline(DAY).cast.elapsed(pour.at(80), pour.at(DAY))
        assert said.measured is False
        assert said.after.hydration == pytest.approx([own] * THRICE)

    @pytest.mark.parametrize(
        ("at", "values", "opens", "lift"),
        [
            (15, {"shop_c": 24.0, "rh_pct": 40.0}, True, True),
            (15, {"form_c": 24.0, "rh_pct": 40.0}, True, False),
            (15, {"mix_c": 24.0, "rh_pct": 40.0}, False, True),
            (15, {"shop_c": 24.0}, False, True),
            (15, {"rh_pct": 40.0}, False, False),
            (29, {"shop_c": 24.0, "rh_pct": 40.0}, True, True),  # during it
            (-104, {"shop_c": 24.0, "rh_pct": 40.0}, True, False),
            (-106, {"shop_c": 24.0, "rh_pct": 40.0}, False, False),
            (31, {"shop_c": 24.0, "rh_pct": 40.0}, False, True),  # when it was over
        ],
    )
    def test_what_was_read_of_its_place_shortly_before_or_during_it_counts(
        self, sprayed, at, values, opens, lift
    ):
        pour = packed(sprayed())
        pour.add("touch", 60, "lift-2", "field", feel="ready")  # placed at 42
        read(pour, at, **values)
        assert wait(pour, "face opens").measured is opens
        assert wait(pour, "lift 2 opens").measured is lift

    @pytest.mark.parametrize("field", ["shop_c", "piece_c"])
    def test_of_the_piece_a_reading_of_the_shop_counts_too(self, sprayed, field):
        pour = screeded(sprayed())
        pour.add("touch", 900, "demould", feel="soft")
        assert wait(pour, "demould").measured is False
        assert wait(read(pour, 300, **{field: 20.0}), "demould").measured is True

    @pytest.mark.parametrize("known", [True, False])
    def test_it_teaches_the_wait_but_no_energy(self, sprayed, shop, known):
        """A shop that is warm in summer, and where the face opens after 9 min at 21."""
        said = []
        for number in range(24):
            temp_c = 10.0 + number % 12 * 2
            pace = exp(-42000 / 8.314 * (1 / (temp_c + 273.15) - 1 / 294.15))
            pour = sprayed(shop=steady(shop, temp_c))
            if known:
                read(pour, shop_c=temp_c, rh_pct=50.0)
            pour.touch("soft", 15 + 8.5 / pace)
            pour.touch("ready", 15 + 9.5 / pace)
            one = wait(pour, "face opens")
            said.append(replace(one, pour=f"bare.{number}"))
        (learned,) = learn_windows(said, shop)
        assert learned.energy.told is known
        assert learned.learned.p50 < 0.75 * learned.default.p50
        assert learned.temp_range_c == (pytest.approx((10, 32)) if known else None)


class TestLeftOut:
    def corrected(self, pour, target, to, recorded):
        """Puts a time right at a minute on which the correction is written down."""
        pour.add("corrected", recorded, event=target.id, at=pour.at(to).isoformat())

    def test_a_touch_put_right_much_later(self, sprayed):
        pour = sprayed()
        touch = pour.touch("ready", 40)
        self.corrected(pour, touch, 32, 60)
        said = wait(pour, "face opens")
        assert said.before.wall_min == pytest.approx(17)
        assert "more than 5 min after" in said.why_not

    def test_a_touch_put_right_at_once_counts(self, sprayed):
        pour = sprayed()
        touch = pour.touch("ready", 34)
        self.corrected(pour, touch, 32, 36)
        assert wait(pour, "face opens").why_not == ""

    def test_undoing_the_correction_undoes_that(self, sprayed):
        pour = sprayed()
        touch = pour.touch("ready", 40)
        self.corrected(pour, touch, 32, 60)
        pour.add("undone", 61, event=pour.events[-1].id)
        said = wait(pour, "face opens")
        assert (said.before.wall_min, said.why_not) == (pytest.approx(25), "")

    def test_an_origin_put_right_much_later(self, sprayed):
        pour = packed(sprayed())
        spray = next(
            e for e in pour.events if (e.kind, e.step) == ("finished", "spray")
        )
        self.corrected(pour, spray, 13, 90)
        pour.add("touch", 60, "lift-2", "field", feel="ready")
        assert wait(pour, "face opens").why_not
        assert wait(pour, "lift 2 opens").why_not == ""
        assert done(pour, "spray").why_not

    @pytest.mark.parametrize(
        ("data", "left_out"), [({}, True), ({"imported": True}, False)]
    )
    def test_written_down_late_unless_it_is_from_paper(self, sprayed, data, left_out):
        pour = sprayed()
        touch = pour.add("touch", 30, "lift-1", "field", feel="ready", **data)
        pour.events[-1] = replace(touch, recorded_at=pour.at(50))
        assert bool(wait(pour, "face opens").why_not) is left_out

    def test_a_note_leaves_the_whole_pour_out(self, sprayed):
        pour = packed(sprayed())
        pour.add("note", 50, text="a demonstration", learn=False)
        found = lessons(pour.state)
        assert all("note" in said.why_not for said in (*found.windows, *found.work))
        pour.add("undone", 51, event=pour.events[-1].id)
        assert wait(pour, "face opens").why_not == ""

    def test_a_note_on_a_step_leaves_only_that_out(self, sprayed):
        pour = packed(sprayed())
        pour.add("note", 50, "roll-1", "field", text="shown to Bo", learn=False)
        assert done(pour, "roll").why_not
        assert done(pour, "spray").why_not == ""

    def test_an_ordinary_note_leaves_nothing_out(self, sprayed):
        pour = packed(sprayed())
        pour.add("note", 50, text="cold")
        assert {said.why_not for said in lessons(pour.state).windows} == {""}


class TestWork:
    def test_it_is_person_minutes_beside_the_rate(self, sprayed):
        pour = packed(sprayed())
        process = pour.timeline(50).process
        step = next(s for s in process.steps if s.key.step == "lift-1")
        said = done(pour, "lift")
        assert said.rate_min == step.work
        assert said.actual_min == pytest.approx(6 * step.crew)
        assert (said.at, said.why_not) == (pour.at(36), "")

    def test_numbered_steps_are_one_family(self, scripted, jobs):
        pour = scripted(jobs["two-legged-desk"])
        for grit in (1, 2):
            pour.step(f"hone-{grit}", 40 * grit, 40 * grit + 30)
        found = [work for work in lessons(pour.state).work if work.step == "hone"]
        assert [round(work.actual_min) for work in found] == [30, 30]

    def test_a_step_that_was_not_ended_says_nothing(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 23, None)
        assert "mix-back" not in {work.step for work in lessons(pour.state).work}

    def test_over_lunch_it_was_interrupted(self, scripted):
        pour = scripted()
        pour.step("wash-down", 265, 305)  # 11:55 to 12:35, lunch is at noon
        pour.step("slurry-1", 305, 325)
        assert "break" in done(pour, "wash-down").why_not
        assert done(pour, "slurry").why_not == ""

    def test_the_pour_itself_is_never_broken(self, sprayed):
        pour = sprayed()
        pour.step("lift-1", 265, 305, "field")
        assert done(pour, "lift").why_not == ""

    def test_two_things_at_once_by_one_person(self, scripted):
        pour = scripted()
        pour.step("slurry-1", 0, 30)
        pour.step("wash-down", 10, 20)
        for number, made in enumerate(pour.events):
            if made.step in ("slurry-1", "wash-down"):
                pour.events[number] = replace(made, by="Ines")
        assert "same person" in done(pour, "slurry").why_not
        assert "same person" in done(pour, "wash-down").why_not

    @pytest.mark.parametrize("people", [("Ines", "Bo"), ("", "")])
    def test_two_people_or_nobody_named_do_not_interrupt(self, scripted, people):
        pour = scripted()
        pour.step("slurry-1", 0, 30)
        pour.step("wash-down", 10, 20)
        by = dict(zip(("slurry-1", "wash-down"), people, strict=True))
        pour.events[1:] = [replace(made, by=by[made.step]) for made in pour.events[1:]]
        assert done(pour, "slurry").why_not == ""
        assert done(pour, "slurry").by == people[0]

    def test_sprayed_anew_and_marked_at_once_are_left_out(self, sprayed):
        pour = sprayed()
        pour.add("resprayed", 70, "spray", "field")
        pour.step("screed", 80, 80)
        assert "anew" in done(pour, "spray").why_not
        assert done(pour, "screed").why_not


def test_a_pour_without_its_start_on_record_teaches_nothing():
    assert lessons(PourState("lost.0401")) == Lessons()
    assert lessons(fold("lost.0401", [])) == Lessons()


@settings(max_examples=40, deadline=None)
@given(
    marks=st.lists(
        st.tuples(
            st.sampled_from(["started", "finished", "skipped", "touch"]),
            st.sampled_from(
                [
                    "spray",
                    "lift-1",
                    "lift-2",
                    "mix-back-1",
                    "screed",
                    "demould",
                    "back-grind",
                    "slurry-1",
                    "sand-1",
                    "coat-1",
                    "coat-2",
                    "cover",
                ]
            ),
            st.floats(0, 5 * DAY),
            st.sampled_from(["soft", "ready", "going-off", "gone"]),
        ),
        max_size=14,
    )
)
def test_whatever_happened_a_mark_lies_after_the_beginning(scripted, marks):
    """And what was not reached lies before what was."""
    pour = scripted()
    zoned = ("spray", "lift-1", "lift-2")
    for kind, step, minutes, feel in marks:
        pour.add(kind, minutes, step, "field" if step in zoned else "", feel=feel)
    for said in lessons(pour.state).windows:
        assert (said.after, said.before) != (None, None)
        found = [mark for mark in (said.after, said.before) if mark]
        assert all(mark.wall_min > 0 for mark in found)
        assert all(min(mark.hydration) > 0 for mark in found)
        if len(found) == 2:
            assert said.after.wall_min < said.before.wall_min
