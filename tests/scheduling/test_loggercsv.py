"""Loggers' files: headings, dialects, times, and what is refused."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.csvtable import MOST_FAULTS
from scheduling.errors import BadInput
from scheduling.history import Gap
from scheduling.loggercsv import LIMIT_BYTES, read_recording

OSLO = ZoneInfo("Europe/Oslo")


@pytest.fixture
def read(tmp_path):
    def _read(text, **options):
        path = tmp_path / "logger.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_recording(path, OSLO, **options)

    return _read


@pytest.fixture
def one(read):
    """The one history of a file."""

    def _one(text, **options):
        (channel,) = read(text, **options).channels
        return channel.history

    return _one


def faults(read, text, **options):
    with pytest.raises(BadInput) as caught:
        read(text, **options)
    return caught.value.faults


def hours(history):
    return list(np.round(history.at_h, 6))


class TestHeadings:
    @pytest.mark.parametrize(
        "heading",
        [
            "Time,Temp (°C)",
            "Date Time,Temperature [C]",
            "Date/Time,Ch1 °C",
            "Timestamp,temp_c",
            "DateTime,T [degC]",
            "date_time,Temperature",
            '"Date Time, GMT+02:00","Temp, °C (LGR S/N: 20, SEN S/N: 21)"',
            "Recorded Time,Celsius(°C)",
            "Time stamp,Probe 1 (℃)",
            "Time (ISO 8601),temp_degC",
        ],
    )
    def test_time_and_temperature_are_found(self, one, heading):
        text = f"{heading}\n2030-04-01 07:30,20\n2030-04-01 08:30,21.5\n"
        history = one(text)
        assert hours(history) == [0, 1]
        assert list(history.temps_c) == [20, 21.5]
        assert history.start == datetime(2030, 4, 1, 5, 30, tzinfo=UTC)

    @pytest.mark.parametrize(
        "heading", ["Temp (°F)", "temp_f", "Temperature degF", "Ch 2 [F]", "Fahrenheit"]
    )
    def test_fahrenheit(self, one, heading):
        history = one(f"time,{heading}\n2030-04-01 07:30,68\n2030-04-01 08:30,-22\n")
        assert list(history.temps_c) == [20, -30]

    def test_date_and_time_apart(self, one):
        text = "Datum;Uhrzeit;Temperatur °C\n01.04.2030;23:30;20\n02.04.2030;00:30;20\n"
        assert hours(one(text)) == [0, 1]

    @pytest.mark.parametrize(
        ("heading", "second"),
        [
            ("Elapsed (h)", "0.5"),
            ("Elapsed time [min]", "30"),
            ("Time (s)", "1800"),
            ("Age (d)", "0.020833333"),
            ("Hours", "0.5"),
            ("Elapsed", "0:30:00"),
            ("Elapsed (h:mm)", "0:30"),
        ],
    )
    def test_time_elapsed(self, one, heading, second):
        history = one(f"{heading},Temp (°C)\n0:00,20\n{second},20\n")
        assert history.hours == pytest.approx(0.5, abs=1e-6)
        assert history.start is None

    def test_what_is_no_reading_of_a_probe_is_passed_over(self, one):
        text = (
            "#,Time,Temp (°C),RH (%),Dew Point (°C),High Alarm (°C),Temp max (°C)\n"
            "1,2030-04-01 00:00,20,50,9,40,25\n2,2030-04-01 01:00,20,50,9,40,25\n"
        )
        assert list(one(text).temps_c) == [20, 20]

    def test_title_lines_above(self, one):
        text = (
            "Logger: bench, north; serial 12\n\nStarted,2030-04-01\n"
            "Time,Temp (°C)\n2030-04-01 00:00,20\n2030-04-01 01:00,20\n"
        )
        assert hours(one(text)) == [0, 1]

    def test_a_heading_without_a_unit_is_said(self, read):
        text = "time,Temp\n2030-04-01 00:00,20\n2030-04-01 01:00,20\n"
        assert "no unit" in read(text).notes[0]
        assert read(text.replace("Temp", "Temp_C")).notes == ()


class TestDialects:
    ROWS = (("2030-04-01 07:30", "18,5"), ("2030-04-01 08:30", "19,5"))

    @pytest.mark.parametrize("delimiter", [";", "\t"])
    @pytest.mark.parametrize(
        "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "latin-1"]
    )
    @pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
    def test_decimal_comma_encodings_and_line_ends(
        self, one, delimiter, encoding, ending
    ):
        rows = [("Time", "Temp (°C)"), *self.ROWS]
        text = ending.join(delimiter.join(row) for row in rows)
        mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
        history = one(mark + text.encode(encoding))
        assert list(history.temps_c) == [18.5, 19.5]

    def test_a_comma_is_no_decimal_mark_where_it_parts_the_cells(self, read):
        text = 'time,temp_c\n2030-04-01 07:30,"18,5"\n'
        (fault,) = faults(read, text)
        assert "18,5" in fault.value

    def test_several_probes_each_with_its_own_rows(self, read):
        text = (
            "Time;Slab °C;Air °F\n2030-04-01 00:00;20,5;\n2030-04-01 00:10;;68\n"
            "2030-04-01 01:00;21,5;\n2030-04-01 01:10;;69,8\n"
        )
        slab, air = read(text).channels
        assert (slab.name, air.name) == ("Slab °C", "Air °F")
        assert list(slab.history.temps_c) == [20.5, 21.5]
        assert list(air.history.temps_c) == [20, 21]
        assert hours(slab.history) == hours(air.history) == [0, 1]
        assert "2 rows without a reading" in " ".join(read(text).notes)

    def test_one_probe_can_be_chosen(self, read):
        text = "h,Ch1 °C,Ch2 °C,Ch20 °C\n0,20,21,22\n1,20,21,22\n"
        for name, temp in (("ch1", 20), ("Ch2 °C", 21), ("ch20", 22)):
            (channel,) = read(text, only=name).channels
            assert channel.history.temps_c[0] == temp
        for name in ("ch2", "slab"):
            (fault,) = faults(read, text, only=name)
            assert '"Ch20 °C"' in fault.want


class TestTimes:
    @pytest.mark.parametrize(
        ("stamps", "order"),
        [
            (("04/13/2030 11:30 PM", "04/14/2030 12:30 AM"), "month/day/year"),
            (("13/04/2030 23:30", "14/04/2030 00:30"), "day/month/year"),
            (("04/01/30 11:30:00 PM", "04/02/30 12:30:00 AM"), "month/day/year"),
            (("01-04-2030 23:30", "02-04-2030 00:30"), "day/month/year"),
            (("05/04/2030 07:30", "05/04/2030 08:30"), "day/month/year"),
        ],
    )
    def test_day_and_month_are_told_apart_by_the_file(self, read, stamps, order):
        recording = read(f"time,temp_c\n{stamps[0]},20\n{stamps[1]},20\n")
        assert hours(recording.channels[0].history) == [0, 1]
        assert recording.notes == (f"dates are read as {order}",)

    @pytest.mark.parametrize(
        "stamps",
        [
            ("01.04.2030 7:30", "01.04.2030 8:30"),
            ("2030/04/01 7:30", "2030/04/01 8:30:00"),
            ("2030-04-01T07:30:00Z", "2030-04-01T10:30:00+02:00"),
            ("2030-04-01 11:30 am", "2030-04-01 12:30 pm"),
        ],
    )
    def test_other_ways_to_write_a_time(self, read, stamps):
        recording = read(f"time;temp_c\n{stamps[0]};20\n{stamps[1]};20\n")
        assert hours(recording.channels[0].history) == [0, 1]
        assert recording.notes == ()

    def test_the_zone_of_the_heading_counts(self, read):
        text = (
            '"Date Time, GMT-05:00",temp_c\n2030-04-01 00:00,20\n2030-04-01 01:00,20\n'
        )
        recording = read(text)
        start = recording.channels[0].history.start
        assert start == datetime(2030, 4, 1, 5, tzinfo=UTC)
        assert not recording.local
        assert read(text.replace(", GMT-05:00", "")).local

    def test_the_hour_that_comes_twice(self, read):
        stamps = ["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"]
        text = "time,temp_c\n" + "".join(f"2030-10-27 {at},10\n" for at in stamps)
        recording = read(text)
        expected = [0, 0.5, 1, 1.5, 2, 2.5]
        assert hours(recording.channels[0].history) == expected
        assert recording.notes == ()
        # The same file written newest first.
        lines = text.splitlines()
        turned = read("\n".join([lines[0], *lines[:0:-1]]))
        assert hours(turned.channels[0].history) == expected

    @pytest.mark.parametrize(
        "stamps",
        [
            ("2030-10-27 01:30", "2030-10-27 02:30", "2030-10-27 03:30"),
            ("2030-03-31 01:30", "2030-03-31 02:30", "2030-03-31 03:30"),
        ],
        ids=["autumn", "spring"],
    )
    def test_a_clock_that_is_not_changed_is_noticed(self, read, stamps):
        recording = read("time,temp_c\n" + "".join(f"{at},10\n" for at in stamps))
        assert hours(recording.channels[0].history) == [0, 1, 2]
        assert "not changed" in recording.notes[0]

    def test_a_changed_clock_in_spring(self, read):
        text = "time,temp_c\n2030-03-31 01:30,10\n2030-03-31 03:30,10\n"
        assert hours(read(text).channels[0].history) == [0, 1]


class TestOrder:
    def test_newest_first_is_turned_round(self, read):
        text = (
            "time,temp_c\n2030-04-01 02:00,22\n2030-04-01 01:00,21\n2030-04-01 00:00,20"
        )
        recording = read(text)
        assert list(recording.channels[0].history.temps_c) == [20, 21, 22]
        assert recording.notes == ()

    def test_rows_out_of_order_are_put_in_order_and_repeats_count_once(self, read):
        stamps = [
            ("00:00", 20),
            ("02:00", 22),
            ("01:00", 21),
            ("01:00", 21),
            ("03:00", 23),
        ]
        text = "time,temp_c\n" + "".join(f"2030-04-01 {a},{t}\n" for a, t in stamps)
        recording = read(text)
        assert list(recording.channels[0].history.temps_c) == [20, 21, 22, 23]
        said = " ".join(recording.notes)
        assert "1 row earlier than the one before" in said
        assert "1 row the same as another" in said

    def test_two_temperatures_at_one_time_are_refused(self, read):
        text = "Elapsed (h),temp_c\n0,20\n1,20\n2,20\n1,21\n"
        (fault,) = faults(read, text)
        assert fault.key == "line 5"
        assert "line 3" in fault.want

    def test_gaps(self, one):
        text = "h,temp_c\n0,20\n2,20\n4.5,20\n5,20\n"
        assert one(text).gaps == (Gap(2, 2.5),)
        assert one(text, limit_h=2.5).gaps == ()


class TestRefused:
    def test_every_bad_row_is_named_with_its_value_and_what_would_be_right(self, read):
        cells = ["warm", "nan", "inf", "1e3", "-30.1", "120.1", "-127", "1_0"]
        text = "h,temp_c\n0,20\n" + "".join(
            f"{n},{c}\n" for n, c in enumerate(cells, 1)
        )
        found = faults(read, text)
        assert [fault.key for fault in found] == [f"line {n}" for n in range(3, 11)]
        for fault, cell in zip(found, cells, strict=True):
            assert cell in fault.value
            assert "-30 to 120 degC" in fault.want or "probe" in fault.want

    def test_a_probe_that_just_woke(self, read):
        (fault,) = faults(read, "h,temp_f\n0,185\n1,68\n")
        assert "probe" in fault.want
        (fault,) = faults(read, "h,temp_f\n0,249\n1,68\n")
        assert "-22 to 248 degF" in fault.want

    def test_many_bad_rows_are_counted(self, read):
        text = "h,temp_c\n" + "".join(f"{n},x\n" for n in range(100))
        found = faults(read, text)
        assert len(found) == MOST_FAULTS + 1
        assert f"{100 - MOST_FAULTS} more" in found[-1].want

    @pytest.mark.parametrize(
        ("text", "want"),
        [
            ("", "a time column"),
            ("\n\n", "a time column"),
            ("time,temp_c\n", "two readings"),
            ("time,temp_c\n2030-04-01 00:00,20\n", "two readings"),
            ("h,temp_c\n0,\n1,\n", "two readings"),
            ("time,price\n2030-04-01 00:00,5\n", "a temperature column"),
            ("day,temp_c\nMon,20\n", "a number"),
            ("Time,Time,temp_c\n1,1,20\n", "one time column"),
            ("Elapsed,temp_c\n0,20\n1,20\n", "its unit"),
            ("time,temp_c\n0,20\n1,20\n", "a time such as"),
            ("time,temp_c\n1970-01-01 00:00,20\n", "between 2000 and 2100"),
            ("time,temp_c\n31/11/2030 00:00,20\n", "a time such as"),
            ("time,temp_c\n04/01/2030 13:00 PM,20\n", "a time such as"),
            ('h,temp_c\n0,20\n1,"20\n2,20\n', "readable row"),
            ('h,temp_c\n0,20\n1,"20\n2,20"\n3,20\n', "quotes closed"),
            ("h,temp_c\n0,20\0\n1,20\n", "NUL"),
            ("h,temp_c\n0,\x1b[31m20\n1,20\n", "control"),
            (f"h,temp_c\n0,{'1' * 200_000}\n", "readable row"),
            (f"h,temp_c\n{'1' * 400},20\n0,20", "a number"),
            (b"\xff\xfeh", "UTF-16"),
            (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "control"),
            (b"x" * (LIMIT_BYTES + 1), "50 MB"),
        ],
        ids=range(22),
    )
    def test_a_file_of_no_use_is_refused(self, read, text, want):
        assert want in faults(read, text)[0].want

    def test_a_quote_that_swallows_rows_is_named_by_its_first_line(self, read):
        (fault,) = faults(read, 'h,temp_c\n0,20\n1,20\n2,"20\n3,20\n4,20\n5,"20\n')
        assert fault.key == "line 4"

    @pytest.mark.parametrize("name", [".", "nothing.csv", "a\0b"])
    def test_a_file_that_is_not_there(self, tmp_path, name):
        with pytest.raises(BadInput):
            read_recording(tmp_path / name, OSLO)

    @settings(max_examples=200, deadline=None)
    @given(st.binary(max_size=40), st.integers(0, 90), st.integers(0, 12))
    def test_broken_bytes_only_ever_give_bad_input(
        self, tmp_path_factory, junk, place, cut
    ):
        good = (
            b"Time;Slab \xc2\xb0C;Air \xc2\xb0F\n2030-04-01 00:00;20,5;70\n"
            b"2030-04-01 00:10;20,6;71\n2030-04-01 00:20;20,7;72\n"
        )
        path = tmp_path_factory.getbasetemp() / "mutated-logger.csv"
        path.write_bytes(good[:place] + junk + good[place + cut :])
        try:
            recording = read_recording(path, OSLO)
        except BadInput:
            return
        for channel in recording.channels:
            assert channel.history.readings >= 2
            assert (np.abs(channel.history.temps_c) <= 120).all()
