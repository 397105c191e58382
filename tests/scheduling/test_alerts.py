"""What must ring and when: every kind at its lead time, and nothing that is past."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.alert import AlertKind, ringing, upcoming
from scheduling.job import Bare, BareZone, Finish
from scheduling.process import StepKey
from scheduling.shop import Timing, TypicalDay
from scheduling.spread import Spread
from scheduling.timeline import Status

MINUTE = timedelta(minutes=1)
NIGHTS = 24 * 60


@pytest.fixture(scope="session")
def full_job(jobs):
    """A flat bare pour with green trim and two coats that have a recoat window."""
    return replace(
        jobs["bare"],
        optional=("green trim",),
        finish=Finish(sealer="waterborne urethane", coats=2),
    )


def due(pour, now, kind, tag=""):
    """Minutes at which the one alert of a kind (and tag) rings."""
    found = [
        alert
        for alert in pour.alerts(now)
        if alert.kind == kind and (not tag or alert.id.endswith(f"/{tag}"))
    ]
    assert len(found) == 1, f"{kind}: {[alert.id for alert in found]}"
    return pour.minutes(found[0].due)


def kinds(alerts):
    return {alert.kind for alert in alerts}


def packed(pour):
    """Goes on from the spray: mixed, ready, lift 1 placed and rolled, ended at 46."""
    pour.step("mix-back-1", 23, 30)
    pour.touch("ready", 35)
    pour.step("lift-1", 36, 42, "field")
    pour.step("roll-1", 42, 46, "field")
    return pour


def screeded(pour):
    """Goes on to the end of the screed, at 80."""
    packed(pour)
    pour.step("mix-back-2", 51, 58)
    pour.step("lift-2", 61, 66, "field")
    pour.step("roll-2", 66, 70, "field")
    pour.step("screed", 74, 80)
    return pour


def covered(pour):
    """Goes on to the blankets, at 95."""
    screeded(pour)
    pour.step("cover", 84, 88)
    return pour


def held(pour):
    """As ``covered``, with a piece that a probe has at 21 degC for two days."""
    covered(pour)
    for hour in range(0, 49, 2):
        pour.add("reading", 80 + 60 * hour, piece_c=21.0)
    return pour


def coated(pour):
    """Goes on to the first coat, ended at 8:30 of a Thursday."""
    covered(pour)
    pour.add("skipped", 94, "green-trim")
    pour.step("coat-1", 10 * NIGHTS + 50, 10 * NIGHTS + 60)
    return pour


class TestLeadTimes:
    """Each kind at the reference climate, where a reference minute is a minute.

    The pour: water on cement at 0, sprayed until 15. Lead times are common practice,
    no source; the thresholds under them are estimates.
    """

    @pytest.mark.parametrize(
        ("after", "now", "kind", "tag", "when"),
        [
            (None, 16, "mix-back-batch", "", 15 + 18 - 10),
            (None, 16, "touch-test", "0", 15 + 0.6 * 18),
            (None, 16, "window-open", "forecast0", 15 + 18),
            (None, 16, "window-closing", "forecast0", 33 + 0.6 * 27),
            (None, 16, "window-closing-now", "forecast0", 33 + 0.85 * 27),
            (None, 16, "window-closed", "forecast0", 15 + 45),
            (packed, 46, "pot-life", None, None),
            (packed, 46, "next-batch", "", 46 + 15 - 10),
            (packed, 46, "lift-2-open", "", 46 + 15),
            (packed, 46, "lift-2-closing", "", 46 + 15 + 0.6 * 45),
            (screeded, 80, "cover", "", 80 + 10),
            (held, 90, "green-trim", "opens", 51 + 180),
            (held, 90, "green-trim", "closes", 51 + 360 - 30),
            # 18 h after the screed is 02:50, so the shop's opening at 07:30.
            (held, 90, "demould-ready", "likely", NIGHTS),
            # Nine times in ten: derived, 18 h x exp(1.2816 sigma) = 23 h 34 min.
            (held, 90, "demould-ready", "sure", 80 + 18 * 60 * (24 / 14) ** 0.5),
            (coated, 10 * NIGHTS + 61, "recoat-open", "", 10 * NIGHTS + 60 + 180),
            # 85 % of the window is at 05:21, so it rings at the opening.
            (coated, 10 * NIGHTS + 61, "recoat-closing", "", 11 * NIGHTS),
        ],
    )
    def test_rings_when_the_trade_wants_it(
        self, sprayed, full_job, after, now, kind, tag, when
    ):
        pour = sprayed(full_job)
        if after is not None:
            after(pour)
        if when is None:
            assert kind not in kinds(pour.alerts(now))
            return
        assert due(pour, now, kind, tag) == pytest.approx(when, abs=0.02)

    @pytest.mark.parametrize(("tag", "share"), [("75", 0.75), ("100", 1.0)])
    def test_pot_life_of_each_batch(self, sprayed, tag, share):
        pour = sprayed()
        pour.step("mix-back-1", 23, 30)
        assert due(pour, 31, "pot-life", tag) == pytest.approx(
            23 + share * 45, abs=0.01
        )

    def test_pot_life_of_two_batches_in_hand_rings_for_each(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 23, 30)
        pour.step("mix-back-2", 31, 38)
        steps = [a.step for a in pour.alerts(39) if a.kind == "pot-life"]
        assert sorted(steps) == ["mix-back-1"] * 2 + ["mix-back-2"] * 2

    def test_the_face_mix_has_a_pot_life_too(self, scripted):
        pour = scripted()
        pour.step("mix-face", 0, 7)
        assert due(pour, 8, "pot-life", "100") == pytest.approx(35, abs=0.01)

    def test_roll_by_ten_minutes_after_placing(self, sprayed):
        pour = sprayed()
        pour.step("lift-1", 36, 42, "field")
        assert due(pour, 43, "roll-by") == pytest.approx(52, abs=0.01)

    def test_next_batch_when_two_fifths_of_the_one_in_hand_are_left(
        self, sprayed, jobs
    ):
        """One packer, 8 min/m2 of 4 m2 in two batches: 0.6 of 16 min after he began."""
        job = replace(jobs["bare"], shape=Bare((BareZone("field", 4.0),)))
        pour = sprayed(job)
        process = pour.timeline(16).process
        lift = next(s for s in process.steps if s.key.step == "lift-1")
        pour.step("mix-back-1", 23, 30)
        pour.touch("ready", 35)
        pour.step("lift-1", 36, None, "field")
        (gap,) = next(s for s in process.steps if s.key.step == "mix-back-2").gaps
        batches = sum(
            1 for gap in lift.gaps if gap.closes and gap.closes.name == "back pot life"
        )
        when = 36 + 0.6 * lift.minutes / batches
        assert gap.opens.spread.p50 == pytest.approx(when - 36)
        found = [a for a in pour.alerts(37) if a.step == "mix-back-2"]
        assert [a.kind for a in found] == ["next-batch"]
        assert pour.minutes(found[0].due) == pytest.approx(when, abs=0.01)

    @pytest.mark.parametrize(("piece", "rings"), [(8.0, 1), (20.0, 0), (47.0, 1)])
    def test_probe_out_of_range(self, sprayed, piece, rings):
        pour = covered(sprayed())
        pour.add("reading", 100, piece_c=piece)
        found = [a for a in pour.alerts(101) if a.kind == "probe-range"]
        assert len(found) == rings
        assert all(pour.minutes(a.due) == 100 for a in found)

    def test_a_probe_that_is_right_again_is_silent(self, sprayed):
        pour = covered(sprayed())
        pour.add("reading", 100, piece_c=8.0)
        pour.add("reading", 110, piece_c=18.0)
        assert "probe-range" not in kinds(pour.alerts(111))

    def test_every_kind_of_the_list_is_rung_by_some_pour(self, sprayed, shop, full_job):
        cold = replace(shop, climate=TypicalDay(low_c=12.0, high_c=12.0))
        seen = set()
        for after, now in (
            (None, 16),
            (packed, 46),
            (screeded, 80),
            (covered, 90),
            (coated, 10 * NIGHTS + 61),
        ):
            pour = sprayed(full_job, shop=cold)
            pour.add("reading", 1, piece_c=8.0)
            if after is not None:
                after(pour)
            seen |= kinds(pour.alerts(now))
        mixing = sprayed(full_job)
        mixing.step("mix-back-1", 23, 30)
        seen |= kinds(mixing.alerts(31))
        mixing.step("lift-1", 36, 42, "field")
        seen |= kinds(mixing.alerts(43))
        assert seen == set(get_args(AlertKind))


class TestColdNights:
    @pytest.mark.parametrize(("temp", "rings"), [(12.0, True), (21.0, False)])
    @pytest.mark.parametrize("name", ["bare", "leg"])
    def test_a_night_of_12_degrees_rings_and_one_of_21_does_not(
        self, sprayed, shop, jobs, temp, rings, name
    ):
        job = jobs["bare"]
        if name == "leg":  # 24 h at 21 degC: ready at 08:50 of the next day
            own = {"M1": replace(shop.mixes["M1"], thresholds=longer(24))}
            shop = replace(shop, mixes=own)
        climate = TypicalDay(low_c=temp, high_c=temp)
        pour = covered(sprayed(job, shop=replace(shop, climate=climate)))
        found = [a for a in pour.alerts(90) if a.kind == "tonight-cold"]
        assert bool(found) is rings
        for alert in found:
            assert pour.minutes(alert.due) == 80

    def test_a_late_pour_is_not_the_cold_s_fault(self, sprayed, monday):
        afternoon = monday + timedelta(hours=7)
        pour = covered(sprayed(begun=afternoon))
        assert "tonight-cold" not in kinds(pour.alerts(90))


def longer(hours):
    """Thresholds of a shop whose pieces take so many reference hours to demould."""
    return {"demould": Spread(hours * 60.0, 0.2)}


class TestTouching:
    def test_by_forecast_it_says_touch_it_first(self, sprayed):
        (alert,) = (a for a in sprayed().ringing(33.1) if a.kind == "window-open")
        assert "by forecast: touch it first" in alert.line
        assert alert.shape == "opens"

    def test_ready_rings_at_once_and_no_longer_by_forecast(self, sprayed):
        pour = sprayed()
        pour.touch("ready", 26)
        (alert,) = (a for a in pour.ringing(26) if a.zone == "field")
        assert alert.kind == "window-open"
        assert pour.minutes(alert.due) == 26
        assert "is ready" in alert.line
        assert "forecast" not in alert.line

    def test_a_soft_touch_asks_again_after_three_minutes(self, sprayed):
        pour = sprayed()
        pour.touch("soft", 27)
        assert not [a for a in pour.ringing(29.9) if a.zone]
        (alert,) = (a for a in pour.ringing(30) if a.zone)
        assert alert.kind == "touch-test"

    @settings(max_examples=60, deadline=None)
    @given(
        softs=st.lists(st.floats(15.1, 150), min_size=1, max_size=4).map(sorted),
        after=st.floats(0, 2.99),
    )
    def test_nothing_of_the_window_rings_within_three_minutes_of_a_soft_touch(
        self, sprayed, softs, after
    ):
        pour = sprayed()
        for minute in softs:
            pour.touch("soft", minute)
        rings = pour.ringing(softs[-1] + after)
        assert not [alert for alert in rings if alert.zone]

    @settings(max_examples=40, deadline=None)
    @given(
        wait=st.sampled_from(["lift-2", "green-trim", "coat-2"]),
        share=st.floats(0.9, 1.3),
        after=st.floats(0, 2.99),
    )
    def test_no_other_wait_is_called_open_within_three_minutes_of_a_soft_touch(
        self, sprayed, shop, full_job, wait, share, after
    ):
        # A shop that is sure of its times would have them open the next moment.
        sure = tuple(
            Timing(name, mix, Spread(minutes, 0.005), 30)
            for name, mix, minutes in (
                ("lift 2 opens", "M1", 15.0),
                ("green trim opens", "M1", 180.0),
                ("recoat opens", "waterborne urethane", 180.0),
            )
        )
        pour = sprayed(full_job, shop=replace(shop, timings=sure))
        made, zone, minutes = {
            "lift-2": (packed, "field", 46 + share * 15),
            "green-trim": (covered, "", 88 + share * 180),
            "coat-2": (coated, "", 10 * NIGHTS + 60 + share * 180),
        }[wait]
        made(pour)
        pour.add("touch", minutes, wait, zone, feel="soft")
        now = minutes + after
        assert not [a for a in pour.ringing(now) if (a.step, a.zone) == (wait, zone)]
        span = pour.timeline(now).wait_for(StepKey(wait, zone))
        assert span.status is Status.WAITING

    def test_lift_2_rings_anew_after_a_soft_touch_and_no_more_when_ready(self, sprayed):
        pour = packed(sprayed())
        (first,) = (a for a in pour.ringing(62) if a.kind == "lift-2-open")
        pour.add("acknowledged", 62, alert=first.id)
        pour.add("touch", 63, "lift-2", "field", feel="soft")
        again = due(pour, 64, "lift-2-open")
        assert again >= 66
        (rung,) = (a for a in pour.ringing(again) if a.kind == "lift-2-open")
        assert rung.id != first.id
        pour.add("touch", again, "lift-2", "field", feel="ready")
        assert "lift-2-open" not in kinds(pour.alerts(again))
        pour.add("touch", again + 2, "lift-2", "field", feel="going-off")
        assert due(pour, again + 2, "lift-2-closing") <= again + 2
        pour.add("touch", again + 4, "lift-2", "field", feel="gone")
        assert "lift-2-closing" not in kinds(pour.alerts(again + 4))

    def test_a_batch_that_went_off_rings_no_more(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 23, 30)
        assert "pot-life" in kinds(pour.alerts(31))
        pour.add("touch", 50, "mix-back-1", feel="gone")
        assert "pot-life" not in kinds(pour.alerts(51))

    def test_the_touch_test_comes_before_the_window(self, sprayed):
        pour = sprayed()
        order = [a.kind for a in pour.alerts(16) if a.zone == "field"]
        assert order == [
            "touch-test",
            "window-open",
            "window-closing",
            "window-closing-now",
            "window-closed",
        ]

    def test_going_off_at_the_first_touch_is_closing_and_not_open(self, sprayed):
        pour = sprayed()
        pour.touch("going-off", 40)
        (alert,) = (a for a in pour.ringing(40) if a.zone)
        assert alert.kind == "window-closing"
        assert alert.shape == "closes"

    def test_gone_is_closed_at_once(self, sprayed):
        pour = sprayed()
        pour.touch("gone", 40)
        (alert,) = (a for a in pour.ringing(40) if a.zone)
        assert alert.kind == "window-closed"

    def test_an_answered_closing_of_a_forecast_does_not_silence_the_true_one(
        self, sprayed
    ):
        pour = sprayed()
        (early,) = (a for a in pour.ringing(50) if a.kind == "window-closing")
        pour.add("acknowledged", 50, alert=early.id)
        pour.touch("soft", 51)
        pour.touch("ready", 58)
        closing = due(pour, 58, "window-closing")
        assert closing > 60
        (alert,) = (a for a in pour.ringing(closing + 0.1) if a.zone)
        assert alert.kind == "window-closing"

    def test_each_zone_has_its_own_chain(self, scripted, jobs):
        pour = scripted(jobs["two-legged-desk"])
        for number, zone in enumerate(("left leg", "right leg")):
            pour.step("spray", 4 * number, 4 * number + 4, zone)
        pour.touch("ready", 22, "left leg")
        rings = {a.zone: a.kind for a in pour.ringing(22) if a.zone}
        assert rings == {"left leg": "window-open", "right leg": "touch-test"}


class TestWhatIsOver:
    def test_a_later_link_of_a_chain_silences_the_earlier_ones(self, sprayed):
        pour = sprayed()
        for now, kind in (
            (30, "touch-test"),
            (34, "window-open"),
            (50, "window-closing"),
            (57, "window-closing-now"),
            (90, "window-closed"),
        ):
            assert [a.kind for a in pour.ringing(now) if a.zone] == [kind]

    def test_what_is_answered_is_silent_until_the_next_link(self, sprayed):
        pour = sprayed()
        for alert in pour.ringing(34):
            pour.add("acknowledged", 34, alert=alert.id)
        assert pour.ringing(35) == []
        assert [a.kind for a in pour.ringing(50)] == ["window-closing"]

    def test_a_step_done_makes_its_alerts_vanish(self, sprayed, full_job):
        pour = sprayed(full_job)
        assert "mix-back-batch" in kinds(pour.alerts(20))
        pour.step("mix-back-1", 23, 30)
        assert "mix-back-batch" not in kinds(pour.alerts(31))
        packed(pour)
        assert not any(a.kind.startswith("window") for a in pour.alerts(47))
        assert "touch-test" not in kinds(pour.alerts(47))
        covered(pour)
        assert "cover" not in kinds(pour.alerts(90))
        assert not any(a.kind.startswith("lift-2") for a in pour.alerts(90))
        pour.step("back-grind", NIGHTS, NIGHTS + 10)
        assert "demould-ready" not in kinds(pour.alerts(NIGHTS + 11))

    def test_a_step_begun_answers_its_own_bell(self, sprayed):
        pour = sprayed()
        pour.step("mix-back-1", 24, None)
        assert "mix-back-batch" not in kinds(pour.alerts(25))
        pour.touch("ready", 34)
        pour.step("lift-1", 34, None, "field")
        here = kinds(pour.alerts(35))
        assert {"touch-test", "window-open", "window-closing"}.isdisjoint(here)

    def test_the_last_calls_ring_while_lift_1_is_still_being_placed(self, sprayed):
        """Begun is not covered: it rings before the window closes on open face."""
        pour = sprayed()
        pour.touch("ready", 34)
        pour.step("lift-1", 34, None, "field")
        now = due(pour, 35, "window-closing-now")
        assert "window-closing-now" in kinds(pour.ringing(now + 0.1))
        pour.add("finished", now, "lift-1", "field")
        assert "window-closing-now" not in kinds(pour.ringing(now + 0.1))

    def test_nothing_rings_before_its_cause_has_happened(self, scripted, full_job):
        assert scripted(full_job).alerts(5) == []

    def test_a_respray_starts_new_ids(self, sprayed):
        pour = sprayed()
        old = {a.id for a in pour.alerts(20) if a.zone}
        for alert in pour.ringing(61):
            pour.add("acknowledged", 61, alert=alert.id)
        pour.add("resprayed", 70, "spray", "field")
        new = {a.id for a in pour.alerts(71) if a.zone}
        assert old
        assert new
        assert old.isdisjoint(new)
        assert due(pour, 71, "touch-test") == pytest.approx(70 + 0.6 * 18, abs=0.01)

    def test_a_clock_that_is_set_changes_no_id(self, sprayed):
        """What was answered stays answered when every instant moves."""
        pour, moved = sprayed(), sprayed()
        by = timedelta(hours=2, seconds=7)
        for one in (pour, moved):
            one.add("resprayed", 70, "spray", "field")
            one.add("reading", 75, piece_c=50.0)
        moved.events = [replace(event, at=event.at + by) for event in moved.events]
        before, after = pour.alerts(80), moved.alerts(200 + 7 / 60)
        assert {alert.kind for alert in before} >= {"touch-test", "probe-range"}
        assert [(a.id, a.due + by) for a in before] == [(a.id, a.due) for a in after]

    def test_each_respray_and_each_reading_has_ids_of_its_own(self, sprayed):
        pour = sprayed()
        first = pour.add("resprayed", 70, "spray", "field")
        pour.add("reading", 71, piece_c=50.0)
        old = {a.id for a in pour.alerts(72)}
        pour.add("undone", 73, event=first.id)
        pour.add("resprayed", 73, "spray", "field")
        pour.add("reading", 74, piece_c=50.0)
        new = {a.id for a in pour.alerts(75)}
        anew = ("probe-range", "touch-test", "window")
        assert all(any(one.startswith(kind) for one in old) for kind in anew)
        assert not [one for one in old & new if one.startswith(anew)]

    def test_undoing_a_touch_asks_again(self, sprayed):
        pour = sprayed()
        touch = pour.touch("ready", 30)
        pour.add("undone", 31, event=touch.id)
        assert "touch-test" in kinds(pour.ringing(31))


class TestAfterARestart:
    @settings(max_examples=25, deadline=None)
    @given(now=st.floats(16, 3000))
    def test_the_same_events_give_the_same_alerts(self, scripted, sprayed, now):
        """Ids, dues and words are derived; nothing of a run is in them."""
        one = covered(sprayed()) if now > 100 else sprayed()
        other = scripted()
        other.events = list(one.events)
        assert one.alerts(now) == other.alerts(now)

    def test_what_came_due_while_down_rings_unless_it_no_longer_matters(self, sprayed):
        pour = sprayed()
        rings = pour.ringing(55)
        assert {a.kind for a in rings} == {"mix-back-batch", "window-closing"}

    def test_the_future_and_the_present_are_apart(self, sprayed):
        pour = sprayed()
        alerts, now = pour.alerts(34), pour.at(34)
        coming = upcoming(alerts, now)
        assert all(alert.due > now for alert in coming)
        assert set(coming).isdisjoint(ringing(alerts, pour.state, now))
        assert [a.due for a in alerts] == sorted(a.due for a in alerts)


class TestHours:
    def test_bells_of_the_cure_wait_for_the_shop_and_those_of_the_pour_do_not(
        self, sprayed, full_job, monday
    ):
        evening = monday + timedelta(hours=8, minutes=30)  # 16:00, closing 16:30
        pour = coated(sprayed(full_job, begun=evening))
        hours = pour.forecaster.setting(pour.state).hours
        for now in (90, 10 * NIGHTS + 61):
            for alert in pour.alerts(now):
                if alert.kind in ("demould-ready", "recoat-open", "recoat-closing"):
                    assert hours.is_open(alert.due)
        late = sprayed(full_job, begun=evening)
        assert not hours.is_open(late.at(33))
        assert "window-open" in kinds(late.ringing(33.1))

    def test_a_recoat_window_that_closed_overnight_is_said_to_have(
        self, sprayed, full_job
    ):
        pour = covered(sprayed(full_job))
        # Coated at 15:00: open 180 min later, closed 24 h after, a Saturday.
        friday = 11 * NIGHTS + 450
        pour.step("coat-1", friday - 10, friday)
        (alert,) = (a for a in pour.alerts(friday + 1) if a.kind == "recoat-closing")
        assert pour.minutes(alert.due) == 14 * NIGHTS
        assert "has closed" in alert.line


def test_an_alert_says_what_to_do_in_a_word_and_a_sentence(sprayed, full_job):
    pour = covered(sprayed(full_job))
    for alert in (*sprayed().alerts(16), *pour.alerts(90)):
        assert 1 <= len(alert.word) <= 10
        assert alert.word == alert.word.upper()
        assert alert.line[-1] in ".?"
        assert alert.shape in ("opens", "closes", "note")
        assert " " not in alert.id
