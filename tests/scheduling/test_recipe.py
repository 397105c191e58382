"""The default process: which steps, in which order, behind which waits."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.job import SEALERS, Bare, BareZone, Finish
from scheduling.process import PHASES, StepKey
from scheduling.recipe import ENTRIES, build, person_hours, steps_before
from scheduling.shop import Mix
from scheduling.spread import Spread
from scheduling.thresholds import DEFAULTS, PENETRATING_FAMILIES, RECOAT

NAMES = (
    "bare",
    "court-bench",
    "potting-bench-slab",
    "stair-hall-panels",
    "trough-vanity",
    "two-legged-desk",
)
PIECES = [name for name in NAMES if name != "bare"]


@pytest.fixture
def recipe(jobs):
    """Builds a job's process, the job changed as said."""

    def made(name, *, hands=2, casting=1, mix=None, load=25.0, **changes):
        job = replace(jobs[name], **changes)
        return build(job, mix or Mix(), mixer_load=load, hands=hands, casting=casting)

    return made


def order(process):
    """Position of each step, by its id alone."""
    return {step.key.step: place for place, step in enumerate(process.steps)}


def gaps(process):
    return {gap.name: gap for step in process.steps for gap in step.gaps if gap.name}


def before(process, step):
    """Everything that has to be finished before a step can begin."""
    found, todo = set(), list(process.step(StepKey(step)).after)
    while todo:
        key = todo.pop()
        if key not in found:
            found.add(key)
            todo.extend(process.step(key).after)
    return {key.step for key in found}


@pytest.mark.parametrize("name", NAMES)
class TestEveryProcess:
    def test_comes_in_an_order_that_can_be_worked(self, recipe, name):
        process = recipe(name)
        done = set()
        for step in process.steps:
            assert set(step.after) <= done, step.key
            assert all(gap.after in process for gap in step.gaps)
            assert step.key not in done
            done.add(step.key)

    def test_every_step_and_wait_belongs_to_one_of_the_twelve_phases(
        self, recipe, name
    ):
        process = recipe(name)
        used = {step.phase for step in process.steps}
        used |= {gap.phase for step in process.steps for gap in step.gaps}
        assert used <= set(PHASES)
        if name != "bare":
            assert used == set(PHASES)

    def test_every_threshold_carries_its_standing_and_none_is_called_published(
        self, recipe, name
    ):
        for step in recipe(name).steps:
            for gap in step.gaps:
                for threshold in (gap.opens, gap.closes):
                    if threshold is not None:
                        assert threshold.standing.startswith("shop default")
                        assert "published" not in threshold.standing
                        assert threshold.spread.p50 > 0

    def test_work_takes_hands_and_time(self, recipe, name):
        for step in recipe(name).steps:
            assert step.work > 0
            assert step.crew >= 1
            assert step.words

    def test_each_zone_is_sprayed_packed_and_rolled_twice(self, recipe, name):
        process = recipe(name)
        for zone in process.zones:
            for step in ("spray", "lift-1", "roll-1", "lift-2", "roll-2"):
                assert StepKey(step, zone) in process
        assert set(process.zone_area) == set(process.zones)

    def test_each_batch_is_mixed_once(self, recipe, name):
        process = recipe(name)
        mixed = [s for s in process.steps if s.key.step.startswith("mix-back-")]
        assert len(mixed) == process.batches
        assert all("mixer" in step.equipment for step in mixed)

    def test_the_pour_is_unbroken_from_the_mixer_to_the_cover(self, recipe, name):
        process = recipe(name)
        place = order(process)
        first = next(k for k in place if k.startswith("mix-face"))
        steps = process.steps[place[first] : place["wash-tools"] + 1]
        assert all(step.unbroken for step in steps)
        assert not any(step.unbroken for step in process.steps if step not in steps)


class TestOrder:
    def test_release_comes_before_caulk(self, recipe):
        process = recipe("two-legged-desk")
        assert "wax" in before(process, "fillets")

    def test_the_job_can_turn_it_round(self, recipe):
        process = recipe("two-legged-desk", release="after caulk")
        assert {"fillets", "peel"} <= before(process, "wax")
        assert "wax" not in before(process, "fillets")

    def test_silicone_waits_for_its_cure_and_clay_does_not(self, recipe):
        silicone = recipe("two-legged-desk")
        assert gaps(silicone)["silicone cure"].opens.clock == "silicone"
        assert "peel" in before(silicone, "last-look")
        clay = recipe("two-legged-desk", fillet="clay")
        assert "silicone cure" not in gaps(clay)
        assert StepKey("fillets") in clay
        assert StepKey("peel") not in clay

    def test_a_larger_fillet_cures_for_longer(self, recipe):
        small, large = (
            gaps(recipe("two-legged-desk", fillet_radius=radius))["silicone cure"]
            for radius in (0.005, 0.010)
        )
        # Depth of cure grows with the root of time: derived, four times for double.
        ratio = large.opens.spread.p50 / small.opens.spread.p50
        assert ratio == pytest.approx(4, rel=0.01)

    def test_the_pour_waits_for_the_form_and_every_weighing(self, recipe):
        process = recipe("two-legged-desk")
        form = {"assemble", "wax", "fillets", "peel", "last-look"}
        weighed = {"set-up", "sand-moisture", "weigh-dry", "weigh-wet"}
        assert form | weighed <= before(process, "mix-face")


