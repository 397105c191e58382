"""Bad input: a clear line on standard error, exit status 2, nothing written."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from tui.cli import main
from tui.verbs import program

NOW = datetime(2030, 4, 2, 7, 0, tzinfo=UTC)  # Tuesday 09:00 in Oslo
POUR = "two-legged-desk.0402"
NO_JOBS = {
    "empty": b"",
    "huge": b"# " + b"x" * 10_000_000,
    "latin": 'title = "Bänk"\n'.encode("latin-1"),
    "no-toml": b"title = \n",
    "numbers": b"title = 'a'\n[piece]\nlength = 1500\n",
    "zeros": b"\0" * 100,
}


@pytest.fixture(autouse=True)
def out_of_the_way(tmp_path, monkeypatch):
    """Keeps the trouble log in the test's own folder, and the program shut."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr(program, "is_terminal", lambda _stream: False)


@pytest.fixture
def shop(tmp_path, capsys):
    folder = ShopFolder(tmp_path / "shop")
    folder.adopt_samples()
    text = folder.shop_file.read_text(encoding="utf-8")
    text = text.replace('# zone = "Europe/Oslo"', 'zone = "Europe/Oslo"')
    folder.shop_file.write_text(text, encoding="utf-8")
    time = SimulatedTime(NOW)
    assert (
        main(["--shop", str(folder.path), "start", "two-legged-desk"], time=time) == 0
    )
    capsys.readouterr()
    return folder


def contents(folder):
    return {
        str(path): path.read_bytes() if path.is_file() else None
        for path in folder.path.rglob("*")
    }


def refused(shop, capsys, *words):
    """Checks that a command is refused and changes nothing; returns the complaint."""
    before = contents(shop)
    argv = ["--shop", str(shop.path), *map(str, words)]
    code = main(argv, time=SimulatedTime(NOW))
    shown = capsys.readouterr()
    assert code == 2, (words, shown)
    assert shown.out == ""
    assert len(shown.err.splitlines()) >= 1
    assert "Traceback" not in shown.err
    assert contents(shop) == before
    return shown.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("timeline", "two-leged-desk"), 'did you mean "two-legged-desk"?'),
        (("takeoff", "nothing-like-it"), "no such job"),
        (("takeoff", "x" * 5000), "JOB"),
        (("timeline", "bare", "--temp", "nan"), '--temp: "nan"'),
        (("timeline", "bare", "--temp", "inf"), "--temp"),
        (("timeline", "bare", "--temp", "-inf"), "--temp"),
        (("timeline", "bare", "--temp", "61"), "-30 to 60"),
        (("timeline", "bare", "--temp", "21C"), '--temp: "21C"'),
        (("timeline", "bare", "--temp", "1_0"), "--temp"),
        (("timeline", "bare", "--rh", "101"), '--rh: "101"'),
        (("timeline", "bare", "--wind", "-1"), '--wind: "-1"'),
        (("timeline", "bare", "--casting", "2"), "--casting"),
        (("timeline", "bare", "--casting", "0"), "--casting"),
        (("timeline", "bare", "--start", "2030-02-30 07:30"), "no such date"),
        (("timeline", "bare", "--start", "2030-03-31 02:30"), "does not exist"),
        (("timeline", "bare", "--start", "2030-10-27 02:30"), "comes twice"),
        (("timeline", "bare", "--start", "7"), "--start"),
        (("timeline", "bare", "--climate", "no.csv"), "no.csv"),
        (("timeline", "bare", "--temp", "20", "--climate", "no.csv"), "not both"),
        (("start", "bare", "--from", "the end"), "--from"),
        (("start", "bare", "--at", "2030-03-31 02:30"), "--at"),
        (("mark", POUR, "base", "begun"), 'STATE: "begun"'),
        (("mark", POUR, "bose", "started"), 'did you mean "base"?'),
        (("mark", POUR, "spray", "started", "--zone", "tip"), '"top"'),
        (("mark", POUR, "base", "started", "--at", "yesterday 25:00"), "--at"),
        (("mark", "nothing", "base", "started"), "no such pour"),
        (("mark", "../shop", "base", "started"), "no such pour"),
        (("mark", POUR), "STEP, STATE"),
        (("touch", POUR, "top", "sof"), 'did you mean "soft"?'),
        (("touch", POUR, "tpo", "soft"), '"top"'),
        (("reading", POUR), "at least one of --temp"),
        (("reading", POUR, "--piece", "nan"), "--piece"),
        (("fogged", POUR, "tpo"), '"top"'),
        (("hands", POUR, "Zoe"), "Zoe"),
        (("note", POUR, " "), "TEXT"),
        (("note", POUR, "\udcff"), "UTF-8"),
        (("note", POUR, "x" * 501), "500"),
        (("undo", POUR), "nothing to take back"),
        (("export", "nothing"), "no such pour"),
        (("export", POUR, "--csv"), "--csv"),
        (("import", "no.jsonl"), "no.jsonl"),
        (("import", "no.csv"), "a file that is there"),
        (("import", "no.csv", "--as", "piece"), "only with a pour"),
        (("import", "shop", "no.csv"), "no such pour"),
        (("import",), "FILE"),
        (("check", "--set-aside", "nothing"), "no such pour"),
        (("--by", "", "note", POUR, "x"), "--by"),
        (("rehearse", "bare", "--headless", "--hands-on"), "--hands-on"),
        (("rehearse", "bare", "--headless", "--speed", "60"), "--speed"),
        (("rehearse", "bare", "--speed", "0"), '--speed: "0"'),
        (("rehearse", "bare", "--json"), "--json"),
        (("rehearse", "bare"), "terminal"),
        (("tmeline", "bare"), 'did you mean "timeline"?'),
        (("timeline",), "JOB"),
        (("timeline", "bare", "--frobnicate"), "--frobnicate"),
        ((), "terminal"),
    ],
)
def test_is_refused_in_one_line(shop, capsys, words, says):
    complaint = refused(shop, capsys, *words)
    assert says in complaint
    assert len(complaint.splitlines()) == 1


