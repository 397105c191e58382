"""T7: text that people or files supply stops no screen and steers no terminal."""

from __future__ import annotations

import os
import re
import time
from contextlib import suppress

import pytest

from scheduling.clock import WallTime
from support.hostile import ESCAPE, HARMLESS_KEYS, OWN, TEXTS, harm, pour_each
from support.terminal import Program, silent_shop, wait_until
from tui.cli import main
from tui.session import Session

pytestmark = pytest.mark.skipif(os.name != "posix", reason="wants a pseudo-terminal")


def write_jobs(shop):
    """Job files that hold the texts, and one whose name does."""
    for number, text in enumerate(TEXTS):
        title = re.sub(r'["\\]', "", text)
        path = shop.jobs / f"job-{number}.toml"
        path.write_bytes(f'title = "{title}"\n'.encode("utf-8", "surrogatepass"))
    (shop.jobs / "\x1b[5;35mname.toml").write_text("title = 3")


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A shop with a pour for each text, and job files with it."""
    made = silent_shop(tmp_path_factory.mktemp("hostile") / "shop")
    write_jobs(made)
    pour_each(made, WallTime())
    return made


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """A shop with one plain pour, and the same job files."""
    made = silent_shop(tmp_path_factory.mktemp("plain") / "shop")
    write_jobs(made)
    Session(made, WallTime()).start(made.job("bare"))
    return made


def wander(program, keys, pause=0.05):
    for key in keys:
        program.press(key)
        time.sleep(pause)


QUESTIONS = {
    b"t": b"Numbers with their word",
    b"i": b"Names with commas",
    b"e": b"Such as 9:42",
}


def notes(shop):
    """How many notes are on the disk."""
    journals = (shop.log / "live").glob("*.jnl")
    return sum(journal.read_text().count('"note"') for journal in journals)


def ask(program, key, title):
    """Opens a question; a key on the heels of another may be lost with a dialog."""
    since = len(program.output)

    def is_up():
        return title in program.output[since:]

    for _ in range(20):
        program.press(key)
        with suppress(AssertionError):
            return wait_until(is_up, 1)
    raise AssertionError(f"{title} does not come up")


def paste(program, text):
    program.press(b"\x1b[200~" + text.encode() + b"\x1b[201~\r")


def test_on_every_screen(shop):
    before = notes(shop)
    with Program(shop) as program:
        program.up()
        wander(program, HARMLESS_KEYS)
        wander(program, [ESCAPE, ESCAPE, b"c"], 0.2)
        for text in filter(str.strip, TEXTS):
            ask(program, b"n", b"A line for the log")
            saved = notes(shop)
            paste(program, text[:200])  # longer than a line of the log may be
            wait_until(lambda saved=saved: notes(shop) > saved)
        for key, title in QUESTIONS.items():
            ask(program, key, title)
            for text in TEXTS:
                paste(program, text)
                wander(program, [b"\x15"])
            program.press(ESCAPE)
            time.sleep(0.2)
        program.press(b"b")
        program.press(b"q")
        assert program.ended(20) == 0
        assert harm(program.output) == []
        assert b"unexpected" not in program.output
    assert notes(shop) == before + len([text for text in TEXTS if text.strip()])
    kept = list((shop.path / "state").rglob("pourbell.log"))
    assert [path.read_text() for path in kept] == []


def said(capfdbinary, shop, *words):
    """Runs a verb and checks what it sends to the terminal."""
    code = main(["--shop", str(shop.path), *words])
    shown = capfdbinary.readouterr()
    assert code in (0, 1, 2), words
    assert harm(shown.out + shown.err) == [], words
    assert b"unexpected" not in shown.err


@pytest.mark.parametrize("words", ["", "--json", "--csv", "--by-step", "--by-job"])
def test_out_of_the_log(shop, capfdbinary, words):
    said(capfdbinary, shop, "log", *words.split())


@pytest.mark.parametrize("words", ["", "--json", "--code other"])
def test_out_of_the_defects(shop, capfdbinary, words):
    said(capfdbinary, shop, "defects", *words.split())


@pytest.mark.parametrize("number", range(len(TEXTS)))
def test_out_of_a_file_and_into_a_verb(plain, capfdbinary, number):
    text = TEXTS[number]
    for verb in ("timeline", "takeoff", "start"):
        said(capfdbinary, plain, verb, f"job-{number}")
    for words in (
        ("note", "bare", text),
        ("hands", "bare", text),
        ("touch", "bare", text, "soft"),
        ("mark", "bare", text, "started"),
        ("ack", "bare", text),
        ("defect", "bare", text),
        ("defect", "bare", "other", "--zone", text),
        ("defect", "bare", "other", "--step", text),
        *(
            ("defect", "bare", "other", f"--{flag}", text)
            for flag in ("place", "size", "note", "material")
        ),
        ("defects", "--code", "other"),
        ("mark", text, "spray", "started"),
        ("--by", text, "note", "bare", "x"),
        ("timeline", text),
        (text,),
    ):
        said(capfdbinary, plain, *words)


def test_harm_would_be_seen():
    for own in OWN:
        assert harm(f"plain \x1b{own} plain".encode())
    for sign in "\0\x1b\x7f\x9b\u202e\u2066":
        assert harm(f"plain {sign} plain".encode())
    assert harm(b"\x1b[?1049h\x1b[1;1H\x1b[38;2;1;2;3mBoard\x1b[0m\r\n\x07") == []
