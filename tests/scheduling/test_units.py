"""Written quantities in, shown quantities out; pint is the oracle for the factors."""

from __future__ import annotations

from math import inf, isfinite, nan

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling import quantities
from scheduling.quantities import UnitError
from scheduling.units import Units

PINT = pint.UnitRegistry()
SI = Units("si")
US = Units("us")

# Reader, unit as written here, unit as pint spells it, unit used inside.
WRITTEN = [
    (quantities.length, "mm", "mm", "m"),
    (quantities.length, "cm", "cm", "m"),
    (quantities.length, "m", "m", "m"),
    (quantities.length, "in", "inch", "m"),
    (quantities.length, "ft", "foot", "m"),
    (quantities.mass, "kg", "kg", "kg"),
    (quantities.mass, "g", "g", "kg"),
    (quantities.mass, "lb", "pound", "kg"),
    (quantities.mass, "oz", "ounce", "kg"),
    (quantities.duration, "s", "second", "minute"),
    (quantities.duration, "min", "minute", "minute"),
    (quantities.duration, "h", "hour", "minute"),
    (quantities.duration, "d", "day", "minute"),
    (quantities.density, "kg/m3", "kg/m**3", "kg/m**3"),
    (quantities.density, "lb/ft3", "pound/foot**3", "kg/m**3"),
    (quantities.speed, "km/h", "km/hour", "km/hour"),
    (quantities.speed, "mph", "mile/hour", "km/hour"),
    (quantities.speed, "m/s", "m/second", "km/hour"),
    (quantities.area, "m2", "m**2", "m**2"),
    (quantities.area, "ft2", "foot**2", "m**2"),
    (quantities.energy, "kJ/mol", "kJ/mol", "kJ/mol"),
]

numbers = st.decimals(0, 100_000, places=3, allow_nan=False, allow_infinity=False)
oracle = settings(max_examples=25, deadline=None)


