"""The rate laws, and the integral and inversion of a clock."""

from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from math import nan
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.air import Conditions
from scheduling.climate import Constant, DailyCycle, Measured, Reading
from scheduling.clocks import Cells, Clock, ClockBook
from scheduling.laws import (
    CLOSE_SHARE,
    OPEN_SHARE,
    REFERENCE,
    Coating,
    Drying,
    Face,
    Hydration,
    Plain,
    Silicone,
    drying_thickness_factor,
    fog_credit_minutes,
    law,
    silicone_cure_minutes,
)
from scheduling.shop import TypicalDay
from scheduling.spread import Spread

START = datetime(2030, 4, 1, 13, 7, tzinfo=UTC)
HOUR = timedelta(hours=1)
MINUTE = timedelta(minutes=1)
OSLO = ZoneInfo("Europe/Oslo")

LAWS = [
    Hydration(),
    Face(OPEN_SHARE),
    Face(CLOSE_SHARE),
    Drying(),
    Silicone(),
    Coating(),
    Plain(),
]
all_laws = pytest.mark.parametrize("one", LAWS, ids=lambda one: one.name)

temps = st.floats(-30, 60)
humidities = st.floats(0, 100)
winds = st.floats(0, 40)
conditions = st.builds(Conditions, temps, humidities, winds)


@st.composite
def climates(draw):
    kind = draw(st.sampled_from(["constant", "cycle", "measured"]))
    if kind == "constant":
        return Constant(draw(temps), draw(humidities), draw(winds))
    low = draw(st.floats(-20, 30))
    day = TypicalDay(
        low, low + draw(st.floats(0, 20)), time(5), time(15), draw(humidities)
    )
    cycle = DailyCycle(day, OSLO)
    if kind == "cycle":
        return cycle
    times = draw(st.lists(st.integers(-600, 3000), max_size=6))
    return Measured(
        cycle,
        [
            Reading(
                START + at * MINUTE,
                shop_c=draw(st.none() | temps),
                piece_c=draw(st.none() | temps),
                rh_pct=draw(st.none() | humidities),
            )
            for at in times
        ],
    )


class TestLaws:
    @all_laws
    def test_rate_at_the_reference_is_exactly_one(self, one):
        assert one.rate(REFERENCE, REFERENCE, 1.0) == 1.0

    @all_laws
    @settings(max_examples=60, deadline=None)
    @given(place=conditions, air=conditions, exposure=st.sampled_from([0.1, 1.0]))
    def test_rate_is_finite_and_never_backwards(self, one, place, air, exposure):
        assert 0 <= one.rate(place, air, exposure) < 1e4

    @all_laws
    @settings(max_examples=60, deadline=None)
    @given(pair=st.tuples(temps, temps), air=conditions)
    def test_a_warmer_place_is_never_slower(self, one, pair, air):
        cold, warm = (Conditions(t, air.rh_pct, air.wind_kmh) for t in sorted(pair))
        assert one.rate(cold, air, 1.0) <= one.rate(warm, air, 1.0)

    @all_laws
    @settings(max_examples=60, deadline=None)
    @given(place=conditions, air=conditions)
    def test_covered_is_never_faster(self, one, place, air):
        assert one.rate(place, air, 0.1) <= one.rate(place, air, 1.0)

    @settings(max_examples=60, deadline=None)
    @given(place=conditions, air=conditions)
    def test_condensation_leaves_hydration_alone(self, place, air):
        damp = Conditions(air.temp_c, 100, air.wind_kmh)
        cold = Conditions(min(place.temp_c, air.temp_c), 100, 0)
        alone = Hydration().rate(cold, damp, 1.0)
        assert Face(0.5).rate(cold, damp, 1.0) == pytest.approx(alone / 2)

    def test_draught_and_dry_air_speed_up_the_face_only(self):
        dry = Conditions(21, 20, 5)
        faster = {one.name for one in LAWS if one.rate(dry, dry, 1.0) > 1}
        assert faster == {"face", "drying"}

    def test_in_dry_air_silicone_stands_still(self):
        assert Silicone().rate(Conditions(21, 0, 0), Conditions(21, 0, 0), 1.0) == 0

    @pytest.mark.parametrize("energy", [0, -1, 101, nan])
    def test_activation_energy_out_of_range_is_refused(self, energy):
        with pytest.raises(ValueError, match="kJ/mol"):
            Hydration(energy)
        with pytest.raises(ValueError, match="kJ/mol"):
            Face(0.5, energy)

    @pytest.mark.parametrize("share", [-0.1, 1.1, nan])
    def test_share_out_of_range_is_refused(self, share):
        with pytest.raises(ValueError, match="share"):
            Face(share)
        with pytest.raises(ValueError, match="share"):
            fog_credit_minutes(5, share)

    @pytest.mark.parametrize("value", [-1, nan, float("inf")])
    def test_thickness_radius_and_fog_out_of_range_are_refused(self, value):
        for function in (drying_thickness_factor, silicone_cure_minutes):
            with pytest.raises(ValueError, match="want"):
                function(value)
        with pytest.raises(ValueError, match="want"):
            fog_credit_minutes(value, 0.5)

    def test_laws_by_name(self):
        assert law("hydration", 40) == Hydration(40)
        assert law("face", 40, OPEN_SHARE) == Face(OPEN_SHARE, 40)
        assert law("face") == Face(CLOSE_SHARE)
        for name in ("drying", "silicone", "coating", "plain"):
            assert law(name).name == name
            with pytest.raises(ValueError, match="only the face clock"):
                law(name, share=0.5)


