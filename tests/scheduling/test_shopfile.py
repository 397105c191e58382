"""Shop files: what is read, what is refused and in which words."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time
from pathlib import Path
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.hours import ShopHours
from scheduling.shop import Bells, Hours, Mix, Person, Shop, StrengthTest, TypicalDay
from scheduling.shopfile import read_shop, read_shop_text
from scheduling.snapshot import shop_from_data, shop_to_data
from scheduling.spread import Spread
from scheduling.strength import Aci209, Eurocode, Exponential, Hyperbolic
from scheduling.thresholds import DEFAULTS

SAMPLE = Path(__file__).parents[2] / "sample_jobs" / "shop.toml"
DURATION = 'wants a duration with a unit, such as "18 min" or "1 h 30 min"'
WEEK = '"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"'
BREAK = "end after it starts, and leave the other breaks alone"
RULE = (
    "wants a rule for whole days, such as FREQ=MONTHLY;BYDAY=-1FR "
    "for every last Friday of the month"
)


def shop(text):
    return read_shop_text(text, "shop.toml")


def faults(text):
    """The lines of the error that a shop text is refused with."""
    with pytest.raises(BadInput) as caught:
        shop(text)
    return str(caught.value).splitlines()


class TestReading:
    def test_an_empty_file_is_the_default_shop(self, tmp_path):
        path = tmp_path / "shop.toml"
        path.write_text("# nothing yet\n", encoding="utf-8")
        assert read_shop(path) == Shop()
        assert shop("") == Shop()

    def test_the_sample_shop(self):
        week = ("Mon", "Tue", "Wed", "Thu", "Fri")
        assert read_shop(SAMPLE) == Shop(
            name="Alder Yard Casting",
            people=(
                Person("Ines", week),
                Person("Bo", week),
                Person("Wes", ("Tue", "Wed", "Thu")),
            ),
            hours=Hours(week, time(7, 30), time(16, 30), ((time(12), time(12, 30)),)),
            mixer_load=25.0,
            equipment={
                "mixer": 1,
                "gun": 1,
                "table": 2,
                "polisher": 1,
                "saw": 1,
                "blanket": 2,
            },
            climate=TypicalDay(low_c=17.0, high_c=22.0),
            mixes={"M1": Mix()},
        )

    def test_the_notes_of_the_sample_are_right_too(self):
        # A maker takes the # off these lines; each must then be read.
        starts = (
            "zone",
            "closed",
            "closed_rule",
            "[mixes",
            '"face opens"',
            '"demould"',
            "law =",
            "mean_28d =",
            "cement =",
            "[[mixes",
            "age =",
            "temperature =",
            "strength =",
        )
        lines = [
            line.removeprefix("# ")
            if line.startswith(tuple(f"# {start}" for start in starts))
            else line
            for line in SAMPLE.read_text(encoding="utf-8").splitlines()
        ]
        read = shop("\n".join(lines))
        assert read.zone == "Europe/Oslo"
        assert read.hours.closed == (date(2030, 5, 1), date(2030, 5, 17))
        assert read.hours.closed_rule == "FREQ=MONTHLY;BYDAY=-1FR"
        assert set(read.mixes["M1"].thresholds) == {"face opens", "demould"}
        assert read.mixes["M1"].strength == Mix().strength
        assert read.mixes["M1"].tests == (StrengthTest(24, 18, 21),)

    def test_us_units_throughout(self):
        read = shop("""
            units = "us"
            theme = "light"
            mixer_load = "55 lb"
            [climate]
            low = "50 F"
            high = "77 F"
            low_at = "4:30"
            high_at = 14:00:00
            humidity = "65 %"
            wind = "5 mph"
            [mixes.coarse]
            face_density = "133.8 lb/ft3"
            [bells]
            sound = false
            desktop = true
            command = ["siren", "--pin", "7 or 8"]
        """)
        assert read.units == "us"
        assert read.theme == "light"
        assert read.mixer_load == pytest.approx(24.948, abs=0.001)
        assert read.climate.low_c == pytest.approx(10)
        assert read.climate.high_c == pytest.approx(25)
        assert (read.climate.low_at, read.climate.high_at) == (time(4, 30), time(14))
        assert read.climate.rh_pct == 65
        assert read.climate.wind_kmh == pytest.approx(8.04672)
        assert read.mixes["coarse"].face_density == pytest.approx(2143.3, abs=0.1)
        assert read.mixes["coarse"].back_density == Mix().back_density
        assert read.bells == Bells(
            terminal=True,
            sound=False,
            desktop=True,
            command=("siren", "--pin", "7 or 8"),
        )

    def test_mix_m1_is_always_there(self):
        assert set(shop("[mixes.M2]").mixes) == {"M1", "M2"}

    def test_a_whole_threshold_takes_its_own_spread(self):
        read = shop(
            "[mixes.M1.thresholds]\n"
            '"face opens" = { p10 = "8 min", p50 = "15 min", p90 = "30 min" }'
        )
        assert read.mixes["M1"].thresholds == {"face opens": Spread.of(8, 15, 30)}

    @pytest.mark.parametrize("name", DEFAULTS)
    def test_a_single_time_keeps_the_default_s_spread(self, name):
        usual = DEFAULTS[name].spread
        # Just off the default, so that what opens still opens before it closes.
        median = usual.p50 * 0.999
        read = shop(f'[mixes.M1.thresholds]\n"{name}" = "{median:.6f} min"')
        spread = read.mixes["M1"].thresholds[name]
        assert spread.p50 == pytest.approx(median, abs=1e-6)
        assert spread.p90 / spread.p50 == pytest.approx(usual.p90 / usual.p50)

    def test_times_breaks_and_closed_days(self):
        hours = shop("""
            [hours]
            days = ["Sat"]
            opens = "6:00"
            closes = "18:00"
            breaks = ["12:00 - 12:30", "9:00-9:15"]
            closed = [2030-12-24, "2030-12-31"]
        """).hours
        assert hours == Hours(
            ("Sat",),
            time(6),
            time(18),
            ((time(12), time(12, 30)), (time(9), time(9, 15))),
            (date(2030, 12, 24), date(2030, 12, 31)),
        )

    @pytest.mark.parametrize(
        ("rule", "off", "on"),
        [
            ("FREQ=WEEKLY;BYDAY=FR", (1, 4), (1, 3)),
            ("RRULE:FREQ=YEARLY;BYMONTH=12;BYMONTHDAY=24,25", (12, 24), (12, 26)),
            ("FREQ=MONTHLY;BYDAY=-1FR", (1, 25), (1, 18)),
            ("FREQ=DAILY;BYMONTH=7;UNTIL=20301231", (7, 1), (8, 1)),
            ("DTSTART:20300104T000000 RRULE:FREQ=WEEKLY;INTERVAL=2", (1, 18), (1, 11)),
            ("DTSTART:20300104T000000 RRULE:FREQ=DAILY;COUNT=14", (1, 17), (1, 18)),
        ],
    )
    def test_a_rule_for_days_off_closes_the_shop(self, rule, off, on):
        hours = shop(f'[hours]\nclosed_rule = "{rule}"').hours
        calendar = ShopHours(hours, (), UTC)
        assert not calendar.is_open(datetime(2030, *off, 10, tzinfo=UTC))
        assert calendar.is_open(datetime(2030, *on, 10, tzinfo=UTC))

    @pytest.mark.parametrize(
        ("text", "law"),
        [
            ('cement = "52.5R"', Eurocode(50, "52.5R")),
            ('law = "en-1992-1-1"\nmean_28d = "45 MPa"', Eurocode(45, "42.5N")),
            (
                'law = "model-code-2010"\nmean_28d = "70 N/mm2"\ncement = "32.5N"',
                Eurocode(70, "32.5N", model_code=True),
            ),
            ('law = "aci-209"\nrow = "III moist"', Aci209(50, "III moist")),
            (
                'law = "hyperbolic"\nultimate = "60 MPa"\nhalf_after = "2 d"',
                Hyperbolic(60, 48, 0),
            ),
            (
                (
                    'law = "hyperbolic"\nultimate = "60 MPa"\nhalf_after = "2 d"\n'
                    'starts = "7 h"'
                ),
                Hyperbolic(60, 48, 7),
            ),
            (
                'law = "exponential"\nultimate = "60 MPa"\ntau = "30 h"\nshape = 1',
                Exponential(60, 30, 1),
            ),
        ],
    )
    def test_the_law_of_strength_of_a_mix(self, text, law):
        assert shop(f"[mixes.M1.strength]\n{text}").mixes["M1"].strength == law

    def test_strength_tests_of_a_mix(self):
        read = shop("""
            [[mixes.M1.tests]]
            age = "18 h"
            strength = "2000 psi"
            [[mixes.M1.tests]]
            age = "7 d"
            temperature = "59 F"
            strength = "31 MPa"
        """)
        first, second = read.mixes["M1"].tests
        assert (first.age_h, first.temp_c) == (18, 21)
        assert first.strength == pytest.approx(13.789515, abs=1e-6)
        assert second == StrengthTest(168, 31, pytest.approx(15))


HOURS = "[hours]\n"
CLIMATE = "[climate]\n"
WAITS = "[mixes.M1.thresholds]\n"

FAULTS = [
    # A shop file, and everything said of it.
    ('name = ""', ['name: "" - wants a text that is not empty']),
    (
        'zone = "Europe/Olso"',
        [
            (
                'zone: "Europe/Olso" - wants a time zone, such as "Europe/Oslo"; '
                'did you mean "Europe/Oslo"?'
            )
        ],
    ),
    (
        'zone = "/etc/passwd"',
        ['zone: "/etc/passwd" - wants a time zone, such as "Europe/Oslo"'],
    ),
    (
        'zone = "../../etc/passwd"',
        ['zone: "../../etc/passwd" - wants a time zone, such as "Europe/Oslo"'],
    ),
    ('units = "metric"', ['units: "metric" - wants one of "si", "us"']),
    (
        'theme = "drak"',
        ['theme: "drak" - wants one of "dark", "light"; did you mean "dark"?'],
    ),
    (
        "mixer_load = 25",
        [('mixer_load: 25 - wants a mass with a unit, such as "25 kg" or "5 lb 3 oz"')],
    ),
    ('mixer_load = "25 g"', ['mixer_load: "25 g" - wants a mass of at least 1 kg']),
    ("people = []", ["people: a list - wants at least one person, written [[people]]"]),
    (
        '[[people]]\nname = "Bo"\n[[people]]\nname = "bo"\ndays = []',
        [
            f"people[1].days: a list - wants a list of words out of {WEEK}",
            'people[1].name: "bo" - is there already; wants a name of its own',
        ],
    ),
    (
        '[[people]]\nname = "Bo"\ndays = ["Mon", "Tues"]',
        [f'people[0].days[1]: "Tues" - wants one of {WEEK}; did you mean "Tue"?'],
    ),
    (
        HOURS + 'opens = "16:30"\ncloses = "07:30"',
        ['hours.closes: "07:30" - must be later than hours.opens "16:30"'],
    ),
    (
        HOURS + 'closes = "07:30"',
        ['hours.closes: "07:30" - must be later than opening at 07:30'],
    ),
    (
        HOURS + 'closes = "24:00"',
        ['hours.closes: "24:00" - wants a time of day, such as "07:30"'],
    ),
    (
        HOURS + 'opens = "7.30"',
        ['hours.opens: "7.30" - wants a time of day, such as "07:30"'],
    ),
    (
        HOURS + 'breaks = ["12:30-12:00", "16:00-17:00"]',
        [
            f"hours.breaks: 12:30-12:00 - must lie between 07:30 and 16:30, {BREAK}",
            f"hours.breaks: 16:00-17:00 - must lie between 07:30 and 16:30, {BREAK}",
        ],
    ),
    (
        HOURS + 'breaks = ["12:00-12:30", "12:15-12:45"]',
        [f"hours.breaks: 12:15-12:45 - must lie between 07:30 and 16:30, {BREAK}"],
    ),
    (
        HOURS + 'breaks = ["12:00", 12]',
        [
            'hours.breaks[0]: "12:00" - wants a span of the day, such as "12:00-12:30"',
            'hours.breaks[1]: 12 - wants a span of the day, such as "12:00-12:30"',
        ],
    ),
    (
        HOURS + "closed = [2030-05-01, 1999-05-01]",
        ["hours.closed[1]: 1999-05-01 - wants a date in the years 2020 to 2100"],
    ),
    (
        HOURS + 'closed_rule = "every Friday"',
        [f'hours.closed_rule: "every Friday" - {RULE}'],
    ),
    (
        HOURS + 'closed_rule = "FREQ=SECONDLY"',
        [f'hours.closed_rule: "FREQ=SECONDLY" - {RULE}'],
    ),
    (
        HOURS + 'closed_rule = "FREQ=WEEKLY;BYDAY=XX"',
        [f'hours.closed_rule: "FREQ=WEEKLY;BYDAY=XX" - {RULE}'],
    ),
    (
        HOURS + 'closed_rule = "FREQ=WEEKLY;FREQ=DAILY"',
        [f'hours.closed_rule: "FREQ=WEEKLY;FREQ=DAILY" - {RULE}'],
    ),
    (
        HOURS + 'closed_rule = "DTSTART:20301399T000000 FREQ=DAILY"',
        [f'hours.closed_rule: "DTSTART:20301399T000000 FREQ=DAILY" - {RULE}'],
    ),
    (
        HOURS + 'closed_rule = "FREQ=WEEKLY;INTERVAL=2"',
        [
            (
                'hours.closed_rule: "FREQ=WEEKLY;INTERVAL=2" - wants a first day '
                "before COUNT or INTERVAL, such as "
                "DTSTART:20300104T000000 RRULE:FREQ=WEEKLY;INTERVAL=2"
            )
        ],
    ),
    (
        HOURS + 'closed_rule = "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"',
        [
            (
                'hours.closed_rule: "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30" - '
                f"never comes to pass; {RULE}"
            )
        ],
    ),
    (
        '[equipment]\nmixr = 1\ntables = 2\n"hoist\\u001b" = 1\ngun = "one"\ncrane = 1',
        [
            'equipment.mixr: 1 - no such equipment; did you mean "mixer"?',
            'equipment.tables: 2 - no such equipment; did you mean "table"?',
            (
                'equipment."hoist\\u001b": 1 - wants one line of plain text; '
                "it holds the control character U+001B"
            ),
            'equipment.gun: "one" - wants a whole number from 0 to 99',
        ],
    ),
    (
        CLIMATE + 'low = "22 C"\nhigh = "17 C"',
        ['climate.high: "17 C" - the low, 22 C, must not be above the high, 17 C'],
    ),
    (
        CLIMATE + 'low = "22 C"',
        ['climate.low: "22 C" - the low, 22 C, must not be above the high, 21 C'],
    ),
    (
        CLIMATE + 'low_at = "15:00"',
        [
            (
                'climate.low_at: "15:00" - the low and the high of a day '
                "come at different times"
            )
        ],
    ),
    (
        CLIMATE + 'low = "-40 F"\nhumidity = 0.5\nwind = "-1 km/h"',
        [
            'climate.low: "-40 F" - wants a temperature of at least -30 C',
            'climate.humidity: 0.5 - wants a percentage with a unit, such as "50 %"',
            'climate.wind: "-1 km/h" - wants a speed that is not negative',
        ],
    ),
    (
        "mixes = 1",
        ["mixes: 1 - wants a table, written [mixes]"],
    ),
    (
        (
            '[mixes.M1]\nface_density = "2143 g"\n'
            'activation_energy = "200 kJ/mol"\nsand = 1'
        ),
        [
            (
                'mixes.M1.face_density: "2143 g" - wants a density with a unit, '
                'such as "2143 kg/m3" or "133.8 lb/ft3"'
            ),
            (
                'mixes.M1.activation_energy: "200 kJ/mol" - '
                "wants an energy of at most 100 kJ/mol"
            ),
            (
                "mixes.M1.sand: no such key; known here: face_density, "
                "back_density, activation_energy, thresholds, strength, tests, "
                "polymer"
            ),
        ],
    ),
    (
        '[mixes.M1.strength]\nlaw = "en-1992"\nmean_28d = "40"\nshape = 1',
        [
            (
                'mixes.M1.strength.law: "en-1992" - wants one of "en-1992-1-1", '
                '"model-code-2010", "aci-209", "hyperbolic", "exponential"; '
                'did you mean "en-1992-1-1"?'
            ),
            (
                'mixes.M1.strength.mean_28d: "40" - wants a strength with a unit, '
                'such as "40 MPa" or "5800 psi"'
            ),
            ("mixes.M1.strength.shape: no such key; known here: law, mean_28d, cement"),
        ],
    ),
    (
        '[mixes.M1.strength]\nlaw = "hyperbolic"\nultimate = "0 MPa"',
        [
            (
                'mixes.M1.strength.ultimate: "0 MPa" - '
                "wants a strength of more than 0 MPa"
            ),
            f"mixes.M1.strength.half_after: missing; {DURATION}",
        ],
    ),
    (
        (
            '[mixes.M1.strength]\nlaw = "exponential"\nultimate = "60 MPa"\n'
            'tau = "30 h"\nshape = "80 %"'
        ),
        [
            (
                'mixes.M1.strength.shape: "80 %" - '
                "wants a number of more than 0 and at most 5"
            )
        ],
    ),
    (
        '[mixes.M1.strength]\nlaw = "exponential"\nshape = nan',
        [
            (
                "mixes.M1.strength.ultimate: missing; wants a strength with a unit, "
                'such as "40 MPa" or "5800 psi"'
            ),
            f"mixes.M1.strength.tau: missing; {DURATION}",
            (
                "mixes.M1.strength.shape: nan - "
                "wants a number of more than 0 and at most 5"
            ),
        ],
    ),
    (
        '[mixes.M1.tests]\nage = "24 h"',
        [
            (
                "mixes.M1.tests: a table - "
                "wants at most 200 tables, each written [[mixes.M1.tests]]"
            )
        ],
    ),
    (
        '[[mixes.M1.tests]]\nage = "10 min"\nstrength = "300 MPa"',
        [
            ('mixes.M1.tests[0].age: "10 min" - wants a duration of at least 1 h'),
            (
                'mixes.M1.tests[0].strength: "300 MPa" - '
                "wants a strength of at most 200 MPa"
            ),
        ],
    ),
    (
        WAITS + "demould = 18",
        [f"mixes.M1.thresholds.demould: 18 - {DURATION}"],
    ),
    (
        WAITS + 'demould = "0 h"',
        [('mixes.M1.thresholds.demould: "0 h" - wants a duration of more than 0 min')],
    ),
    (
        WAITS + '"face open" = "8 min"',
        [('mixes.M1.thresholds."face open": no such key; did you mean "face opens"?')],
    ),
    (
        WAITS + 'demould = { p10 = "19 h", p50 = "18 h", p90 = "17 h" }',
        [
            (
                'mixes.M1.thresholds.demould.p10: "19 h" - must be at most '
                'mixes.M1.thresholds.demould.p50 "18 h"'
            ),
            (
                'mixes.M1.thresholds.demould.p90: "17 h" - must be at least '
                'mixes.M1.thresholds.demould.p50 "18 h"'
            ),
        ],
    ),
    (
        WAITS + 'demould = { p50 = "18 h" }',
        [
            f"mixes.M1.thresholds.demould.p10: missing; {DURATION}",
            f"mixes.M1.thresholds.demould.p90: missing; {DURATION}",
        ],
    ),
    (
        WAITS + '"face opens" = "45 min"',
        [
            (
                'mixes.M1.thresholds."face opens": "45 min" - '
                'must be earlier than "face closes", 45 min'
            )
        ],
    ),
    (
        WAITS + '"face opens" = "20 min"\n"face closes" = "20 min"',
        [
            (
                'mixes.M1.thresholds."face closes": "20 min" - '
                'must be later than "face opens", 20 min'
            )
        ],
    ),
    (
        "[bells]\nsound = 1\nbuzzer = true",
        [
            "bells.sound: 1 - wants true or false, without quotes",
            (
                "bells.buzzer: no such key; "
                "known here: terminal, sound, desktop, command"
            ),
        ],
    ),
    (
        '[bells]\ncommand = "siren --on"',
        [
            (
                'bells.command: "siren --on" - wants a list of at most 50 texts, '
                'such as ["siren", "--on"]'
            )
        ],
    ),
    (
        '[bells]\ncommand = ["siren", 7]',
        [
            (
                "bells.command[1]: 7 - wants a list of at most 50 texts, "
                'such as ["siren", "--on"]'
            )
        ],
    ),
    ("naem = 1", ['naem: no such key; did you mean "name"?']),
]


class TestRefusing:
    @pytest.mark.parametrize(("text", "said"), FAULTS)
    def test_a_bad_file(self, text, said):
        assert faults(text) == [f"shop.toml: {line}" for line in said]

    def test_a_good_file_is_not_bad(self):
        # The texts above differ from a good one only in what is said of them.
        good = HOURS + 'breaks = ["12:00-12:30", "12:30-12:45"]\n' + CLIMATE
        assert len(shop(good + 'low = "21 C"').hours.breaks) == 2

    @pytest.mark.parametrize(
        "rule",
        [
            "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30",
            "FREQ=MONTHLY;BYMONTHDAY=99",
            "FREQ=YEARLY;BYWEEKNO=99",
        ],
    )
    def test_a_rule_that_never_comes_is_refused_at_once(self, rule):
        # dateutil alone walks to the year 9999, up to 3 s of work.
        begun = process_time()
        (line,) = faults(f'{HOURS}closed_rule = "{rule}"')
        assert "never comes to pass" in line
        assert process_time() - begun < 0.5

    def test_a_missing_file_is_the_caller_s_to_judge(self, tmp_path):
        path = tmp_path / "shop.toml"
        with pytest.raises(BadInput, match="no such file"):
            read_shop(path)

    def test_too_many_mixes(self):
        text = "\n".join(f"[mixes.m{number}]" for number in range(21))
        assert faults(text) == ["shop.toml: mixes: wants at most 20 mixes"]


GOOD = SAMPLE.read_bytes()


def tried(path):
    """The shop, or the one error that may come instead."""
    try:
        return read_shop(path)
    except BadInput as error:
        return error


class TestMutations:
    @settings(max_examples=300, deadline=None)
    @given(data=st.data())
    def test_only_bad_input_escapes(self, data, tmp_path_factory):
        content = bytearray(GOOD)
        for _ in range(data.draw(st.integers(1, 4))):
            at = data.draw(st.integers(0, len(content) - 1))
            length = data.draw(st.integers(0, 12))
            content[at : at + length] = data.draw(st.binary(max_size=6))
        path = tmp_path_factory.getbasetemp() / "mutant-shop.toml"
        path.write_bytes(content)
        outcome = tried(path)
        if isinstance(outcome, Shop):
            written = json.dumps(shop_to_data(outcome), allow_nan=False)
            assert shop_from_data(json.loads(written)) == outcome
        else:
            assert all(fault.where == "mutant-shop.toml" for fault in outcome.faults)
            assert str(outcome).replace("\n", "").isprintable()


def test_a_flood_of_names_is_refused_in_good_time():
    flood = "[equipment]\n" + "\n".join(f"k{n:x}=1" for n in range(20_000))
    begun = process_time()
    assert faults(flood) == ["shop.toml: equipment: wants at most 50 kinds"]
    assert process_time() - begun < 5
