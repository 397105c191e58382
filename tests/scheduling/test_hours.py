"""The shop's calendar, and wall time against instants."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import gettz
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.hours import ShopHours, local_zone, wall_instant
from scheduling.shop import Hours, Person

OSLO = ZoneInfo("Europe/Oslo")
MINUTE = timedelta(minutes=1)
PEOPLE = (
    Person("Ines"),
    Person("Bo"),
    Person("Wes", ("Tue", "Wed", "Thu")),
)


def local(day, hour, minute=0, month=4, tz=OSLO):
    """An instant of a day of April 2030; the 1st is a Monday."""
    return datetime(2030, month, day, hour, minute, tzinfo=tz)


def shop(tz=OSLO, **changes):
    return ShopHours(Hours(**changes), PEOPLE, tz)


def night_shop(tz=OSLO):
    """Open across the hours in which the clocks change, all week."""
    days = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    return shop(tz, days=days, opens=time(1), closes=time(6), breaks=())


class TestWallInstant:
    @pytest.mark.parametrize("find", [ZoneInfo, gettz], ids=["zoneinfo", "dateutil"])
    @pytest.mark.parametrize(
        ("zone", "wall", "instant"),
        [
            ("Europe/Oslo", "2030-07-01 07:30", "2030-07-01 05:30"),
            ("Europe/Oslo", "2030-03-31 01:59", "2030-03-31 00:59"),
            ("Europe/Oslo", "2030-03-31 02:00", "2030-03-31 01:00"),
            ("Europe/Oslo", "2030-03-31 02:30:10.5", "2030-03-31 01:00"),
            ("Europe/Oslo", "2030-03-31 03:00", "2030-03-31 01:00"),
            ("Europe/Oslo", "2030-10-27 02:30", "2030-10-27 00:30"),
            ("Europe/Oslo", "2030-10-27 03:00", "2030-10-27 02:00"),
            ("America/New_York", "2030-03-10 02:30", "2030-03-10 07:00"),
            ("America/New_York", "2030-11-03 01:30", "2030-11-03 05:30"),
            ("Australia/Lord_Howe", "2030-10-06 02:15", "2030-10-05 15:30"),
            ("Asia/Kolkata", "2030-03-31 02:30", "2030-03-30 21:00"),
        ],
    )
    def test_gap_gives_the_change_and_fold_the_first(self, find, zone, wall, instant):
        found = wall_instant(datetime.fromisoformat(wall), find(zone))
        assert found == datetime.fromisoformat(instant).replace(tzinfo=UTC)

    @settings(max_examples=100, deadline=None)
    @given(
        st.datetimes(datetime(2020, 1, 1), datetime(2036, 1, 1)),  # noqa: DTZ001 - wall
        st.sampled_from(["Europe/Oslo", "America/New_York", "Australia/Lord_Howe"]),
    )
    def test_is_the_first_instant_that_shows_it_or_later(self, wall, zone):
        tz = ZoneInfo(zone)
        instant = wall_instant(wall, tz)
        assert instant.astimezone(tz).replace(tzinfo=None) >= wall
        before = (instant - timedelta(seconds=1)).astimezone(tz)
        assert before.replace(tzinfo=None) < wall


class TestZone:
    def test_by_name(self):
        assert local_zone("Europe/Oslo") == OSLO

    def test_the_machines_own(self, monkeypatch):
        monkeypatch.setenv("TZ", "Europe/Oslo")
        assert local(1, 12, tz=local_zone("")) == local(1, 10, tz=UTC)

    @pytest.mark.parametrize("name", ["Europe", "../etc", "Nowhere/Town", "a\0b", "/"])
    def test_unknown_is_refused(self, name):
        with pytest.raises(ValueError, match="no time zone"):
            local_zone(name)


class TestOpen:
    @pytest.mark.parametrize(
        ("at", "opens"),
        [
            (local(1, 7, 29), local(1, 7, 30)),
            (local(1, 7, 30), local(1, 7, 30)),
            (local(1, 12), local(1, 12, 30)),
            (local(1, 12, 30), local(1, 12, 30)),
            (local(1, 16, 29), local(1, 16, 29)),
            (local(1, 16, 30), local(2, 7, 30)),
            (local(5, 18), local(8, 7, 30)),
            (local(6, 10), local(8, 7, 30)),
        ],
    )
    def test_next_open(self, at, opens):
        hours = shop()
        assert hours.next_open(at) == opens
        assert hours.is_open(at) is (at == opens)
        assert hours.is_open(opens)

    def test_closed_dates_and_rule(self):
        hours = shop(
            closed=(date(2030, 4, 2),), closed_rule="FREQ=MONTHLY;BYMONTHDAY=3,4"
        )
        assert hours.next_open(local(1, 17)) == local(5, 7, 30)

    def test_a_rule_may_say_when_it_starts(self):
        rule = "DTSTART:20300402T000000\nRRULE:FREQ=WEEKLY;INTERVAL=2"
        hours = shop(closed_rule=rule)
        assert [hours.is_open(local(day, 10)) for day in (2, 9, 16)] == [
            False,
            True,
            False,
        ]

    def test_breaks_in_any_order_and_overlapping(self):
        breaks = (
            (time(14), time(14, 15)),
            (time(12), time(12, 30)),
            (time(12, 15), time(12, 45)),
            (time(16), time(17)),
            (time(6), time(7)),
        )
        hours = shop(breaks=breaks)
        assert hours.next_open(local(1, 12, 20)) == local(1, 12, 45)
        assert hours.day_close(local(1, 8)) == local(1, 16)
        assert hours.working_minutes(local(1, 0), local(2, 0)) == 510 - 45 - 15

    def test_a_shop_that_never_opens_says_so(self):
        hours = shop(days=())
        with pytest.raises(ValueError, match="within 400 days of 2030-04-01"):
            hours.next_open(local(1, 8))
        for method in (hours.day_close, hours.next_day_open):
            with pytest.raises(ValueError, match="does not open"):
                method(local(1, 8))
        with pytest.raises(ValueError, match="does not open"):
            hours.fits(local(1, 8), 30)
        with pytest.raises(ValueError, match="not for long enough"):
            shop().finish(local(1, 8), 60 * 24 * 400)

    @pytest.mark.parametrize("rule", ["daily", "FREQ=HOURLY", "FREQ=DAILY;BYDAY=XX"])
    def test_a_rule_of_no_use_is_refused(self, rule):
        with pytest.raises(ValueError, match="rule for days off"):
            shop(closed_rule=rule)


class TestWork:
    @pytest.mark.parametrize(
        ("start", "minutes", "fitted"),
        [
            (local(1, 7, 45), 30, local(1, 7, 45)),
            (local(1, 11, 30), 30, local(1, 11, 30)),
            (local(1, 11, 31), 30, local(1, 12, 30)),
            (local(1, 16, 10), 30, local(2, 7, 30)),
            (local(1, 14), 270, local(2, 7, 30)),
            (local(5, 16, 10), 30, local(8, 7, 30)),
            (local(1, 8), 600, local(1, 8)),
            (local(1, 20), 600, local(2, 7, 30)),
            (local(1, 20), 0, local(2, 7, 30)),
        ],
    )
    def test_fits(self, start, minutes, fitted):
        assert shop().fits(start, minutes) == fitted

    @pytest.mark.parametrize(
        ("start", "minutes", "end"),
        [
            (local(1, 8), 60, local(1, 9)),
            (local(1, 11, 30), 30, local(1, 12)),
            (local(1, 11, 30), 31, local(1, 12, 31)),
            (local(1, 16), 60, local(2, 8)),
            (local(5, 16), 60, local(8, 8)),
            (local(6, 10), 30, local(8, 8)),
            (local(6, 10), 0, local(6, 10)),
            (local(1, 7, 30), 510 * 6, local(8, 16, 30)),
        ],
    )
    def test_finish(self, start, minutes, end):
        assert shop().finish(start, minutes) == end

    @pytest.mark.parametrize("minutes", [-1, float("nan"), float("inf")])
    def test_work_of_no_length_that_counts_is_refused(self, minutes):
        for method in (shop().fits, shop().finish):
            with pytest.raises(ValueError, match="want 0 or more"):
                method(local(1, 8), minutes)

    @settings(max_examples=60, deadline=None)
    @given(start_min=st.integers(0, 60 * 24 * 14), minutes=st.floats(0.1, 3000))
    def test_finish_and_working_minutes_agree(self, start_min, minutes):
        hours = shop()
        start = local(25, 0, month=3).astimezone(UTC) + start_min * MINUTE
        end = hours.finish(start, minutes)
        assert hours.working_minutes(start, end) == pytest.approx(minutes, abs=1e-6)
        assert hours.working_minutes(start, end - MINUTE / 10) < minutes

    @settings(max_examples=60, deadline=None)
    @given(start_min=st.integers(0, 60 * 24 * 14), minutes=st.floats(0.1, 270))
    def test_what_fits_is_not_interrupted(self, start_min, minutes):
        hours = shop()
        start = local(25, 0, month=3).astimezone(UTC) + start_min * MINUTE
        begin = hours.fits(start, minutes)
        assert begin >= start
        assert hours.is_open(begin)
        end = begin + timedelta(minutes=minutes)
        assert hours.working_minutes(begin, end) == pytest.approx(minutes, abs=1e-6)

    def test_working_minutes_backwards_is_refused(self):
        with pytest.raises(ValueError, match="back"):
            shop().working_minutes(local(2, 8), local(1, 8))


class TestDays:
    @pytest.mark.parametrize(
        ("at", "close", "next_open"),
        [
            (local(1, 6), local(1, 16, 30), local(1, 7, 30)),
            (local(1, 10), local(1, 16, 30), local(2, 7, 30)),
            (local(1, 12, 10), local(1, 16, 30), local(2, 7, 30)),
            (local(1, 16, 30), local(2, 16, 30), local(2, 7, 30)),
            (local(5, 14), local(5, 16, 30), local(8, 7, 30)),
            (local(6, 14), local(8, 16, 30), local(8, 7, 30)),
        ],
    )
    def test_close_and_next_morning(self, at, close, next_open):
        assert shop().day_close(at) == close
        assert shop().next_day_open(at) == next_open

    def test_who_is_in_by_weekday(self):
        hours = shop(closed=(date(2030, 4, 4),))
        assert hours.who(local(1, 9)) == ("Ines", "Bo")
        assert hours.hands(local(2, 20)) == 3
        assert hours.who(local(4, 9)) == ()
        assert hours.hands(local(6, 9)) == 0

    def test_the_day_is_the_local_one(self):
        late = datetime(2030, 4, 1, 22, 30, tzinfo=UTC)
        assert shop().hands(late) == 3
        assert shop(UTC).hands(late) == 2


class TestClockChanges:
    def test_a_night_in_spring_is_an_hour_shorter(self):
        hours = night_shop()
        spring = local(31, 0, month=3)
        assert hours.working_minutes(spring, spring + timedelta(days=1)) == 240
        assert hours.finish(local(31, 1, 30, month=3), 60) == local(31, 3, 30, month=3)

    def test_a_night_in_autumn_is_an_hour_longer(self):
        hours = night_shop()
        autumn = local(27, 0, month=10)
        assert hours.working_minutes(autumn, autumn + timedelta(days=1)) == 360
        end = hours.finish(local(27, 1, 30, month=10), 120)
        assert end == datetime(2030, 10, 27, 1, 30, tzinfo=UTC)

    def test_opening_in_the_hour_left_out(self):
        hours = shop(days=("Sun",), opens=time(2, 30), closes=time(6), breaks=())
        assert hours.next_open(local(30, 12, month=3)) == local(31, 3, month=3)

    def test_answers_are_utc(self):
        hours = shop()
        at = local(1, 8)
        for answer in (
            hours.next_open(at),
            hours.fits(at, 30),
            hours.finish(at, 30),
            hours.finish(at, 0),
            hours.day_close(at),
            hours.next_day_open(at),
        ):
            assert answer.tzinfo is UTC
