"""A piece from its casting on: as a thermometer, and as the clock of its hydration."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.cast import Casts, shell_of
from scheduling.climate import Constant, DailyCycle, Measured, Reading
from scheduling.clocks import HORIZON_DAYS, ClockBook
from scheduling.covering import cover_changes
from scheduling.heat import Air, course
from scheduling.job import Bare, Foam, Piece
from scheduling.maturity import arrhenius_rate
from scheduling.night import Night, ShopAir
from scheduling.shell import COVERS, Shell
from scheduling.shop import Mix, TypicalDay
from scheduling.spread import Spread
from scheduling.warmth import OWN_HEAT_H

CAST = datetime(2030, 4, 1, 14, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
MINUTE = timedelta(minutes=1)
SECOND = timedelta(seconds=1)
DAY = TypicalDay(12.0, 21.0, time(5), time(15))
NAMES = ("open", "plastic", "blanket", "heated tent")


def casts(readings=(), day=DAY, base=None):
    climate = Measured(base or DailyCycle(day, UTC), readings)
    later = ClockBook(climate).clock("hydration", "piece")
    return Casts.of(Shell(0.022), climate, readings, 42.0, later)


def piece(*covers, at=CAST, **options):
    return casts(**options).cast(at, tuple(covers))


def probed(*pairs):
    """Readings of the piece, by the hour after casting."""
    return [Reading(CAST + hour * HOUR, piece_c=temp) for hour, temp in pairs]


class TestByItsOwnHeat:
    @pytest.mark.parametrize("name", NAMES)
    def test_it_is_the_heat_balance(self, name):
        found = piece((CAST, name))
        climate = DailyCycle(DAY, UTC)
        alone = course(
            Shell(0.022),
            COVERS[name],
            Shell(0.022).hydration(),
            Air.of(climate, CAST, 24),
            climate.air(CAST).temp_c,
        )
        hours = range(1, 24)
        for hour in hours:
            temp_c, age_h = found.fares(CAST + hour * HOUR)
            assert temp_c == pytest.approx(alone.temps_c[4 * hour], abs=1e-3)
            assert age_h == pytest.approx(alone.ages_h[4 * hour], rel=1e-5)

    def test_it_begins_as_the_mix_was(self):
        mixed = [Reading(CAST, shop_c=20, mix_c=25.5)]
        assert piece(readings=mixed).temp_c(CAST) == pytest.approx(25.5)
        assert piece().temp_c(CAST) == pytest.approx(piece().air_c(CAST))

    def test_before_casting_it_is_as_warm_as_then(self):
        found = piece()
        assert found.temp_c(CAST - 5 * HOUR) == found.temp_c(CAST)
        at_21 = piece(day=TypicalDay())
        assert at_21.elapsed(CAST - HOUR, CAST) == pytest.approx(60)

    def test_after_three_days_it_is_the_shop_air(self):
        found = piece((CAST, "blanket"))
        for hours in (OWN_HEAT_H + 0.01, 100):
            when = CAST + hours * HOUR
            assert found.temp_c(when) == pytest.approx(found.air_c(when))

    def test_a_change_of_cover_is_felt_from_then_on(self):
        bare = piece((CAST, "plastic"))
        warm = piece((CAST, "plastic"), (CAST + 3.3 * HOUR, "blanket"))
        assert warm.temp_c(CAST + 3 * HOUR) == bare.temp_c(CAST + 3 * HOUR)
        assert warm.temp_c(CAST + 6 * HOUR) > bare.temp_c(CAST + 6 * HOUR) + 1
        assert warm.cover(CAST + 3 * HOUR) == "plastic"
        assert warm.cover(CAST + 3.3 * HOUR) == "blanket"

    def test_its_heat_may_take_it_beyond_the_warmest_reading(self):
        hot = piece((CAST, "blanket"), day=TypicalDay(58, 58), readings=probed((0, 60)))
        assert hot.temp_c(CAST + HOUR) > 60
        assert hot.reaches(CAST, 18 * 60) < CAST + 6 * HOUR

    def test_a_tent_holds_the_air_and_no_more(self):
        cold = TypicalDay(2.0, 4.0)
        found = piece((CAST, "heated tent"), day=cold)
        assert found.temp_c(CAST + 60 * HOUR) > 18
        assert found.air_c(CAST + 15 * HOUR) < 4

    def test_cast_a_little_later_it_is_ready_a_little_later(self):
        """Off the quarter hours too; into a falling night it loses up to as much."""
        last, before = 0.0, piece((CAST, "plastic")).reaches(CAST, 18 * 60)
        for seconds in (0.3, 1.5, 449.0, 899.5, 900.0):
            at = CAST + seconds * SECOND
            ready = piece((at, "plastic"), at=at).reaches(at, 18 * 60)
            later = (ready - before) / SECOND
            assert seconds - last <= later <= 2 * (seconds - last) + 0.5
            last, before = seconds, ready


class TestAtAnotherEnergy:
    def test_none_is_the_clock_itself(self):
        found = piece((CAST, "blanket"))
        assert found.at_energy(None) is found

    @pytest.mark.parametrize("readings", [(), probed((1, 24.0), (2, 20.0), (9, 30.0))])
    def test_at_its_own_it_counts_the_same(self, readings):
        """Own heat, readings, and the climate after three days, all of it."""
        found = piece(
            (CAST, "plastic"), (CAST + 3 * HOUR, "blanket"), readings=readings
        )
        other = found.at_energy(42.0)
        for hours in (-1, 0.3, 1, 2, 5, 9, 30, 80):
            end = CAST + hours * HOUR
            start = min(CAST, end)
            wanted = found.elapsed(start, max(CAST, end))
            assert other.elapsed(start, max(CAST, end)) == pytest.approx(wanted)
        for minutes in (0, 40, 1080, 6000):
            wanted = found.reaches(CAST, minutes)
            assert abs(other.reaches(CAST, minutes) - wanted) < SECOND

    @settings(max_examples=20, deadline=None)
    @given(energy=st.floats(25, 60), hours=st.floats(1, 100))
    def test_it_is_arrhenius_on_the_same_temperatures(self, energy, hours):
        found = piece((CAST, "blanket"), day=TypicalDay(8.0, 14.0))
        end = CAST + hours * HOUR
        steps = 4000
        each = (end - CAST) / steps
        sum_h = sum(
            arrhenius_rate(found.temp_c(CAST + (n + 0.5) * each), energy, 21.0)
            for n in range(steps)
        ) * (each / HOUR)
        told = found.at_energy(energy).elapsed(CAST, end) / 60
        assert told == pytest.approx(sum_h, rel=2e-3)

    def test_asking_it_first_changes_nothing(self):
        asked, plain = piece((CAST, "blanket")), piece((CAST, "blanket"))
        asked.at_energy(33.0).reaches(CAST, 3000)
        end = CAST + 30 * HOUR
        assert asked.elapsed(CAST, end) == plain.elapsed(CAST, end)

    def test_reaching_is_the_inverse_of_elapsed(self):
        clock = piece((CAST, "blanket"), day=TypicalDay(5.0, 9.0)).at_energy(50.0)
        for minutes in (10, 1080, 4000, 9000):
            at = clock.reaches(CAST, minutes)
            assert clock.elapsed(CAST, at) == pytest.approx(minutes, abs=1e-3)


class TestByItsReadings:
    def test_two_near_ones_are_joined_by_a_line(self):
        found = piece(readings=probed((1, 24.0), (3, 20.0)))
        assert found.temp_c(CAST + HOUR) == pytest.approx(24.0)
        assert found.temp_c(CAST + 1.5 * HOUR) == pytest.approx(23.0)
        assert found.temp_c(CAST + 3 * HOUR) == pytest.approx(20.0)

    def test_two_far_ones_are_not(self):
        found = piece((CAST, "blanket"), readings=probed((1, 24.0), (14, 14.0)))
        middle = found.temp_c(CAST + 6 * HOUR)
        assert middle > 26  # its own heat, which a line from 24 to 14 would not show
        assert found.temp_c(CAST + 14 * HOUR) == pytest.approx(14.0)

    def test_it_is_reckoned_on_from_the_last(self):
        read = probed((2, 15.0))
        found = piece((CAST, "plastic"), readings=read)
        unread = piece((CAST, "plastic"))
        assert found.temp_c(CAST + 2 * HOUR) == pytest.approx(15.0)
        cold, warm = (one.temp_c(CAST + 3 * HOUR) for one in (found, unread))
        assert 15.5 < cold < warm

    def test_a_colder_reading_is_a_later_demould(self):
        found = [
            piece((CAST, "plastic"), readings=probed((2, temp))).reaches(CAST, 18 * 60)
            for temp in (12.0, 18.0, 24.0, 30.0)
        ]
        assert found == sorted(found, reverse=True)
        assert len(set(found)) == len(found)

    def test_one_at_casting_is_where_it_begins(self):
        found = piece(readings=probed((0, 27.0)))
        assert found.temp_c(CAST) == 27.0

    def test_what_was_read_before_casting_was_no_piece(self):
        before = piece(readings=probed((-1, 40.0)))
        assert before.temp_c(CAST + HOUR) == piece().temp_c(CAST + HOUR)
        assert before.measured == ()

    def test_after_three_days_it_still_counts(self):
        late = piece(readings=probed((80, 25.0), (81, 26.0)))
        assert late.temp_c(CAST + 80.5 * HOUR) == pytest.approx(25.5)
        assert late.measured[-1] == (CAST + 81 * HOUR, 26.0)

    @pytest.mark.parametrize("temp", [8, 10, 12, 15, 18, 20, 21, 23, 25, 28, 30, 35])
    def test_held_at_a_temperature_it_is_the_bare_clock(self, temp):
        """Estimate: 18 reference hours at any steady temperature of the piece."""
        read = probed(*((2 * n, float(temp)) for n in range(36)))
        found = piece(readings=read).reaches(CAST, 18 * 60)
        bare = ClockBook(Constant(temp)).clock("hydration", "piece")
        assert abs(found - bare.reaches(CAST, 18 * 60)) < SECOND

    def test_a_minute_s_logger_is_followed_too(self):
        read = probed(*((n / 60, 20 + n % 3) for n in range(600)))
        found = piece(readings=read)
        assert found.elapsed(CAST, CAST + 599 * MINUTE) == pytest.approx(599, rel=0.01)


hours = st.floats(-10, 130)
temps = st.floats(-5, 40)
stories = st.builds(
    lambda covers, reads: (
        tuple(sorted(((CAST + h * HOUR, name) for h, name in covers))),
        probed(*reads),
    ),
    st.lists(st.tuples(st.floats(0, 60), st.sampled_from(NAMES)), max_size=3),
    st.lists(st.tuples(st.floats(-2, 90), temps), max_size=4),
)


class TestAsAClock:
    @settings(max_examples=40, deadline=None)
    @given(story=stories, at=st.tuples(hours, hours, hours))
    def test_it_adds_up_over_any_split(self, story, at):
        covers, read = story
        found = piece(*covers, readings=read)
        first, middle, last = (CAST + h * HOUR for h in sorted(at))
        split = found.elapsed(first, middle) + found.elapsed(middle, last)
        assert split == pytest.approx(found.elapsed(first, last), abs=1e-4)

    @settings(max_examples=40, deadline=None)
    @given(story=stories, since=hours, minutes=st.floats(0, 6000))
    def test_reaching_is_the_inverse(self, story, since, minutes):
        covers, read = story
        found = piece(*covers, readings=read)
        start = CAST + since * HOUR
        when = found.reaches(start, minutes)
        assert found.elapsed(start, when) == pytest.approx(minutes, abs=1e-3)

    @settings(max_examples=25, deadline=None)
    @given(story=stories, cover=st.sampled_from(NAMES), since=st.floats(0, 70))
    def test_taken_over_it_is_as_reckoned_from_the_start(self, story, cover, since):
        covers, read = story
        at = CAST + since * HOUR
        before = piece(*covers, readings=read)
        before.temp_c(CAST + 71 * HOUR)
        taken = before.under(cover, at)
        kept = tuple(change for change in covers if change[0] < at)
        anew = piece(*kept, (at, cover), readings=read)
        for hour in (1, 5, since, since + 3, 71):
            when = CAST + hour * HOUR
            assert taken.temp_c(when) == pytest.approx(anew.temp_c(when), abs=0.02)

    def test_bands_are_in_order_and_what_never_comes_is_none(self):
        found = piece((CAST, "plastic"))
        band = found.quantiles(CAST, Spread.of(14 * 60, 18 * 60, 24 * 60))
        assert CAST < band.p10 < band.p50 < band.p90
        assert found.reaches(CAST, (HORIZON_DAYS + 30) * 1440) is None
        with pytest.raises(ValueError, match="0 or more"):
            found.reaches(CAST, -1)
        with pytest.raises(ValueError, match="back to"):
            found.elapsed(CAST, CAST - SECOND)

    def test_it_is_kept(self):
        pour = casts()
        covers = ((CAST, "plastic"), (CAST + HOUR, "blanket"))
        assert pour.cast(CAST, covers) is pour.cast(CAST, covers)
        assert pour.cast(CAST, covers[:1]) is not pour.cast(CAST, covers)

    def test_threads_may_follow_it_at_once(self):
        alone = piece((CAST, "plastic"))
        found = piece((CAST, "plastic"))
        whens = [CAST + n * 7 * MINUTE for n in range(1, 600)]

        def temps(order):
            return {when: found.fares(when) for when in order}

        with ThreadPoolExecutor(4) as pool:
            orders = (whens, whens[::-1], whens[::2], whens[1::2])
            for seen in pool.map(temps, orders):
                assert all(alone.fares(when) == value for when, value in seen.items())


class TestColderAndWarmer:
    @settings(max_examples=25, deadline=None)
    @given(low=st.floats(0, 20), less=st.floats(0.5, 10), name=st.sampled_from(NAMES))
    def test_a_colder_night_is_never_sooner(self, low, less, name):
        night = Night.after(CAST, DAY, UTC)
        pour = casts()
        ready = [
            pour.in_air(night.bend(pour.body.air, low_c))
            .cast(CAST, ((CAST, name),))
            .reaches(CAST, 18 * 60)
            for low_c in (low, low - less)
        ]
        assert ready[0] <= ready[1]

    @settings(max_examples=25, deadline=None)
    @given(low=st.floats(-5, 15), since=st.floats(0, 8))
    def test_in_a_cold_shop_more_cover_is_never_later(self, low, since):
        pour = casts(day=TypicalDay(low, low + 3))
        start = (CAST, "plastic")
        ready = [
            pour.cast(CAST, (start, (CAST + since * HOUR, name))).reaches(CAST, 1080)
            for name in NAMES
        ]
        for less, more in pairwise(ready):
            assert more <= less

    def test_the_extremes_are_those_of_the_course(self):
        found = piece((CAST, "plastic"))
        until = CAST + 40 * HOUR
        coldest, warmest = found.extremes(CAST, until)
        temps = [found.temp_c(CAST + n * MINUTE) for n in range(40 * 60 + 1)]
        assert coldest == pytest.approx(min(temps), abs=0.01)
        assert warmest == pytest.approx(max(temps), abs=0.01)
        beyond = found.extremes(CAST + 80 * HOUR, CAST + 100 * HOUR)
        assert beyond == pytest.approx((12, 21), abs=0.3)


class TestNights:
    def test_the_low_comes_at_its_hour_and_the_rest_of_the_air_is_kept(self):
        air = ShopAir.of(DailyCycle(DAY, UTC))
        night = Night.after(CAST, DAY, UTC)
        assert night.low_at == datetime(2030, 4, 2, 5, tzinfo=UTC)
        bent = night.bend(air, 4.0)
        assert bent.at(night.low_at.timestamp()) == pytest.approx(4.0)
        for when in (CAST, CAST - HOUR, night.low_at + 12 * HOUR):
            assert bent.at(when.timestamp()) == air.at(when.timestamp())
        step = [bent.at((CAST + n * MINUTE).timestamp()) for n in range(30 * 60)]
        assert max(abs(b - a) for a, b in pairwise(step)) < 0.1

    @pytest.mark.parametrize(("hour", "day"), [(3, 1), (4.5, 2), (6, 2), (23, 2)])
    def test_the_coming_night_is_an_hour_away_or_more(self, hour, day):
        since = datetime(2030, 4, 1, tzinfo=UTC) + hour * HOUR
        assert Night.after(since, DAY, UTC).low_at.day == day

    def test_no_low_is_colder_than_a_reading_may_be(self):
        air = ShopAir.of(Constant(-25))
        night = Night.after(CAST, DAY, UTC)
        assert night.bend(air, -60).at(night.low_at.timestamp()) == -30


class TestCovering:
    def test_steps_add_and_people_say(self):
        at = [CAST + n * HOUR for n in range(6)]
        steps = ((at[0], "plastic"), (at[2], "blanket"))
        assert cover_changes(steps, (), None) == steps
        tent = ((at[1], "heated tent"),)
        assert cover_changes(steps, tent, None) == (steps[0], tent[0])
        off = ((at[1], "open"),)
        assert cover_changes(steps, off, at[5]) == (
            (at[0], "plastic"),
            (at[1], "open"),
            (at[2], "blanket"),
            (at[5], "open"),
        )

    def test_what_is_supposed_counts_from_its_instant_to_the_grinding(self):
        at = [CAST + n * HOUR for n in range(6)]
        steps = ((at[0], "plastic"), (at[2], "blanket"))
        found = cover_changes(steps, (), at[5], (at[1], "plastic"))
        assert found == ((at[0], "plastic"), (at[5], "open"))


def test_a_piece_is_reckoned_as_the_concrete_of_its_top():
    foam = Foam(0.5, 0.3, 0.05)
    assert shell_of(Bare(thickness=0.03), Mix()).thickness == 0.03
    cored = shell_of(Piece(1.5, 0.6, 0.09, foam=foam), Mix(back_density=2000))
    assert cored.thickness == pytest.approx(0.04)
    assert cored.density == 2000
    assert shell_of(Piece(1.5, 0.6, 0.5), Mix()).thickness == 0.3
