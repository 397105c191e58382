"""Tries of the demould: folded, believed by the forecast, rung for, reviewed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.forecast import Setting
from scheduling.inforce import undo_target
from scheduling.process import StepKey
from scheduling.review import review
from scheduling.timeline import Status
from scheduling.touch import DemouldTry, say_try

NEXT_DAY = 24 * 60.0  # 07:30 of the day after the pour
SCREEDED = 80.0


@pytest.fixture
def cast(sprayed):
    """A bare pour screeded 80 min after it began, covered since; 18 h end at 02:50."""
    pour = sprayed()
    pour.step("mix-back-1", 23, 30)
    pour.touch("ready", 35)
    pour.step("lift-1", 36, 42, "field")
    pour.step("roll-1", 42, 46, "field")
    pour.step("lift-2", 61, 66, "field")
    pour.step("screed", 74, SCREEDED)
    pour.step("cover", 84, 88)
    return pour


def try_demould(pour, minutes, feel, **data):
    return pour.add("touch", minutes, "demould", feel=feel, **data)


def cure(pour, minutes):
    (span,) = [s for s in pour.timeline(minutes).spans if s.key.step == "cure"]
    return span


def demould_bells(pour, minutes):
    return [a for a in pour.alerts(minutes) if a.kind == "demould-ready"]


class TestFold:
    def test_tries_are_no_touches_of_a_zone(self, cast):
        before = cast.state.touches
        try_demould(cast, NEXT_DAY, "soft")
        try_demould(cast, NEXT_DAY + 90, "ready", first_possible=True)
        assert cast.state.touches == before
        assert cast.state.demould_tries == (
            DemouldTry(cast.at(NEXT_DAY), ready=False),
            DemouldTry(cast.at(NEXT_DAY + 90), ready=True, first_possible=True),
        )

    def test_they_come_in_the_order_of_time(self, cast):
        try_demould(cast, NEXT_DAY + 90, "ready")
        try_demould(cast, NEXT_DAY, "soft")
        assert [tried.ready for tried in cast.state.demould_tries] == [False, True]

    @pytest.mark.parametrize("feel", ["going-off", "gone", None, 3])
    def test_other_words_say_nothing_of_a_demould(self, cast, feel):
        try_demould(cast, NEXT_DAY, feel)
        assert cast.state.demould_tries == ()

    def test_an_answer_that_is_none_is_not_known(self, cast):
        try_demould(cast, NEXT_DAY, "ready", first_possible="perhaps")
        assert cast.state.demould_tries[0].first_possible is None

    def test_undo_takes_the_newest_back_and_no_more(self, cast):
        before = cast.state
        first = try_demould(cast, NEXT_DAY, "soft")
        one = cast.state
        second = try_demould(cast, NEXT_DAY + 30, "ready", first_possible=False)
        for tried, left in ((second, one), (first, before)):
            assert undo_target(cast.events) == tried
            cast.add("undone", NEXT_DAY + 40, event=tried.id)
            assert cast.state.demould_tries == left.demould_tries
            assert cast.state.steps == before.steps


class TestForecast:
    def test_untried_it_is_the_plain_threshold(self, cast):
        for hour in range(0, 21, 2):  # a probe has the piece at the reference
            cast.add("reading", SCREEDED + 60 * hour, piece_c=21.0)
        assert cast.minutes(cure(cast, 90).opens.p50) == pytest.approx(80 + 18 * 60)

    def test_not_ready_moves_the_whole_demould_past_the_try(self, cast):
        try_demould(cast, NEXT_DAY, "soft")
        found = cure(cast, NEXT_DAY + 1)
        assert cast.at(NEXT_DAY) < found.opens.p10 < found.opens.p50 < found.opens.p90
        assert found.status is Status.WAITING
        timeline = cast.timeline(NEXT_DAY + 1)
        assert timeline.demould == found.opens
        grind = timeline.span(StepKey("back-grind"))
        assert grind.start >= found.opens.p50

    def test_not_ready_then_ready_hold_it_between_them(self, cast):
        try_demould(cast, NEXT_DAY, "soft")
        try_demould(cast, NEXT_DAY + 90, "ready", first_possible=True)
        found = cure(cast, NEXT_DAY + 91).opens
        assert cast.at(NEXT_DAY) <= found.p10 <= found.p90 <= cast.at(NEXT_DAY + 90)

    def test_ready_ahead_of_the_forecast_is_ready(self, cast):
        try_demould(cast, 700, "ready", first_possible=True)
        assert cure(cast, 701).status is Status.OPEN
        assert cure(cast, 701).opens.p90 <= cast.at(700)

    def test_a_try_before_the_screed_is_of_nothing(self, cast):
        untried = cure(cast, 90).opens
        try_demould(cast, 60, "soft")
        assert cure(cast, 90).opens.p50 == untried.p50

    @settings(max_examples=25, deadline=None)
    @given(minutes=st.floats(SCREEDED, 5 * NEXT_DAY))
    def test_not_ready_never_makes_it_earlier(self, sprayed, minutes):
        pour = sprayed()
        pour.step("screed", 74, SCREEDED)
        before = cure(pour, 90).opens
        try_demould(pour, minutes, "soft")
        after = cure(pour, 90).opens
        # The clock and the cut log-normal each round a little.
        slip = timedelta(seconds=1)
        assert after.p50 >= max(before.p50, pour.at(minutes)) - slip
        assert after.p10 >= before.p10 - slip


class TestBells:
    def test_not_ready_is_rung_for_again_though_it_was_answered(self, cast):
        (first,) = [a for a in demould_bells(cast, 90) if "likely" in a.id]
        cast.add("acknowledged", NEXT_DAY, alert=first.id)
        try_demould(cast, NEXT_DAY + 1, "soft")
        likely, sure = demould_bells(cast, NEXT_DAY + 2)
        assert likely.id not in cast.state.answered
        assert cast.at(NEXT_DAY + 1) < likely.due <= sure.due

    def test_ready_is_rung_for_no_more(self, cast):
        try_demould(cast, NEXT_DAY, "ready")
        assert demould_bells(cast, NEXT_DAY + 1) == []


class TestReview:
    def rows(self, pour, shop):
        plan = Setting.of(shop).plan(pour.state.job, pour.state.begun)
        return {row.step: row for row in review(pour.state, plan)}

    @pytest.mark.parametrize(
        ("first", "words"),
        [(True, "first possible"), (False, "waited for us"), (None, "")],
    )
    def test_the_cure_ends_at_the_first_ready_try(self, cast, shop, first, words):
        try_demould(cast, NEXT_DAY, "soft")
        try_demould(cast, NEXT_DAY + 60, "ready", first_possible=first)
        cast.step("back-grind", NEXT_DAY + 100, NEXT_DAY + 110)
        row = self.rows(cast, shop)["cure"]
        assert row.actual_min == pytest.approx(NEXT_DAY + 60 - SCREEDED)
        assert row.found == words

    def test_untried_it_ends_when_the_grinding_begins(self, cast, shop):
        cast.step("back-grind", NEXT_DAY + 100, NEXT_DAY + 110)
        row = self.rows(cast, shop)["cure"]
        assert row.actual_min == pytest.approx(NEXT_DAY + 100 - SCREEDED)
        assert row.found == ""

    def test_a_try_says_nothing_of_another_wait(self, cast, shop):
        try_demould(cast, NEXT_DAY, "ready", first_possible=True)
        rows = self.rows(cast, shop)
        assert {row.found for row in rows.values()} == {"", "first possible"}


def test_it_is_said_in_words():
    assert say_try(ready=False, first_possible=None) == "not ready"
    assert say_try(ready=True, first_possible=None) == "ready"
    assert say_try(ready=True, first_possible=True) == "ready, first possible moment"
    assert say_try(ready=True, first_possible=False) == "ready, it waited for us"


class TestCuring:
    def test_from_the_screed_to_the_demould(self, cast, sprayed):
        assert not sprayed().timeline(20).curing()
        assert cast.timeline(90).curing()
        cast.step("demould", NEXT_DAY, NEXT_DAY + 20)
        assert not cast.timeline(NEXT_DAY + 30).curing()
