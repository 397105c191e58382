"""The cure in words and as a chart, in the shop's zone, hours and units."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.clocks import Band
from scheduling.cure import WhatIf
from scheduling.hours import ShopHours
from scheduling.shop import Hours, Person
from scheduling.spread import Spread
from scheduling.units import Units
from support import cures
from tui.curechart import ZOOMS, chart, closed, time_axis
from tui.curewords import against_opening, band, degrees, demould, moment, strength

OSLO = ZoneInfo("Europe/Oslo")
HOUR = timedelta(hours=1)
MONDAY = datetime(2030, 4, 1, 10, 0, tzinfo=UTC)
"""Noon in Oslo."""

HOURS = ShopHours(
    Hours(opens=time(7), closes=time(16)),
    (Person("Ines"),),
    OSLO,
)


def oslo(day, hour, minute=0):
    return datetime(2030, 4, day, hour, minute, tzinfo=OSLO)


class TestMoment:
    def test_is_the_weekday_and_the_shop_s_clock(self):
        assert moment(oslo(2, 7, 50), MONDAY, OSLO) == "Tue 07:50"

    def test_far_off_is_a_date(self):
        assert moment(oslo(9, 7, 50), MONDAY, OSLO) == "9 Apr"


class TestBand:
    def found(self, *ends):
        return Band(*(MONDAY + h * HOUR for h in ends))

    def test_within_a_day_is_clock_times(self):
        assert band(self.found(16, 20, 26), MONDAY, OSLO) == (
            "Tue 08:00",
            "04:00-14:00",
        )

    def test_wider_is_weekdays(self):
        assert band(self.found(24, 40, 60), MONDAY, OSLO) == ("Wed 04:00", "Tue-Thu")

    def test_far_off_is_dates(self):
        week = self.found(100, 140, 160)
        assert band(week, MONDAY, OSLO) == ("Sun 08:00", "5-8 Apr")
        long = self.found(100, 800, 1600)
        assert band(long, MONDAY, OSLO) == ("4 May", "5 Apr-7 Jun")

    def test_what_was_done_has_no_band(self):
        assert band(self.found(1, 1, 1), MONDAY, OSLO)[1] == "done"

    def test_beyond_the_horizon(self):
        assert band(None, MONDAY, OSLO) == ("not in sight", "")


class TestStrength:
    @pytest.mark.parametrize(
        ("found", "system", "words"),
        [
            (Spread.of(11, 13.675, 17), "si", "14 MPa (11 to 17)"),
            (Spread.of(0.4, 0.5, 0.6), "si", "0.5 MPa (0.4 to 0.6)"),
            # derived: 1 MPa = 145.038 psi
            (Spread(14.0), "us", "2030 psi (2030 to 2030)"),
            (Spread(0.0), "si", "0 MPa"),
            (Spread(0.0), "us", "0 psi"),
            (Spread.of(0.01, 0.02, 0.04), "si", "0 MPa"),
        ],
    )
    def test_says_the_median_with_its_band(self, found, system, words):
        assert strength(found, Units(system)) == words


def test_degrees_are_whole_and_in_the_shop_s_units():
    assert degrees(Units(), 11.6) == "12 °C"
    assert degrees(Units("us"), 12.0) == "54 °F"
    assert degrees(Units(), 14.2, 23.8) == "14 to 24 °C"


class TestAgainstOpening:
    @pytest.mark.parametrize(
        ("at", "words"),
        [
            (oslo(2, 5, 27), "before 07:00"),
            (oslo(2, 7), "before 07:00"),
            (oslo(2, 7, 56), "56 min after"),
            (oslo(2, 10, 59), "3 h 59 after"),
            (oslo(2, 12, 15), "5 h 15 after"),
            (oslo(2, 16), "before Wed"),
            (oslo(2, 23), "before Wed"),
            (oslo(5, 18), "before Mon"),
            (oslo(6, 9), "before Mon"),
        ],
    )
    def test_says_what_it_means_for_the_shop(self, at, words):
        assert against_opening(at.astimezone(UTC), HOURS, OSLO) == words

    def test_a_cover_says_both(self):
        one = WhatIf("blanket", 12.0, oslo(2, 7, 56).astimezone(UTC), 14.0, 24.0)
        assert demould(one, MONDAY, HOURS, OSLO) == ("Tue 07:56", "56 min after")

    def test_a_cover_that_leads_nowhere(self):
        one = WhatIf("open", -5.0, None, -4.0, 20.0)
        assert demould(one, MONDAY, HOURS, OSLO) == ("not in sight", "")


class TestAxis:
    def labels(self, start, hours, width):
        axis = time_axis(start, start + hours * HOUR, OSLO, width)
        return [label for _, label in axis.ticks]

    def test_hours_and_weekdays_in_the_shop_s_zone(self):
        assert self.labels(MONDAY, 24, 40) == ["12:00", "18:00", "Tue 2", "06:00"]

    def test_a_week_is_days(self):
        found = self.labels(MONDAY, 168, 75)
        assert found == ["Tue 2", "Wed 3", "Thu 4", "Fri 5", "Sat 6", "Sun 7", "Mon 8"]

    def test_the_day_the_clocks_change_is_labelled_by_the_clock(self):
        night = datetime(2030, 3, 30, 18, tzinfo=OSLO)
        axis = time_axis(night, night + 24 * HOUR, OSLO, 80)
        by_label = {label: at for at, label in axis.ticks}
        assert by_label["06:00"] == datetime(2030, 3, 31, 4, tzinfo=UTC).timestamp()

    @given(
        st.integers(0, 10_000).map(lambda h: MONDAY + h * HOUR),
        st.sampled_from(ZOOMS),
        st.integers(10, 250),
    )
    @settings(max_examples=60, deadline=None)
    def test_labels_are_in_order_on_the_axis_and_have_room(self, start, span, width):
        axis = time_axis(start, start + span, OSLO, width)
        at = [tick for tick, _ in axis.ticks]
        assert at == sorted(at)
        assert all(axis.low <= tick < axis.high for tick in at)
        assert len(at) <= max(2, width // 8 + 1)
        assert at or width < 20


class TestClosed:
    def test_is_what_the_shop_hours_say(self):
        found = closed(MONDAY, MONDAY + 24 * HOUR, HOURS)
        as_hours = [
            tuple((x - MONDAY.timestamp()) / 3600 for x in stretch) for stretch in found
        ]
        # The break at noon, then the night from 16:00 to 07:00.
        assert as_hours == [(0, 0.5), (4, 19)]


class TestChart:
    def chart(self, zoom=1, age_h=7.0, system="si"):
        return chart(
            cures.cure(MONDAY, age_h=age_h),
            ZOOMS[zoom],
            zone=OSLO,
            units=Units(system),
            hours=HOURS,
            width=80,
        )

    def test_begins_with_the_casting_and_shows_the_now_line(self):
        found = self.chart()
        assert found.now == MONDAY.timestamp()
        assert found.axis.low == (MONDAY - 7 * HOUR).timestamp()
        assert found.axis.high - found.axis.low == 48 * 3600

    def test_later_the_casting_leaves_and_now_stands_at_a_third(self):
        found = self.chart(zoom=0, age_h=60)
        share = (found.now - found.axis.low) / (found.axis.high - found.axis.low)
        assert share == pytest.approx(0.35)

    def test_every_mark_in_sight_is_a_bracket(self):
        assert [one.label for one in self.chart().brackets] == [
            "demould",
            "hone",
            "slurry",
            "seal",
        ]

    def test_the_shop_s_units_are_on_the_scales(self):
        si, us = self.chart(), self.chart(system="us")
        assert [panel.title for panel in us.panels] == [
            "temperature, °F",
            "strength, psi, indicative",
        ]
        piece, warm = (
            next(line for line in found.panels[0].lines if line.name == "piece")
            for found in (si, us)
        )
        for (_, c), (_, f) in zip(piece.points[:9], warm.points[:9], strict=True):
            assert f == pytest.approx(c * 9 / 5 + 32)
        low, high = us.panels[1].ribbons[0].points[100][1:]
        low_mpa, high_mpa = si.panels[1].ribbons[0].points[100][1:]
        # derived: 1 MPa = 145.038 psi
        assert (low, high) == pytest.approx(
            (145.038 * low_mpa, 145.038 * high_mpa), rel=1e-5
        )

    def test_readings_are_dots(self):
        (dots,) = self.chart().panels[0].dots
        assert len(dots.points) == 4
        assert not self.chart(age_h=0.25).panels[0].dots
