"""A logger's file in the log: sifted, kept as one event, folded, taken back."""

from __future__ import annotations

import json
from datetime import timedelta
from math import inf
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.climate import Reading
from scheduling.event import event_from_document, event_to_document
from scheduling.inforce import undo_target
from scheduling.trace import KEPT_EVERY, at_place, sift, trace, trace_data

MINUTE = timedelta(minutes=1)


def rows(monday, minutes, **values):
    values = values or {"shop_c": 20.0}
    return [Reading(monday + n * MINUTE, **values) for n in minutes]


class TestSift:
    def test_rows_near_each_other_are_thinned(self, monday):
        found = sift(rows(monday, range(61)), (), monday)
        assert (found.read, len(found.new), found.close) == (61, 13, 48)
        assert {
            b.at - a.at for a, b in zip(found.new, found.new[1:], strict=False)
        } == {KEPT_EVERY}

    def test_what_the_log_has_is_not_new(self, monday):
        first = sift(rows(monday, range(0, 60, 10)), (), monday)
        again = sift(rows(monday, range(0, 60, 10)), first.new, monday)
        assert (again.new, again.known) == ((), 6)

    @settings(max_examples=60, deadline=None)
    @given(
        minutes=st.lists(st.integers(0, 400), unique=True, max_size=60).map(sorted),
        cut=st.integers(0, 60),
    )
    def test_a_file_that_has_grown_adds_what_it_has_grown_by(
        self, monday, minutes, cut
    ):
        whole = rows(monday, minutes)
        once = sift(whole, (), monday).new
        first = sift(whole[:cut], (), monday).new
        then = sift(whole, first, monday).new
        assert (*first, *then) == once
        assert sift(whole, (*first, *then), monday).new == ()

    def test_long_before_the_pour_is_outside(self, monday):
        found = sift(rows(monday, (-1500, -1440, 0)), (), monday)
        assert (found.outside, len(found.new)) == (1, 2)

    def test_every_row_is_counted_once(self, monday):
        known = rows(monday, (0,))
        found = sift(rows(monday, (-2000, 0, 3, 6, 20)), known, monday)
        parts = len(found.new) + found.known + found.close + found.outside
        assert parts == found.read == 5

    def test_a_place_takes_the_temperature_alone(self, monday):
        (row,) = rows(monday, (0,), shop_c=20.0, rh_pct=50.0)
        assert at_place(row, "piece") == Reading(monday, piece_c=20.0)
        assert at_place(row, "shop") == row


@pytest.fixture
def traced(sprayed):
    """A bare pour with a file of 12 rows of its piece, an hour from its start."""

    def make(readings=None):
        pour = sprayed()
        held = readings or rows(pour.begun, range(60, 120, 5), piece_c=24.5)
        minutes = pour.minutes(held[0].at)
        event = pour.add("reading", minutes, **trace_data(held, "logger.csv"))
        return pour, held, event

    return make


class TestFold:
    def test_comes_back_exactly(self, traced, monday):
        values = [
            Reading(monday + timedelta(seconds=7.25), shop_c=19.1, rh_pct=40.0),
            Reading(monday + 9 * MINUTE, shop_c=-3.7),
            Reading(monday + 20 * MINUTE, rh_pct=0.0, wind_kmh=0.1),
        ]
        pour, _, event = traced(values)
        assert pour.state.readings == tuple(values)
        stored = json.loads(json.dumps(event_to_document(event)))
        assert trace(event_from_document(stored)) == tuple(values)

    def test_is_sorted_in_among_the_others(self, traced):
        pour, held, _ = traced()
        pour.add("reading", 62, shop_c=18.0)
        at = [one.at for one in pour.state.readings]
        assert at == sorted(at)
        assert len(at) == len(held) + 1

    def test_undo_takes_the_whole_file_back(self, traced):
        pour, _, event = traced()
        assert undo_target(pour.events) == event
        pour.add("undone", 130, event=event.id)
        assert pour.state.readings == ()

    def test_a_corrected_time_moves_the_whole_file(self, traced):
        pour, held, event = traced()
        hour = timedelta(hours=1)
        pour.add("corrected", 130, event=event.id, at=(held[0].at - hour).isoformat())
        moved = [one.at for one in pour.state.readings]
        assert moved == [one.at - hour for one in held]

    def test_what_a_probe_wrote_is_not_taken_back(self, traced):
        pour, _, event = traced()
        pour.add("reading", 125, shop_c=20.0, probe="shop probe x")
        assert undo_target(pour.events) == event
        assert pour.state.readings[-1].shop_c == 20

    @pytest.mark.parametrize(
        "row",
        [
            None,
            [],
            [0],
            [0, 1, 2],
            ["0", 20.0],
            [True, 20.0],
            [0, "20"],
            [0, 200.0],
            [1e12, 20.0],
            [-1e12, 20.0],
        ],
    )
    def test_a_row_that_makes_no_sense_is_left_out(self, sprayed, row):
        pour = sprayed()
        good = [60, 21.0]
        pour.add("reading", 5, columns=["piece_c"], rows=[row, good])
        (only,) = pour.state.readings
        assert only == Reading(pour.at(6), piece_c=21.0)

    @pytest.mark.parametrize(
        "data", [{"rows": 3}, {"rows": [[0, 1]]}, {"rows": [], "columns": "x"}]
    )
    def test_data_that_is_no_file_is_nothing(self, sprayed, data):
        pour = sprayed()
        pour.add("reading", 5, **data)
        assert pour.state.readings == ()

    def test_an_unknown_column_does_no_harm(self, sprayed):
        pour = sprayed()
        rows_ = [[0, 50, 21.0]]
        pour.add("reading", 5, columns=["co2", "shop_c"], rows=rows_)
        assert pour.state.readings[0].shop_c == 21

    def test_a_fortnight_of_a_logger_keeps_the_fold_fast(self, traced, monday):
        held = rows(monday, range(0, 14 * 1440, 5), piece_c=21.0)
        pour, _, _ = traced(held)
        assert len(pour.state.readings) == len(held)  # the first is read once
        best = inf
        for _ in range(5):
            begun = perf_counter()
            assert pour.state.readings
            best = min(best, perf_counter() - begun)
        assert best < 0.05
