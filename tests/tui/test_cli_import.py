"""``import``: a logger's file into the log, whole or not at all, once."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder, samples
from scheduling.pourname import SHOP
from scheduling.shop import Pace, Timing
from scheduling.shopbook import window_data
from scheduling.spread import Spread
from tui.accepting import accept, refuse, write_book
from tui.cli import main
from tui.session import Session

NOW = datetime(2030, 4, 2, 12, 0, tzinfo=UTC)


class Desk:
    """A shop with one bare pour begun a day ago, and somebody who types."""

    def __init__(self, path, capsys):
        self.folder = ShopFolder(path / "shop")
        self.folder.adopt_samples()
        text = self.folder.shop_file.read_text()
        self.folder.shop_file.write_text('zone = "UTC"\n' + text)
        self.time = SimulatedTime(NOW - timedelta(days=1))
        self.capsys = capsys
        self.file = path / "logger.csv"
        self.pour = self.json("start", "bare")["pour"]
        self.time.advance_to(NOW)

    def type(self, *words):
        argv = ["--shop", str(self.folder.path), *map(str, words)]
        code = main(argv, time=self.time)
        shown = self.capsys.readouterr()
        return code, shown.out, shown.err

    def json(self, *words):
        code, out, err = self.type(*words, "--json")
        assert (code, err) == (0, ""), (words, err)
        return json.loads(out)

    def write(self, minutes, temp="20.5", head="time,temp,rh"):
        lines = [head]
        for minute in minutes:
            at = NOW - timedelta(days=1) + timedelta(minutes=minute)
            lines.append(f"{at:%Y-%m-%d %H:%M},{temp},45")
        self.file.write_text("\n".join(lines) + "\n")

    def add(self, *words):
        return self.json("import", self.pour, self.file, *words)

    def readings(self):
        session = Session(self.folder, self.time)
        session.load()
        return session.pour(self.pour).state.readings

    def events(self):
        return self.json("log", self.pour)["pours"][0]["events"]


@pytest.fixture
def desk(tmp_path, capsys):
    return Desk(tmp_path, capsys)


def test_a_file_of_the_piece_goes_into_the_log(desk):
    desk.write(range(0, 60, 10))
    found = desk.add("--as", "piece")
    assert found["rows"] == {
        "read": 6,
        "used": 6,
        "known": 0,
        "close": 0,
        "outside": 0,
        "refused": 0,
    }
    assert [one.piece_c for one in desk.readings()] == [20.5] * 6
    assert {one.rh_pct for one in desk.readings()} == {None}
    event = desk.events()[-1]
    assert event["id"] == found["event"]
    assert event["data"]["source"].startswith("logger.csv sha256:")


def test_the_shop_is_what_is_meant_and_has_its_humidity(desk):
    desk.write((0, 10))
    desk.add()
    assert {(one.shop_c, one.rh_pct) for one in desk.readings()} == {(20.5, 45.0)}


def test_twice_adds_nothing_and_more_adds_the_rest(desk):
    desk.write(range(0, 60, 10))
    assert desk.add()["rows"]["used"] == 6
    again = desk.add()
    assert (again["event"], again["rows"]["used"], again["rows"]["known"]) == (
        None,
        0,
        6,
    )
    desk.write(range(0, 90, 10))
    assert desk.add()["rows"]["used"] == 3
    assert len(desk.readings()) == 9
    assert len([one for one in desk.events() if one["kind"] == "reading"]) == 2


def test_a_dense_file_is_thinned_and_an_old_one_cut(desk):
    desk.write([-3000, *range(60)])
    rows = desk.add()["rows"]
    assert (rows["outside"], rows["used"], rows["close"]) == (1, 12, 48)


def test_a_dry_run_says_and_adds_nothing(desk):
    desk.write(range(0, 60, 10))
    before = desk.events()
    code, out, err = desk.type("import", desk.pour, desk.file, "--dry-run")
    assert (code, err) == (0, "")
    assert "6 rows read" in out
    assert "6 would be added" in out
    assert "from Mon 1 April 2030 12:00" in out
    assert "saved" not in out
    assert desk.events() == before


def test_a_bad_row_refuses_the_whole_file_by_its_line(desk):
    desk.write(range(0, 30, 10))
    lines = desk.file.read_text().splitlines()
    lines[2] = lines[2].replace("20.5", "-127")
    desk.file.write_text("\n".join(lines) + "\n")
    before = desk.events()
    code, out, err = desk.type("import", desk.pour, desk.file)
    assert (code, out) == (2, "")
    assert "line 3: -127" in err
    assert "nothing is imported" in err
    code, out, err = desk.type("import", desk.pour, desk.file, "--dry-run")
    assert code == 2
    assert "3 rows read" in out
    assert "1 refused" in out
    assert "line 3: -127" in err
    assert desk.events() == before


def test_times_to_come_are_refused(desk):
    desk.write((0, 1500))
    code, _, err = desk.type("import", desk.pour, desk.file)
    assert code == 2
    assert "Tue 2 April 2030 13:00" in err
    assert desk.readings() == ()


def test_undo_takes_the_whole_file_back_and_it_can_come_again(desk):
    desk.write(range(0, 60, 10))
    desk.add()
    assert desk.type("undo", desk.pour)[0] == 0
    assert desk.readings() == ()
    assert desk.add()["rows"]["used"] == 6
    assert len(desk.readings()) == 6


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nobody", "logger.csv"), "no such pour"),
        (("bare", "missing.csv"), "a file that is there"),
        (("bare", "logger.csv", "--as", "moon"), "one of shop, form, mix, piece"),
    ],
)
def test_bad_input_is_one_line(desk, words, said):
    code, out, err = desk.type("import", *words)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_the_forecast_follows_at_once(desk):
    before = desk.json("log", desk.pour)
    session = Session(desk.folder, desk.time)
    session.load()
    usual = session.pour(desk.pour).timeline.demould.p50
    desk.write(range(0, 1440, 10), temp="12.0")
    desk.add()
    session.load()
    assert session.pour(desk.pour).timeline.demould.p50 > usual
    assert before["pours"][0]["pour"] == desk.pour


# -- past pours from paper

PAPER = (
    "date,mix,zone,temp_c,rh_pct,wind_kmh,sprayed,"
    "last_soft,first_ready,first_going_off,first_gone"
)
ROWS = (
    "2030-03-04,M1,top,17.5,,2,10:05,10:24,10:30,10:51,11:02",
    "2030-03-04,M1,leg,17.5,,2,10:12,10:31,10:36,,",
    "2030-03-11,M1,,24,40,2,09:30,09:41,09:46,10:01,",
)


@pytest.fixture
def paper(tmp_path):
    path = tmp_path / "past.csv"

    def write(*rows):
        path.write_text("\n".join([PAPER, *rows]) + "\n")
        return path

    return write


def book(desk):
    session = Session(desk.folder, desk.time)
    session.load()
    return session.book


def test_past_pours_go_into_the_shops_book_once(desk, paper):
    path = paper(*ROWS)
    found = desk.json("import", path)
    assert found["windows"] == {"added": 3, "replaced": 0, "known": 0}
    assert (found["pours"], found["assumed"]) == (2, {"rh_pct": 2})
    kept = book(desk)
    assert [one.zone for one in kept.windows] == ["top", "leg", ""]
    assert {one.name for one in kept.past} == {"face opens", "face closes"}
    assert desk.json("import", path)["windows"]["known"] == 3
    assert book(desk).windows == kept.windows
    code, out, err = desk.type(
        "import", paper(*ROWS, ROWS[2].replace("03-11", "03-12"))
    )
    assert (code, err) == (0, "")
    assert "1 window of 1 pour added, 3 in the log already" in out
    assert "50 % RH by the shop's typical day in 2 rows" in out
    assert out.endswith("saved\n")


def test_the_sample_of_past_pours_goes_in_and_teaches(desk):
    sample = samples() / "past-pours.csv"
    desk.time.advance_to(NOW + timedelta(days=1))
    assert desk.json("import", sample)["windows"]["added"] == 36
    opens = desk.json("timings", "--name", "face opens")["timings"][0]
    assert opens["pours"] > 20
    assert opens["learned"]["p90"] < opens["default"]["p50"]


def test_a_dry_run_of_past_pours_says_and_adds_nothing(desk, paper):
    before = desk.events()
    code, out, err = desk.type("import", paper(*ROWS), "--dry-run")
    assert (code, err) == (0, "")
    assert "3 windows of 2 pours would be added, 0 in the log already" in out
    assert "saved" not in out
    assert book(desk).windows == ()
    assert desk.events() == before


def test_a_fault_in_past_pours_adds_none_of_them(desk, paper):
    path = paper(ROWS[0], ROWS[1].replace("M1", "M7"), ROWS[2].replace("24", "hot"))
    code, out, err = desk.type("import", path)
    assert (code, out) == (2, "")
    assert 'line 3, mix: "M7" - one of the shop\'s mixes: M1' in err
    assert 'line 4, temp_c: "hot" - a number' in err
    assert book(desk).windows == ()


def test_past_pours_with_other_times_clash(desk, paper):
    desk.json("import", paper(*ROWS))
    path = paper(ROWS[0].replace("10:30", "10:33"), ROWS[2].replace("03-11", "03-12"))
    code, _, err = desk.type("import", path)
    assert code == 2
    assert '"first_ready 10:33" - the log has first_ready 10:30' in err
    assert "write --replace" in err
    assert len(book(desk).windows) == 3


def test_other_values_take_the_place_of_the_old_ones_if_asked_to(desk, paper):
    desk.json("import", paper(*ROWS))
    rows = (ROWS[0].replace("10:30", "10:33"), ROWS[1], ROWS[2].replace("11", "12"))
    code, out, err = desk.type("import", paper(*rows), "--replace", "--dry-run")
    assert (code, err) == (0, "")
    assert "1 window of 1 pour would be added, 1 in the log already" in out
    assert "  1 window would be replaced\n" in out
    assert book(desk).windows[0].first_ready.minute == 30
    found = desk.json("import", "--replace", paper(*rows))
    assert found["windows"] == {"added": 1, "replaced": 1, "known": 1}
    kept = book(desk).windows
    assert [one.zone for one in kept] == ["top", "leg", "", ""]
    assert kept[0].first_ready.minute == 33
    lines = (desk.folder.log / "live" / "shop.jnl").read_text().splitlines()
    assert len(lines) == 2  # a line for each commit
    assert desk.json("import", paper(*rows), "--replace")["windows"]["known"] == 3
    code, out, _ = desk.type("import", paper(*rows), "--replace")
    assert "nothing new" in out


def test_undo_of_a_window_that_took_the_place_of_another_brings_that_back(desk, paper):
    desk.json("import", paper(ROWS[0]))
    desk.json("import", "--replace", paper(ROWS[0].replace("10:30", "10:33")))
    assert desk.type("undo", "shop")[0] == 0
    (one,) = book(desk).windows
    assert one.first_ready.minute == 30
    assert desk.type("undo", "shop")[0] == 0
    assert book(desk).windows == ()


def test_a_window_that_two_programs_brought_is_replaced_in_both(desk, paper):
    desk.json("import", paper(ROWS[0]))
    session = Session(desk.folder, desk.time)
    session.load()
    data = window_data(session.book.windows[0])
    write_book(session, session.event(SHOP, "past", data=data))
    desk.json("import", "--replace", paper(ROWS[0].replace("10:30", "10:33")))
    (one,) = book(desk).windows
    assert one.first_ready.minute == 33


@pytest.mark.parametrize("words", [("bare", "logger.csv"), ("log.jsonl",)])
def test_only_past_pours_are_replaced(desk, words):
    code, out, err = desk.type("import", *words, "--replace")
    assert (code, out) == (2, "")
    assert "import FILE.csv --replace" in err


def test_undo_takes_the_newest_entry_of_the_shops_book_back_and_says_which(desk, paper):
    code, _, err = desk.type("undo", "shop")
    assert (code, "nothing to take back" in err) == (2, True)
    desk.json("import", paper(*ROWS))
    code, out, err = desk.type("undo", "shop")
    assert (code, err) == (0, "")
    assert out.startswith(
        "shop: taken back: past window M1, sprayed 2030-03-11 09:30 - saved"
    )
    assert [one.zone for one in book(desk).windows] == ["top", "leg"]
    session = Session(desk.folder, desk.time)
    session.load()
    accept(session, Timing("face opens", "M1", Spread(9.0, 0.4), 9), Spread(18.0))
    refuse(session, Pace("hone", Spread(0.8, 0.2), 4), Spread(1.0))
    _, out, _ = desk.type("undo", "shop")
    assert "taken back: refused hone, work, of Tue 2 April 2030 12:00" in out
    _, out, _ = desk.type("undo", "shop")
    assert "taken back: accepted face opens, M1, of" in out
    assert book(desk).accepted == {}
    assert desk.json("undo", "shop")["event"]
    assert [one.zone for one in book(desk).windows] == ["top"]
    # A pour is undone as ever.
    code, _, err = desk.type("undo", desk.pour)
    assert (code, "nothing to take back" in err) == (2, True)


@pytest.mark.parametrize(
    "order",
    [
        ("POUR", "FILE", "--as", "piece"),
        ("POUR", "--as", "piece", "FILE"),
        ("--as", "piece", "POUR", "FILE"),
        ("--as", "piece", "POUR", "--dry-run", "FILE"),
        ("--dry-run", "POUR", "FILE", "--as=piece"),
    ],
)
def test_options_may_stand_anywhere(desk, order):
    desk.write((0, 10))
    names = {"POUR": desk.pour, "FILE": desk.file}
    found = desk.json("import", *(names.get(word, word) for word in order))
    assert (found["as"], found["rows"]["used"]) == ("piece", 2)
    assert found["dry_run"] is ("--dry-run" in order)


def test_past_pours_come_along_with_an_export(desk, paper, tmp_path):
    desk.json("import", paper(*ROWS))
    _, out, _ = desk.type("export", "shop")
    assert len(out.splitlines()) == 3
    path = tmp_path / "shop.jsonl"
    path.write_text(out)
    assert desk.json("import", path) == {
        "file": "shop.jsonl",
        "dry_run": False,
        "added": 0,
        "known": 3,
        "pours": [
            {"pour": "shop", "in_file": "shop", "new": False, "added": 0, "known": 3}
        ],
    }


def test_any_other_file_alone_is_refused_with_what_would_be_right(desk):
    desk.write((0, 10))
    code, out, err = desk.type("import", desk.file)
    assert (code, out) == (2, "")
    assert "import POUR FILE.csv" in err
    assert ".jsonl" in err
    code, _, err = desk.type("import", desk.file, "--as", "piece")
    assert code == 2
    assert "--as: piece - only with a pour" in err