class TestElapsed:
    @settings(max_examples=40, deadline=None)
    @given(
        climate=climates(),
        one=st.sampled_from(LAWS),
        cuts=st.lists(st.integers(0, 5 * 86_400_000_000), min_size=2, max_size=6),
        plastic=st.tuples(st.integers(0, 2000), st.integers(0, 2000) | st.none()),
    )
    def test_adds_up_over_any_split(self, climate, one, cuts, plastic):
        begin, length = plastic
        on = START + begin * MINUTE
        off = None if length is None else on + length * MINUTE
        clock = Clock(one, climate, "piece", ((on, off),))
        instants = [START + timedelta(microseconds=cut) for cut in sorted(cuts)]
        parts = sum(clock.elapsed(a, b) for a, b in pairwise(instants))
        whole = clock.elapsed(instants[0], instants[-1])
        assert parts == pytest.approx(whole, abs=1e-9, rel=1e-12)

    def test_constant_climate_is_exact(self):
        clock = Clock(Hydration(), Constant(21), "piece")
        assert clock.elapsed(START, START + 18 * HOUR) == 18 * 60
        assert clock.reaches(START, 18 * 60) == START + 18 * HOUR

    @settings(max_examples=30, deadline=None)
    @given(climate=climates(), hours=st.floats(0, 100))
    def test_plain_is_real_minutes(self, climate, hours):
        end = START + hours * HOUR
        passed = Clock(Plain(), climate, "shop").elapsed(START, end)
        assert passed == pytest.approx((end - START) / MINUTE, abs=1e-9)

    @settings(max_examples=30, deadline=None)
    @given(low=st.floats(-10, 20), warmer=st.floats(0, 10), one=st.sampled_from(LAWS))
    def test_a_warmer_climate_is_never_slower(self, low, warmer, one):
        cold, warm = (
            Clock(one, DailyCycle(TypicalDay(t, t + 8), UTC), "piece")
            for t in (low, low + warmer)
        )
        end = START + 30 * HOUR
        assert cold.elapsed(START, end) <= warm.elapsed(START, end) + 1e-9

    @pytest.mark.parametrize(
        ("evening", "real_hours"),
        [
            (datetime(2030, 3, 30, 22, tzinfo=OSLO), 8),
            (datetime(2030, 10, 26, 22, tzinfo=OSLO), 10),
        ],
    )
    def test_nights_when_the_clocks_change_count_real_minutes(
        self, evening, real_hours
    ):
        morning = (evening + timedelta(hours=9)).replace(fold=0)
        cycle = DailyCycle(TypicalDay(10, 20), OSLO)
        for climate in (Constant(21), cycle):
            plain = Clock(Plain(), climate, "shop")
            assert plain.elapsed(evening, morning) == pytest.approx(real_hours * 60)
        hydration = Clock(Hydration(), Constant(21), "piece")
        assert hydration.elapsed(evening, morning) == pytest.approx(real_hours * 60)
        assert hydration.reaches(evening, real_hours * 60) == morning.astimezone(UTC)

    def test_the_hour_that_comes_twice_is_not_backwards(self):
        first = datetime(2030, 10, 27, 2, 30, tzinfo=OSLO)
        second = first.replace(fold=1, minute=10)
        clock = Clock(Plain(), Constant(21), "shop")
        assert clock.elapsed(first, second) == pytest.approx(40)

    def test_a_cell_counts_with_its_middle(self):
        cycle = DailyCycle(TypicalDay(10, 20), UTC)
        quarter = datetime(2030, 4, 1, 8, tzinfo=UTC)
        middle = cycle.at("piece", quarter + 7.5 * MINUTE)
        rate = Hydration().rate(middle, middle, 1.0)
        clock = Clock(Hydration(), cycle, "piece")
        for minutes in (3, 15):
            passed = clock.elapsed(quarter, quarter + minutes * MINUTE)
            assert passed == pytest.approx(minutes * rate)

    def test_each_clock_reads_its_own_place(self):
        climate = Measured(Constant(21), [Reading(START, piece_c=31)])
        passed = {
            place: Clock(Coating(), climate, place).elapsed(START, START + MINUTE)
            for place in ("shop", "form", "mix", "piece")
        }
        assert passed["piece"] == pytest.approx(2, rel=0.07)
        assert passed["shop"] == passed["form"] == passed["mix"] == 1

    def test_face_takes_the_surface_from_the_form_and_the_rest_from_the_air(self):
        readings = [Reading(START, form_c=15, rh_pct=40, wind_kmh=3)]
        climate = Measured(Constant(25), readings)
        clock = Clock(Face(), climate, "form")
        middle = START + (timedelta(minutes=8)) / 2
        expected = Face().rate(climate.at("form", middle), climate.air(middle), 1.0)
        passed = clock.elapsed(START, START + timedelta(minutes=8))
        assert passed == pytest.approx(8 * expected)

    def test_backwards_is_refused(self):
        with pytest.raises(ValueError, match="back"):
            Clock(Plain(), Constant(21), "shop").elapsed(START, START - MINUTE)


