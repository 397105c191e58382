"""Past pours from paper: read as meant, or refused with line and column."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from scheduling.air import evaporation
from scheduling.errors import BadInput
from scheduling.laws import CLOSE_SHARE, OPEN_SHARE
from scheduling.maturity import arrhenius_rate
from scheduling.observation import ENERGIES
from scheduling.papercsv import is_paper, read_paper
from scheduling.pastwindow import TOUCHES, PastWindow
from scheduling.shop import Mix, Shop, TypicalDay
from scheduling.times import shown_as

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2030, 12, 1, 12, 0, tzinfo=UTC)
SHOP = Shop(
    mixes={"M1": Mix(), "M2": Mix("M2")},
    climate=TypicalDay(rh_pct=44.0, wind_kmh=3.0),
)
HEAD = (
    "date,mix,zone,temp_c,rh_pct,wind_kmh,sprayed,"
    "last_soft,first_ready,first_going_off,first_gone"
)
ROW = "2030-03-04,M1,top,17.5,51,2,10:05,10:24,10:30,10:51,11:02"


@pytest.fixture
def read(tmp_path):
    def reader(*lines, head=HEAD, zone=OSLO, **options):
        path = tmp_path / "paper.csv"
        path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
        return read_paper(path, SHOP, zone, now=NOW, **options)

    return reader


def refused(read, *lines, **options):
    """The complaints about some rows, without the path."""
    with pytest.raises(BadInput) as bad:
        read(*lines, **options)
    return [f"{fault.key}: {fault.value} - {fault.want}" for fault in bad.value.faults]


def cells(**changes):
    """The row with some cells changed."""
    row = dict(zip(HEAD.split(","), ROW.split(","), strict=True)) | changes
    return ",".join(row.values())


def at(clock, day=date(2030, 3, 4), zone=OSLO):
    wall = datetime.combine(day, time.fromisoformat(clock), zone)
    return wall.astimezone(UTC)


def test_a_row_is_read_in_the_shops_zone(read):
    (window,) = read(ROW).fresh
    assert window == PastWindow(
        day=date(2030, 3, 4),
        mix="M1",
        zone="top",
        temp_c=17.5,
        rh_pct=51.0,
        wind_kmh=2.0,
        sprayed=at("10:05"),
        last_soft=at("10:24"),
        first_ready=at("10:30"),
        first_going_off=at("10:51"),
        first_gone=at("11:02"),
    )


def test_past_midnight_is_the_next_day(read):
    late = {"sprayed": "23:40", "last_soft": "23:58", "first_ready": "00:06"}
    row = cells(**late, first_going_off="", first_gone="00:41")
    (window,) = read(row).fresh
    assert window.sprayed == at("23:40")
    assert window.first_ready == at("00:06", date(2030, 3, 5))
    assert window.first_gone - window.sprayed == timedelta(minutes=61)


def test_the_typical_day_stands_in_and_that_is_told(read):
    found = read(cells(rh_pct="", wind_kmh=""), cells(zone="leg", wind_kmh=""))
    assert [(w.rh_pct, w.wind_kmh) for w in found.fresh] == [(44.0, 3.0), (51.0, 3.0)]
    assert [w.rh_assumed for w in found.fresh] == [True, False]
    assert found.assumed == {"rh_pct": 1, "wind_kmh": 2}


def test_units_are_in_the_heading(read):
    head = HEAD.replace("temp_c", "temp_f").replace("wind_kmh", "wind_mph")
    head += ",form_f,Notes"
    (window,) = read(f"{cells(temp_c='59', wind_kmh='10')},50,cold", head=head).fresh
    assert (window.temp_c, window.form_c) == (15.0, 10.0)
    assert window.wind_kmh == pytest.approx(16.09344)


def test_a_decimal_comma_between_semicolons(read):
    row = (
        cells(temp_c="17,5").replace("17,5", "@").replace(",", ";").replace("@", "17,5")
    )
    assert read(row, head=HEAD.replace(",", ";")).fresh[0].temp_c == 17.5


def test_few_columns_are_enough_and_others_are_passed_over(read):
    head = "Date,Mix,Temp C,Weather,Sprayed,First ready"
    found = read("2030-03-04,M1,17.5,rain,10:05,10:30", head=head)
    assert found.fresh[0].touches == {"first_ready": at("10:30")}
    assert found.passed_over == ("Weather",)


def test_a_row_twice_counts_once(read):
    found = read(ROW, ROW, cells(zone="leg"))
    assert (len(found.fresh), found.known, found.pours) == (2, 1, 1)
    again = read(ROW, cells(zone="leg"), known=found.fresh)
    assert (again.fresh, again.known) == ((), 2)


def test_the_same_window_with_other_times_is_a_clash(read):
    known = read(ROW).fresh
    (said,) = refused(read, cells(first_ready="10:31"), known=known)
    assert said == (
        'line 2: "first_ready 10:31" - the log has first_ready 10:30: one of them is '
        "wrong; write --replace if the file is right"
    )
    (said,) = refused(read, ROW, cells(first_gone=""))
    assert said == (
        'line 3: "no first_gone" - line 2 has first_gone 11:02: one of them is wrong'
    )
    (said,) = refused(read, cells(temp_c="19"), known=known)
    assert '"19.0 degC" - the log has 17.5 degC' in said


def test_what_the_file_says_takes_the_place_of_what_the_log_has(read):
    known = read(ROW, cells(zone="leg"), cells(zone="rim")).fresh
    rows = [ROW, cells(zone="leg", first_ready="10:31"), cells(zone="back")]
    found = read(*rows, known=known, replacing=True)
    assert [one.zone for one in found.changed] == ["leg"]
    assert [one.zone for one in found.fresh] == ["back"]
    assert found.known == 1
    # Not taken for the same with --replace: it was refused or passed over without.
    for change in ({"rh_pct": "60"}, {"wind_kmh": "9"}, {"rh_pct": ""}):
        assert read(cells(**change), known=known).known == 1
        assert len(read(cells(**change), known=known, replacing=True).changed) == 1


def test_the_file_has_to_agree_with_itself_all_the_same(read):
    other = cells(first_ready="10:31")
    (said,) = refused(read, ROW, other, known=read(ROW).fresh, replacing=True)
    assert said.startswith("line 3:")
    assert "--replace" not in said


def test_celsius_under_a_heading_of_fahrenheit_is_told(read):
    head = HEAD.replace("temp_c", "temp_f") + ",form_f"
    (said,) = refused(read, f"{cells(temp_c='21')},70", head=head)
    assert said == (
        'line 2, temp_f: "21" - 32 to 113 degF, and this is -6 degC: was it written in '
        "degC under temp_f?"
    )
    (said,) = refused(read, f"{cells(temp_c='70')},21", head=head)
    assert "under form_f?" in said


@pytest.mark.parametrize(
    ("changes", "where", "want"),
    [
        ({"date": "04.03.2030"}, "date", "2030-04-01"),
        ({"date": "20300304"}, "date", "2030-04-01"),
        ({"date": "2030-02-30"}, "date", "2030-04-01"),
        ({"date": "1999-03-04"}, "date", "2000 to 2100"),
        ({"date": "2030-12-04"}, "sprayed", "has passed"),
        ({"mix": "M7"}, "mix", "M1, M2"),
        ({"mix": ""}, "mix", "M1, M2"),
        ({"zone": "x" * 81}, "zone", "80 characters"),
        ({"temp_c": ""}, "temp_c", "a number"),
        ({"temp_c": "nan"}, "temp_c", "a number"),
        (
            {"temp_c": "46"},
            "temp_c",
            "0 to 45 degC: was it written in degF under temp_c?",
        ),
        ({"temp_c": "-1"}, "temp_c", "0 to 45 degC"),
        ({"rh_pct": "101"}, "rh_pct", "2 to 100 %"),
        ({"rh_pct": "0.55"}, "rh_pct", "2 to 100 %: percent, not a share"),
        ({"rh_pct": "0"}, "rh_pct", "2 to 100 %"),
        ({"wind_kmh": "-1"}, "wind_kmh", "0 to 200 km/h"),
        ({"sprayed": ""}, "sprayed", "a time of the day"),
        ({"sprayed": "25:00"}, "sprayed", "a time of the day"),
        ({"last_soft": "10.24"}, "last_soft", "a time of the day"),
        ({"last_soft": "9:50"}, "last_soft", "at most 12 h after sprayed, 10:05"),
        ({"last_soft": "10:40"}, "first_ready", "not before last_soft, 10:40"),
        ({"first_gone": "10:50"}, "first_gone", "not before first_going_off, 10:51"),
    ],
)
def test_is_refused_with_its_line_and_column(read, changes, where, want):
    said = refused(read, ROW, cells(zone="leg"), cells(**{"zone": "back"} | changes))
    assert any(s.startswith(f"line 4, {where}:") and want in s for s in said), said


def test_a_row_without_any_touch(read):
    (said,) = refused(read, cells(**dict.fromkeys(TOUCHES, "")))
    assert "first_ready" in said


def test_a_decimal_comma_between_commas_is_not_shifted(read):
    (said,) = refused(read, cells(temp_c="17,5"))
    assert "12 cells - 11 cells" in said.replace('"', "")


def test_all_faults_come_at_once(read):
    bad = cells(date="1", mix="M7", temp_c="hot", rh_pct="200")
    said = refused(read, bad, cells(sprayed="noon"))
    assert [one.partition(":")[0] for one in said] == [
        "line 2, date",
        "line 2, mix",
        "line 2, temp_c",
        "line 2, rh_pct",
        "line 3, sprayed",
    ]


@pytest.mark.parametrize(
    ("head", "want"),
    [
        (HEAD.replace("first_ready", "first_redy"), 'did you mean "first_ready"?'),
        (HEAD.replace("temp_c", "temp"), 'did you mean "temp_c"?'),
        (HEAD.replace("rh_pct", "rh"), 'did you mean "rh_pct"?'),
        (HEAD.replace("zone", "temp_f"), "one of them"),
        (HEAD.replace("temp_c", "weather"), "a column temp_c or temp_f"),
        ("date,mix,sprayed,temp_c,weather", "at least one column of last_soft"),
    ],
)
def test_headings_that_will_not_do(read, head, want):
    assert any(want in said for said in refused(read, ROW, head=head))


def test_no_rows_and_no_headings(read, tmp_path):
    assert "rows under the headings" in refused(read)[0]
    path = tmp_path / "other.csv"
    path.write_text("time,temp,rh\n2030-04-01 07:30,20,50\n")
    assert not is_paper(path)
    path.write_text(f"Our pours\n{HEAD}\n{ROW}\n")
    assert is_paper(path)


def test_a_time_that_the_clock_showed_twice_or_never_names_both(read):
    night = {"sprayed": "02:10", "last_soft": "02:30", "first_ready": "03:20"}
    night |= {"first_going_off": "", "first_gone": ""}
    said = refused(read, cells(date="2030-10-27", **night))
    assert "2030-10-27T02:10+02:00 or 2030-10-27T02:10+01:00" in said[0]
    said = refused(read, cells(date="2030-03-31", **night))
    assert "2030-03-31 1:10 or 2030-03-31 3:10" in said[0]


# -- what a window says


def window(**changes):
    usual = {
        "day": date(2030, 3, 4),
        "mix": "M1",
        "zone": "",
        "temp_c": 14.0,
        "rh_pct": 40.0,
        "wind_kmh": 5.0,
        "sprayed": at("10:05"),
    }
    touches = {name: at(clock) for name, clock in changes.pop("touches").items()}
    return PastWindow(**usual, **touches, **changes)


def bounds(**touches):
    """Minutes of the wall that bound the opening and the closing."""
    return {
        one.name: (
            one.after and one.after.wall_min,
            one.before and one.before.wall_min,
        )
        for one in window(touches=touches).observations()
    }


def test_the_touches_bound_the_opening_and_the_closing():
    assert bounds(
        last_soft="10:24",
        first_ready="10:30",
        first_going_off="10:51",
        first_gone="11:02",
    ) == {"face opens": (19, 25), "face closes": (46, 57)}
    assert bounds(last_soft="10:24") == {
        "face opens": (19, None),
        "face closes": (19, None),
    }
    assert bounds(first_ready="10:30") == {
        "face opens": (None, 25),
        "face closes": (25, None),
    }
    assert bounds(last_soft="10:24", first_going_off="10:51") == {
        "face opens": (19, 46),
        "face closes": (46, None),
    }
    assert bounds(first_gone="11:02") == {
        "face opens": (None, 57),
        "face closes": (51, 57),
    }


def test_two_touches_in_one_minute_bracket_that_minute():
    assert bounds(last_soft="10:24", first_ready="10:24")["face opens"] == (19, 20)
    assert bounds(last_soft="10:05", first_ready="10:05")["face opens"] == (None, 1)


def test_a_mark_keeps_the_parts_of_its_clock():
    (opens, _) = window(touches={"first_ready": "10:30"}, form_c=9.0).observations()
    assert (opens.pour, opens.mix, opens.temp_c) == ("paper 2030-03-04 M1", "M1", 9.0)
    assert (opens.at, opens.why_not) == (at("10:05"), "")
    assert opens.before.hydration == pytest.approx(
        [25 * arrhenius_rate(9.0, energy, 21.0) for energy in ENERGIES]
    )
    rate = evaporation(9.0, 14.0, 40.0, 5.0) / evaporation(21.0, 21.0, 50.0, 0.0)
    assert opens.before.evaporation == pytest.approx(25 * max(rate, 0))
    bare = window(touches={"first_ready": "10:30"})
    (opens, _) = bare.observations()
    assert (opens.temp_c, opens.before) == (
        14.0,
        next(replace(bare, form_c=14.0).observations()).before,
    )


@pytest.mark.parametrize("energy", [33.0, 42.0])
def test_without_a_humidity_a_mark_is_that_of_the_own_constants(energy):
    """Whatever energy and share it is asked for: so it teaches nothing about them."""
    touches = {"first_ready": "10:30", "first_gone": "11:02"}
    read = window(touches=touches, form_c=9.0)
    found = replace(read, rh_assumed=True).observations(energy)
    for said, known, share, minutes in zip(
        found,
        read.observations(energy),
        (OPEN_SHARE, CLOSE_SHARE),
        (25, 57),
        strict=True,
    ):
        assert (said.measured, known.measured) == (False, True)
        dried = known.before.evaporation
        aged = minutes * arrhenius_rate(9.0, energy, 21.0)
        own = (1 - share) * aged + share * dried
        assert said.before.hydration == pytest.approx([own] * len(ENERGIES))
        assert said.before.evaporation == pytest.approx(own)
        assert said.before.wall_min == minutes


# -- there and back

gaps = st.lists(st.none() | st.integers(0, 150), min_size=4, max_size=4)
hundredths = st.integers(0, 4500).map(lambda number: number / 100)


@st.composite
def windows(draw, zone):
    day = draw(st.dates(date(2001, 1, 1), date(2030, 11, 20)))
    wall = datetime.combine(day, draw(st.times()).replace(second=0, microsecond=0))
    (sprayed, *again) = shown_as(wall, zone) or [None]
    assume(sprayed is not None and not again)
    touches = {}
    last = sprayed
    for name, gap in zip(TOUCHES, draw(gaps), strict=True):
        if gap is not None:
            last += timedelta(minutes=gap)
            local = last.astimezone(zone).replace(tzinfo=None)
            assume(len(shown_as(local, zone)) == 1)
            touches[name] = last
    assume(touches)
    # A clock on the wall that was set meanwhile would show an earlier time.
    assume(sprayed.astimezone(zone).utcoffset() == last.astimezone(zone).utcoffset())
    return PastWindow(
        day=day,
        mix=draw(st.sampled_from(["M1", "M2"])),
        zone=draw(st.sampled_from(["", "top", "left leg", "vask, øvre"])),
        temp_c=draw(hundredths),
        rh_pct=draw(st.integers(20, 1000)) / 10,
        wind_kmh=draw(st.integers(0, 2000)) / 10,
        sprayed=sprayed,
        form_c=draw(st.none() | hundredths),
        **touches,
    )


def written(window, zone, *, comma):
    def number(value):
        return "" if value is None else f"{value:g}".replace(".", "," if comma else ".")

    def clock(name):
        moment = getattr(window, name)
        return "" if moment is None else f"{moment.astimezone(zone):%H:%M}"

    row = [str(window.day), window.mix, f'"{window.zone}"', number(window.temp_c)]
    row += [number(window.rh_pct), number(window.wind_kmh)]
    row += [clock(name) for name in ("sprayed", *TOUCHES)]
    return (";" if comma else ",").join([*row, number(window.form_c)])


@settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.filter_too_much,
    ],
)
@given(
    data=st.data(),
    zone=st.sampled_from([OSLO, UTC, ZoneInfo("America/Denver")]),
    comma=st.booleans(),
)
def test_rows_written_from_windows_come_back(read, data, zone, comma):
    drawn = data.draw(
        st.lists(windows(zone), min_size=1, max_size=5, unique_by=lambda w: w.key)
    )
    head = f"{HEAD},form_c"
    found = read(
        *(written(one, zone, comma=comma) for one in drawn),
        head=head.replace(",", ";") if comma else head,
        zone=zone,
    )
    assert list(found.fresh) == drawn
    again = read(
        *(written(one, zone, comma=comma) for one in drawn),
        head=head.replace(",", ";") if comma else head,
        zone=zone,
        known=found.fresh,
    )
    assert (again.fresh, again.known) == ((), len(drawn))