class TestReading:
    @pytest.mark.parametrize(("read", "unit", "pint_unit", "inside"), WRITTEN)
    @oracle
    @given(number=numbers)
    def test_agrees_with_pint(self, read, unit, pint_unit, inside, number):
        # Oracle: pint, whose factors are the exact definitions.
        wanted = PINT.Quantity(float(number), pint_unit).to(inside).magnitude
        assert read(f"{number} {unit}") == pytest.approx(wanted, rel=1e-12)

    @oracle
    @given(number=st.decimals(-60, 300, places=2))
    def test_temperature_agrees_with_pint(self, number):
        wanted = PINT.Quantity(float(number), "degF").to("degC").magnitude
        assert quantities.temperature(f"{number} F") == pytest.approx(wanted, abs=1e-9)
        assert quantities.temperature(f"{number} C") == float(number)

    # One inch is 25.4 mm exactly, one pound 0.45359237 kg exactly (published:
    # international yard and pound agreement, 1959); the sums are derived.
    @pytest.mark.parametrize(
        ("text", "metres"),
        [
            ("1500 mm", 1.5),
            ("1500mm", 1.5),
            ("1.5 m", 1.5),
            ("12.5 cm", 0.125),
            ("1/4 in", 0.00635),
            ("3/2 in", 0.0381),
            ("59 in", 1.4986),
            ("59 1/16 in", 1.5001875),
            ("59 inches", 1.4986),
            ('59 1/16"', 1.5001875),
            ("4 ft", 1.2192),
            ("4'", 1.2192),
            ("4 feet", 1.2192),
            ("1 foot", 0.3048),
            ("4.5 ft", 1.3716),
            ("4 1/2 ft", 1.3716),
            ("4 ft 11 in", 1.4986),
            ("4 ft 11 1/16 in", 1.5001875),
            ("4 ft 1/16 in", 1.2207875),
            ("4 ft 11.0625 in", 1.5001875),
            ("4' 11 1/16\"", 1.5001875),
            ("4'11\"", 1.4986),
            ("4'11 1/16\"", 1.5001875),
            ("  4  FT  11  1/16  IN  ", 1.5001875),
            ("0 mm", 0.0),
        ],
    )
    def test_every_form_of_a_length(self, text, metres):
        assert quantities.length(text) == metres

    @pytest.mark.parametrize(
        ("read", "text", "value"),
        [
            (quantities.mass, "5 lb 3 oz", 5.1875 * 0.45359237),
            (quantities.mass, "25 KG", 25.0),
            (quantities.mass, "2 lbs", 0.90718474),
            (quantities.temperature, "21 C", 21.0),
            (quantities.temperature, "21 degC", 21.0),
            (quantities.temperature, "21 °C", 21.0),
            (quantities.temperature, "-5 C", -5.0),
            (quantities.temperature, "70 F", 190 / 9),
            (quantities.temperature, "70 degF", 190 / 9),
            (quantities.temperature, "-40 °F", -40.0),
            (quantities.duration, "18 min", 18.0),
            (quantities.duration, "18 minutes", 18.0),
            (quantities.duration, "1 h 30 min", 90.0),
            (quantities.duration, "1.5 h", 90.0),
            (quantities.duration, "1 1/2 h", 90.0),
            (quantities.duration, "3 d", 4320.0),
            (quantities.duration, "1 d 30 min", 1470.0),
            (quantities.duration, "90 s", 1.5),
            (quantities.density, "2143 kg/m3", 2143.0),
            (quantities.density, "2143 kg/m³", 2143.0),
            (quantities.speed, "1.2 m/s", 4.32),
            (quantities.area, "0.8 m2", 0.8),
            (quantities.area, "9 ft²", 9 * 0.3048**2),
            (quantities.energy, "42 kJ/mol", 42.0),
            (quantities.PERCENT.read, "50 %", 50.0),
        ],
    )
    def test_every_form_of_the_others(self, read, text, value):
        assert read(text) == pytest.approx(value, rel=1e-12)

    @oracle
    @given(feet=st.integers(0, 40), sixteenths=st.integers(0, 12 * 16 - 1))
    def test_feet_and_inches_add_up(self, feet, sixteenths):
        inches, share = divmod(sixteenths, 16)
        wanted = PINT.Quantity(feet * 12 + sixteenths / 16, "inch").to("m").magnitude
        text = f"{feet} ft {inches} {share}/16 in"
        assert quantities.length(text) == pytest.approx(wanted, rel=1e-12)


LENGTH_WANT = 'wants a length with a unit, such as "1500 mm" or "4 ft 11 1/16 in"'


