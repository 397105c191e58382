"""The fold: any events lead to a state, and undo and correction do what they say."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scheduling.alert import ringing
from scheduling.alerts import derive
from scheduling.defect import CODES, FOUND_AT
from scheduling.defectcounts import counts
from scheduling.defects import evidence
from scheduling.event import KINDS, event_to_document
from scheduling.folding import READING_KEYS, fold
from scheduling.forecast import Forecaster
from scheduling.inforce import UNDOABLE, active, undo_target
from scheduling.process import StepKey
from scheduling.snapshot import job_to_data, shop_to_data
from scheduling.touch import Touch

SPRAY = StepKey("spray", "field")
LIFT = StepKey("lift-1", "field")

MOST_EVENTS = 14

numbers = st.one_of(
    st.integers(-(2**40), 2**40),
    st.floats(allow_nan=False, allow_infinity=False),
    st.floats(-40, 70),
)
scalars = st.one_of(st.none(), st.booleans(), numbers, st.text(max_size=8))
garbage = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=4), inner, max_size=3)
    ),
    max_leaves=4,
)
ids = st.integers(0, MOST_EVENTS + 2).map(lambda number: f"{number:012x}-0000")
moments = st.one_of(
    st.datetimes().map(lambda at: at.isoformat() + "+00:00"),
    st.sampled_from(
        [
            "0001-01-01T00:00:00+14:00",
            "9999-12-31T23:59:59-14:00",
            "2030-04-01T09:00:00+00:00",
            "2030-04-01T07:00:00+00:00",
            "2030-04-01T09:00",
            "soon",
        ]
    ),
)
keys = st.builds(
    StepKey,
    st.sampled_from(
        [
            "",
            "mix-face",
            "spray",
            "lift-1",
            "roll-1",
            "mix-back-1",
            "cover",
            "demould",
            "dance",
        ]
    ),
    st.sampled_from(["", "field", "moon"]),
)


def plausible(kind):
    """Data as each kind carries it, about half of it garbage."""
    right = {
        "touch": {
            "feel": st.sampled_from(["soft", "ready", "going-off", "gone"]),
            "first_possible": st.booleans(),
        },
        "reading": dict.fromkeys(READING_KEYS, st.floats(-5, 100)),
        "fogged": {"grams_per_m2": st.floats(-1, 500)},
        "hands": {"in": st.lists(st.text(max_size=4), max_size=3)},
        "note": {"text": st.text(max_size=10)},
        "rang": {"alert": st.text(max_size=6)},
        "defect": {
            "defect": st.sampled_from(list(CODES)),
            "place": st.text(max_size=6),
            "found_at": st.sampled_from(FOUND_AT),
            "extra_min": numbers,
            "change_default": st.booleans(),
        },
        "acknowledged": {"alert": st.text(max_size=6)},
        "corrected": {"event": ids, "at": moments},
        "undone": {"event": ids},
        "started": {"forecast": garbage, "job": garbage, "shop": garbage},
        "finished": {"forecast": garbage},
    }.get(kind, {})
    return st.fixed_dictionaries(
        {}, optional={name: value | garbage for name, value in right.items()}
    )


raw = st.sampled_from(KINDS).flatmap(
    lambda kind: st.tuples(st.just(kind), st.floats(-600, 3000), keys, plausible(kind))
)
raws = st.lists(raw, max_size=MOST_EVENTS)


@pytest.fixture(scope="session")
def written(event, monday, jobs, shop):
    """Makes events of raw ones, the bare pour begun first."""

    def write(made):
        job, home = job_to_data(jobs["bare"]), shop_to_data(shop)
        begin = {"job": job, "shop": home, "casting": 1}
        events = [event(0, "started", monday, data=begin)]
        for number, (kind, minutes, key, data) in enumerate(made, 1):
            at = monday + timedelta(minutes=minutes)
            events.append(event(number, kind, at, key, data))
        return events

    return write


class TestAnySequence:
    @settings(max_examples=150, deadline=None)
    @given(made=raws)
    def test_folds_without_an_error_and_without_a_trace(self, written, made):
        events = written(made)
        before = deepcopy([event_to_document(event) for event in events])
        state = fold("bare.0401", events)
        assert state == fold("bare.0401", events)
        assert [event_to_document(event) for event in events] == before

    @settings(max_examples=100, deadline=None)
    @given(made=raws)
    def test_folds_without_a_beginning_too(self, written, made):
        assert fold("bare.0401", written(made)[1:]).job is None

    @settings(max_examples=80, deadline=None)
    @given(made=raws)
    def test_has_its_defects_reckoned(self, written, made):
        events = [one for one in written(made) if one.kind != "corrected"]
        state = fold("bare.0401", events)
        found = evidence(state)
        if found is not None:
            assert [case.defect for case in found.cases] == list(state.defects)
            assert counts([found]).pours == found.cast

    @settings(max_examples=80, deadline=None)
    @given(made=raws, now=st.floats(-10, 4000))
    def test_can_be_laid_out_and_rung(self, written, monday, made, now):
        """Whatever is in the log, the pour clock shows what it knows."""
        events = [one for one in written(made) if one.kind != "corrected"]
        state = fold("bare.0401", events)
        assume(state.job is not None)
        at = monday + timedelta(minutes=now)
        forecaster = Forecaster()
        timeline = forecaster.timeline(state, at)
        hours = forecaster.setting(state).hours
        alerts = derive(timeline, state, hours)
        assert len({alert.id for alert in alerts}) == len(alerts)
        assert set(ringing(alerts, state, at)) <= set(alerts)

    @settings(max_examples=100, deadline=None)
    @given(made=raws)
    def test_undo_restores_the_state_before(self, written, made):
        events = written(made)
        target = undo_target(events)
        assume(target is not None)
        undone = replace(
            events[-1],
            id="fff",
            kind="undone",
            at=events[-1].at + timedelta(minutes=1),
            data={"event": target.id},
        )
        without = [one for one in events if one.id != target.id]
        assert fold("bare.0401", [*events, undone]) == fold("bare.0401", without)

    @settings(max_examples=100, deadline=None)
    @given(made=raws)
    def test_undoing_an_undo_brings_back_what_was(self, written, made):
        events = written(made)
        target = undo_target(events)
        assume(target is not None)
        first = replace(events[-1], id="ffe", kind="undone", data={"event": target.id})
        second = replace(first, id="fff", data={"event": first.id})
        before = fold("bare.0401", events)
        assert fold("bare.0401", [*events, first, second]) == before

    @settings(max_examples=100, deadline=None)
    @given(made=raws, which=st.integers(0, MOST_EVENTS), minutes=st.floats(-60, 600))
    def test_a_correction_moves_that_event_and_no_other(
        self, written, monday, made, which, minutes
    ):
        events = written(made)
        target = events[which % len(events)]
        named = [
            one
            for one in events
            if one.kind == "corrected" and one.data.get("event") == target.id
        ]
        assume(not named)
        at = monday + timedelta(minutes=minutes)
        data = {"event": target.id, "at": at.isoformat()}
        correction = replace(events[-1], id="fff", kind="corrected", data=data)
        # It counts as written down when it was put right.
        new = replace(target, at=at, recorded_at=correction.recorded_at)
        moved = [new if one is target else one for one in events]
        corrected = fold("bare.0401", [*events, correction])
        assert corrected == fold("bare.0401", moved)

    @settings(max_examples=60, deadline=None)
    @given(made=raws, number=st.integers(900, 999), at=moments)
    def test_naming_something_unknown_is_nothing(self, written, made, number, at):
        events = written(made)
        unknown = f"{number:012x}-0000"
        odd = [
            replace(events[0], id="ffe", kind="undone", data={"event": unknown}),
            replace(
                events[0], id="fff", kind="corrected", data={"event": unknown, "at": at}
            ),
        ]
        assert fold("bare.0401", [*events, *odd]) == fold("bare.0401", events)


class TestWhatItSays:
    def test_a_start_and_an_end(self, scripted):
        pour = scripted()
        pour.step("spray", 10, 15, "field")
        record = pour.state.record(SPRAY)
        assert (record.started, record.finished) == (pour.at(10), pour.at(15))
        assert not record.running
        assert record.ended == pour.at(15)

    def test_a_start_with_true_for_a_number_is_none_after_a_good_one(
        self, event, monday, jobs, shop
    ):
        good = {"job": job_to_data(jobs["bare"]), "shop": shop_to_data(shop)}
        bad = {**good, "shop": {**good["shop"], "equipment": {"table": True}}}
        good["shop"] = {**good["shop"], "equipment": {"table": 1}}
        begun = [
            fold("bare.0401", [event(0, "started", monday, data=data)]).begun
            for data in (good, bad, good)
        ]
        assert begun == [monday, None, monday]

    def test_a_step_nobody_marked_is_empty(self, scripted):
        assert scripted().state.record(SPRAY).started is None

    def test_an_end_without_a_beginning_is_kept(self, scripted):
        pour = scripted()
        pour.add("finished", 15, "spray", "field")
        assert pour.state.record(SPRAY).finished == pour.at(15)

    def test_an_end_is_never_before_its_start(self, scripted):
        pour = scripted()
        pour.step("spray", 10, 5, "field")
        assert pour.state.record(SPRAY).finished == pour.at(10)

    def test_a_second_start_begins_anew(self, scripted):
        pour = scripted()
        pour.step("spray", 10, 15, "field")
        pour.step("spray", 20, None, "field")
        assert pour.state.record(SPRAY).running

    def test_the_end_keeps_what_was_forecast_at_the_start(self, scripted):
        pour = scripted()
        start = {"minutes": 5.0, "temp_c": 21.0, "waits": {}}
        end = {"minutes": 9.0, "temp_c": 25.0, "waits": {"face wait/field": 18.0}}
        pour.add("started", 0, "spray", "field", forecast=start)
        pour.add("finished", 5, "spray", "field", forecast=end)
        forecast = pour.state.record(SPRAY).forecast
        assert forecast["minutes"] == 5.0
        assert forecast["temp_c"] == 21.0
        assert forecast["waits"] == {"face wait/field": 18.0}

    def test_a_respray_forgets_what_was_felt_and_done_to_the_old_coat(self, sprayed):
        pour = sprayed()
        pour.touch("gone", 60)
        pour.add("fogged", 61, "spray", "field", grams_per_m2=20.0)
        pour.add("covered", 62, "spray", "field")
        pour.add("resprayed", 70, "spray", "field")
        state = pour.state
        assert state.resprayed == {"field": pour.at(70)}
        assert not state.touches
        assert not state.fogs
        assert not state.covers

    def test_covers_open_and_shut(self, sprayed):
        pour = sprayed()
        for kind, minute in (
            ("uncovered", 15),
            ("covered", 16),
            ("covered", 17),
            ("uncovered", 20),
            ("covered", 25),
        ):
            pour.add(kind, minute, "spray", "field")
        spans = pour.state.covers["field"]
        assert spans == ((pour.at(16), pour.at(20)), (pour.at(25), None))

    def test_touches_come_in_the_order_of_time(self, sprayed):
        pour = sprayed()
        pour.touch("ready", 35)
        pour.touch("soft", 30)
        assert [touch.feel for touch in pour.state.touches["field"]] == [
            "soft",
            "ready",
        ]

    def test_a_touch_of_another_wait_is_none_of_a_zone(self, sprayed):
        pour = sprayed()
        pour.add("touch", 70, "lift-2", "field", feel="ready")
        pour.add("touch", 60, "lift-2", "field", feel="soft")
        pour.add("touch", 65, "sand-1", feel="wet")
        state = pour.state
        assert not state.touches
        assert not state.demould_tries
        assert set(state.felt) == {StepKey("lift-2", "field")}
        felt = state.felt[StepKey("lift-2", "field")]
        assert felt == (Touch(pour.at(60), "soft"), Touch(pour.at(70), "ready"))

    def test_late_is_what_was_written_down_or_put_right_long_after(self, sprayed):
        pour = sprayed()
        soon, late = pour.touch("soft", 20), pour.touch("ready", 24)
        pour.events[-1] = replace(late, recorded_at=pour.at(24 + 5.1))
        assert pour.state.late == {late.id}
        for to, recorded, found in ((19, 23, {late.id}), (18, 60, {late.id, soon.id})):
            at = pour.at(to).isoformat()
            pour.add("corrected", recorded, event=soon.id, at=at)
            assert pour.state.late == found
        pour.add("undone", 61, event=pour.events[-1].id)
        assert pour.state.late == {late.id}

    def test_a_note_may_say_not_to_learn(self, scripted):
        pour = scripted()
        for learn in (False, True, "no", None):
            pour.add("note", 5, text="a trial", learn=learn)
        assert [note.learn for note in pour.state.notes] == [False, True, True, True]

    @pytest.mark.parametrize("value", [999, -300.0, True, "21", None, [21]])
    def test_a_value_no_thermometer_shows_is_left_out_and_the_rest_kept(
        self, scripted, value
    ):
        pour = scripted()
        pour.add("reading", 5, shop_c=value, form_c=18.5)
        (reading,) = pour.state.readings
        assert reading.shop_c is None
        assert reading.form_c == 18.5

    def test_a_fog_of_tonnes_is_a_slip(self, sprayed):
        pour = sprayed()
        pour.add("fogged", 16, "spray", "field", grams_per_m2=1e300)
        assert not pour.state.fogs

    def test_a_correction_to_a_year_no_event_can_have_moves_nothing(self, scripted):
        pour = scripted()
        start = pour.add("started", 10, "spray", "field")
        pour.add("corrected", 11, event=start.id, at="0001-01-01T00:00:00+00:00")
        assert pour.state.record(SPRAY).started == pour.at(10)

    def test_a_start_whose_job_cannot_be_read_begins_nothing(self, event, monday):
        started = event(0, "started", monday, data={"job": {"id": 7}, "shop": {}})
        state = fold("bare.0401", [started])
        assert state.job is None
        assert state.begun is None

    def test_put_away_and_taken_back(self, scripted):
        pour = scripted()
        sealed = pour.add("sealed", 5)
        assert pour.state.sealed == pour.at(5)
        pour.add("undone", 6, event=sealed.id)
        assert pour.state.sealed is None

    def test_the_first_ring_and_the_first_answer_count(self, scripted):
        pour = scripted()
        for minute in (5, 6):
            pour.add("rang", minute, alert="a")
            pour.add("acknowledged", minute + 10, alert="a")
        assert pour.state.rang == {"a": pour.at(5)}
        assert pour.state.answered == {"a": pour.at(15)}


class TestUndoTarget:
    def test_the_newest_mark_first_then_the_one_before(self, scripted):
        pour = scripted()
        first = pour.touch("soft", 20)
        second = pour.touch("ready", 23)
        assert undo_target(pour.events) == second
        pour.add("undone", 24, event=second.id)
        assert undo_target(pour.events) == first

    def test_bells_are_nothing_to_take_back(self, scripted):
        pour = scripted()
        touch = pour.touch("soft", 20)
        pour.add("rang", 21, alert="a")
        pour.add("acknowledged", 22, alert="a")
        assert {"rang", "acknowledged"}.isdisjoint(UNDOABLE)
        assert undo_target(pour.events) == touch

    def test_nothing_there_nothing_to_take_back(self):
        assert undo_target([]) is None
        assert active([]) == []
