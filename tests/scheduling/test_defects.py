"""Defects: what an event says, and what stands beside it of the zone's times."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.climate import Measured
from scheduling.clocks import ClockBook
from scheduling.defect import (
    ACTIONS,
    CODES,
    FOUND_AT,
    MOST_EXTRA_MIN,
    OTHER,
    Where,
    defect_of,
    found_about_now,
    read_where,
)
from scheduling.defectcounts import at_window, counts
from scheduling.defects import cases, evidence
from scheduling.event import event_from_document, event_to_document
from scheduling.folding import fold
from scheduling.forecast import Setting
from scheduling.inforce import undo_target
from scheduling.laws import CLOSE_SHARE, OPEN_SHARE, fog_credit_minutes
from scheduling.process import StepKey
from support import timings

FIELD = "field"
MORNING = datetime(2030, 4, 2, 8, 0, tzinfo=UTC)

SPRAYED = 15
"""Minute at which the spraying of the fixture's pour ends."""


class TestOneEvent:
    def test_says_all_that_was_written(self, sprayed):
        pour = sprayed()
        made = pour.add(
            "defect",
            900,
            "lift-1",
            FIELD,
            defect="ghosting",
            place="B3",
            size="40 mm",
            found_at="hone",
            action="strip-sealer",
            extra_min=90,
            material="half a bag",
            text="under the lamp",
            change_default=True,
        )
        (found,) = pour.state.defects
        assert found == defect_of(event_from_document(event_to_document(made)))
        assert (found.code, found.zone, found.step) == ("ghosting", FIELD, "lift-1")
        assert (found.place, found.size) == ("B3", "40 mm")
        assert (found.found_at, found.action) == ("hone", "strip-sealer")
        assert (found.extra_min, found.material) == (90.0, "half a bag")
        assert (found.text, found.change_default) == ("under the lamp", True)
        assert found.at == pour.at(900)

    def test_undo_takes_it_back_and_a_correction_moves_it(self, sprayed):
        pour = sprayed()
        before = pour.state
        made = pour.add("defect", 900, defect="peel")
        assert undo_target(pour.events) is made
        correction = pour.add(
            "corrected", 901, event=made.id, at=pour.at(800).isoformat()
        )
        assert [one.at for one in pour.state.defects] == [pour.at(800)]
        pour.add("undone", 902, event=correction.id)
        pour.add("undone", 903, event=made.id)
        assert replace(pour.state, last_event=None) == replace(before, last_event=None)

    @pytest.mark.parametrize(
        ("data", "kept"),
        [
            ({"defect": "meteor"}, (OTHER, "", "", None)),
            ({}, (OTHER, "", "", None)),
            ({"defect": ["peel"], "found_at": "moon"}, (OTHER, "", "", None)),
            ({"defect": "peel", "action": {"a": 1}}, ("peel", "", "", None)),
            ({"defect": "peel", "extra_min": True}, ("peel", "", "", None)),
            ({"defect": "peel", "extra_min": -1}, ("peel", "", "", None)),
            ({"defect": "peel", "extra_min": 2**62}, ("peel", "", "", None)),
            (
                {"defect": "peel", "extra_min": MOST_EXTRA_MIN * 2},
                ("peel", "", "", None),
            ),
            ({"defect": "peel", "extra_min": 0}, ("peel", "", "", 0.0)),
        ],
    )
    def test_what_makes_no_sense_is_left_out(self, sprayed, event, data, kept):
        found = defect_of(replace(event(1, "defect", sprayed().at(0)), data=data))
        assert (found.code, found.found_at, found.action, found.extra_min) == kept


class TestWhere:
    ZONES = ("left leg", "top", "3")

    @pytest.mark.parametrize(
        ("text", "read"),
        [
            ("B3", ("", "B3", "")),
            ("inner edge, 40 mm", ("", "inner edge", "40 mm")),
            ("2: inner edge, 40 mm, deep", ("top", "inner edge", "40 mm, deep")),
            (" TOP : B3", ("top", "B3", "")),
            ("1:", ("left leg", "", "")),
            ("3: x", ("3", "x", "")),
            ("4: x", ("", "4: x", "")),
            ("rim: below, 5 mm", ("", "rim: below", "5 mm")),
            ("40 mm", ("", "40 mm", "")),
        ],
    )
    def test_zone_place_and_size(self, text, read):
        assert read_where(text, self.ZONES) == Where(*read)

    @given(st.text(max_size=30))
    def test_any_text_is_read_and_loses_nothing(self, text):
        found = read_where(text, self.ZONES)
        assert found.zone in ("", *self.ZONES)
        for part in (found.place, found.size):
            assert part in text