OPTIONAL = {
    "template": "template",
    "drawing": "drawing",
    "mock weigh-off": "mock-weigh-off",
    "scrim": "scrim",
    "coupon": "coupon",
    "green trim": "green-trim",
    "crate": "crate",
    "install": "install",
}


class TestOptionalSteps:
    @pytest.mark.parametrize(("name", "step"), OPTIONAL.items())
    def test_each_appears_only_when_switched_on(self, recipe, name, step):
        assert StepKey(step) in recipe("two-legged-desk", optional=(name,))
        others = tuple(other for other in OPTIONAL if other != name)
        assert StepKey(step) not in recipe("two-legged-desk", optional=others)

    @pytest.mark.parametrize("name", NAMES)
    def test_without_them_a_pour_has_none(self, recipe, name):
        steps = {step.key.step for step in recipe(name, optional=()).steps}
        assert steps.isdisjoint(OPTIONAL.values())

    def test_a_coupon_is_mixed_for(self, recipe):
        # 2.5 kg of a board (common practice, no source) can cost another batch.
        loads = [n / 4 for n in range(40, 200)]
        more = [
            load
            for load in loads
            if recipe("bare", optional=("coupon",), load=load).batches
            > recipe("bare", load=load).batches
        ]
        assert more


class TestThresholds:
    def test_a_basin_or_a_leg_waits_longer_for_demould(self, recipe):
        # Estimate: 18 reference hours, six more for a basin or thin leg.
        hours = {
            name: gaps(recipe(name))["cure"].opens.spread.p50 / 60 for name in NAMES
        }
        assert hours["bare"] == hours["potting-bench-slab"] == 18
        assert hours["stair-hall-panels"] == 18
        assert hours["trough-vanity"] == hours["two-legged-desk"] == 24
        assert hours["court-bench"] == 24

    def test_the_shop_own_value_replaces_the_default_and_says_so(self, recipe):
        own = Mix(thresholds={"face opens": Spread.of(8, 15, 30)})
        wait = gaps(recipe("bare", mix=own))["face wait"]
        assert wait.opens.spread.p50 == 15
        assert wait.opens.standing == "this shop's own value"
        assert wait.closes == DEFAULTS["face closes"]

    def test_tall_faces_stiffen_before_they_are_built_higher(self, recipe):
        zones = (BareZone("leg", 0.4, upright=True), BareZone("top", 1.0))
        process = recipe("bare", shape=Bare(zones))
        leg = process.step(StepKey("lift-2", "leg")).gap
        top = process.step(StepKey("lift-2", "top")).gap
        assert (leg.name, top.name) == ("stiffen", "lift wait")
        assert leg.after == StepKey("lift-1", "leg")
        assert top.after == StepKey("roll-1", "top")

    def test_the_first_batch_leads_the_opening_by_ten_minutes(self, recipe):
        for name in NAMES:
            process = recipe(name)
            (gap,) = process.step(StepKey("mix-back-1")).gaps
            assert gap.after == StepKey("spray", process.zones[0])
            assert gap.opens.name == "face opens"
            assert gap.lead == 10.0

    def test_each_batch_runs_against_its_pot_life(self, recipe):
        for name in NAMES:
            process = recipe(name)
            bound = {
                gap.after.step
                for step in process.steps
                for gap in step.gaps
                if gap.closes and gap.closes.name == "back pot life"
            }
            assert bound == {f"mix-back-{n + 1}" for n in range(process.batches)}


