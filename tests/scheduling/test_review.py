"""Actual against planned, folded from the log."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from scheduling.forecast import Setting
from scheduling.job import Bare, BareZone
from scheduling.process import PHASES
from scheduling.review import CSV_COLUMNS, group, review, to_csv


@pytest.fixture
def rows_of(shop):
    """The review of a scripted pour, by step (and zone where there are several)."""

    def rows(pour):
        state = pour.state
        plan = Setting.of(shop).plan(state.job, state.begun)
        return review(state, plan)

    return rows


def row(rows, step, zone=None):
    (found,) = (r for r in rows if r.step == step and zone in (None, r.zone))
    return found


def worked(sprayed):
    pour = sprayed()
    pour.step("mix-back-1", 23, 31)
    pour.touch("soft", 26)
    pour.touch("ready", 35)
    pour.step("lift-1", 37, 45, "field")
    pour.step("roll-1", 45, 50, "field")
    return pour


def test_each_marked_step_has_its_planned_and_actual_minutes(sprayed, rows_of):
    rows = rows_of(worked(sprayed))
    mix = row(rows, "mix-back-1")
    assert (mix.planned_min, mix.actual_min) == (7.0, 8.0)
    assert mix.ratio == pytest.approx(8 / 7)
    assert mix.kind == "hands-on"
    assert mix.phase == "back coat"
    assert (mix.pour, mix.job) == ("bare.0401", "bare")


def test_the_face_wait_ends_at_the_first_touch_that_was_not_soft(sprayed, rows_of):
    wait = row(rows_of(worked(sprayed)), "face wait")
    assert wait.kind == "wait"
    assert wait.planned_min == pytest.approx(18, abs=0.01)
    assert wait.actual_min == pytest.approx(35 - 15)


def test_untouched_it_ends_when_lift_1_begins(sprayed, rows_of):
    pour = sprayed()
    pour.step("lift-1", 37, 45, "field")
    assert row(rows_of(pour), "face wait").actual_min == pytest.approx(37 - 15)


def test_a_respray_counts_anew(sprayed, rows_of):
    pour = sprayed()
    pour.add("resprayed", 50, "spray", "field")
    pour.touch("ready", 72)
    assert row(rows_of(pour), "face wait").actual_min == pytest.approx(22)


def test_each_wait_is_counted_from_its_own_origin(sprayed, rows_of):
    pour = worked(sprayed)
    pour.step("lift-2", 70, 75, "field")
    assert row(rows_of(pour), "lift wait").actual_min == pytest.approx(20)


def test_what_was_forecast_at_the_start_is_kept_beside_it(scripted, rows_of):
    pour = scripted()
    pour.add("started", 10, "spray", "field", forecast={"minutes": 6.5, "temp_c": 19.5})
    said = {"minutes": 9.0, "waits": {"face wait/field": 21.0}}
    pour.add("finished", 15, "spray", "field", forecast=said)
    pour.touch("ready", 35)
    rows = rows_of(pour)
    spray, wait = row(rows, "spray"), row(rows, "face wait")
    assert (spray.planned_min, spray.forecast_min, spray.actual_min) == (5, 6.5, 5)
    assert spray.temp_c == 19.5
    assert wait.forecast_min == 21.0


def test_the_event_to_correct_is_the_one_that_ended_the_step(sprayed, rows_of):
    pour = sprayed()
    pour.step("mix-back-1", 23, None)
    assert row(rows_of(pour), "mix-back-1").event == pour.events[-1].id
    end = pour.add("finished", 31, "mix-back-1")
    assert row(rows_of(pour), "mix-back-1").event == end.id
    pour.add("corrected", 40, event=end.id, at=pour.at(33).isoformat())
    assert row(rows_of(pour), "mix-back-1").actual_min == pytest.approx(10)


def test_unmarked_skipped_and_half_marked(sprayed, rows_of):
    pour = sprayed()
    pour.add("skipped", 20, "mix-back-1")
    pour.add("finished", 40, "lift-1", "field")
    pour.step("roll-1", 41, None, "field")
    rows = rows_of(pour)
    steps = {r.step for r in rows}
    assert "mix-back-1" not in steps
    assert "cover" not in steps
    assert row(rows, "lift-1").actual_min is None
    assert row(rows, "roll-1").actual_min is None
    assert row(rows, "roll-1").ratio is None


def test_rows_come_in_the_order_of_the_process_and_in_a_phase(sprayed, rows_of):
    rows = rows_of(worked(sprayed))
    hands_on = [r.started for r in rows if r.kind == "hands-on"]
    assert hands_on == sorted(hands_on)
    assert all(r.phase in PHASES for r in rows)


class TestGroups:
    def test_by_step_and_by_job_raw_medians(self, scripted, rows_of):
        rows = []
        for took in (5, 8, 10):
            pour = scripted()
            pour.step("mix-face", 0, took)
            rows += rows_of(pour)
        (one,) = group(rows, "step")
        assert (one.name, one.count) == ("mix-face", 3)
        assert (one.planned_min, one.actual_min) == (7.0, 8.0)
        assert one.ratio == pytest.approx(8 / 7, abs=0.005)
        assert one.low_ratio == pytest.approx(5 / 7, abs=0.005)
        assert one.high_ratio == pytest.approx(10 / 7, abs=0.005)
        (whole,) = group(rows, "job")
        assert whole.name == "bare"

    def test_what_has_no_ratio_is_in_no_group(self, scripted, rows_of):
        pour = scripted()
        pour.step("mix-face", 0, None)
        assert group(rows_of(pour), "step") == []


class TestCsv:
    def test_a_header_and_a_line_for_each_row(self, sprayed, rows_of):
        rows = rows_of(worked(sprayed))
        read = list(csv.DictReader(io.StringIO(to_csv(rows))))
        assert len(read) == len(rows)
        assert tuple(read[0]) == CSV_COLUMNS
        mix = next(line for line in read if line["step"] == "mix-back-1")
        assert mix["started"] == "2030-04-01T07:53:00+00:00"
        assert float(mix["ratio"]) == pytest.approx(8 / 7, abs=0.001)
        assert mix["forecast_min"] == ""

    def test_a_comma_in_a_zone_stays_in_its_cell(self, scripted, rows_of, jobs):
        shape = Bare((BareZone("left, rear"),))
        pour = scripted(replace(jobs["bare"], shape=shape))
        pour.step("spray", 10, 15, "left, rear")
        (line,) = csv.DictReader(io.StringIO(to_csv(rows_of(pour))))
        assert line["zone"] == "left, rear"

    def test_no_rows_only_the_header(self):
        assert to_csv([]) == ",".join(CSV_COLUMNS) + "\n"