class TestRefusing:
    @pytest.mark.parametrize(
        "text",
        [
            1500,
            1.5,
            True,
            None,
            "",
            " ",
            "1500",
            "mm",
            "1500 kg",
            "1500 mm mm",
            "1 mm 2",
            "mm 1",
            "1e3 mm",
            "0x10 mm",
            "1_000 mm",
            ".5 m",
            "5. m",
            "1.2.3 m",
            "nan mm",
            "inf mm",
            "+5 mm",
            "1/0 in",
            "59 16/16 in",
            "1.5 1/2 in",
            "5 min",
            "11 in 4 ft",
            "4 ft 12 in",
            "4.5 ft 3 in",
            "1 m 5 cm",
            "4 ft 4 ft",
            "１５００ mm",
            "١٥ mm",
            "1500\u00a0mm",
            "1500\tmm",
            "1500 mm\n",
            "1 ㎜",
            "5 \u212ag",
        ],
    )
    def test_what_is_no_length_says_what_one_looks_like(self, text):
        with pytest.raises(UnitError) as caught:
            quantities.length(text)
        assert str(caught.value) == LENGTH_WANT

    @pytest.mark.parametrize(
        ("read", "want"),
        [
            (quantities.length, LENGTH_WANT),
            (
                quantities.mass,
                'wants a mass with a unit, such as "25 kg" or "5 lb 3 oz"',
            ),
            (
                quantities.temperature,
                'wants a temperature with a unit, such as "21 C" or "70 F"',
            ),
            (
                quantities.duration,
                'wants a duration with a unit, such as "18 min" or "1 h 30 min"',
            ),
            (
                quantities.density,
                'wants a density with a unit, such as "2143 kg/m3" or "133.8 lb/ft3"',
            ),
            (
                quantities.speed,
                'wants a speed with a unit, such as "5 km/h" or "3 mph"',
            ),
            (quantities.area, 'wants an area with a unit, such as "0.8 m2" or "9 ft2"'),
            (quantities.energy, 'wants an energy with a unit, such as "42 kJ/mol"'),
        ],
    )
    @pytest.mark.parametrize("bare", [21, 21.5, "21", "21.5"])
    def test_a_bare_number_says_which_unit(self, read, want, bare):
        with pytest.raises(UnitError) as caught:
            read(bare)
        assert str(caught.value) == want

    @pytest.mark.parametrize("text", ["1,5 mm", "1.500,0 mm", "1500 mm,"])
    def test_a_comma_is_told_to_be_a_point(self, text):
        with pytest.raises(UnitError, match="decimal point instead of the comma"):
            quantities.length(text)

    @pytest.mark.parametrize(
        ("read", "text"),
        [
            (quantities.length, "-5 mm"),
            (quantities.mass, "-1 kg"),
            (quantities.duration, "-1 min"),
        ],
    )
    def test_only_a_temperature_may_be_negative(self, read, text):
        with pytest.raises(UnitError, match="that is not negative"):
            read(text)

    @pytest.mark.parametrize("text", ["--5 C", "- -5 C", "\u22125 C", "21 K"])
    def test_a_temperature_is_not_that_free(self, text):
        with pytest.raises(UnitError):
            quantities.temperature(text)

    def test_a_long_text_is_refused(self):
        fits = "1" + "0" * (quantities.LONGEST_TEXT - 3) + "mm"
        assert quantities.length(fits) == 10.0 ** (quantities.LONGEST_TEXT - 6)
        with pytest.raises(UnitError, match="at most 40 characters"):
            quantities.length("1" + fits)

    @settings(max_examples=300, deadline=None)
    @given(
        text=st.text(alphabet="0123456789 ./'\",-ftinmchdgkloz°C²\u0661", max_size=14)
    )
    def test_nothing_but_a_finite_number_or_a_unit_error(self, text):
        for read in (
            quantities.length,
            quantities.mass,
            quantities.duration,
            quantities.temperature,
        ):
            try:
                value = read(text)
            except UnitError:
                continue
            assert isfinite(value)
            assert value >= 0 or read is quantities.temperature