@pytest.mark.parametrize(
    "name", ["empty", "huge", "latin", "no-toml", "numbers", "zeros"]
)
def test_a_file_that_is_no_job(shop, capsys, tmp_path, name):
    path = tmp_path / f"{name}.toml"
    path.write_bytes(NO_JOBS[name])
    for verb in ("timeline", "takeoff", "start"):
        complaint = refused(shop, capsys, verb, path)
        assert all(path.name in line for line in complaint.splitlines())


def test_a_folder_is_no_job(shop, capsys, tmp_path):
    assert "folder" in refused(shop, capsys, "takeoff", tmp_path)


def test_every_fault_of_the_shop_file_has_its_line(shop, capsys):
    shop.shop_file.write_text('units = "miles"\nmixer_load = 25\n')
    complaint = refused(shop, capsys, "log")
    assert len(complaint.splitlines()) == 2
    assert "units" in complaint
    assert "mixer_load" in complaint


def test_a_job_whose_mix_the_shop_does_not_have(shop, capsys):
    path = shop.jobs / "court-bench.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('mix = "M1"', 'mix = "M7"'), encoding="utf-8")
    for verb in ("timeline", "takeoff", "start"):
        assert "M7" in refused(shop, capsys, verb, "court-bench")


def test_a_shop_that_never_opens_says_so(shop, capsys):
    text = shop.shop_file.read_text(encoding="utf-8")
    rule = 'closed_rule = "FREQ=DAILY"\n[equipment]'
    shop.shop_file.write_text(text.replace("[equipment]", rule), encoding="utf-8")
    for words in (("timeline", "bare"), ("rehearse", "bare", "--headless")):
        assert "shop.toml: hours" in refused(shop, capsys, *words)


def test_a_file_in_the_place_of_the_shop_folder(shop, capsys, monkeypatch):
    assert main(["--shop", str(shop.shop_file), "log"]) == 2
    assert "--shop" in capsys.readouterr().err
    monkeypatch.setenv("POURBELL_SHOP", str(shop.shop_file))
    assert main(["log"]) == 2
    assert "POURBELL_SHOP" in capsys.readouterr().err


WORDS = st.sampled_from(
    [
        "timeline",
        "takeoff",
        "mark",
        "touch",
        "reading",
        "ack",
        "note",
        "log",
        "export",
        "import",
        "shop",
        "new",
        "bare",
        "court-bench",
        POUR,
        "top",
        "base",
        "started",
        "soft",
        "--json",
        "--temp",
        "--rh",
        "--start",
        "--at",
        "--zone",
        "--by",
        "--csv",
        "--casting",
        "--help",
        "-5",
        "21",
        "100",
        "nan",
        "9:30",
        "2030-04-01 07:30",
        "",
        "é",
        "\udc80",
        "\x1b[2J",
        "/",
        "--",
    ]
)


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(words=st.lists(WORDS | st.text(max_size=6), max_size=6))
def test_any_words_end_with_a_known_status(shop, capsys, words):
    before = contents(shop)
    code = main(["--shop", str(shop.path), *words], time=SimulatedTime(NOW))
    shown = capsys.readouterr()
    assert code in (0, 1, 2)
    assert "unexpected" not in shown.err
    assert "\x1b" not in shown.out + shown.err
    assert (shown.err != "") == (code != 0)
    if code == 2:
        assert shown.out == ""
        assert contents(shop) == before
