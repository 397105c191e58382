"""T1 to T3: however the program ends, the terminal is usable and the log whole."""

from __future__ import annotations

import logging
import os
import re
import signal

import pytest

from scheduling.clock import WallTime
from support.terminal import (
    MODES,
    Program,
    is_alive,
    pour_due_in,
    silent_shop,
    wait_until,
)
from tui.launcher import names_verb, opens_program
from tui.session import Session
from tui.verbs import trouble

pytestmark = pytest.mark.skipif(os.name != "posix", reason="wants a pseudo-terminal")


@pytest.fixture
def shop(tmp_path):
    return silent_shop(tmp_path / "shop")


def log_is_whole(shop, name):
    session = Session(shop, WallTime())
    session.load()
    assert session.faults == {}
    assert session.pour(name)


def last_words(program):
    """What stands on the screen that the program left behind."""
    _, _, after = bytes(program.output).rpartition(b"\x1b[?1049l")
    return re.sub(r"\x1b(\[[0-?]*[ -/]*[@-~]|.)", "", after.decode()).strip()


@pytest.mark.parametrize(
    ("end", "status"),
    [
        (b"q", 0),
        (signal.SIGINT, 0),
        (signal.SIGTERM, 143),
        (signal.SIGHUP, 129),
    ],
)
def test_asked_to_end_it_leaves_the_terminal_in_order(shop, end, status):
    name, _due = pour_due_in(shop, 600)
    with Program(shop) as program:
        program.up()
        assert set(program.left_on()) == {*MODES, "raw"}
        if isinstance(end, bytes):
            program.press(end)
        else:
            program.send(end)
        assert program.ended() == status
        assert program.left_on() == []
        assert last_words(program) == ""
        wait_until(lambda: bool(program.watches()) == (end != b"q"))
    log_is_whole(shop, name)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_to_the_process_that_was_started_reaches_the_program(shop, number):
    pour_due_in(shop, 600)
    with Program(shop) as program:
        pid = program.up().pid
        program.process.send_signal(number)
        assert program.ended() == 128 + number
        assert not is_alive(pid)
        assert program.left_on() == []


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSEGV])
def test_a_program_that_is_gone_at_once_leaves_the_terminal_in_order(shop, number):
    name, _due = pour_due_in(shop, 600)
    with Program(shop) as program:
        program.up().send(number)
        assert program.ended() == 128 + number
        assert program.left_on() == []
        words = last_words(program)
        assert signal.Signals(number).name in words
        assert "rings on" in words
        assert "pourbell.log" in words
        assert program.watches()
    log_is_whole(shop, name)


def test_the_program_ends_when_the_process_that_was_started_is_killed(shop):
    pour_due_in(shop, 600)
    with Program(shop) as program:
        pid = program.up().pid
        program.process.kill()
        wait_until(lambda: not is_alive(pid))
        assert set(program.left_on()) <= {"raw"}
        assert program.watches()


@pytest.mark.parametrize("where", ["explode", "explode_in_worker", "explode_in_paint"])
def test_an_error_nobody_expects_leaves_words_and_no_traceback(shop, where):
    name, _due = pour_due_in(shop, 600)
    with Program(shop, sabotage=where) as program:
        program.up()
        (shop.path / "go").touch()
        assert program.ended() == 1
        assert program.left_on() == []
        words = last_words(program)
        assert "unexpected error" in words
        assert "pourbell.log" in words
        assert "Traceback" not in words
        assert "sabotage" not in words
        assert program.watches()
    kept = next((shop.path / "state").rglob("pourbell.log")).read_text()
    assert "sabotage" in kept
    log_is_whole(shop, name)


def test_where_no_log_file_can_be_written_it_opens_and_ends_all_the_same(shop):
    name, _due = pour_due_in(shop, 600)
    (shop.path / "state").write_text("a file in the way")
    with Program(shop, sabotage="explode") as program:
        program.up()
        (shop.path / "go").touch()
        assert program.ended() == 1
        assert program.left_on() == []
        assert "cannot be written" in last_words(program)
    log_is_whole(shop, name)


def test_the_log_file_is_cut_to_size_and_older_ones_go(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    with trouble.keeping() as path:
        for number in range(400):
            logging.getLogger("test").error("%06d %s", number, "x" * 10_000)
    kept = list(path.parent.iterdir())
    assert len(kept) == 1 + trouble.KEPT
    assert all(each.stat().st_size <= trouble.LARGEST_BYTES for each in kept)
    assert "000399" in path.read_text()


@pytest.mark.parametrize(
    ("line", "verb", "opens"),
    [
        ("", "", True),
        ("--shop here --by Bo", "", True),
        ("--shop=here", "", True),
        ("log --json", "log", False),
        ("--shop log start bare", "start", False),
        ("rehearse bare", "rehearse", True),
        ("rehearse bare --headless", "rehearse", False),
        ("--version", "--version", False),
    ],
)
def test_only_the_program_gets_a_process_that_waits_for_it(line, verb, opens):
    assert names_verb(line.split()) == verb
    assert opens_program(line.split()) == opens
