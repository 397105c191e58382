"""A defect written down by key and by verb, on a sealed pour too; the counts."""

from __future__ import annotations

import json
from contextlib import asynccontextmanager
from datetime import timedelta

import pytest

from scheduling.defect import CODES, say_code
from support.hostile import TEXTS, harm
from support.person import Person
from tui.app import PourbellApp
from tui.cli import main
from tui.screens.ask import Ask
from tui.screens.defectlist import DefectList
from tui.session import Session

MINUTE = timedelta(minutes=1)
BEFORE_LIFT = ("mix-face", "flow-check", "spray")


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TMUX", "TERM_PROGRAM"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def session(folder, open_session):
    """A session of a silent shop at the reference climate."""
    text = folder.shop_file.read_text().replace("sound = true", "sound = false")
    folder.shop_file.write_text(text.replace("terminal = true", "terminal = false"))
    return open_session(folder)


def wait(session, minutes):
    session.time.advance_to(session.time.now() + minutes * MINUTE)


def lived(session, job="bare", *, lift_after=20, up_to="demould"):
    """A pour whose zones waited so many minutes for lift 1, marked up to a step."""
    name = session.start(session.folder.job(job), entry="face coat")
    for key in [span.key for span in session.pour(name).timeline.steps()]:
        if key.step == up_to:
            break
        if span_is_over(session, name, key):
            continue
        if key.step == "lift-1":
            wait(session, lift_after)
        session.mark(name, "started", key)
        session.mark(name, "finished", key)
    session.settle(name)
    return name


def span_is_over(session, name, key):
    return session.pour(name).state.record(key).ended is not None


def defects(session, name):
    session.load_one(name)
    return session.pour(name).state.defects


class Driver(Person):
    async def type(self, text):
        await self.keys(*({" ": "space"}.get(sign, sign) for sign in text))

    @property
    def shown(self):
        strips = self.app.screen._compositor.render_strips()
        return [strip.text.rstrip() for strip in strips[: self.app.size.height]]


@asynccontextmanager
async def program(session, name, size=(80, 24)):
    app = PourbellApp(session, first=name)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        person = Driver(app, pilot)
        await person.hush()
        await person.keys("c")
        yield person


class TestKey:
    @pytest.mark.parametrize("size", [(80, 24), (140, 40)])
    async def test_the_list_shows_every_code_and_where_to_look(self, session, size):
        async with program(session, lived(session), size) as person:
            await person.keys("w")
            assert isinstance(person.app.screen, DefectList)
            page = "\n".join(person.shown)
            for code, look in CODES.items():
                assert f"{say_code(code):<15}{look}" in page

    async def test_code_then_where_then_saved(self, session):
        name = lived(session)
        async with program(session, name) as person:
            await person.keys("w", "3", "enter")
            assert isinstance(person.app.screen, Ask)
            await person.type("inner edge")
            await person.keys("comma", "space", "4", "0", "enter")
            assert (
                "peel, field, inner edge, 40, found at demould - saved" in person.said
            )
        (found,) = defects(Session(session.folder, session.time), name)
        assert (found.code, found.zone, found.found_at) == ("peel", "field", "demould")
        assert (found.place, found.size) == ("inner edge", "40")

    @pytest.mark.parametrize(
        ("keys", "code"),
        [
            ((), "ghosting"),
            (("down",), "craze"),
            (("1", "1"), "film-peel"),
            (("1", "4"), "other"),
            (("1", "5"), "soft-spot"),
            (("9", "9"), "blotch"),
            (("0", "2", "up"), "ghosting"),
        ],
    )
    async def test_arrows_and_numbers_choose(self, session, keys, code):
        name = lived(session)
        async with program(session, name) as person:
            await person.keys("w", *keys, "enter", "x", "enter")
        assert [one.code for one in defects(session, name)] == [code]

    async def test_escape_leaves_and_nothing_is_written(self, session):
        name = lived(session)
        before = list(session.events(name))
        async with program(session, name) as person:
            await person.keys("w", "escape", "w", "enter", "x", "escape")
            assert session.events(name) == before

    async def test_undo_takes_it_back(self, session):
        name = lived(session)
        async with program(session, name) as person:
            await person.keys("w", "enter", "x", "enter")
            assert len(defects(session, name)) == 1
            await person.keys("u")
            assert defects(session, name) == ()

    async def test_the_zone_is_the_one_in_hand_or_the_one_that_is_typed(self, session):
        name = lived(session, "two-legged-desk", up_to="lift-1")
        zones = session.pour(name).timeline.process.zones
        async with program(session, name) as person:
            in_hand = person.app.screen.touched_zone(person.app.pour)
            await person.keys("w", "enter", "x", "enter")
            await person.keys("2", "w", "enter", "x", "enter")
            await person.keys("w", "enter", "3", "colon", "x", "enter")
        zoned = [one.zone for one in defects(session, name)]
        assert zoned == [in_hand, zones[1], zones[2]]

    async def test_of_several_zones_none_in_hand_is_none(self, session):
        name = lived(session, "two-legged-desk")
        async with program(session, name) as person:
            await person.keys("w", "enter", "x", "enter")
        assert [one.zone for one in defects(session, name)] == [""]

    @pytest.mark.parametrize(
        ("up_to", "stage"), [("hone-1", "hone"), ("mask", "seal"), ("wrap", "seal")]
    )
    async def test_where_it_was_found_follows_the_step_in_hand(
        self, session, up_to, stage
    ):
        name = lived(session, "court-bench", up_to=up_to)
        async with program(session, name) as person:
            await person.keys("w", "enter", "x")
            assert any(f"found at {stage}" in line for line in person.shown)
            await person.keys("enter")
        assert [one.found_at for one in defects(session, name)] == [stage]

    async def test_without_a_pour_it_is_refused(self, session):
        async with program(session, None) as person:
            await person.keys("w")
            assert "no pour is running" in person.said


