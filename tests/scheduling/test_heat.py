"""The temperature of a piece: what must hold whatever the weather."""

from __future__ import annotations

from datetime import UTC, datetime, time
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.climate import Constant, DailyCycle
from scheduling.heat import Air, Rise, course
from scheduling.hydration import GREY, M1_BINDER, WHITE, Binder, Cement, HydrationHeat
from scheduling.shell import COVERS, Cover, Shell, heated_tent, paste_heat_capacity
from scheduling.shop import TypicalDay

START = datetime(2030, 4, 1, 14, tzinfo=UTC)
SHELL = Shell(0.022)
HEAT = SHELL.hydration()
COLD = Air.of(Constant(12), START, 48)

airs = st.lists(st.floats(-10, 40), min_size=2, max_size=60).map(
    lambda temps: Air(0.25, tuple(temps))
)


class TestCourse:
    @settings(max_examples=100, deadline=None)
    @given(
        air=airs,
        cover=st.sampled_from(list(COVERS.values())),
        start_c=st.floats(5, 35),
        millimetres=st.floats(8, 60),
    )
    def test_the_energy_account_closes(self, air, cover, start_c, millimetres):
        shell = Shell(millimetres / 1000)
        energy = course(shell, cover, shell.hydration(), air, start_c).energy
        whole = abs(energy.released) + abs(energy.stored) + abs(energy.lost)
        assert abs(energy.stored + energy.lost - energy.released) <= 0.001 * whole

    @settings(max_examples=100, deadline=None)
    @given(air=airs, start_c=st.floats(5, 35))
    def test_without_heat_it_stays_between_the_airs_and_its_start(self, air, start_c):
        found = course(SHELL, COVERS["open"], Rise(lambda _: 0.0, 1), air, start_c)
        low = min(*air.temps_c, start_c)
        high = max(*air.temps_c, start_c)
        assert all(low - 1e-9 <= temp_c <= high + 1e-9 for temp_c in found.temps_c)

    @settings(max_examples=50, deadline=None)
    @given(cut=st.integers(1, 190), cover=st.sampled_from(list(COVERS.values())))
    def test_going_on_from_the_middle_is_the_same(self, cut, cover):
        day = TypicalDay(8, 24, time(5), time(15))
        air = Air.of(DailyCycle(day, UTC), START, 48)
        whole = course(SHELL, cover, HEAT, air, 23.0)
        first = course(SHELL, cover, HEAT, Air(0.25, air.temps_c[: cut + 1]), 23.0)
        second = course(
            SHELL,
            cover,
            HEAT,
            Air(0.25, air.temps_c[cut:]),
            first.temps_c[-1],
            age_h=first.ages_h[-1],
            source_age_h=first.source_age_h,
        )
        assert second.temps_c[-1] == pytest.approx(whole.temps_c[-1], abs=0.01)
        assert second.ages_h[-1] == pytest.approx(whole.ages_h[-1], abs=0.01)

    def test_each_cover_keeps_it_warmer_and_brings_demould_forward(self):
        found = [course(SHELL, COVERS[name], HEAT, COLD, 23.0) for name in COVERS]
        ready = [one.reaches(18) for one in found]
        assert ready == sorted(ready, reverse=True)
        assert all(early - late > 1 for early, late in pairwise(ready))

    def test_more_heat_held_warmer(self):
        warm, warmer = (
            course(SHELL, heated_tent(held_c), HEAT, COLD, 23.0) for held_c in (16, 20)
        )
        assert warmer.reaches(18) < warm.reaches(18)

    def test_a_thick_piece_warms_more_than_a_thin_one(self):
        air = Air.of(Constant(21), START, 48)
        thick = Shell(0.050)
        thin = course(SHELL, COVERS["plastic"], HEAT, air, 21.0)
        warm = course(thick, COVERS["plastic"], thick.hydration(), air, 21.0)
        assert max(warm.temps_c) > max(thin.temps_c) + 2

    def test_reaching_an_age(self):
        found = course(SHELL, COVERS["plastic"], HEAT, COLD, 23.0, age_h=5.0)
        assert found.reaches(5) == 0
        assert found.reaches(4) == 0
        assert found.reaches(found.ages_h[-1]) == pytest.approx(48)
        assert found.reaches(found.ages_h[-1] + 1) is None
        hours = found.reaches(10)
        step = int(hours / 0.25)
        assert found.ages_h[step] <= 10 <= found.ages_h[step + 1]

    def test_a_source_joined_late_is_as_old_as_steady_21_degc_makes_it(self):
        air = Air.of(Constant(21), START, 12)
        late = course(
            SHELL, COVERS["open"], HEAT, Air(0.25, (21, 21)), 21.0, age_h=40.0
        )
        assert late.source_age_h == pytest.approx(40.25 * 0.99467, abs=0.05)
        early = course(SHELL, COVERS["open"], HEAT, air, 21.0)
        assert late.energy.released < early.energy.released

    @pytest.mark.parametrize("start_c", [-31, 101, float("nan")])
    def test_impossible_temperatures_are_refused(self, start_c):
        with pytest.raises(ValueError, match="piece temperature"):
            course(SHELL, COVERS["open"], HEAT, COLD, start_c)
        with pytest.raises(ValueError, match="air temperature"):
            Air(0.25, (20.0, min(start_c, 61)))

    @pytest.mark.parametrize("age_h", [-1, float("nan"), float("inf")])
    def test_impossible_ages_are_refused(self, age_h):
        with pytest.raises(ValueError, match="want 0 or more"):
            course(SHELL, COVERS["open"], HEAT, COLD, 20.0, age_h=age_h)

    @pytest.mark.parametrize(("step_h", "temps"), [(0, (1, 2)), (2, (1, 2)), (1, (1,))])
    def test_impossible_airs_are_refused(self, step_h, temps):
        with pytest.raises(ValueError, match="want"):
            Air(step_h, temps)

    def test_air_is_rounded_up_to_whole_steps(self):
        assert len(Air.of(Constant(20), START, 1.1).temps_c) == 6
        assert len(Air.of(Constant(20), START, 0).temps_c) == 2


