"""``cure``: what programs and people get, with made-up cures."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from support import cures
from tui.cli import main
from tui.session import Session

EVENING = datetime(2030, 4, 2, 19, 0, tzinfo=UTC)  # 21:00 in Oslo


@pytest.fixture
def shop(tmp_path):
    folder = ShopFolder(tmp_path / "shop")
    folder.adopt_samples()
    text = folder.shop_file.read_text(encoding="utf-8")
    text = text.replace('# zone = "Europe/Oslo"', 'zone = "Europe/Oslo"')
    folder.shop_file.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def start(shop):
    def begin(job):
        session = Session(shop, SimulatedTime(EVENING))
        return session.start(session.folder.job(job))

    return begin


@pytest.fixture(autouse=True)
def asked(monkeypatch):
    """What the verb asked for; answers with made-up cures."""
    found = []

    def cure(_, name, *, low_c=None, cover=None):
        found.append((name, low_c, cover))
        if name.startswith("bare"):
            return cures.not_cast(EVENING, name)
        return cures.cure(
            EVENING, low_c=low_c, cover=cover, pour=name, warnings=("It is cold.",)
        )

    monkeypatch.setattr(Session, "cure", cure)
    return found


@pytest.fixture
def cli(shop, capsys):
    def run(*words):
        argv = [str(word) for word in words]
        code = main(["--shop", str(shop.path), *argv], time=SimulatedTime(EVENING))
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return run


class TestJson:
    def pours(self, cli, *words):
        code, out, err = cli("cure", *words, "--json")
        assert (code, err) == (0, "")
        return json.loads(out)["pours"]

    def test_has_exactly_the_promised_keys(self, cli, start):
        name = start("court-bench")
        (pour,) = self.pours(cli)
        assert list(pour) == [
            "pour",
            "age_h",
            "equivalent_age_h",
            "piece_temp_c",
            "strength_mpa",
            "marks",
            "what_if",
        ]
        assert pour["pour"] == name
        assert pour["age_h"] == 7
        assert set(pour["strength_mpa"]) == {"p10", "p50", "p90"}
        assert all(set(m) == {"what", "at", "standing"} for m in pour["marks"])
        assert [m["what"] for m in pour["marks"]] == [
            "demould",
            "hone",
            "slurry",
            "seal",
            "ship",
        ]
        for one in pour["what_if"]:
            assert set(one) == {"cover", "low_c", "demould_at"}
        assert [one["cover"] for one in pour["what_if"]] == list(cures.COVERS)

    def test_times_have_the_shop_s_offset_and_unknown_ones_are_null(self, cli, start):
        start("court-bench")
        (pour,) = self.pours(cli)
        assert pour["marks"][0]["at"] == {
            "p10": "2030-04-03T06:58:48+02:00",
            "p50": "2030-04-03T10:58:48+02:00",
            "p90": "2030-04-03T16:58:48+02:00",
        }
        assert pour["marks"][-1]["at"] is None
        assert pour["what_if"][1]["demould_at"] == "2030-04-03T10:58:48+02:00"

    def test_without_a_name_it_is_all_that_are_cast(self, cli, start, asked):
        bench, slab, bare = map(start, ("court-bench", "potting-bench-slab", "bare"))
        assert {pour["pour"] for pour in self.pours(cli)} == {bench, slab}
        assert {name for name, _, _ in asked} == {bench, slab, bare}

    def test_of_one_that_is_not_cast_the_figures_are_null(self, cli, start):
        (pour,) = self.pours(cli, start("bare"))
        assert pour["age_h"] is None
        assert pour["equivalent_age_h"] is None
        assert pour["piece_temp_c"] is None
        assert pour["strength_mpa"] is None

    def test_with_nothing_in_the_log(self, cli):
        assert self.pours(cli) == []

    @pytest.mark.parametrize(
        ("typed", "cover"),
        [
            ("open", "open"),
            ("plastic", "plastic"),
            ("blanket", "blanket"),
            ("tent", "heated tent"),
        ],
    )
    def test_what_is_supposed(self, cli, start, asked, typed, cover):
        name = start("court-bench")
        self.pours(cli, name, "--low", "-3.5", "--cover", typed)
        assert asked == [(name, -3.5, cover)]

    def test_nothing_is_supposed_unless_it_is_said(self, cli, start, asked):
        name = start("court-bench")
        self.pours(cli, "court")
        assert asked == [(name, None, None)]


class TestText:
    def test_says_marks_and_covers(self, cli, start):
        name = start("court-bench")
        code, out, err = cli("cure")
        assert (code, err) == (0, "")
        lines = out.splitlines()
        assert lines[0] == f"{name}: Court bench"
        assert lines[1].startswith("piece 26.5 °C, 5.6 MPa (4.5 to 7.1), equivalent")
        assert ["plastic", "*", "12.0", "°C", "Wed", "10:58"] in [
            line.split()[:6] for line in lines
        ]
        assert "3 h 29 after" in out
        assert any("demould" in line and "06:58-16:58" in line for line in lines)
        assert "! It is cold." in lines
        assert "other mixes" in out

    def test_what_goes_for_every_pour_is_said_once(self, cli, start):
        start("court-bench"), start("potting-bench-slab")
        _, out, _ = cli("cure")
        assert out.count("ready to") == 2
        assert out.count("other mixes") == 1

    def test_of_one_that_is_not_cast(self, cli, start):
        code, out, _ = cli("cure", start("bare"))
        assert code == 0
        assert "not cast yet" in out

    def test_with_nothing_in_the_log(self, cli):
        assert cli("cure") == (0, "no pour is curing\n", "")


class TestBadInput:
    @pytest.mark.parametrize(
        ("words", "told"),
        [
            (("nosuch",), "no such pour"),
            (("--low", "cold"), "--low"),
            (("--low", "-60"), "-30 to 60"),
            (("--cover", "blankets"), 'did you mean "blanket"?'),
        ],
    )
    def test_is_refused_in_a_line(self, cli, start, words, told):
        start("court-bench")
        code, out, err = cli("cure", *words)
        assert (code, out) == (2, "")
        assert told in err
        assert err.count("\n") == 1


def test_a_pour_that_cannot_be_read_is_named_and_the_others_shown(cli, start, shop):
    good = start("potting-bench-slab")
    (shop.log / "old.0401.json").write_text('{"events": ', encoding="utf-8")
    code, out, err = cli("cure", "--json")
    assert code == 1
    assert "old.0401" in err
    assert [pour["pour"] for pour in json.loads(out)["pours"]] == [good]