class TestShowing:
    @pytest.mark.parametrize(
        ("metres", "si", "us"),
        # Derived by hand from 25.4 mm to the inch.
        [
            (1.5, "1500 mm", "4 ft 11 1/16 in"),
            (0.003, "3 mm", "1/8 in"),
            (0.0125, "12.5 mm", "1/2 in"),
            (0.0254, "25.4 mm", "1 in"),
            (0.3048, "305 mm", "1 ft"),
            (0.3047, "305 mm", "1 ft"),
            (1.2207875, "1221 mm", "4 ft 1/16 in"),
            (0.0, "0 mm", "0 in"),
            (-0.0254, "-25.4 mm", "-1 in"),
        ],
    )
    def test_lengths(self, metres, si, us):
        assert SI.length(metres) == si
        assert US.length(metres) == us

    @pytest.mark.parametrize(
        ("shown", "si", "us"),
        # Derived from the exact factors; 1 MPa is 145.04 psi (oracle below).
        [
            (lambda u: u.edge(4.1), "4.10 m", "13.5 ft"),
            (lambda u: u.area(0.85), "0.85 m²", "9.1 ft²"),
            (lambda u: u.volume(18.75), "18.75 L", "0.66 ft³"),
            (lambda u: u.mass(39.306), "39.31 kg", "86.65 lb"),
            (lambda u: u.mass(134.7), "134.7 kg", "297.0 lb"),
            (lambda u: u.mass(0.472), "472 g", "1.04 lb"),
            (lambda u: u.mass(0.025), "25.0 g", "0.88 oz"),
            (lambda u: u.temperature(21), "21.0 °C", "70 °F"),
            (lambda u: u.temperature(-0.01), "0.0 °C", "32 °F"),
            (lambda u: u.speed(5), "5.0 km/h", "3.1 mph"),
            (lambda u: u.temperature_step(3), "3 °C", "5 °F"),
            (lambda u: u.evaporation(1.0), "1.00 kg/m²h", "0.205 lb/ft²h"),
            (lambda u: u.strength_number(14.2), "14", "2060"),
            (lambda u: u.strength_number(0.46), "0.5", "70"),
            (lambda u: u.strength_unit, "MPa", "psi"),
        ],
    )
    def test_the_others(self, shown, si, us):
        assert shown(SI) == si
        assert shown(US) == us

    @pytest.mark.parametrize(
        ("show", "inside", "pint_us", "half_digit"),
        [
            (US.edge, "m", "foot", 0.05),
            (US.area, "m**2", "foot**2", 0.05),
            (US.volume, "liter", "foot**3", 0.005),
            (US.speed, "km/hour", "mile/hour", 0.05),
        ],
    )
    @oracle
    @given(value=st.floats(0, 5000))
    def test_us_agrees_with_pint(self, show, inside, pint_us, half_digit, value):
        wanted = PINT.Quantity(value, inside).to(pint_us).magnitude
        shown = float(show(value).split(" ")[0])
        assert shown == pytest.approx(wanted, abs=half_digit * 1.001, rel=1e-9)

    @oracle
    @given(value=st.floats(0, 200))
    def test_strength_agrees_with_pint(self, value):
        wanted = PINT.Quantity(value, "MPa").to("psi").magnitude
        assert US.strength_value(value) == pytest.approx(wanted)
        assert SI.strength_value(value) == value

    @settings(max_examples=100, deadline=None)
    @given(metres=st.floats(0, 12))
    def test_a_shown_length_reads_back(self, metres):
        assert quantities.length(SI.length(metres)) == pytest.approx(
            metres, abs=0.000501
        )
        half_sixteenth = 0.0254 / 32
        back = quantities.length(US.length(metres))
        assert back == pytest.approx(metres, abs=half_sixteenth * 1.0001)

    @settings(max_examples=100, deadline=None)
    @given(kilograms=st.floats(0, 500))
    def test_a_shown_mass_reads_back(self, kilograms):
        close = pytest.approx(kilograms, rel=0.0051, abs=0.00015)
        assert quantities.mass(SI.mass(kilograms)) == close
        assert quantities.mass(US.mass(kilograms)) == close

    @settings(max_examples=50, deadline=None)
    @given(celsius=st.floats(-30, 60))
    def test_temperature_round_trips(self, celsius):
        assert quantities.temperature(SI.temperature(celsius)) == pytest.approx(
            celsius, abs=0.051
        )
        assert quantities.temperature(US.temperature(celsius)) == pytest.approx(
            celsius, abs=0.28
        )
        for system in (SI, US):
            value = system.temperature_value(celsius)
            assert system.from_temperature_value(value) == pytest.approx(
                celsius, abs=1e-9
            )

    def test_a_prompt_takes_plain_numbers_in_the_shop_s_units(self):
        assert SI.temperature_value(21) == 21
        assert US.temperature_value(100) == 212
        assert US.from_temperature_value(32) == 0
        assert (SI.temperature_unit, US.temperature_unit) == ("°C", "°F")

    @pytest.mark.parametrize("value", [nan, inf, -inf])
    @pytest.mark.parametrize("system", [SI, US])
    def test_what_is_not_finite_is_not_shown(self, system, value):
        for show in (
            system.length,
            system.edge,
            system.area,
            system.volume,
            system.mass,
            system.temperature,
            system.strength_number,
        ):
            with pytest.raises(ValueError, match="is not a quantity"):
                show(value)