STAGES = (
    ("mix-face", "demould"),
    ("demould", "demould"),
    ("defect-map", "demould"),
    ("hone-1", "hone"),
    ("slurry-1", "hone"),
    ("wash-down", "hone"),
    ("mask", "seal"),
    ("check-over", "seal"),
)


class TestFoundAboutNow:
    @pytest.mark.parametrize(("step", "stage"), STAGES)
    def test_is_the_stage_of_the_step_in_hand(self, scripted, jobs, step, stage):
        pour = scripted(jobs["court-bench"])
        minute = 0
        for each in pour.timeline(0).process.steps:
            if each.key.step == step:
                break
            minute += 10
            pour.step(each.key.step, minute - 9, minute, each.key.zone)
        else:
            pytest.fail(f"no {step} in the process")
        pour.add("started", minute + 1, step)
        timeline = pour.timeline(minute + 2)
        assert found_about_now(timeline, put_away=False) == stage
        assert found_about_now(timeline, put_away=True) == "client"

    def test_after_the_last_step_it_is_the_client(self, sprayed):
        pour = sprayed()
        for number, step in enumerate(pour.timeline(20).process.steps):
            pour.step(step.key.step, 20 + number, 20.5 + number, step.key.zone)
        assert found_about_now(pour.timeline(900), put_away=False) == "client"


def lifted(pour, minute, code="ghosting", **data):
    """Begins lift 1 at a minute, demoulds, and finds a defect unless code is ""."""
    pour.step("lift-1", minute, minute + 10, FIELD)
    pour.step("demould", 1500, 1530)
    if code:
        pour.add("defect", 1540, zone=FIELD, defect=code, **data)
    return pour


