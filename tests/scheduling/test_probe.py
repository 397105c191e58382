"""What a followed source says, and the probes of a shop file."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.climate import COLDEST_C, WARMEST_C
from scheduling.errors import BadInput
from scheduling.probe import ProbeFault, read_probe, worth_keeping
from scheduling.shop import Probe
from scheduling.shopfile import read_shop_text
from scheduling.snapshot import shop_from_data, shop_to_data

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2030, 4, 1, 6, 0, tzinfo=UTC)  # 08:00 in Oslo
MINUTE = timedelta(minutes=1)
FILE = Probe("shop", file="logger.txt")
COMMAND = Probe("form", command=("read-it",))
SENSOR = Probe("piece", sensor="/sys/bus/w1/devices/28-1/w1_slave")
WIRE = "5e 01 4b 46 7f ff 0c 10 2d : crc=2d {}\n5e 01 4b 46 7f ff 0c 10 2d t={}\n"


def read(probe, text, written=NOW, now=NOW):
    return read_probe(probe, text, written=written, now=now, tz=OSLO)


def fault(probe, text, **options):
    with pytest.raises(ProbeFault) as caught:
        read(probe, text, **options)
    return str(caught.value)


class TestTemperatures:
    @pytest.mark.parametrize(
        ("probe", "text", "temp_c"),
        [
            (FILE, "21.5\n", 21.5),
            (FILE, "19\n20\n21.5\n\n", 21.5),
            (FILE, "-3.25", -3.25),
            (FILE, "time,temp\n2030-04-01 07:55,18.2\n", 18.2),
            (FILE, "2030-04-01T05:55:00Z,18.2\n", 18.2),
            (FILE, "2030-04-01 07:55; 18.2\n", 18.2),
            (FILE, "18.0\n18.5\n2", 18.5),  # a line still being written
            (COMMAND, " 21.5 \n", 21.5),
            (SENSOR, WIRE.format("YES", 21562), 21.562),
            (SENSOR, WIRE.format("YES", -1250), -1.25),
            (SENSOR, "45000\n", 45.0),
        ],
    )
    def test_are_read(self, probe, text, temp_c):
        assert read(probe, text) == temp_c


class TestFaults:
    @pytest.mark.parametrize(
        ("probe", "text", "why"),
        [
            (FILE, "", "nothing is written"),
            (FILE, "\n \n", "nothing is written"),
            (FILE, "warm\n", "'warm' is no temperature"),
            (FILE, "nan\n", "no temperature"),
            (FILE, "inf\n", "no temperature"),
            (FILE, "1e1\n", "no temperature"),
            (FILE, "21,5\n", "no time"),
            (FILE, "a,b,c\n", "neither a number nor time,number"),
            (FILE, "-127\n", "cut off"),
            (FILE, "85.0\n", "just reset"),
            (FILE, "61\n", "no temperature of a shop"),
            (FILE, "-31\n", "no temperature of a shop"),
            (COMMAND, "21.5\n22\n", "no temperature"),
            (COMMAND, "", "no temperature"),
            (SENSOR, WIRE.format("NO", 21562), "check sum"),
            (SENSOR, "t=21562", "check sum"),
            (SENSOR, "crc=2d YES\nt=", "check sum"),
            (SENSOR, WIRE.format("YES", 85000), "just reset"),
            (SENSOR, WIRE.format("YES", -127000), "cut off"),
            (SENSOR, "", "no temperature"),
            (SENSOR, "95000", "no temperature of a shop"),
        ],
    )
    def test_are_refused_with_their_reason(self, probe, text, why):
        assert why in fault(probe, text)

    def test_a_file_nobody_writes_to_any_more_is_old(self):
        assert read(FILE, "21\n", written=NOW - 29 * MINUTE) == 21
        assert "31 min old" in fault(FILE, "21\n", written=NOW - 31 * MINUTE)
        slow = Probe("shop", file="x", every_min=60)
        assert read(slow, "21\n", written=NOW - 179 * MINUTE) == 21

    def test_the_time_in_the_line_counts_before_that_of_the_file(self):
        assert "65 min old" in fault(FILE, "2030-04-01 06:55,21\n")
        assert "in the future" in fault(FILE, "2030-04-01 09:00,21\n")

    @settings(max_examples=150, deadline=None)
    @given(st.sampled_from([FILE, COMMAND, SENSOR]), st.text(max_size=60))
    def test_any_text_gives_a_plausible_temperature_or_a_reason(self, probe, text):
        try:
            temp_c = read(probe, text)
        except ProbeFault:
            return
        assert COLDEST_C <= temp_c <= WARMEST_C


class TestWorthKeeping:
    @pytest.mark.parametrize(
        ("minutes", "temp_c", "keep"),
        [(5, 20.4, False), (5, 20.5, True), (5, 19.5, True), (30, 20.0, True)],
    )
    def test_when_it_moved_or_time_has_passed(self, minutes, temp_c, keep):
        assert worth_keeping((NOW, 20.0), NOW + minutes * MINUTE, temp_c) is keep

    def test_the_first_is(self):
        assert worth_keeping(None, NOW, 20.0)


class TestShopFile:
    def test_each_way(self):
        shop = read_shop_text(
            """
            [[probe]]
            place = "shop"
            file = "logger.txt"
            [[probe]]
            place = "form"
            command = ["rtl_read", "--once", "-5"]
            every = "30 s"
            [[probe]]
            place = "piece"
            sensor = "/sys/class/thermal/thermal_zone0/temp"
            every = "1 min"
            """,
            "shop.toml",
        )
        assert shop.probes == (
            Probe("shop", file="logger.txt"),
            Probe("form", command=("rtl_read", "--once", "-5"), every_min=0.5),
            Probe("piece", sensor="/sys/class/thermal/thermal_zone0/temp", every_min=1),
        )
        assert shop_from_data(shop_to_data(shop)) == shop
        assert [probe.words for probe in shop.probes] == [
            "shop probe logger.txt",
            "form probe rtl_read",
            "piece probe /sys/class/thermal/thermal_zone0/temp",
        ]

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ('place = "shop"', "probe[0].file: wants one of file, command and sensor"),
            (
                'place = "shop"\nfile = "a"\nsensor = "b"',
                'probe[0].sensor: "b" - wants one of file, command and sensor',
            ),
            ('place = "moon"\nfile = "a"', 'probe[0].place: "moon"'),
            ('place = "shop"\ncommand = []', "probe[0].command"),
            ('place = "shop"\ncommand = [1]', "probe[0].command[0]: 1"),
            ('place = "shop"\ncommand = ["x", ""]', "wants a text that is not empty"),
            ('place = "shop"\ncommand = "ls"', "wants a list of 1 to 40 texts"),
            ('place = "shop"\nfile = "a"\nevery = "1 s"', "probe[0].every"),
            ('file = "a"', "probe[0].place: missing"),
            ('place = "shop"\nfile = "a"\nurl = "b"', "probe[0].url: no such key"),
        ],
    )
    def test_faults_are_named(self, text, said):
        with pytest.raises(BadInput) as caught:
            read_shop_text(f"[[probe]]\n{text}\n", "shop.toml")
        assert said in str(caught.value)
        assert len(caught.value.faults) == 1