@pytest.fixture
def typed(session, capsys):
    def type_(*words):
        argv = ["--shop", str(session.folder.path), *map(str, words)]
        code = main(argv, time=session.time)
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return type_


def as_json(typed, *words):
    code, out, err = typed(*words, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


class TestVerb:
    def test_writes_all_that_is_said(self, session, typed):
        name = lived(session)
        code, out, _ = typed(
            *("defect", name, "ghosting", "--step", "lift-1", "--place", "B3"),
            *("--size", "40 mm", "--found", "hone", "--action", "patch"),
            *("--hours", "1.5", "--material", "half a bag", "--note", "lamp"),
            *("--change-default", "--at", "-30"),
        )
        assert code == 0
        assert "ghosting, field, B3, 40 mm, found at hone, patch - saved" in out
        (found,) = defects(session, name)
        assert (found.step, found.extra_min) == ("lift-1", 90.0)
        assert (found.material, found.text) == ("half a bag", "lamp")
        assert found.change_default
        assert found.at == session.time.now() - 30 * MINUTE
        assert "defect: ghosting, field, B3" in typed("log", name)[1]

    def test_json_is_the_event(self, session, typed):
        name = lived(session)
        event = as_json(typed, "defect", name, "curl")["event"]
        (found,) = defects(session, name)
        assert (found.event, found.found_at, found.action) == (event, "demould", "")
        assert not found.change_default

    def test_a_sealed_pour_takes_it_and_is_sealed_again(self, session, typed):
        name = lived(session)
        session.put_away(name)
        session.settle(name)
        assert session.log.open_pours() == []
        session.time.advance_to(session.time.now() + timedelta(days=40))
        event = as_json(typed, "defect", name, "haze", "--action", "strip-sealer")
        fresh = Session(session.folder, session.time)
        (found,) = defects(fresh, name)
        assert (found.event, found.found_at) == (event["event"], "client")
        assert fresh.pour(name).over
        assert fresh.log.open_pours() == []
        assert as_json(typed, "defects")["codes"] == {"haze": 1}
        assert typed("undo", name)[0] == 0
        assert as_json(typed, "defects")["codes"] == {}

    @pytest.mark.parametrize(
        "words",
        [
            ("ghosts",),
            ("ghosting", "--zone", "cellar"),
            ("ghosting", "--step", "lift-9"),
            ("ghosting", "--found", "moon"),
            ("ghosting", "--action", "burn"),
            ("ghosting", "--hours", "-1"),
            ("ghosting", "--hours", "nan"),
            ("ghosting", "--place", ""),
            ("ghosting", "--note", "x" * 501),
        ],
    )
    def test_what_does_not_fit_is_refused_in_a_line(self, session, typed, words):
        name = lived(session)
        code, out, err = typed("defect", name, *words)
        assert (code, out, len(err.splitlines())) == (2, "", 1)
        assert defects(session, name) == ()


class TestDefects:
    @pytest.fixture
    def three(self, session):
        """Three pours: one ghosting after 10 min, one peel after 60, one of neither."""
        names = []
        for minutes, code in ((10, "ghosting"), (60, "peel"), (25, None)):
            name = lived(session, lift_after=minutes, up_to=None)
            if code is not None:
                session.defect(name, code, {"found_at": "hone"})
                session.settle(name)
            names.append(name)
            wait(session, 60)
        return names

    def test_counts_cases_and_what_stands_beside_them(self, three, typed):
        shown = as_json(typed, "defects")
        assert shown["pours"] == 3
        assert shown["codes"] == {"ghosting": 1, "peel": 1}
        assert shown["found_at"] == {"hone": 2}
        opens = shown["lift_1_reference_min"]["face opens"]
        assert opens["codes"] == ["ghosting"]
        assert opens["showing"] == pytest.approx([10], abs=0.1)
        assert [one["pour"] for one in shown["cases"]] == three[:2]
        (zone,) = shown["cases"][0]["zones"]
        assert zone["form_c"] == 21
        assert zone["wall_min"] == pytest.approx(10, abs=0.1)
        assert zone["reference_min"]["face closes"] == pytest.approx(10, abs=0.1)
        assert zone["opens"]["p50"] > zone["lift_1"]

    def test_a_code_alone(self, three, typed):
        shown = as_json(typed, "defects", "--code", "peel")
        assert (shown["pours"], shown["codes"]) == (3, {"peel": 1})
        code, out, _ = typed("defects", "--code", "peel")
        assert code == 0
        assert "peel           1 of 3 pours" in out
        assert "ghosting" not in out
        assert f"{three[1]}: peel, field, found at hone" in out
        assert "60 min after the spraying" in out

    @pytest.mark.usefixtures("three")
    def test_fits_80_columns_and_says_no_percentage(self, typed):
        code, out, err = typed("defects")
        assert (code, err) == (0, "")
        assert "ghosting       1 of 3 pours" in out
        assert "found at hone: 2 of 3 pours" in out
        assert max(map(len, out.splitlines())) <= 80
        assert "%" not in out

    def test_the_longest_names_fit_too(self, session, typed):
        name = lived(session, "two-legged-desk", up_to="mask")
        for code in CODES:
            session.defect(name, code, {"place": "x" * 200}, zone="right leg")
        session.settle(name)
        table = typed("defects")[1].split("\n\n")[-1]
        assert max(map(len, table.splitlines())) <= 80

    def test_nothing_on_record(self, session, typed):
        lived(session)
        assert typed("defects") == (0, "no defect on record in 1 pour\n", "")
        assert typed("defects", "--code", "curl")[1] == "no curl on record in 1 pour\n"


async def test_hostile_text_is_shown_as_text(session, typed):
    name = lived(session)
    for text in TEXTS:
        wrong = dict.fromkeys(("place", "size", "material", "text"), text)
        session.defect(name, "other", wrong)
    session.settle(name)
    for words in (("defects", "--code", "other"), ("log", name)):
        code, out, _ = typed(*words)
        assert code == 0
        assert harm(out.encode()) == []
    kept = len(TEXTS)
    async with program(session, name) as person:
        for text in TEXTS:
            await person.keys("w", "enter")
            person.app.screen.line.value = text
            await person.keys("enter", "escape")
            kept += bool(text.strip())
            assert len(defects(session, name)) == kept
            assert harm("\n".join(person.shown).encode()) == []
