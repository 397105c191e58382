"""Climates: constant, daily, measured; reading a logger's file."""

from datetime import UTC, datetime, time, timedelta
from itertools import islice, pairwise
from math import exp, nan
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.air import (
    Conditions,
    dew_point,
    evaporation,
    evaporation_menzel,
    may_coat,
    saturation_pressure,
)
from scheduling.climate import Constant, DailyCycle, Measured, Reading
from scheduling.climatecsv import CSV_LIMIT_BYTES, read_climate_csv
from scheduling.errors import BadInput
from scheduling.shop import TypicalDay

OSLO = ZoneInfo("Europe/Oslo")
NOON = datetime(2030, 4, 3, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
PLACES = ("shop", "form", "mix", "piece")

SPRING_DAY = TypicalDay(low_c=10, high_c=20, rh_pct=60, wind_kmh=1)


def cycle(day=SPRING_DAY, tz=UTC):
    return DailyCycle(day, tz)


class TestFormulas:
    def test_condensation_is_negative(self):
        assert evaporation(10, 25, 80, 0) < 0

    @pytest.mark.parametrize(
        "values",
        [(-19, 20, 50, 0), (20, -19, 50, 0), (20, 20, 101, 0), (20, 20, 50, -1)],
    )
    def test_evaporation_out_of_range_is_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            evaporation(*values)

    @pytest.mark.parametrize("at", range(4))
    def test_evaporation_of_no_number_is_refused(self, at):
        values = [20.0, 20.0, 50.0, 0.0]
        values[at] = nan
        with pytest.raises(ValueError, match="nan"):
            evaporation(*values)

    @pytest.mark.parametrize("temp_c", [-46, 61, nan])
    def test_saturation_out_of_range_is_refused(self, temp_c):
        with pytest.raises(ValueError, match="degC: want"):
            saturation_pressure(temp_c)

    @pytest.mark.parametrize(
        "values",
        [(-46, 20, 50, 0), (20, 61, 50, 0), (20, 20, 101, 0), (20, 20, 50, -1)],
    )
    def test_menzel_out_of_range_is_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            evaporation_menzel(*values)

    @pytest.mark.parametrize("at", range(4))
    def test_menzel_of_no_number_is_refused(self, at):
        values = [20.0, 20.0, 50.0, 0.0]
        values[at] = nan
        with pytest.raises(ValueError, match="nan"):
            evaporation_menzel(*values)

    @pytest.mark.parametrize("values", [(20, 0), (20, 101), (61, 50), (20, nan)])
    def test_dew_point_out_of_range_is_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            dew_point(*values)

    @settings(max_examples=60, deadline=None)
    @given(st.floats(-40, 60), st.floats(1, 100))
    def test_the_dew_point_is_never_above_the_air(self, air_c, rh_pct):
        point = dew_point(air_c, rh_pct)
        assert point <= air_c + 1e-9
        vapour = rh_pct / 100 * saturation_pressure(air_c)
        if point >= -45:
            assert saturation_pressure(point) == pytest.approx(vapour)
        assert not may_coat(point, air_c, rh_pct)


class TestConstant:
    def test_is_alike_everywhere_and_has_no_edges(self):
        climate = Constant(15, 60, 2)
        assert {climate.at(place, NOON) for place in PLACES} == {Conditions(15, 60, 2)}
        assert climate.air(NOON) == climate.at("shop", NOON)
        assert list(climate.edges(NOON)) == []

    @pytest.mark.parametrize(
        "values", [(-31,), (61,), (nan,), (20, -1), (20, 101), (20, 50, -1)]
    )
    def test_out_of_range_is_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            Constant(*values)


class TestDailyCycle:
    @pytest.mark.parametrize(
        ("hour", "temp_c"), [(5, 10), (10, 15), (15, 20), (22, 15), (0, 12.830582)]
    )
    def test_half_cosines_between_low_and_high(self, hour, temp_c):
        # Derived: at midnight 9 of 14 h of the fall are over.
        conditions = cycle().air(NOON.replace(hour=hour))
        assert conditions.temp_c == pytest.approx(temp_c, abs=1e-6)
        assert (conditions.rh_pct, conditions.wind_kmh) == (60, 1)

    def test_goes_by_the_clock_on_the_wall(self):
        summer = datetime(2030, 7, 1, 13, tzinfo=UTC)
        winter = datetime(2030, 1, 1, 14, tzinfo=UTC)
        local = cycle(tz=OSLO)
        assert local.air(summer).temp_c == local.air(winter).temp_c == 20

    def test_edges_are_the_quarter_hours_after_start(self):
        start = NOON + timedelta(minutes=15)
        edges = list(islice(cycle().edges(start), 3))
        assert edges == [NOON + timedelta(minutes=m) for m in (30, 45, 60)]

    def test_a_flat_day_has_no_edges(self):
        flat = cycle(TypicalDay(low_c=18, high_c=18, high_at=time(5)))
        assert list(flat.edges(NOON)) == []
        assert flat.air(NOON).temp_c == 18

    @pytest.mark.parametrize(
        "day",
        [
            TypicalDay(low_c=20, high_c=10),
            TypicalDay(low_c=10, high_c=20, low_at=time(5), high_at=time(5)),
            TypicalDay(low_c=-40, high_c=20),
            TypicalDay(high_c=nan),
            TypicalDay(rh_pct=120),
            TypicalDay(wind_kmh=-3),
        ],
    )
    def test_an_impossible_day_is_refused(self, day):
        with pytest.raises(ValueError, match=r"typical day|humidity|wind"):
            cycle(day)

    @settings(max_examples=50, deadline=None)
    @given(
        low_min=st.integers(0, 1439),
        high_min=st.integers(0, 1439),
        at_s=st.integers(0, 86399),
    )
    def test_never_leaves_its_band(self, low_min, high_min, at_s):
        if low_min == high_min:
            return
        day = TypicalDay(10, 20, *(time(*divmod(m, 60)) for m in (low_min, high_min)))
        temp_c = cycle(day).air(NOON + timedelta(seconds=at_s)).temp_c
        assert 10 <= temp_c <= 20


class TestMeasured:
    def test_between_readings_is_a_straight_line(self):
        climate = Measured(
            cycle(), [Reading(NOON, shop_c=16), Reading(NOON + 2 * HOUR, shop_c=20)]
        )
        assert climate.air(NOON + HOUR / 2).temp_c == pytest.approx(17)

    def test_a_night_left_out_is_a_typical_night_and_no_line(self):
        base = cycle()
        evening, morning = NOON + 6 * HOUR, NOON + 20 * HOUR
        climate = Measured(
            base, [Reading(evening, shop_c=20), Reading(morning, shop_c=14)]
        )
        assert climate.air(evening).temp_c == 20
        assert climate.air(morning).temp_c == 14
        low = NOON + 17 * HOUR
        shift = (
            (20 - base.air(evening).temp_c) * 3 + (14 - base.air(morning).temp_c) * 11
        ) / 14
        assert climate.air(low).temp_c == pytest.approx(10 + shift)

    @pytest.mark.parametrize("hours", [0, 2, 30])
    def test_the_latest_reading_joins_the_forecast_without_a_step(self, hours):
        first = NOON - (hours + 1) * HOUR
        climate = Measured(
            cycle(), [Reading(first, shop_c=12), Reading(NOON, shop_c=25)]
        )
        second = timedelta(seconds=1)
        before, after = (climate.air(NOON + s * second).temp_c for s in (-1, 1))
        assert before == pytest.approx(25, abs=0.01)
        assert after == pytest.approx(25, abs=0.01)

    @settings(max_examples=40, deadline=None)
    @given(st.floats(-30, 60), st.integers(0, 1440))
    def test_the_forecast_only_ever_relaxes_to_the_typical_day(self, shop_c, minute):
        base = cycle()
        at = NOON + timedelta(minutes=minute)
        climate = Measured(base, [Reading(at, shop_c=shop_c)])

        def off(hours):
            then = at + hours * HOUR
            return abs(climate.air(then).temp_c - base.air(then).temp_c)

        offs = [off(hours) for hours in (0, 1, 3, 6, 12, 24, 72)]
        assert all(b <= a + 1e-9 for a, b in pairwise(offs))
        assert offs[-1] < 0.001

    @pytest.mark.parametrize("hours", [-20, -6, -1, 0, 1, 6, 20])
    def test_outside_the_typical_day_comes_back_with_six_hours(self, hours):
        base = cycle()
        climate = Measured(base, [Reading(NOON, shop_c=25)])
        at = NOON + hours * HOUR
        shift = 25 - base.air(NOON).temp_c
        expected = base.air(at).temp_c + shift * exp(-abs(hours) / 6)
        assert climate.air(at).temp_c == pytest.approx(expected)

    @pytest.mark.parametrize(
        ("field", "place", "fade_min"),
        [("form_c", "form", 180), ("mix_c", "mix", 67), ("piece_c", "piece", 135)],
    )
    def test_a_place_comes_to_the_shop_air(self, field, place, fade_min):
        climate = Measured(Constant(20), [Reading(NOON, **{field: 30})])
        assert climate.at(place, NOON).temp_c == 30
        later = NOON + timedelta(minutes=fade_min)
        assert climate.at(place, later).temp_c == pytest.approx(20 + 10 / exp(1))
        assert climate.air(later).temp_c == 20

    def test_a_place_is_an_offset_to_a_changing_shop(self):
        readings = [
            Reading(NOON, shop_c=20, piece_c=26),
            Reading(NOON + 2 * HOUR, shop_c=10, piece_c=20),
        ]
        climate = Measured(Constant(20), readings)
        assert climate.at("piece", NOON + HOUR).temp_c == pytest.approx(15 + 8)

    def test_a_place_without_reading_equals_the_shop_air(self):
        climate = Measured(cycle(), [Reading(NOON, shop_c=25, form_c=15)])
        assert climate.at("mix", NOON) == climate.air(NOON)

    def test_humidity_and_wind_hold_from_each_reading(self):
        readings = [
            Reading(NOON, rh_pct=40),
            Reading(NOON + HOUR, wind_kmh=5),
            Reading(NOON + 2 * HOUR, rh_pct=0, wind_kmh=0),
        ]
        climate = Measured(cycle(), readings)

        def air(hours):
            found = climate.air(NOON + hours * HOUR)
            return found.rh_pct, found.wind_kmh

        assert [air(h) for h in (-1, 0, 0.5, 1, 1.5, 2, 90)] == [
            (60, 1),
            (40, 1),
            (40, 1),
            (40, 5),
            (40, 5),
            (0, 0),
            (0, 0),
        ]

    def test_without_readings_it_is_the_climate_beneath(self):
        base = cycle()
        climate = Measured(base, [])
        for place in PLACES:
            assert climate.at(place, NOON) == base.at(place, NOON)

    def test_of_two_at_one_instant_the_last_counts_in_any_order(self):
        late = Reading(NOON + HOUR, shop_c=18)
        readings = [late, Reading(NOON, shop_c=5), Reading(NOON, shop_c=16)]
        climate = Measured(cycle(), readings)
        assert climate.air(NOON).temp_c == 16
        assert climate.air(NOON + HOUR / 2).temp_c == pytest.approx(17)

    def test_edges_are_grid_and_readings_once_each(self):
        odd = NOON + timedelta(minutes=20)
        below = Measured(Constant(20), [Reading(odd + timedelta(minutes=1), shop_c=20)])
        climate = Measured(below, [Reading(odd, shop_c=20), Reading(NOON, shop_c=20)])
        edges = list(islice(climate.edges(NOON), 5))
        assert [(edge - NOON) / timedelta(minutes=1) for edge in edges] == [
            15,
            20,
            21,
            30,
            45,
        ]

    @settings(max_examples=40, deadline=None)
    @given(
        st.lists(
            st.tuples(st.integers(0, 3000), st.floats(-30, 60)), min_size=1, max_size=8
        )
    )
    def test_meets_every_reading(self, pairs):
        known = dict(pairs)
        climate = Measured(
            cycle(),
            [Reading(NOON + timedelta(minutes=m), shop_c=t) for m, t in known.items()],
        )
        for minute, temp_c in known.items():
            met = climate.air(NOON + timedelta(minutes=minute)).temp_c
            assert met == pytest.approx(temp_c, abs=1e-9)

    @pytest.mark.parametrize(("shop_c", "limit_c"), [(-30, 60), (60, -30)])
    def test_a_carried_offset_stops_where_readings_do(self, shop_c, limit_c):
        readings = [
            Reading(NOON, shop_c=shop_c, piece_c=limit_c),
            Reading(NOON + HOUR, shop_c=15),
        ]
        climate = Measured(Constant(15), readings)
        # Unlimited, the offset carried over the hour would give 73 and -43 degC.
        assert climate.air(NOON + HOUR).temp_c == 15
        assert climate.at("piece", NOON + HOUR).temp_c == limit_c

    @settings(max_examples=20, deadline=None)
    @given(st.lists(st.integers(0, 2880), max_size=10), st.integers(0, 1440))
    def test_edges_rise_strictly_and_start_after(self, minutes, start_min):
        readings = [
            Reading(NOON + timedelta(minutes=m), shop_c=20 + m % 3) for m in minutes
        ]
        start = NOON + timedelta(minutes=start_min)
        edges = list(islice(Measured(cycle(), readings).edges(start), 60))
        assert all(left < right for left, right in pairwise([start, *edges]))


class TestReading:
    @pytest.mark.parametrize(
        "values",
        [
            {"shop_c": 61},
            {"form_c": -31},
            {"mix_c": nan},
            {"piece_c": float("inf")},
            {"rh_pct": -1},
            {"rh_pct": nan},
            {"wind_kmh": -0.1},
        ],
    )
    def test_out_of_range_is_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            Reading(NOON, **values)

    def test_a_naive_time_is_refused(self):
        with pytest.raises(ValueError, match="zone"):
            Reading(NOON.replace(tzinfo=None), shop_c=20)


@pytest.fixture
def read(tmp_path):
    def _read(text, tz=OSLO):
        path = tmp_path / "logger.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_climate_csv(path, tz)

    return _read


def faults(read, text):
    with pytest.raises(BadInput) as caught:
        read(text)
    return caught.value.faults


class TestCsv:
    def test_plain_file(self, read):
        text = (
            "time,temp_c,rh,wind\n2030-04-01 07:30,18.5,55,2\n2030-04-01T08:30Z,19,,\n"
        )
        assert read(text) == [
            Reading(
                datetime(2030, 4, 1, 5, 30, tzinfo=UTC), 18.5, rh_pct=55, wind_kmh=2
            ),
            Reading(datetime(2030, 4, 1, 8, 30, tzinfo=UTC), 19.0),
        ]

    @pytest.mark.parametrize("delimiter", [";", "\t"])
    def test_decimal_comma(self, read, delimiter):
        rows = [["Timestamp", "Temperature (°C)", "RH (%)"], ["2030-04-01 12:00"]]
        rows[1] += ["18,5", "55,5"]
        text = "\ufeff" + "\r\n".join(delimiter.join(row) for row in rows)
        (only,) = read(text)
        assert (only.shop_c, only.rh_pct) == (18.5, 55.5)

    def test_utf_16(self, read):
        (only,) = read("time,temp\n2030-04-01 00:00,20\n".encode("utf-16"))
        assert only.shop_c == 20

    def test_fahrenheit(self, read):
        (only,) = read("date,temp_f\n2030-04-01 12:00,68\n")
        assert only.shop_c == pytest.approx(20)

    def test_date_and_time_apart_and_other_columns(self, read):
        text = "no,Date,Time,Humidity,Temp\n1,2030-04-01,12:00,50,20\n\n"
        (only,) = read(text)
        assert only == Reading(
            datetime(2030, 4, 1, 10, tzinfo=UTC), shop_c=20, rh_pct=50
        )

    def test_the_hour_that_comes_twice(self, read):
        stamps = ["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"]
        text = "time,temp\n" + "".join(f"2030-10-27 {at},10\n" for at in stamps)
        instants = [one.at for one in read(text)]
        assert instants[0] == datetime(2030, 10, 26, 23, 30, tzinfo=UTC)
        assert {b - a for a, b in pairwise(instants)} == {HOUR / 2}

    def test_the_hour_that_is_left_out(self, read):
        (only,) = read("time,temp\n2030-03-31 02:30,10\n")
        assert only.at == datetime(2030, 3, 31, 1, tzinfo=UTC)

    def test_every_bad_row_is_named(self, read):
        text = (
            "time,temp,rh,wind\n"
            "2030-04-01 00:00,20,50,0\n"
            "yesterday,20,50,0\n"
            "2030-04-01 01:00,warm,50,0\n"
            "2030-04-01 02:00,nan,50,0\n"
            "2030-04-01 03:00,-127,50,0\n"
            "2030-04-01 04:00,85,50,0\n"
            "2030-04-01 05:00,61,50,0\n"
            "2030-04-01 06:00,20,120,0\n"
            "2030-04-01 07:00,20,50,-2\n"
            "2030-04-01 08:00\n"
            "1830-04-01 09:00,20,50,0\n"
            "2030-03-31 12:00,20,50,0\n"
            "2030-04-01 00:00,20,50,0\n"
            "2030-04-01 10:00,1_0,50,0\n"
        )
        found = faults(read, text)
        assert [fault.key for fault in found] == [f"line {n}" for n in range(3, 16)]
        assert "probe" in found[3].want
        assert "probe" in found[4].want
        assert "61" in found[5].value
        assert "later" in found[10].want

    def test_a_probe_fault_in_fahrenheit(self, read):
        (fault,) = faults(read, "time,temp_f\n2030-04-01 00:00,185\n")
        assert "probe" in fault.want

    @pytest.mark.parametrize(
        ("text", "want"),
        [
            ("", "time column"),
            ("time,temp\n", "at least one row"),
            ("temp\n20\n", "time column"),
            ("time,rh\n2030-04-01 00:00,50\n", "temp_c or temp_f"),
            ("time,temp_c,temp_f\n2030-04-01 00:00,20,68\n", "one temp_c or temp_f"),
            ("time,temp,temp\n2030-04-01 00:00,20,20\n", "one temp_c column"),
            ("time,temp,wind_mph\n2030-04-01 00:00,20,3\n", "km/h"),
            ('time,temp\n2030-04-01 00:00,"20\n2030-04-01 01:00,20\n', "readable row"),
            ("time,temp\n2030-04-01 00:00,2\0", "NUL"),
            ("time,temp\n2030-04-01 00:00,20\n".encode("utf-16")[:-1], "UTF-16"),
            (b"x" * (CSV_LIMIT_BYTES + 1), "5 MB"),
        ],
        ids=lambda value: value if isinstance(value, str) and len(value) < 25 else "-",
    )
    def test_a_file_of_no_use_is_refused(self, read, text, want):
        assert want in faults(read, text)[0].want

    def test_a_file_that_is_not_there(self, tmp_path):
        with pytest.raises(BadInput, match="a file that is there"):
            read_climate_csv(tmp_path, OSLO)

    @settings(max_examples=150, deadline=None)
    @given(st.binary(max_size=60), st.integers(0, 70), st.integers(0, 8))
    def test_broken_bytes_only_ever_give_bad_input(
        self, tmp_path_factory, junk, place, cut
    ):
        good = b"time;temp;rh\n2030-04-01 00:00;20,5;50\n2030-04-01 00:10;20,6;50\n"
        path = tmp_path_factory.getbasetemp() / "mutated.csv"
        path.write_bytes(good[:place] + junk + good[place + cut :])
        try:
            readings = read_climate_csv(path, OSLO)
        except BadInput:
            return
        assert readings
        assert all(-30 <= one.shop_c <= 60 for one in readings)
        assert all(a.at < b.at for a, b in pairwise(readings))