class TestShell:
    @pytest.mark.parametrize(
        "values", [(0,), (0.4,), (float("nan"),), (0.02, 0), (0.02, 2000, float("inf"))]
    )
    def test_impossible_shells_are_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            Shell(*values)

    def test_impossible_covers_and_water_are_refused(self):
        with pytest.raises(ValueError, match="want above 0"):
            Cover("open", 0)
        with pytest.raises(ValueError, match="want 0 to 1"):
            paste_heat_capacity(1.1)

    def test_thin_shells_have_one_temperature(self):
        assert all(SHELL.biot(cover.loss) < 0.1 for cover in COVERS.values())


class TestHydration:
    def test_the_binder_of_mix_m1(self):
        # Estimate: 844 kg/m3 of cementitious in the back coat, 15 % of it pozzolan.
        assert HEAT.full / M1_BINDER.heat / 1000 == pytest.approx(0.022 * 844)
        assert M1_BINDER.heat == pytest.approx(0.85 * GREY.heat)
        assert HEAT.degree(0) == 0
        assert HEAT.watts(0, 1.0) == 0

    @settings(max_examples=100, deadline=None)
    @given(age_h=st.floats(0, 5000), later=st.floats(0, 5000))
    def test_hydration_only_goes_on(self, age_h, later):
        early, late = sorted((age_h, later))
        assert 0 <= HEAT.degree(early) <= HEAT.degree(late) <= HEAT.ultimate
        assert HEAT.watts(early, 1.0) >= 0

    def test_slag_slows_and_adds(self):
        plain, slag = Binder(GREY, 0.4), Binder(GREY, 0.4, slag=0.4)
        assert slag.tau_h > plain.tau_h
        assert slag.beta < plain.beta
        assert slag.ultimate > plain.ultimate
        assert slag.activation_energy > plain.activation_energy

    def test_limy_fly_ash_slows_and_gives_heat(self):
        poor = Binder(GREY, 0.4, fly_ash=0.3)
        limy = Binder(GREY, 0.4, fly_ash=0.3, fly_ash_cao=0.25)
        assert limy.tau_h > poor.tau_h
        assert limy.heat > poor.heat

    def test_never_more_than_all_of_it(self):
        assert Binder(WHITE, 0.8, slag=0.9).ultimate == 1

    @pytest.mark.parametrize(
        "values",
        [
            (0.1,),
            (0.4, -0.1),
            (0.4, 0.6, 0.4),
            (0.4, 0, 0.2, 0.5),
            (float("nan"),),
        ],
    )
    def test_impossible_binders_are_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            Binder(GREY, *values)

    @pytest.mark.parametrize(
        "values",
        [
            (0.9, 0.18, 0.1, 0.08, 0.03, 0.01, 0.01, 350),
            (0.55, 0.18, 0.1, 0.08, 0.03, -0.01, 0.01, 350),
            (0.55, 0.18, 0, 0.08, 0.03, 0.01, 0.01, 350),
            (0.55, 0.18, 0.1, 0.08, 0.03, 0.01, 0.01, 3500),
            (float("nan"), 0.18, 0.1, 0.08, 0.03, 0.01, 0.01, 350),
        ],
    )
    def test_impossible_cements_are_refused(self, values):
        with pytest.raises(ValueError, match="want"):
            Cement(*values)

    @pytest.mark.parametrize("amount", [-1, float("nan"), float("inf")])
    def test_impossible_amounts_are_refused(self, amount):
        with pytest.raises(ValueError, match="want 0 or more"):
            HydrationHeat(M1_BINDER, amount)