class TestFinish:
    @pytest.mark.parametrize("sealer", SEALERS)
    def test_coats_keep_their_family_s_window(self, recipe, sealer):
        process = recipe("bare", finish=Finish(sealer=sealer, coats=3))
        for coat in (2, 3):
            gap = process.step(StepKey(f"coat-{coat}")).gap
            assert gap.after == StepKey(f"coat-{coat - 1}")
            assert (gap.opens.spread, gap.closes.spread) == RECOAT[sealer]
        assert process.step(StepKey("coat-1")).gap is None
        film = "film age" in gaps(process)
        assert film is (sealer not in PENETRATING_FAMILIES)

    def test_as_many_passes_and_coats_as_the_job_says(self, recipe):
        process = recipe("bare", finish=Finish("hone", grits=4, slurry=2, coats=3))
        steps = [step.key.step for step in process.steps]
        assert [s for s in steps if s.startswith("hone-")] == [
            f"hone-{n}" for n in (1, 2, 3, 4)
        ]
        assert steps.index("slurry-1") < steps.index("sand-1")
        assert steps.index("sand-1") < steps.index("slurry-2")
        assert sum(s.startswith("coat-") for s in steps) == 3

    @pytest.mark.parametrize(
        ("kind", "step"), [("light", "hand-sand"), ("acid", "acid-wash")]
    )
    def test_the_other_finishes(self, recipe, kind, step):
        process = recipe("bare", finish=Finish(kind, grits=0))
        assert StepKey(step) in process
        assert StepKey("hone-1") not in process

    def test_a_thicker_shell_dries_for_longer(self, recipe):
        thin, thick = (
            gaps(recipe("bare", shape=Bare(thickness=size)))["drying"].opens.spread.p50
            for size in (0.022, 0.050)
        )
        assert thick > thin == 24 * 60


class TestWork:
    def test_a_piece_with_legs_takes_longer_than_a_flat_slab_of_its_area(self, recipe):
        flat = recipe("bare", shape=Bare((BareZone("field", 2.0),)))
        legs = (BareZone("leg", 1.0, upright=True), BareZone("top", 1.0))
        assert recipe("bare", shape=Bare(legs)).person_hours > flat.person_hours

    def test_a_later_casting_reuses_its_form(self, recipe):
        first, later = (recipe("stair-hall-panels", casting=n) for n in (1, 2))
        key = StepKey("assemble")
        # Common practice, no source: 0.15 of the form work.
        assert later.step(key).work == pytest.approx(0.15 * first.step(key).work)
        assert StepKey("template") not in later
        spray = StepKey("spray", "top")
        assert later.step(spray).work == first.step(spray).work

    def test_castings_share_the_form_between_them(self, jobs, recipe):
        job = jobs["stair-hall-panels"]
        each = person_hours(job, Mix(), mixer_load=25.0)
        first = recipe("stair-hall-panels").person_hours
        later = recipe("stair-hall-panels", casting=2).person_hours
        assert each == pytest.approx((first + 3 * later) / 4)
        slab = jobs["potting-bench-slab"]
        assert person_hours(slab, Mix(), mixer_load=25.0) == pytest.approx(
            recipe("potting-bench-slab").person_hours
        )

    def test_nobody_waits_for_hands_that_are_not_there(self, recipe):
        for name in NAMES:
            assert max(step.crew for step in recipe(name, hands=1).steps) == 1

    @settings(max_examples=40, deadline=None)
    @given(
        areas=st.lists(
            st.tuples(st.floats(0.05, 4), st.booleans()), min_size=1, max_size=4
        ),
        hands=st.integers(1, 5),
        load=st.floats(10, 80),
    )
    def test_any_bare_pour_can_be_worked(self, jobs, areas, hands, load):
        zones = tuple(BareZone(f"z{n}", a, up) for n, (a, up) in enumerate(areas))
        job = replace(jobs["bare"], shape=Bare(zones))
        process = build(job, Mix(), mixer_load=load, hands=hands)
        done = set()
        for step in process.steps:
            assert set(step.after) <= done
            assert step.crew <= hands
            done.add(step.key)
        for number in range(1, process.batches + 1):
            assert StepKey(f"mix-back-{number}") in done


class TestEntries:
    def test_from_the_form_nothing_lies_before(self, recipe):
        assert steps_before(recipe("two-legged-desk"), "form") == []

    @pytest.mark.parametrize("entry", ENTRIES[1:])
    def test_what_lies_before_is_all_that_the_first_step_waits_for(self, recipe, entry):
        process = recipe("two-legged-desk")
        skipped = steps_before(process, entry)
        left = [step for step in process.steps if step.key not in skipped]
        first = "set-up" if entry == "weigh-off" else "mix-face"
        assert left[0].key.step == first
        assert set(left[0].after) <= set(skipped)

    def test_a_bare_pour_begins_with_its_face_mix(self, recipe):
        for entry in ENTRIES:
            assert steps_before(recipe("bare"), entry) == []