class TestEvidence:
    def test_by_hand_at_the_reference_climate(self, sprayed):
        """A rate of 1: 20 min are 20 reference min, 18 min to open, 45 to close."""
        pour = sprayed()
        pour.touch("soft", 27)
        pour.touch("ready", 33)
        lifted(pour, 35, found_at="demould")
        pour.touch("gone", 40)  # after lift 1 was begun: nothing about it
        (case,) = cases(pour.state)
        (times,) = case.zones
        assert case.defect.found_at == "demould"
        assert (times.zone, times.sprayed) == (FIELD, pour.at(SPRAYED))
        assert (times.form_c, times.shop_c) == pytest.approx((21, 21))
        assert (times.rh_pct, times.wind_kmh) == (50, 0)
        assert not times.measured
        assert times.lift_1 == pour.at(35)
        assert times.wall_min == 20
        assert times.reached == pytest.approx({"face opens": 20, "face closes": 20})
        assert [touch.feel for touch in times.touches] == ["soft", "ready"]
        # ln(40/10) / 2.563 of sigma about 18 is 9 / 18 / 36, about 45 28.5 / 45 / 71.2
        opens = [pour.minutes(at) - SPRAYED for at in band(times.opens)]
        closes = [pour.minutes(at) - SPRAYED for at in band(times.closes)]
        assert opens == pytest.approx([9, 18, 36], abs=0.01)
        assert closes == pytest.approx([28.46, 45, 71.15], abs=0.01)

    def test_fog_and_cover_slow_both_clocks_by_their_share(self, sprayed):
        pour = sprayed()
        pour.add("covered", 25, "spray", FIELD)
        pour.add("uncovered", 35, "spray", FIELD)
        pour.add("fogged", 40, "spray", FIELD, grams_per_m2=20)
        pour.add("fogged", 47, "spray", FIELD, grams_per_m2=20)  # after lift 1
        lifted(pour, 45)
        ((times,),) = (case.zones for case in cases(pour.state))
        for name, share in (("face opens", OPEN_SHARE), ("face closes", CLOSE_SHARE)):
            # 30 min, 10 of them with a tenth of the evaporation
            run = 30 - 10 * 0.9 * share - fog_credit_minutes(20, share)
            assert times.reached[name] == pytest.approx(run)
        assert times.wall_min == 30

    def test_the_forecast_knows_only_the_readings_before_it(self, sprayed):
        pour = sprayed()
        early = lifted(sprayed(), 35).state
        pour.add("reading", 20, form_c=30.0, shop_c=30.0)
        late = lifted(pour, 35).state
        (before,), (after,) = evidence(early).zones, evidence(late).zones
        assert after.opens == before.opens
        assert after.reached["face opens"] > before.reached["face opens"]
        assert after.measured

    @settings(max_examples=40, deadline=None)
    @given(
        form_c=st.floats(8, 35),
        rh_pct=st.floats(20, 90),
        wind_kmh=st.floats(0, 15),
        fog=st.sampled_from([0, 15.0]),
        bound=st.sampled_from(["opens", "closes"]),
    )
    def test_agrees_with_the_timeline_in_any_weather(
        self, sprayed, form_c, rh_pct, wind_kmh, fog, bound
    ):
        """Lift 1 begun at a P50 of the pour clock has reached that threshold's P50."""
        pour = sprayed()
        values = {"form_c": form_c, "rh_pct": rh_pct, "wind_kmh": wind_kmh}
        pour.add("reading", 12, **values)
        pour.add("covered", 17, "spray", FIELD)
        pour.add("uncovered", 19, "spray", FIELD)
        if fog:
            pour.add("fogged", 20, "spray", FIELD, grams_per_m2=fog)
        span = pour.window(21)
        when = pour.minutes(getattr(span.window, bound).p50)
        if when <= 20:  # in heat it opens before the fog
            return
        (times,) = evidence(lifted(pour, when).state).zones
        p50 = {"opens": 18, "closes": 45}[bound]
        assert times.reached[f"face {bound}"] == pytest.approx(p50, abs=0.02)

    def test_a_zone_sprayed_anew_counts_from_then(self, sprayed):
        pour = sprayed()
        pour.touch("gone", 60)
        pour.step("lift-1", 61, None, FIELD)
        pour.add("resprayed", 70, "spray", FIELD)
        (times,) = evidence(pour.state).zones
        assert (times.sprayed, times.lift_1) == (pour.at(70), None)
        assert (times.wall_min, times.reached, times.touches) == (None, {}, ())

    def test_a_defect_of_no_zone_may_concern_each(self, scripted, jobs):
        pour = desk(scripted, jobs, {"left leg": 40, "right leg": 41, "top": 42})
        pour.add("defect", 1600, defect="craze")
        pour.add("defect", 1600, zone="top", defect="craze")
        pour.add("defect", 1600, zone="cellar", defect="craze")
        zones = [[times.zone for times in case.zones] for case in cases(pour.state)]
        assert zones == [["left leg", "right leg", "top"], ["top"], []]

    def test_without_a_start_there_is_nothing_to_say(self, sprayed):
        assert evidence(fold("bare.0401", sprayed().events[1:])) is None
        assert cases(fold("bare.0401", sprayed().events[1:])) == []


def band(found):
    return found.p10, found.p50, found.p90


def desk(scripted, jobs, lifts, out=True):
    """A desk of three zones, each sprayed at minute 15 and lifted at its own minute."""
    pour = scripted(jobs["two-legged-desk"])
    for zone, minute in lifts.items():
        pour.step("spray", 10, SPRAYED, zone)
        pour.step("lift-1", minute, minute + 5, zone)
    if out:
        pour.step("demould", 1500, 1530)
    return pour


def found(*pours):
    return [
        replace(evidence(pour.state), pour=f"bare.{number}")
        for number, pour in enumerate(pours)
    ]


def learned_with(energy, share):
    one = timings.learned(MORNING, pours=9)
    return replace(
        one,
        energy=replace(one.energy, p50=energy),
        share=replace(one.share, p50=share),
    )


def run(pour, minute, energy, share):
    """What a clock of these constants ran from the spraying to a minute."""
    climate = Measured(Setting.of(pour.state.shop).climate, pour.state.readings)
    clock = ClockBook(climate, energy).clock("face", "form", share)
    return clock.elapsed(pour.at(SPRAYED), pour.at(minute))


