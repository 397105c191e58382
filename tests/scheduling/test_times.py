"""Typed times: what is read, what is refused, and how an instant is said back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.times import REACH, YEARS, Lean, Typed, read_time, say

OSLO = ZoneInfo("Europe/Oslo")
NEW_YORK = ZoneInfo("America/New_York")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")
KOLKATA = ZoneInfo("Asia/Kolkata")
ZONES = (OSLO, NEW_YORK, LORD_HOWE, KOLKATA)

# Clock changes of 2026: derived from the tz database's rules for each zone.
OSLO_FORWARD, OSLO_BACK = datetime(2026, 3, 29), datetime(2026, 10, 25)  # noqa: DTZ001 - wall
NOW = datetime(2030, 4, 2, 10, 0, 20, tzinfo=OSLO)  # a Tuesday


def local(text: str, now: datetime = NOW, zone: ZoneInfo = OSLO) -> list[str]:
    """The instants a text means, as local ISO times with offset."""
    instants = read_time(text, now, zone).instants
    return [each.astimezone(zone).isoformat() for each in instants]


class TestWhatIsRead:
    @pytest.mark.parametrize(
        ("text", "meant"),
        [
            ("now", "2030-04-02T10:00:20+02:00"),
            ("NOW", "2030-04-02T10:00:20+02:00"),
            ("+20", "2030-04-02T10:20:20+02:00"),
            ("-5", "2030-04-02T09:55:20+02:00"),
            ("+0", "2030-04-02T10:00:20+02:00"),
            ("+1080", "2030-04-03T04:00:20+02:00"),
            ("+1h30", "2030-04-02T11:30:20+02:00"),
            ("+18h00", "2030-04-03T04:00:20+02:00"),
            ("in 20 min", "2030-04-02T10:20:20+02:00"),
            ("7:30", "2030-04-02T07:30:00+02:00"),
            ("07.30", "2030-04-02T07:30:00+02:00"),
            ("  7:30 ", "2030-04-02T07:30:00+02:00"),
            ("21:00", "2030-04-02T21:00:00+02:00"),
            ("23:00", "2030-04-01T23:00:00+02:00"),  # 11 h ago, not in 13 h
            ("0:00", "2030-04-02T00:00:00+02:00"),
            ("24:00", "2030-04-02T00:00:00+02:00"),
            ("today 24:00", "2030-04-03T00:00:00+02:00"),
            ("today 23:59", "2030-04-02T23:59:00+02:00"),
            ("tomorrow 7:30", "2030-04-03T07:30:00+02:00"),
            ("7:30 tomorrow", "2030-04-03T07:30:00+02:00"),
            ("Yesterday 16.45", "2030-04-01T16:45:00+02:00"),
            ("Tue 7:30", "2030-04-02T07:30:00+02:00"),
            ("tue 23:30", "2030-04-02T23:30:00+02:00"),
            ("Monday 7:30", "2030-04-01T07:30:00+02:00"),
            ("fri 7:30", "2030-04-05T07:30:00+02:00"),
            ("SAT 7:30", "2030-03-30T07:30:00+01:00"),  # 3.1 days ago, not in 3.9
            ("2030-04-01 7:30", "2030-04-01T07:30:00+02:00"),
            ("2030-04-01 24:00", "2030-04-02T00:00:00+02:00"),
            ("2030-04-01T07:30", "2030-04-01T07:30:00+02:00"),
            ("2030-04-01T07:30:15", "2030-04-01T07:30:15+02:00"),
            ("2030-04-01T07:30Z", "2030-04-01T09:30:00+02:00"),
            ("2030-04-01T07:30+05:30", "2030-04-01T04:00:00+02:00"),
            ("2030-04-01T07:30:15-03:00", "2030-04-01T12:30:15+02:00"),
            ("2028-02-29 12:00", "2028-02-29T12:00:00+01:00"),
            ("2020-01-01 0:00", "2020-01-01T00:00:00+01:00"),
            ("2100-12-31 23:59", "2100-12-31T23:59:00+01:00"),
        ],
    )
    def test_each_form_has_one_meaning(self, text: str, meant: str) -> None:
        assert local(text) == [meant]

    def test_instants_are_utc(self) -> None:
        (instant,) = read_time("7:30", NOW, OSLO).instants
        assert instant == datetime(2030, 4, 2, 5, 30, tzinfo=UTC)
        assert instant.tzinfo is UTC

    @pytest.mark.parametrize(
        ("text", "dated"),
        [
            ("now", False),
            ("+5", False),
            ("7:30", False),
            ("tue 7:30", True),
            ("today 7:30", True),
            ("2030-04-01 7:30", True),
        ],
    )
    def test_says_whether_a_day_was_named(self, text: str, *, dated: bool) -> None:
        assert read_time(text, NOW, OSLO).dated is dated


class TestWhatIsRefused:
    # Most of these are times that general parsers take for something else:
    # the seventh of the month, the year 700, October, 30 July.
    @pytest.mark.parametrize(
        "text",
        [
            *("", " ", "7", "07", "0700", "700", "7:5", "7.5", "7;30", "7,30", "7'30"),
            *("45", "1930", "10/11", "10.11.2026", "10m", "90m", "1h30", "-1h30"),
            *("+1h3", "+1h60", "+1h", "+", "-", "+-5", "+ 5", "+5.5", "+1081", "-9999"),
            *("+18h01", "+99h00", "in 20", "in 20min", "in -5 min", "in 2000 min"),
            *("24:01", "25:00", "7:60", "13 pm", "7:30 pm", "07:30:00", "noon", "nan"),
            *("7:30 CET", "7:30 +2", "7:30 UTC+3", "7:30 today", "7:30 tue"),
            *(
                "tue",
                "tomorrow",
                "tomorrow tue 7:30",
                "week 7:30",
                "mar 5 7",
                "tues 7:30",
            ),
            *("\u0667:\u0663\u0660", "\uff17:30", "7:3\u00b2", "7:30\n", "\t7:30"),
            *("2030-02-30 7:30", "2030-4-1 7:30", "0000-01-01 7:30", "2030-13-01 7:30"),
            *("2019-12-31 23:59", "2101-01-01 0:00", "2100-12-31 24:00"),
            *("2030-04-01", "2030-04-01T7:30", "2030-04-01t07:30", "2030-04-01T07:30z"),
            *("2030-04-01T24:00:01", "2030-04-01T07:30:60", "2030-04-01T07:30+24:00"),
            *("2030-04-01T07:30+14:01", "2030-04-01T07:30+01:60", "2030-04-01T07:30+1"),
            *("2019-12-31T23:30-14:00", "2030-04-01 07:30+02:00", "7" * 26, " " * 26),
        ],
    )
    def test_nothing_else_is_read(self, text: str) -> None:
        with pytest.raises(BadInput) as caught:
            read_time(text, NOW, OSLO)
        (fault,) = caught.value.faults
        assert fault.want
        assert str(caught.value).isprintable()

    def test_a_bare_number_is_told_its_two_meanings(self) -> None:
        with pytest.raises(BadInput, match=r"hours or minutes.*7:30.*\+20"):
            read_time("7", NOW, OSLO)

    @pytest.mark.parametrize(
        ("minute_now", "first", "second"), [(20, "02", "03"), (40, "03", "02")]
    )
    def test_about_as_near_on_two_days_gives_both(
        self, minute_now: int, first: str, second: str
    ) -> None:
        now = datetime(2030, 4, 2, 19, minute_now, tzinfo=OSLO)
        choices = f"write 2030-04-{first} 7:30 or 2030-04-{second} 7:30"
        with pytest.raises(BadInput, match=choices):
            read_time("7:30", now, OSLO)

    def test_as_near_weekdays_give_both(self) -> None:
        now = datetime(2030, 4, 2, 0, 0, tzinfo=OSLO)
        with pytest.raises(BadInput, match="2030-03-29 12:00 or 2030-04-05 12:00"):
            read_time("fri 12:00", datetime(2030, 4, 2, 0, 30, tzinfo=OSLO), OSLO)
        assert local("fri 9:00", now) == ["2030-04-05T09:00:00+02:00"]

    @pytest.mark.parametrize("year", [1970, 2019, 2101, 9999, 1])
    def test_a_clock_far_out_is_named(self, year: int) -> None:
        with pytest.raises(BadInput, match=f"the year {year}"):
            read_time("now", datetime(year, 6, 1, tzinfo=UTC), OSLO)

    def test_a_naive_now_is_a_mistake_of_the_program(self) -> None:
        with pytest.raises(ValueError, match="aware"):
            read_time("now", NOW.replace(tzinfo=None), OSLO)


class TestLean:
    @pytest.mark.parametrize(
        ("text", "lean", "meant"),
        [
            ("7:30", "past", "2030-04-02T07:30:00+02:00"),
            ("23:00", "future", "2030-04-02T23:00:00+02:00"),
            ("10:00", "past", "2030-04-02T10:00:00+02:00"),
            ("10:00", "future", "2030-04-02T10:00:00+02:00"),
            ("tue 7:30", "future", "2030-04-09T07:30:00+02:00"),
            ("tue 7:30", "past", "2030-04-02T07:30:00+02:00"),
            ("sat 7:30", "future", "2030-04-06T07:30:00+02:00"),
            ("fri 7:30", "past", "2030-03-29T07:30:00+01:00"),
            ("2030-04-01 7:30", "future", "2030-04-01T07:30:00+02:00"),
        ],
    )
    def test_only_days_on_that_side(self, text: str, lean: Lean, meant: str) -> None:
        (instant,) = read_time(text, NOW, OSLO, lean=lean).instants
        assert instant.astimezone(OSLO).isoformat() == meant

    def test_settles_what_is_as_near_on_two_days(self) -> None:
        now = datetime(2030, 4, 2, 19, 30, tzinfo=OSLO)
        (behind,) = read_time("7:30", now, OSLO, lean="past").instants
        (ahead,) = read_time("7:30", now, OSLO, lean="future").instants
        assert (now - behind, ahead - now) == (timedelta(hours=12),) * 2

    @pytest.mark.parametrize(("text", "lean"), [("7:30", "future"), ("10:01", "past")])
    def test_does_not_reach_beyond_18_h(self, text: str, lean: Lean) -> None:
        with pytest.raises(BadInput, match="name the day"):
            read_time(text, NOW, OSLO, lean=lean)

    def test_reaches_17_h_where_only_one_side_counts(self) -> None:
        (instant,) = read_time("17:00", NOW, OSLO, lean="past").instants
        assert instant.astimezone(OSLO).isoformat() == "2030-04-01T17:00:00+02:00"


class TestClockChanges:
    @pytest.mark.parametrize(
        ("text", "zone", "earlier", "later"),
        [
            ("2026-03-29 2:30", OSLO, "2026-03-29 1:30", "2026-03-29 3:30"),
            ("2026-03-29 2:00", OSLO, "2026-03-29 1:00", "2026-03-29 3:00"),
            ("2026-03-08 2:59", NEW_YORK, "2026-03-08 1:59", "2026-03-08 3:59"),
            ("2026-10-04 2:10", LORD_HOWE, "2026-10-04 1:40", "2026-10-04 2:40"),
        ],
    )
    def test_a_skipped_time_is_refused_with_its_neighbours(
        self, text: str, zone: ZoneInfo, earlier: str, later: str
    ) -> None:
        with pytest.raises(BadInput, match=f"does not exist.*{earlier} or {later}"):
            read_time(text, NOW, zone)

    def test_a_skipped_time_without_a_date_is_not_moved_to_another_day(self) -> None:
        noon = datetime(2026, 3, 29, 12, tzinfo=OSLO)
        with pytest.raises(BadInput, match="does not exist"):
            read_time("2:30", noon, OSLO)
        assert local("2:30", noon + timedelta(hours=9)) == ["2026-03-30T02:30:00+02:00"]

    @pytest.mark.parametrize(
        ("text", "zone", "first", "second"),
        [
            ("2026-10-25 2:30", OSLO, "02:30:00+02:00", "02:30:00+01:00"),
            ("2026-11-01 1:00", NEW_YORK, "01:00:00-04:00", "01:00:00-05:00"),
            ("2026-04-05 1:45", LORD_HOWE, "01:45:00+11:00", "01:45:00+10:30"),
        ],
    )
    def test_a_time_that_happens_twice_gives_both(
        self, text: str, zone: ZoneInfo, first: str, second: str
    ) -> None:
        before = datetime(2026, 1, 1, tzinfo=zone)
        after = datetime(2027, 1, 1, tzinfo=zone)
        day = text[:10]
        both = [f"{day}T{first}", f"{day}T{second}"]
        assert local(text, before, zone) == both
        assert local(text, after, zone) == both[::-1]  # nearest first

    @pytest.mark.parametrize(
        ("text", "zone"),
        [
            ("2026-10-25 3:00", OSLO),
            ("2026-10-25 1:59", OSLO),
            ("2026-03-29 3:00", OSLO),
            ("2026-03-29 1:59", OSLO),
            ("2026-11-01 2:00", NEW_YORK),
            ("2026-10-04 2:30", LORD_HOWE),
            ("2026-04-05 1:29", LORD_HOWE),
            ("2026-04-05 2:00", LORD_HOWE),
            ("2026-10-25T02:30+01:00", OSLO),
            ("2026-10-25T02:30+02:00", OSLO),
        ],
    )
    def test_the_edges_and_offsets_are_not_in_doubt(
        self, text: str, zone: ZoneInfo
    ) -> None:
        assert len(local(text, NOW, zone)) == 1

    def test_without_a_date_nearest_comes_first(self) -> None:
        morning = datetime(2026, 10, 25, 7, tzinfo=OSLO)
        evening = datetime(2026, 10, 24, 22, tzinfo=OSLO)
        summer, winter = "2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00"
        assert local("2:30", morning) == [winter, summer]
        assert local("2:30", evening) == [summer, winter]

    def test_lean_settles_it_between_the_two(self) -> None:
        between = datetime(2026, 10, 25, 2, 50, tzinfo=OSLO)
        (past,) = read_time("2:30", between, OSLO, lean="past").instants
        (future,) = read_time("2:30", between, OSLO, lean="future").instants
        assert future - past == timedelta(hours=1)

    def test_minutes_from_now_are_elapsed_minutes(self) -> None:
        now = datetime(2026, 10, 25, 1, 50, tzinfo=OSLO)
        assert local("+90", now) == ["2026-10-25T02:20:00+01:00"]


instants = st.datetimes(
    min_value=datetime(2020, 1, 2),  # noqa: DTZ001 - hypothesis adds the zone
    max_value=datetime(2100, 12, 30),  # noqa: DTZ001 - hypothesis adds the zone
    timezones=st.just(UTC),
)
changes_of_2026 = st.datetimes(
    min_value=OSLO_FORWARD - timedelta(days=40),
    max_value=OSLO_BACK + timedelta(days=40),
    timezones=st.just(UTC),
)
zones = st.sampled_from(ZONES)
leans: st.SearchStrategy[Lean] = st.sampled_from(["near", "past", "future"])
alphabet = st.sampled_from("0123456789:.+- hinTZmowtudayesrf\u0663\uff17\x1b[")
scraps = st.sampled_from(
    ["now", "today", "tomorrow", "tue", "in", "min", " ", ":", ".", "+", "-", "h", "T"]
) | st.integers(0, 2200).map(str)
typings = (
    st.text(max_size=30)
    | st.text(alphabet, max_size=27)
    | st.lists(scraps, max_size=6).map("".join)
    | st.from_regex(r"(tomorrow |sun |)[0-2]?[0-9][:.][0-5][0-9]", fullmatch=True)
    | st.from_regex(r"[+-][0-9]{1,4}", fullmatch=True)
)


class TestAnyText:
    @given(text=typings, now=instants | changes_of_2026, zone=zones, lean=leans)
    @example(
        text="2:30", now=datetime(2026, 10, 25, 20, tzinfo=UTC), zone=OSLO, lean="past"
    )
    @settings(max_examples=800, deadline=None)
    def test_is_read_or_refused_in_one_way(
        self, text: str, now: datetime, zone: ZoneInfo, lean: Lean
    ) -> None:
        refused = ""
        typed: Typed | None
        try:
            typed = read_time(text, now, zone, lean=lean)
        except BadInput as refusal:
            refused = str(refusal)
            typed = None
        if typed is None:
            assert refused.isprintable()
            return
        assert 1 <= len(typed.instants) <= 2
        walls = set()
        for instant in typed.instants:
            assert typed.dated or abs(instant - now) <= REACH
            assert instant.astimezone(zone).year in YEARS
            walls.add(instant.astimezone(zone).replace(tzinfo=None))
        assert len(walls) == 1  # two instants are one wall time
        away = [abs(instant - now) for instant in typed.instants]
        assert away == sorted(away)

    @given(instant=instants | changes_of_2026, zone=zones)
    @settings(max_examples=500, deadline=None)
    def test_an_iso_time_means_itself(self, instant: datetime, zone: ZoneInfo) -> None:
        whole = instant.replace(microsecond=0)
        text = whole.astimezone(zone).isoformat()
        assert read_time(text, NOW, zone).instants == (whole,)

    @given(now=changes_of_2026, minutes=st.integers(-600, 600), zone=zones)
    @settings(max_examples=500, deadline=None)
    def test_a_clock_time_is_found_again(
        self, now: datetime, minutes: int, zone: ZoneInfo
    ) -> None:
        meant = (now + timedelta(minutes=minutes)).replace(second=0, microsecond=0)
        text = f"{meant.astimezone(zone):%H:%M}"
        assert meant in read_time(text, now, zone).instants


class TestSay:
    @pytest.mark.parametrize(
        ("away", "words"),
        [
            (timedelta(), "now"),
            (timedelta(seconds=-29), "now"),
            (timedelta(minutes=12), "in 12 min"),
            (timedelta(minutes=-59), "59 min ago"),
            (timedelta(hours=2, minutes=10), "in 2 h 10"),
            (timedelta(hours=-1, minutes=-5), "1 h 05 ago"),
            (timedelta(hours=47, minutes=59), "in 47 h 59"),
            (timedelta(days=3, hours=4, minutes=50), "in 3 d 4 h"),
        ],
    )
    def test_distance(self, away: timedelta, words: str) -> None:
        assert say(NOW + away, OSLO, NOW).endswith(f", {words}")

    def test_names_date_weekday_zone_and_offset(self) -> None:
        instant = datetime(2030, 4, 1, 5, 30, tzinfo=UTC)
        now = datetime(2030, 4, 1, 3, 20, tzinfo=UTC)
        assert (
            say(instant, OSLO, now)
            == "Mon 1 April 2030 07:30 Europe/Oslo (UTC+02:00), in 2 h 10"
        )

    def test_tells_the_two_of_an_autumn_night_apart(self) -> None:
        both = read_time("2026-10-25 2:30", NOW, OSLO).instants
        assert len({say(each, OSLO, NOW).split(",")[0] for each in both}) == 2

    def test_a_zone_without_a_key_is_named_by_its_offset(self) -> None:
        said = say(NOW, timezone(timedelta(hours=10, minutes=30)), NOW)
        assert "18:30 UTC+10:30 (UTC+10:30)" in said
