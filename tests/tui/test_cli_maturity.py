"""``maturity``: what programs and people get, and what is refused."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from tui.cli import main

NOW = datetime(2030, 4, 2, 7, 0, tzinfo=UTC)
METHODS = ["nurse-saul", "arrhenius", "freiesleben-hansen-pedersen", "en-1992-1-1"]


@pytest.fixture
def shop(tmp_path):
    folder = ShopFolder(tmp_path / "shop")
    folder.adopt_samples()
    text = folder.shop_file.read_text(encoding="utf-8")
    text = text.replace('# zone = "Europe/Oslo"', 'zone = "Europe/Oslo"')
    folder.shop_file.write_text(text, encoding="utf-8")
    return folder


def in_us_units(shop):
    text = shop.shop_file.read_text(encoding="utf-8")
    assert 'units = "si"' in text
    text = text.replace('units = "si"', 'units = "us"')
    shop.shop_file.write_text(text, encoding="utf-8")


@pytest.fixture
def cli(shop, capsys):
    def run(*words):
        argv = ["--shop", str(shop.path), "maturity", *map(str, words)]
        code = main(argv, time=SimulatedTime(NOW))
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return run


@pytest.fixture
def file(tmp_path):
    def write(text, name="slab.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def found(cli, file):
    def read(text, *words):
        code, out, err = cli(file(text), *words, "--json")
        assert (code, err) == (0, "")
        return json.loads(out)

    return read


def steady(temp_c, hours, every=1):
    rows = "".join(f"{h},{temp_c}\n" for h in range(0, hours + 1, every))
    return f"Elapsed (h),temp_c\n{rows}"


def by_name(blocks):
    return {block["method"]: block for block in blocks["methods"]}


class TestJson:
    def test_has_the_keys_that_programs_rely_on(self, found):
        shown = found(steady(30, 48))
        assert list(shown) == ["hours", "readings", "gaps", "methods"]
        assert (shown["hours"], shown["readings"], shown["gaps"]) == (48, 49, [])
        assert [block["method"] for block in shown["methods"]] == METHODS
        for name, block in by_name(shown).items():
            assert block["reference_c"] == 20
            assert (block["temperature_time_factor_ch"] is None) == (name != METHODS[0])
            assert block["equivalent_age_h"] > 48

    def test_one_method_with_its_own_constants(self, found):
        words = ("--method", "nurse-saul", "--datum", "-10")
        (block,) = found(steady(20, 24), *words)["methods"]
        assert block["temperature_time_factor_ch"] == pytest.approx(720)
        assert block["equivalent_age_h"] == pytest.approx(24)
        words = (
            "--method",
            "arrhenius",
            "--activation-energy",
            "40",
            "--reference",
            23,
        )
        (block,) = found(steady(23, 24), *words)["methods"]
        assert block["equivalent_age_h"] == pytest.approx(24)
        assert block["activation_energy_kj_mol"] == 40

    def test_the_methods_keep_their_order(self, found):
        words = ("--method", "en-1992-1-1", "--method", "nurse-saul")
        names = [one["method"] for one in found(steady(20, 2), *words)["methods"]]
        assert names == ["nurse-saul", "en-1992-1-1"]

    def test_no_age_where_the_datum_leaves_none(self, found):
        words = ("--method", "nurse-saul", "--datum", "20")
        (block,) = found(steady(30, 10), *words)["methods"]
        assert block["temperature_time_factor_ch"] == pytest.approx(100)
        assert block["equivalent_age_h"] is None

    def test_gaps_are_told_with_their_instants_and_count_nothing(self, found):
        text = "Time,temp_c\n" + "".join(
            f"2030-04-01 {hour:02d}:00,20\n" for hour in (0, 1, 2, 6, 7)
        )
        shown = found(text)
        (gap,) = shown["gaps"]
        assert gap == {
            "start": "2030-04-01T02:00:00+02:00",
            "finish": "2030-04-01T06:00:00+02:00",
            "start_h": 2,
            "hours": 4,
        }
        assert shown["hours"] == 7
        assert by_name(shown)["nurse-saul"]["temperature_time_factor_ch"] == 60
        shown = found(text, "--gap", 4)
        assert shown["gaps"] == []
        assert by_name(shown)["nurse-saul"]["temperature_time_factor_ch"] == 140

    def test_of_several_probes_the_first_stands_on_top(self, found):
        text = "h;Slab °C;Air °F\n0;20;68\n1;30;68\n2;30;68\n"
        shown = found(text)
        assert [one["name"] for one in shown["channels"]] == ["Slab °C", "Air °F"]
        top = {key: shown[key] for key in ("hours", "readings", "gaps", "methods")}
        assert {**shown["channels"][0]} == {"name": "Slab °C", **top}
        only = found(text, "--channel", "air")
        assert "channels" not in only
        assert by_name(only)["nurse-saul"]["temperature_time_factor_ch"] == 40

    def test_notes_say_what_was_taken_for_granted(self, found):
        shown = found("h,temp\n0,20\n1,20\n1,20\n")
        assert "degC is taken" in shown["notes"][0]
        assert "counted once" in shown["notes"][1]

    def test_hours_outside_a_methods_range_are_told(self, found):
        block = by_name(found("h,temp_c\n0,-5\n1,-5\n2,5\n"))["en-1992-1-1"]
        assert block["outside_range_h"] == 1


class TestPage:
    def test_all_methods_in_one_table_of_80_columns(self, cli, file):
        text = "Time,Slab (°C)\n2030-04-01 00:00,20\n2030-04-01 01:00,20\n"
        code, out, err = cli(file(text))
        assert (code, err) == (0, "")
        assert all(name in out for name in METHODS)
        assert "Europe/Oslo" in out
        assert max(map(len, out.splitlines())) <= 80

    def test_gaps_and_what_they_mean_are_said(self, cli, file):
        _, out, _ = cli(file(steady(20, 60, every=3)))
        assert out.count("! gap after") == 8
        assert "! and 12 more gaps" in out
        assert "counts nothing" in " ".join(out.split())
        assert "0.0 h count" in out

    def test_the_shops_units(self, shop, cli, file):
        in_us_units(shop)
        _, out, _ = cli(file(steady(20, 10)), "--method", "nurse-saul")
        assert "factor °F h" in out
        assert "360.0" in out
        assert "68 °F" in out
        assert "datum 32 °F" in out


FIT = "temp_c,age_d,strength_mpa\n" + "".join(
    f"{temp},{age},{strength}\n"
    for temp, tests in {
        8: {1.5: 8.60, 3: 19.62, 6: 32.00, 12: 43.06, 24: 51.10, 48: 56.11},
        23: {0.75: 11.02, 1.5: 22.50, 3: 34.47, 6: 44.42, 12: 51.24, 24: 55.33},
        38: {0.5: 15.62, 1: 27.37, 2: 37.90, 4: 45.57, 8: 50.36, 16: 53.06},
    }.items()
    for age, strength in tests.items()
)
BREAKS = "Equivalent age (h),Strength (MPa)\n18,11.02\n36,22.5\n72,34.47\n144,44.42\n"


class TestFit:
    def test_constants_of_a_mix(self, found):
        # Derived: exact data of Ea 42 kJ/mol, rounded to 0.01 MPa.
        shown = found(FIT, "--fit")
        assert [one["temperature_c"] for one in shown["fits"]] == [8, 23, 38]
        assert shown["fits"][1]["k_per_d"] == pytest.approx(0.5, rel=0.002)
        assert shown["activation_energy_kj_mol"] == pytest.approx(42, rel=0.002)
        assert shown["datum_c"] == pytest.approx(3.364, abs=0.01)
        assert shown["datum_se_c"] > 0

    def test_strength_against_equivalent_age(self, found):
        shown = found(BREAKS, "--fit")
        (curve,) = shown["fits"]
        assert curve["temperature_c"] is None
        assert curve["ultimate_mpa"] == pytest.approx(60, abs=0.1)
        assert curve["t0_d"] == pytest.approx(0.3, abs=0.01)
        assert curve["residual_mpa"] < 0.02
        assert shown["activation_energy_kj_mol"] is shown["datum_c"] is None

    def test_pages(self, shop, cli, file):
        code, out, _ = cli(file(FIT), "--fit")
        assert code == 0
        assert "activation energy  42.0 ± 0.0 kJ/mol" in out
        assert max(map(len, out.splitlines())) <= 80
        in_us_units(shop)
        _, out, _ = cli("--fit", file(BREAKS))
        assert "Su psi" in out
        assert "activation" not in out


HEAD = "h,temp_c\n0,20\n1,20\n"


@pytest.mark.parametrize(
    ("text", "words", "says"),
    [
        (HEAD, ("--method", "nurse-saul", "--activation-energy", 40), "to arrhenius"),
        (HEAD, ("--method", "en-1992-1-1", "--reference", 20), "to arrhenius"),
        (HEAD, ("--method", "arrhenius", "--datum", 0), "to nurse-saul"),
        (HEAD, ("--method", "saul"), "en-1992-1-1"),
        (HEAD, ("--activation-energy", "nan"), '--activation-energy: "nan"'),
        (HEAD, ("--activation-energy", "0"), "--activation-energy"),
        (HEAD, ("--reference", "20C"), '--reference: "20C"'),
        (HEAD, ("--gap", "0"), "--gap"),
        (HEAD, ("--channel", "slab"), '"temp_c"'),
        (HEAD, ("--fit",), "a strength column"),
        (FIT, ("--fit", "--gap", 3), "--gap"),
        (FIT, ("--fit", "--method", "arrhenius"), "--method"),
        (FIT.replace("38,", "23,"), ("--fit",), "3 curing temperatures"),
        ("age_d,strength_mpa\n1,10\n2,20\n3,30\n", ("--fit",), "4 ages or more"),
        ("", (), "a time column"),
        ("name,price\nbench,3\n", (), "a time column"),
        ("h,temp_c\n0,20\n1,999\n", (), 'line 3: "999" - a temperature from -30'),
    ],
)
def test_bad_input_is_told_in_one_line(cli, file, text, words, says):
    path = file(text)
    code, out, err = cli(path, *words)
    assert (code, out) == (2, "")
    assert says in err
    assert len(err.splitlines()) == 1 or "column" in err
    assert "Traceback" not in err


def test_a_file_that_is_not_there(cli, tmp_path):
    code, _, err = cli(tmp_path / "no.csv")
    assert code == 2
    assert "a file that is there" in err