class TestAtWindow:
    def test_parts_zones_that_showed_it_from_those_without(self, sprayed):
        pours = found(
            lifted(sprayed(), 25),
            lifted(sprayed(), 23),
            lifted(sprayed(), 40, ""),
            lifted(sprayed(), 38, "curl"),
        )
        at = at_window(pours, "face opens")
        assert at.showing == pytest.approx((8, 10))
        assert at.others == pytest.approx((23, 25))

    @pytest.mark.parametrize("code", ["peel", "craze"])
    def test_the_closing_looks_for_peel_and_craze(self, sprayed, code):
        pours = found(lifted(sprayed(), 75, code), lifted(sprayed(), 40))
        at = at_window(pours, "face closes")
        assert at.showing == pytest.approx((60,))
        assert at.others == pytest.approx((25,))
        assert at_window(pours, "face closes", ["ghosting"]).showing == pytest.approx(
            (25,)
        )

    def test_two_of_a_kind_in_a_zone_are_one_zone(self, sprayed):
        pour = lifted(sprayed(), 25)
        pour.add("defect", 1600, zone=FIELD, defect="ghosting", place="C4")
        assert at_window(found(pour), "face opens").showing == pytest.approx((10,))

    def test_a_pour_still_in_its_form_shows_nothing_yet(self, sprayed):
        pour = sprayed()
        pour.step("lift-1", 40, 50, FIELD)
        assert at_window(found(pour), "face opens").others == ()
        pour.add("defect", 55, zone=FIELD, defect="ghosting")
        assert at_window(found(pour), "face opens").showing == pytest.approx((25,))

    def test_a_defect_of_no_zone_among_several_says_nothing(self, scripted, jobs):
        lifts = {"left leg": 40, "right leg": 41, "top": 42}
        pour = desk(scripted, jobs, lifts)
        assert at_window(found(pour), "face opens").others == pytest.approx(
            (25, 26, 27)
        )
        pour.add("defect", 1600, zone="top", defect="ghosting")
        at = at_window(found(pour), "face opens")
        assert (at.showing, at.others) == (
            pytest.approx((27,)),
            pytest.approx((25, 26)),
        )
        pour.add("defect", 1600, defect="ghosting")
        at = at_window(found(pour), "face opens")
        assert (at.showing, at.others) == ((), ())

    def test_beside_a_band_only_its_mix_stands_and_on_its_clock(self, sprayed):
        """In the cold and damp the constants of the clock make the minutes."""
        pours = []
        for mix in ("M1", "white"):
            pour = sprayed()
            pour.add("reading", 14, form_c=11.0, shop_c=11.0, rh_pct=75.0)
            one = evidence(lifted(pour, 45).state)
            pours.append(replace(one, mix=mix))
        for energy, share in ((34.0, 0.2), (48.0, 0.7)):
            one = learned_with(energy, share)
            at = at_window(pours, "face opens", None, one)
            assert at.showing == pytest.approx(
                (run(pour, 45, energy, share),), rel=2e-3
            )
        assert len(at_window(pours, "face opens").showing) == 2


class TestCounts:
    def test_three_of_forty_one_pours(self, sprayed, scripted):
        pours = [lifted(sprayed(), 40, "") for _ in range(36)]
        pours += [lifted(sprayed(), 25, found_at="hone") for _ in range(3)]
        pours[-1].add("defect", 1600, zone=FIELD, defect="ghosting", found_at="hone")
        pours += [lifted(sprayed(), 75, "peel") for _ in range(2)]
        pours.append(scripted())  # begun, and nothing cast: not one of them
        number = counts(found(*pours))
        assert number.pours == 41
        assert number.codes == {"ghosting": 3, "peel": 2}
        assert list(number.codes) == ["ghosting", "peel"]
        assert number.found_at == {"hone": 3, "": 2}

    def test_of_nothing(self):
        number = counts([])
        assert (number.pours, number.codes, number.found_at) == (0, {}, {})


def test_every_code_says_where_to_look():
    assert all(CODES.values())
    assert len(set(CODES)) == len(CODES)
    for word in (*CODES, *ACTIONS, *FOUND_AT):
        assert word == word.lower()
        assert " " not in word


@given(
    st.dictionaries(
        st.sampled_from(
            ["defect", "place", "size", "found_at", "action", "extra_min", "text"]
        ),
        st.none()
        | st.booleans()
        | st.integers(-(2**62), 2**62)
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(max_size=5)
        | st.lists(st.text(max_size=2), max_size=2),
    )
)
def test_any_data_is_a_defect(event, monday, data):
    read = defect_of(event(1, "defect", monday, StepKey("lift-1", FIELD), data))
    assert read.code in CODES
    assert read.found_at in ("", *FOUND_AT)
    assert read.action in ("", *ACTIONS)
    assert read.extra_min is None or 0 <= read.extra_min <= MOST_EXTRA_MIN
