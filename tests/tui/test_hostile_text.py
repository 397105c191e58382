"""T7: text that people or files supply stops no screen and steers no terminal."""

from __future__ import annotations

import os
import re
import time

import pytest

from scheduling.clock import WallTime
from support.hostile import HARMLESS_KEYS, OWN, TEXTS, harm, pour_of
from support.terminal import Program, silent_shop
from tui.cli import main
from tui.session import Session

pytestmark = pytest.mark.skipif(os.name != "posix", reason="wants a pseudo-terminal")


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A shop with a pour for each text, and jobs and air whose files hold it."""
    made = silent_shop(tmp_path_factory.mktemp("hostile") / "shop")
    for number, text in enumerate(TEXTS):
        pour_of(made, WallTime(), text)
        job = made.jobs / f"job-{number}.toml"
        title = re.sub(r'["\\]', "", text)
        job.write_bytes(f'title = "{title}"\n'.encode("utf-8", "surrogatepass"))
    (made.jobs / "\x1b[5;35mname.toml").write_text("title = 3")
    return made


def wander(program, keys, pause=0.12):
    for key in keys:
        program.press(key)
        time.sleep(pause)


def test_on_every_screen(shop):
    with Program(shop) as program:
        program.up()
        wander(program, HARMLESS_KEYS)
        for text in TEXTS:  # each into each question: note, reading, who is in, time
            pasted = b"\x1b[200~" + text.encode() + b"\x1b[201~\r"
            for key in (b"n", b"t", b"i", b"e"):
                wander(program, [key, pasted, b"\x1b"], 0.03)
        wander(program, [b"\x1b", b"b"])
        program.press(b"q")
        assert program.ended(20) == 0
        assert harm(program.output) == []
        assert b"unexpected" not in program.output
    kept = list((shop.path / "state").rglob("pourbell.log"))
    assert [path.read_text() for path in kept] == []


@pytest.mark.parametrize(
    "words",
    [
        "log",
        "log --json",
        "log --csv",
        "log --by-step",
        "log --by-job",
        "timeline job-0",
        "takeoff job-4",
        *(f"start job-{number}" for number in range(len(TEXTS))),
    ],
)
def test_from_a_verb(shop, capfdbinary, words):
    code = main(["--shop", str(shop.path), *words.split()])
    shown = capfdbinary.readouterr()
    assert code in (0, 2)
    assert harm(shown.out + shown.err) == []
    assert b"unexpected" not in shown.err


@pytest.mark.parametrize("text", TEXTS, ids=range(len(TEXTS)))
def test_into_a_verb(shop, capfdbinary, text):
    session = Session(shop, WallTime())
    session.load()
    pour = next(iter(session.pours))
    for words in (
        ("note", pour, text),
        ("hands", pour, text),
        ("touch", pour, text, "soft"),
        ("mark", pour, text, "started"),
        ("ack", pour, text),
        ("mark", text, "spray", "started"),
        ("--by", text, "note", pour, "x"),
        ("timeline", text),
        (text,),
    ):
        code = main(["--shop", str(shop.path), *words])
        shown = capfdbinary.readouterr()
        assert code in (0, 1, 2), words
        assert harm(shown.out + shown.err) == []
        assert b"unexpected" not in shown.err


def test_harm_would_be_seen():
    for own in OWN:
        assert harm(f"plain \x1b{own} plain".encode())
    for sign in "\0\x1b\x7f\x9b\u202e\u2066":
        assert harm(f"plain {sign} plain".encode())
    assert harm(b"\x1b[?1049h\x1b[1;1H\x1b[38;2;1;2;3mBoard\x1b[0m\r\n\x07") == []
