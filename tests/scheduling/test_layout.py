"""A process over time: hours, hands, equipment, clocks, and what has happened."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.climate import Constant
from scheduling.clocks import Band, Clock, ClockBook
from scheduling.forecast import Setting
from scheduling.job import Bare, BareZone
from scheduling.laws import (
    ACTIVATION_ENERGY,
    CLOSE_SHARE,
    OPEN_SHARE,
    Face,
    Hydration,
    fog_credit_minutes,
)
from scheduling.process import PHASES, StepKey
from scheduling.shop import WEEKDAYS, Hours, Mix, Person, Timing, TypicalDay
from scheduling.spans import window_status
from scheduling.spread import Spread
from scheduling.timeline import OVER, Status
from scheduling.touch import Window

NAMES = (
    "bare",
    "court-bench",
    "potting-bench-slab",
    "stair-hall-panels",
    "trough-vanity",
    "two-legged-desk",
)
MONDAY = datetime(2030, 4, 1, 7, 30, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
SECOND = timedelta(seconds=1)
LIFT_1 = StepKey("lift-1", "field")
LIFT_2 = StepKey("lift-2", "field")


def on(hour, minute=0, day=1):
    """An instant of that week of April."""
    return datetime(2030, 4, day, hour, minute, tzinfo=UTC)


def clock_time(least, most):
    return st.integers(least * 4, most * 4).map(lambda q: time(q // 4, q % 4 * 15))


@st.composite
def calendars(draw):
    """Hours of a shop: a day of at least six hours, perhaps a lunch in it."""
    opens, closes = draw(clock_time(5, 10)), draw(clock_time(16, 22))
    lunch = time(12), draw(st.sampled_from([time(12, 30), time(13)]))
    days = draw(st.sets(st.sampled_from(WEEKDAYS), min_size=1))
    return Hours(
        tuple(day for day in WEEKDAYS if day in days),
        opens,
        closes,
        draw(st.sampled_from([(), (lunch,)])),
    )


crews = st.lists(
    st.sets(st.sampled_from(WEEKDAYS), min_size=1).map(
        lambda days: tuple(day for day in WEEKDAYS if day in days)
    ),
    min_size=1,
    max_size=4,
).map(lambda days: tuple(Person(f"p{n}", each) for n, each in enumerate(days)))


def check_plan(timeline, setting, book):
    """What must hold of every timeline that nothing has happened to."""
    spans = {span.key: span for span in timeline.steps()}
    for step in timeline.process.steps:
        span = spans[step.key]
        check_hours(step, span, setting.hours, longest_stretch(setting.shop.hours))
        for key in step.after:
            assert spans[key].finish <= span.start, (key, step.key)
        for gap in step.gaps:
            if gap.opens is not None:
                check_gap(gap, spans, span, book)
    check_resources(list(spans.values()), setting)
    check_pour_day(timeline, spans, setting.hours)


def check_hours(step, span, hours, longest):
    length = span.finish - span.start
    if step.unbroken:
        assert length == step.minutes * MINUTE
        return
    assert hours.is_open(span.start), step.key
    worked = hours.working_minutes(span.start, span.finish)
    assert worked == pytest.approx(step.minutes, abs=0.01), step.key
    if not step.pausable and step.minutes * MINUTE <= longest:
        assert length <= step.minutes * MINUTE + SECOND, step.key


def longest_stretch(hours):
    """The longest time of a working day that nothing interrupts."""
    bounds = [hours.opens, *(at for pair in hours.breaks for at in pair), hours.closes]
    instants = [datetime.combine(MONDAY.date(), at, UTC) for at in bounds]
    return max(b - a for a, b in zip(instants[::2], instants[1::2], strict=True))


def check_gap(gap, spans, span, book):
    origin = spans[gap.after]
    since = origin.start if gap.from_start else origin.finish
    share = OPEN_SHARE if gap.opens.clock == "face" else None
    clock = book.clock(gap.opens.clock, gap.opens.place, share)
    opens = clock.reaches(since, gap.opens.spread.p50) - gap.lead * MINUTE
    assert span.start >= opens - SECOND, (gap, span.key)


def check_resources(spans, setting):
    for moment in {span.start for span in spans}:
        there = [one for one in spans if one.start <= moment < one.finish]
        hands = max(1, setting.hours.hands(moment))
        assert sum(min(one.crew, hands) for one in there) <= hands, moment
        for name in {name for one in there for name in one.equipment}:
            users = sum(name in one.equipment for one in there)
            assert users <= setting.shop.equipment.get(name, 1), (name, moment)


def check_pour_day(timeline, spans, hours):
    days = [step.key for step in timeline.process.steps if step.pour_day]
    first = min(spans[key].start for key in days)
    last = max(spans[key].finish for key in days)
    early = first - MINUTE
    at_opening = not hours.is_open(early) and hours.day_close(early) >= first
    # One that no day is long enough for begins as early as a day allows.
    if last > hours.day_close(first):
        assert at_opening or first == timeline.start


@pytest.fixture(scope="session")
def setting_of(shop):
    def made(**changes):
        return Setting.of(replace(shop, **changes))

    return made


@pytest.fixture(scope="session")
def plan(jobs, setting_of):
    """Plans a job at a steady temperature in the sample shop."""

    def made(name, start=MONDAY, temp=21.0, *, shop=None, **changes):
        job = replace(jobs[name], **changes)
        climate = Constant(temp, 50, 0)
        return setting_of(**(shop or {})).plan(job, start, climate=climate)

    return made


class TestPlans:
    @pytest.mark.parametrize("name", NAMES)
    @pytest.mark.parametrize("temp", [12.0, 21.0, 30.0])
    def test_every_sample_keeps_the_rules(self, jobs, setting_of, name, temp):
        setting = setting_of()
        climate = Constant(temp, 50, 0)
        timeline = setting.plan(jobs[name], MONDAY, climate=climate)
        check_plan(timeline, setting, ClockBook(climate))

    @settings(max_examples=60, deadline=None)
    @given(
        name=st.sampled_from(NAMES),
        hours=calendars(),
        people=crews,
        equipment=st.fixed_dictionaries(
            {}, optional=dict.fromkeys(("mixer", "gun", "polisher"), st.integers(1, 3))
        ),
        load=st.floats(15, 60),
        temp=st.floats(10, 32),
        begin=st.floats(0, 14 * 1440),
    )
    def test_any_shop_keeps_the_rules(
        self, jobs, setting_of, name, hours, people, equipment, load, temp, begin
    ):
        setting = setting_of(
            hours=hours, people=people, equipment=equipment, mixer_load=load
        )
        climate = Constant(temp, 50, 0)
        start = MONDAY + begin * MINUTE
        timeline = setting.plan(jobs[name], start, climate=climate)
        check_plan(timeline, setting, ClockBook(climate))

    @pytest.mark.parametrize("name", NAMES)
    def test_every_wait_is_in_one_of_the_twelve_phases_and_says_its_standing(
        self, plan, name
    ):
        for span in plan(name).spans:
            assert span.phase in PHASES
            if span.reference_min is not None:
                assert span.standing
                assert span.clock
            if span.kind == "wait":
                assert span.reference_min is not None
                assert span.crew == 0
                assert span.minutes == pytest.approx(
                    (span.finish - span.start) / MINUTE
                )

    def test_waits_run_through_the_night_and_hands_do_not(self, plan):
        timeline = plan("potting-bench-slab")
        cure = timeline.span(StepKey("cure"))
        # Estimate, at the reference: 18 h by the clock on the wall.
        assert cure.finish - cure.start == timedelta(hours=18)
        assert cure.finish.date() > cure.start.date()
        grind = timeline.span(StepKey("back-grind"))
        assert grind.start >= max(cure.finish, MONDAY + timedelta(days=1))

    def test_a_wait_is_the_wait_and_not_the_waiting_for_hands(self, plan):
        timeline = plan("bare")
        cure, grind = (timeline.span(StepKey(k)) for k in ("cure", "back-grind"))
        assert cure.minutes == pytest.approx(18 * 60)
        assert grind.start > cure.finish

    def test_mixing_begins_ten_minutes_before_the_expected_opening(self, plan):
        for name in NAMES:
            timeline = plan(name)
            zone = timeline.process.zones[0]
            wait = timeline.wait_for(StepKey("lift-1", zone))
            mix = timeline.span(StepKey("mix-back-1"))
            assert mix.start == wait.opens.p50 - 10 * MINUTE, name

    def test_colder_is_later_everywhere(self, plan):
        warm, cold = plan("potting-bench-slab"), plan("potting-bench-slab", temp=15)
        for before, after in zip(warm.spans, cold.spans, strict=True):
            plain = before.kind == "hands-on" or before.clock in ("plain", "drying")
            assert after.start >= before.start
            if not plain:
                assert after.minutes > before.minutes

    @pytest.mark.parametrize(
        ("name", "hours"),
        [
            ("bare", 18),
            ("potting-bench-slab", 18),
            ("stair-hall-panels", 18),
            ("trough-vanity", 24),
            ("two-legged-desk", 24),
            ("court-bench", 24),
        ],
    )
    def test_demould_at_21_degrees(self, plan, name, hours):
        """Estimate: 18 reference hours from the screed, six more for basin or leg."""
        timeline = plan(name)
        screed = timeline.span(StepKey("screed"))
        assert timeline.demould.p50 - screed.finish == timedelta(hours=hours)
        demould = timeline.span(StepKey("demould"))
        assert demould.start >= timeline.demould.p50


class TestPourDay:
    def test_a_pour_before_lunch_goes_through_it(self, plan):
        timeline = plan("bare", start=on(11, 30))
        steps = {span.key.step: span for span in timeline.steps()}
        assert steps["mix-face"].start == timeline.start
        assert steps["cover"].finish < on(13)
        assert steps["spray"].finish < on(12)
        lunch = on(12), on(12, 30)
        at_work = [s for s in timeline.steps() if lunch[0] <= s.start < lunch[1]]
        assert len(at_work) > 3

    @pytest.mark.parametrize("hour", [15, 16])
    def test_one_that_would_not_end_today_moves_whole_to_the_morning(self, plan, hour):
        timeline = plan("bare", start=on(hour))
        assert timeline.span(StepKey("mix-face")).start == MONDAY + timedelta(days=1)

    def test_over_the_weekend_too(self, plan):
        friday = on(15, day=5)
        timeline = plan("bare", start=friday)
        assert timeline.span(StepKey("mix-face")).start == on(7, 30, day=8)

    def test_the_weighing_moves_with_it(self, plan):
        job = plan("two-legged-desk", fillet="clay")
        look, mix = (job.span(StepKey(k)) for k in ("last-look", "mix-face"))
        assert look.start.date() == mix.start.date()

    def test_weighed_today_mixed_tomorrow(self, scripted, jobs):
        """What is weighed off in lidded tubs waits; the mixing moves all the same."""
        pour = scripted(jobs["potting-bench-slab"])
        for step in ("last-look", "set-up", "sand-moisture", "weigh-dry", "weigh-wet"):
            pour.step(step, 440, 450)
        timeline = pour.timeline(455)  # 15:05, closing at 16:30
        mix = timeline.span(StepKey("mix-face"))
        assert mix.start == MONDAY + timedelta(days=1)
        assert timeline.span(StepKey("weigh-dry")).status is Status.DONE

    def test_once_mixing_has_begun_it_stays(self, scripted):
        pour = scripted(begun=on(16))
        pour.step("mix-face", 0, None)
        cover = pour.timeline(1).span(StepKey("cover"))
        assert cover.start > on(16, 30)
        assert cover.start < on(18)

    def test_one_longer_than_any_day_begins_with_it(self, plan):
        short = {"hours": Hours(opens=time(7, 30), closes=time(8, 15))}
        timeline = plan("bare", start=on(7, 50), shop=short)
        assert timeline.span(StepKey("mix-face")).start == MONDAY + timedelta(days=1)

    def test_work_longer_than_every_stretch_of_the_day_stops_for_breaks(
        self, plan, setting_of
    ):
        zones = (BareZone("field", 9.0),)
        short = {
            "hours": Hours(opens=time(12), closes=time(13), breaks=()),
            "people": (Person("one"),),
        }
        timeline = plan("bare", shape=Bare(zones), shop=short)
        hone = timeline.span(StepKey("hone-1"))
        assert hone.minutes > 60
        hours = setting_of(**short).hours
        worked = hours.working_minutes(hone.start, hone.finish)
        assert worked == pytest.approx(hone.minutes)


class TestSpread:
    def test_it_grows_along_the_chain(self, plan):
        for name in NAMES:
            timeline = plan(name)
            sds = [
                timeline.span(StepKey(*key)).finish_sd_min
                for key in (
                    (timeline.process.steps[0].key.step,),
                    ("flow-check",),
                    ("lift-1", timeline.process.zones[-1]),
                    ("screed",),
                    ("cover",),
                    ("back-grind",),
                    ("demould",),
                    ("wash-down",),
                    ("dryness-check",),
                )
            ]
            assert sds == sorted(sds)
            assert sds[0] > 0
            assert sds[-1] > 2 * sds[4]

    def test_a_single_step_has_the_spread_of_hands_on_work(self, plan):
        """Derived: P10 and P90 of hands-on time 0.7 and 1.6 of the median, estimate.

        As a normal: the width between them over 2 x 1.2816.
        """
        mix = plan("bare").span(StepKey("mix-face"))
        ratio = (1.6 / 0.7) ** 0.5
        width = 7 * (ratio - 1 / ratio) / (2 * 1.2816)
        assert mix.finish_sd_min == pytest.approx(width, rel=0.01)
        band = mix.finishes()
        assert mix.start <= band.p10 < band.p50 < band.p90

    def test_what_has_happened_is_certain(self, sprayed):
        timeline = sprayed().timeline(16)
        assert timeline.span(StepKey("spray", "field")).finish_sd_min == 0
        assert timeline.span(LIFT_1).finish_sd_min > 0

    def test_slack_is_what_is_left_to_the_closing(self, sprayed):
        lift = sprayed().timeline(16).span(LIFT_1)
        left = (lift.closes.p50 - lift.finish) / MINUTE
        assert lift.slack_min == pytest.approx(left)
        assert sprayed().timeline(16).span(StepKey("screed")).slack_min is None


marks = st.lists(
    st.tuples(
        st.sampled_from(["started", "finished", "skipped"]),
        st.integers(0, 40),
        st.floats(0, 2000),
    ),
    max_size=8,
)


class TestWhatHappened:
    @settings(max_examples=60, deadline=None)
    @given(name=st.sampled_from(NAMES), made=marks, now=st.floats(0, 3000))
    def test_nothing_undone_lies_in_the_past(self, scripted, jobs, name, made, now):
        pour = scripted(jobs[name])
        steps = pour.timeline(0).process.steps
        for kind, number, minute in made:
            key = steps[number % len(steps)].key
            pour.add(kind, min(minute, now), key.step, key.zone)
        timeline = pour.timeline(now)
        for span in timeline.steps():
            if span.status in OVER:
                continue
            if span.status is Status.RUNNING:
                assert span.finish >= pour.at(now)
            else:
                assert span.start >= pour.at(now) - SECOND

    @settings(max_examples=60, deadline=None)
    @given(name=st.sampled_from(NAMES), made=marks)
    def test_a_marked_step_shows_that_all_before_it_are_passed(
        self, scripted, jobs, name, made
    ):
        pour = scripted(jobs[name])
        process = pour.timeline(0).process
        for kind, number, minute in made:
            key = process.steps[number % len(process.steps)].key
            pour.add(kind, minute, key.step, key.zone)
        timeline, state = pour.timeline(2000), pour.state
        for step in process.steps:
            record = state.record(step.key)
            if record.started is None and record.finished is None:
                continue
            todo = list(step.after)
            while todo:
                key = todo.pop()
                status = timeline.span(key).status
                assert status in OVER or state.record(key).running, (key, step.key)
                if state.record(key).running:
                    continue
                todo.extend(process.step(key).after)

    def test_a_skipped_step_in_between_hides_nothing(self, scripted, jobs):
        pour = scripted(jobs["court-bench"])
        pour.add("skipped", 100, "scrim")
        pour.step("foam", 101, None)
        timeline = pour.timeline(102)
        roll = timeline.span(StepKey("roll-1", "top"))
        assert roll.status is Status.DONE
        assert timeline.span(StepKey("scrim")).status is Status.SKIPPED

    def test_a_reading_moves_every_later_window_at_once(self, sprayed):
        pour = sprayed()
        before = {s.key: s for s in pour.timeline(16).spans if s.opens}
        pour.add("reading", 16, shop_c=12.0)
        after = {s.key: s for s in pour.timeline(16).spans if s.opens}
        driven = {
            key
            for key, span in before.items()
            if span.clock in ("hydration", "face", "drying", "coating")
        }
        assert {key.step for key in driven} > {"face wait", "lift wait", "cure"}
        for key in driven:
            assert after[key].opens.p50 > before[key].opens.p50
            if before[key].closes is not None:
                assert after[key].closes.p50 > before[key].closes.p50

    @pytest.mark.parametrize(
        ("place", "minute", "wait"),
        [
            ("form_c", 16, "face wait"),
            ("piece_c", 300, "cure"),  # there is no piece before it is cast
            ("mix_c", 16, "lift wait"),
        ],
    )
    def test_each_wait_reads_its_own_place(self, sprayed, place, minute, wait):
        pour = sprayed()
        before = pour.timeline(16)
        pour.add("reading", minute, **{place: 10.0})
        after = pour.timeline(16)
        for key in (k for k in (s.key for s in before.spans) if k.step == wait):
            assert after.span(key).minutes > before.span(key).minutes

    def test_a_soft_touch_at_25_moves_the_forecast_and_the_lift_behind_it(
        self, sprayed
    ):
        pour = sprayed()
        assert pour.minutes(pour.window(16).opens.p50) == pytest.approx(33, abs=0.01)
        pour.touch("soft", 40)
        wait = pour.window(40)
        assert pour.minutes(wait.opens.p10) > 40
        assert pour.timeline(40).span(LIFT_1).start == wait.opens.p50

    def test_fog_and_cover_put_the_window_off(self, sprayed):
        plain = sprayed().window(20)
        fogged, covered = sprayed(), sprayed()
        fogged.add("fogged", 20, "spray", "field", grams_per_m2=20.0)
        covered.add("covered", 20, "spray", "field")
        for pour in (fogged, covered):
            wait = pour.window(20)
            assert wait.opens.p50 > plain.opens.p50
            assert wait.closes.p50 > plain.closes.p50
        covered.add("uncovered", 21, "spray", "field")
        assert covered.window(21).opens.p50 < plain.opens.p50 + 2 * MINUTE

    def test_a_respray_begins_the_window_anew(self, sprayed):
        pour = sprayed()
        pour.touch("gone", 60)
        assert pour.window(61).status is Status.CLOSED
        pour.add("resprayed", 70, "spray", "field")
        wait = pour.window(71)
        assert pour.minutes(wait.opens.p50) == pytest.approx(70 + 18, abs=0.01)
        assert wait.status is Status.WAITING

    def test_who_is_in_changes_what_can_be_done_at_once(self, scripted, jobs):
        pour = scripted(jobs["two-legged-desk"])
        screed = StepKey("screed")
        both = pour.timeline(0).span(screed).start
        pour.add("hands", 0, **{"in": ["Ines"]})
        alone = pour.timeline(0)
        for moment in {span.start for span in alone.steps()}:
            if moment > pour.at(540):
                continue
            there = [s for s in alone.steps() if s.start <= moment < s.finish]
            assert len(there) <= 1
        assert alone.span(screed).start >= both

    def test_a_running_step_that_takes_long_is_not_over(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 23, None)
        mix = pour.timeline(50).span(StepKey("mix-back-1"))
        assert mix.status is Status.RUNNING
        assert mix.finish == pour.at(50)

    def test_the_next_step_is_the_first_to_come(self, sprayed):
        timeline = sprayed().timeline(16)
        assert timeline.next_step().key == StepKey("mix-back-1")
        assert timeline.next_step().status is Status.NEXT
        assert sum(s.status is Status.NEXT for s in timeline.spans) == 1

    def test_all_done_is_finished(self, sprayed):
        pour = sprayed()
        for step in pour.timeline(20).process.steps:
            pour.add("skipped", 20, step.key.step, step.key.zone)
        timeline = pour.timeline(21)
        assert timeline.finished
        assert timeline.next_step() is None

    def test_pot_life_runs_from_the_water_until_all_is_placed(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 23, 30)
        lives = pour.timeline(31).pot_lives
        life = lives[StepKey("mix-back-1")]
        # Estimate, at the reference: 45 min.
        assert pour.minutes(life.ends) == pytest.approx(23 + 45, abs=0.01)
        assert not life.used
        assert lives[StepKey("mix-face")].used
        pour.step("lift-1", 34, 38, "field")
        assert pour.timeline(39).pot_lives[StepKey("mix-back-1")].used


class TestLearned:
    @pytest.mark.parametrize(
        ("energy", "share"), [(None, None), (32.0, 0.1), (51.0, 0.8)]
    )
    def test_a_window_runs_at_the_energy_and_share_of_its_own(
        self, sprayed, shop, energy, share
    ):
        opens = Timing("face opens", "M1", Spread(20.0, 0.3), 9, energy, share)
        closes = Timing("face closes", "M1", Spread(50.0, 0.3), 9, energy, share)
        weather = TypicalDay(29.0, 29.0, rh_pct=35.0, wind_kmh=2.0)
        taught = replace(shop, climate=weather, timings=(opens, closes))
        pour = sprayed(shop=taught)
        pour.add("fogged", 16, "spray", "field", grams_per_m2=5.0)
        wait = pour.window(16)
        air = Constant(29.0, 35.0, 2.0)
        for band, minutes, usual in (
            (wait.opens, 20.0, OPEN_SHARE),
            (wait.closes, 50.0, CLOSE_SHARE),
        ):
            own = usual if share is None else share
            clock = Clock(Face(own, energy or ACTIVATION_ENERGY), air, "form")
            wanted = clock.reaches(pour.at(15), minutes + fog_credit_minutes(5.0, own))
            assert abs(band.p50 - wanted) < SECOND
        assert wait.standing == "learned from 9 pours"

    def test_any_hydration_wait_runs_at_its_own_energy(self, sprayed, shop):
        timing = Timing("lift 2 opens", "M1", Spread(15.0, 0.3), 4, 51.0)
        taught = replace(shop, climate=TypicalDay(10.0, 10.0), timings=(timing,))
        pour = sprayed(shop=taught)
        pour.step("roll-1", 42, 46, "field")
        wait = pour.timeline(47).wait_for(LIFT_2)
        clock = Clock(Hydration(51.0), Constant(10.0), "mix")
        assert abs(wait.opens.p50 - clock.reaches(pour.at(46), 15.0)) < SECOND


class TestFelt:
    """A touch of any wait bounds it, as one of a zone does."""

    def rolled(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 23, 30)
        pour.step("lift-1", 36, 42, "field")
        pour.step("roll-1", 42, 46, "field")
        return pour

    def test_a_soft_lift_2_moves_the_lift_and_the_batch_mixed_for_it(self, sprayed):
        pour = self.rolled(sprayed)
        before = pour.timeline(70)
        pour.add("touch", 70, "lift-2", "field", feel="soft")
        after = pour.timeline(70)
        opens = after.wait_for(LIFT_2).opens
        assert pour.at(70) < opens.p10 < opens.p50
        mix = StepKey("mix-back-2")
        moved = opens.p50 - before.wait_for(LIFT_2).opens.p50
        assert after.span(mix).may_start - before.span(mix).may_start == moved
        assert after.span(LIFT_2).start >= opens.p50
        # Nothing is said of the face coat.
        assert after.wait_for(LIFT_1).opens == before.wait_for(LIFT_1).opens

    def test_going_off_and_gone_are_states_of_it(self, sprayed):
        pour = self.rolled(sprayed)
        pour.add("touch", 60, "lift-2", "field", feel="going-off")
        assert pour.timeline(60).wait_for(LIFT_2).status is Status.CLOSING
        pour.add("touch", 65, "lift-2", "field", feel="gone")
        wait = pour.timeline(65).wait_for(LIFT_2)
        assert wait.status is Status.CLOSED
        assert wait.closes.p90 <= pour.at(65)

    @settings(max_examples=40, deadline=None)
    @given(
        step=st.sampled_from(["sand-1", "dryness-check", "coat-2", "slurry-1"]),
        share=st.floats(0.1, 3.0),
    )
    def test_soft_never_makes_it_earlier_and_ready_ends_it(self, scripted, step, share):
        pour = scripted()
        origins = {
            "sand-1": "slurry-1",
            "dryness-check": "wash-down",
            "coat-2": "coat-1",
            "slurry-1": "screed",
        }
        pour.step(origins[step], 0, 10)
        key = StepKey(step)
        plain = pour.timeline(11).wait_for(key).opens
        minutes = 10 + share * ((plain.p50 - pour.at(10)) / MINUTE)
        pour.add("touch", minutes, step, feel="soft")
        soft = pour.timeline(minutes).wait_for(key)
        assert soft.status is Status.WAITING
        assert soft.opens.p50 >= max(plain.p50, pour.at(minutes)) - SECOND
        pour.add("touch", minutes + 60, step, feel="ready")
        ready = pour.timeline(minutes + 60).wait_for(key)
        assert ready.status in (Status.OPEN, Status.CLOSING, Status.CLOSED)
        assert pour.at(minutes) <= ready.opens.p10
        assert ready.opens.p90 <= pour.at(minutes + 60)
        pour.add("undone", minutes + 61, event=pour.events[-1].id)
        assert pour.timeline(minutes).wait_for(key).opens == soft.opens

    @settings(max_examples=30, deadline=None)
    @given(soft=st.floats(55, 80), after=st.floats(0, 2.9))
    def test_a_lift_found_soft_is_not_next_within_three_minutes(
        self, sprayed, shop, soft, after
    ):
        sure = Timing("lift 2 opens", "M1", Spread(15.0, 0.01), 30)
        pour = sprayed(shop=replace(shop, timings=(sure,)))
        pour.step("roll-1", 42, 46, "field")
        pour.step("mix-back-2", 47, 54)
        pour.add("touch", soft, "lift-2", "field", feel="soft")
        timeline = pour.timeline(soft + after)
        assert timeline.wait_for(LIFT_2).status is Status.WAITING
        assert timeline.span(LIFT_2).start >= pour.at(soft + 3)

    def test_a_touch_put_right_counts_at_its_new_time(self, sprayed):
        pour, right = self.rolled(sprayed), self.rolled(sprayed)
        touch = pour.add("touch", 90, "lift-2", "field", feel="soft")
        at = pour.at(60).isoformat()
        pour.add("corrected", 91, event=touch.id, at=at)
        right.add("touch", 60, "lift-2", "field", feel="soft")
        found = [one.timeline(91).wait_for(LIFT_2) for one in (pour, right)]
        assert found[0] == found[1]

    def test_a_batch_gone_off_ends_there_and_is_no_more_in_hand(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 23, 30)
        before = pour.timeline(50)
        pour.add("touch", 50, "mix-back-1", feel="gone")
        after = pour.timeline(50)
        life = after.pot_lives[StepKey("mix-back-1")]
        assert life.used
        assert life.ends <= pour.at(50) < before.pot_lives[StepKey("mix-back-1")].ends
        assert after.span(LIFT_1).closes.p50 <= pour.at(50)
        assert after.wait_for(LIFT_1).opens == before.wait_for(LIFT_1).opens

    def test_a_wait_that_is_running_can_be_touched_and_no_other(self, sprayed):
        pour = self.rolled(sprayed)
        found = {span.holds for span in pour.timeline(50).waits_to_touch()}
        assert found == {LIFT_2}
        pour.step("lift-2", 61, None, "field")
        assert pour.timeline(62).waits_to_touch() == []


class TestStatus:
    @pytest.mark.parametrize(
        ("minute", "status"),
        [
            (16, Status.WAITING),
            (32, Status.WAITING),
            (34, Status.OPEN),
            (49, Status.OPEN),
            (50, Status.CLOSING),
            (59, Status.CLOSING),
            (61, Status.CLOSED),
        ],
    )
    def test_by_forecast(self, sprayed, minute, status):
        """Sprayed at 15: opens at 33, closes at 60, estimates at the reference."""
        assert sprayed().window(minute).status is status

    @pytest.mark.parametrize(
        ("felt", "minute", "status"),
        [
            ([("soft", 40)], 42, Status.WAITING),
            ([("ready", 25)], 25, Status.OPEN),
            ([("ready", 25), ("going-off", 30)], 30, Status.CLOSING),
            ([("going-off", 25)], 25, Status.CLOSING),
            ([("ready", 25), ("gone", 30)], 30, Status.CLOSED),
        ],
    )
    def test_by_touch(self, sprayed, felt, minute, status):
        pour = sprayed()
        for feel, at in felt:
            pour.touch(feel, at)
        assert pour.window(minute).status is status

    @settings(max_examples=40, deadline=None)
    @given(
        softs=st.lists(st.floats(16, 120), min_size=1, max_size=4),
        after=st.floats(0, 2.99),
    )
    def test_never_open_within_three_minutes_of_a_soft_touch(
        self, sprayed, softs, after
    ):
        pour = sprayed()
        for soft in sorted(softs):
            pour.touch("soft", soft)
        assert pour.window(max(softs) + after).status is Status.WAITING

    def test_packing_is_the_end_of_the_wait(self, sprayed):
        pour = sprayed()
        pour.step("lift-1", 34, None, "field")
        assert pour.window(35).status is Status.DONE
        pour.add("finished", 38, "lift-1", "field")
        assert pour.window(39).status is Status.DONE

    def test_in_a_plan_nothing_is_more_than_waiting(self, plan):
        statuses = {span.status for span in plan("bare").spans if span.kind == "wait"}
        assert statuses == {Status.WAITING}

    def test_a_wait_without_a_closing_stays_open(self):
        band = Band(MONDAY, MONDAY, MONDAY)
        late = MONDAY + timedelta(days=9)
        assert window_status(Window(band, None), late) is Status.OPEN


class TestZonesToTouch:
    def test_the_one_that_has_waited_longest_comes_first(self, scripted, jobs):
        pour = scripted(jobs["two-legged-desk"])
        for number, zone in enumerate(("left leg", "right leg", "top")):
            pour.step("spray", 100 + 4 * number, 104 + 4 * number, zone)
        assert pour.timeline(113).zones_to_touch() == ["left leg", "right leg", "top"]
        pour.touch("soft", 116, "left leg")
        assert pour.timeline(117).zones_to_touch()[0] == "right leg"
        pour.touch("ready", 118, "right leg")
        assert pour.timeline(118).zones_to_touch() == ["top", "left leg", "right leg"]
        pour.step("lift-1", 119, None, "right leg")
        assert pour.timeline(120).zones_to_touch() == ["top", "left leg"]

    def test_what_is_not_sprayed_is_not_touched(self, scripted):
        assert scripted().timeline(1).zones_to_touch() == []


def test_a_wait_beyond_all_reach_does_not_break_the_timeline(jobs, shop):
    """A year's cure is past any horizon: no band, but a timeline all the same."""
    never = {"M1": Mix(thresholds={"demould": Spread(365 * 24 * 60.0)})}
    timeline = Setting.of(replace(shop, mixes=never)).plan(jobs["bare"], MONDAY)
    assert timeline.demould is None
    grind = timeline.span(StepKey("back-grind"))
    assert grind.start > timeline.span(StepKey("screed")).finish + timedelta(days=30)