class TestReaches:
    @settings(max_examples=60, deadline=None)
    @given(climate=climates(), one=st.sampled_from(LAWS), minutes=st.floats(0, 10_000))
    def test_is_the_inverse_of_elapsed(self, climate, one, minutes):
        clock = Clock(one, climate, "piece")
        at = clock.reaches(START, minutes)
        if at is None:
            assert clock.elapsed(START, START + timedelta(days=60)) < minutes
        else:
            # A microsecond, the grain of an instant, is 2e-8 min.
            assert clock.elapsed(START, at) == pytest.approx(minutes, abs=1e-6)

    def test_zero_is_the_start_itself(self):
        clock = Clock(Plain(), Constant(21), "shop")
        assert clock.reaches(START.astimezone(OSLO), 0) == START

    def test_out_of_reach_is_none(self):
        clock = Clock(Plain(), Constant(21), "shop")
        assert clock.reaches(START, 60 * 24 * 60) == START + timedelta(days=60)
        assert clock.reaches(START, 60 * 24 * 60 + 1) is None
        dry = Clock(Silicone(), Constant(21, rh_pct=0), "shop")
        assert dry.reaches(START, 1) is None

    def test_a_stop_is_left_before_it_begins(self):
        readings = [
            Reading(START, rh_pct=50),
            Reading(START + HOUR, rh_pct=0),
            Reading(START + 2 * HOUR, rh_pct=50),
        ]
        clock = Clock(Silicone(), Measured(Constant(21), readings), "shop")
        assert abs(clock.reaches(START, 60) - (START + HOUR)) <= MINUTE / 1e6
        assert clock.reaches(START, 90) == START + 2.5 * HOUR

    @pytest.mark.parametrize("minutes", [-1, nan, float("inf")])
    def test_a_threshold_that_is_none_is_refused(self, minutes):
        with pytest.raises(ValueError, match="reference min"):
            Clock(Plain(), Constant(21), "shop").reaches(START, minutes)

    def test_band_of_a_spread(self):
        clock = Clock(Hydration(), Constant(28), "mix")
        spread = Spread.of(30, 45, 60)
        band = clock.quantiles(START, spread)
        assert band.p10 == clock.reaches(START, spread.p10)
        assert band.p50 == clock.reaches(START, 45)
        assert band.p90 == clock.reaches(START, spread.p90)
        assert band.p10 < band.p50 < band.p90

    def test_band_out_of_reach_is_none(self):
        clock = Clock(Plain(), Constant(21), "shop")
        assert clock.quantiles(START, Spread.of(1, 1000, 1_000_000)) is None


class TestCovers:
    def test_plastic_slows_from_on_to_off(self):
        air = Constant(21, 50, 5)
        open_, shut = (
            Face().rate(air.air(START), air.air(START), exposure)
            for exposure in (1.0, 0.1)
        )
        covers = ((START + 10 * MINUTE, START + 20 * MINUTE), (START + HOUR, None))
        clock = Clock(Face(), air, "form", covers)
        assert clock.elapsed(START, START + HOUR) == pytest.approx(
            50 * open_ + 10 * shut
        )
        assert clock.elapsed(START + HOUR, START + 5 * HOUR) == pytest.approx(
            240 * shut
        )

    def test_overlapping_plastic_counts_once(self):
        air = Constant(21, 50, 5)
        two = ((START, START + HOUR), (START + HOUR / 2, START + 2 * HOUR))
        one = ((START, START + 2 * HOUR),)
        end = START + 3 * HOUR
        assert Clock(Face(), air, "form", two).elapsed(START, end) == pytest.approx(
            Clock(Face(), air, "form", one).elapsed(START, end)
        )

    @settings(max_examples=40, deadline=None)
    @given(
        climate=climates(),
        on=st.integers(-100, 400),
        length=st.integers(0, 400) | st.none(),
    )
    def test_covered_is_never_sooner(self, climate, on, length):
        begin = START + on * MINUTE
        end = None if length is None else begin + length * MINUTE
        bare = Clock(Face(), climate, "form")
        covered = Clock(Face(), climate, "form", ((begin, end),))
        until = START + 6 * HOUR
        assert covered.elapsed(START, until) <= bare.elapsed(START, until) + 1e-9

    def test_plastic_that_comes_off_before_it_goes_on_is_refused(self):
        with pytest.raises(ValueError, match="covered"):
            Clock(Face(), Constant(21), "form", ((START, START - MINUTE),))


class CountingClimate:
    """A daily cycle that counts how often it is asked."""

    def __init__(self):
        self.asked = 0
        self._cycle = DailyCycle(TypicalDay(10, 20), UTC)

    def at(self, place, when):
        self.asked += 1
        return self._cycle.at(place, when)

    def edges(self, start):
        return self._cycle.edges(start)


class TestSharing:
    def test_asking_again_asks_the_climate_nothing(self):
        climate = CountingClimate()
        clock = Clock(Hydration(), climate, "piece")
        clock.elapsed(START, START + 48 * HOUR)
        asked = climate.asked
        assert asked > 0
        clock.reaches(START, 1000)
        clock.elapsed(START + HOUR, START + 3 * HOUR)
        assert climate.asked == asked

    def test_clocks_of_a_book_share_the_cells(self):
        climate = CountingClimate()
        book = ClockBook(climate)
        book.clock("hydration", "piece").elapsed(START, START + HOUR)
        asked = climate.asked
        book.clock("coating", "piece").elapsed(START, START + HOUR)
        assert climate.asked == asked

    def test_a_book_makes_each_clock_once(self):
        book = ClockBook(Constant(15), 40)
        cover = ((START, None),)
        face = book.clock("face", "form", OPEN_SHARE, cover)
        assert book.clock("face", "form", OPEN_SHARE, cover) is face
        assert book.clock("face", "form", CLOSE_SHARE, cover) is not face
        assert book.clock("face", "form", OPEN_SHARE) is not face
        assert book.clock("drying", "shop", covers=cover) is book.clock(
            "drying", "shop"
        )
        end = START + HOUR
        assert book.clock("hydration", "piece").elapsed(START, end) == pytest.approx(
            Clock(Hydration(40), Constant(15), "piece").elapsed(START, end)
        )

    def test_cells_end_at_the_edges(self):
        cells = Cells(Measured(Constant(20), [Reading(START, shop_c=22)]))
        day = (START - datetime(1970, 1, 1, tzinfo=UTC)).days
        bounds = cells.bounds(day)
        assert bounds[0] == 0
        assert bounds[-1] == 86400
        assert (13 * 60 + 7) * 60 in bounds
        assert len(cells.conditions(day, "shop")) == len(bounds) - 1 == 97
