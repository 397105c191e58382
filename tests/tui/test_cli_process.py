"""The command as a process: what it loads, how it ends, what it never shows."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

import tui.app
from scheduling.folder import ShopFolder
from tui import cli
from tui.verbs import program, takeoff, trouble

ROOT = Path(__file__).parents[2]

# Every verb in one fresh process; then nothing of the screens may be loaded.
VERBS = """
import sys
from tui.cli import main
shop = ["--shop", sys.argv[1]]
for words in (
    "timeline two-legged-desk", "takeoff two-legged-desk", "new court-bench --as other",
    "start bare", "mark bare mix-face started", "mark bare spray finished",
    "touch bare field soft", "ack bare",
    "reading bare --temp 20", "note bare hello", "undo bare", "log", "log --by-step",
    "hands bare Ines", "fogged bare field", "--version", "--help",
    "rehearse bare --headless --json",
):
    code = main([*shop, *words.split()])
    assert code == (1 if words.startswith("ack") else 0), (words, code)
found = {name.split(".")[0] for name in sys.modules}
assert not found & {"textual", "rich", "apscheduler"}, found
"""


@pytest.fixture(autouse=True)
def out_of_the_way(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def shop(tmp_path):
    folder = ShopFolder(tmp_path / "shop")
    folder.adopt_samples()
    return folder


def test_no_verb_loads_the_screens(shop):
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", VERBS, str(shop.path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_runs_as_a_module_and_ends_quietly_when_nobody_reads(shop):
    command = [sys.executable, "-W", "error", "-m", "tui.cli"]
    with subprocess.Popen(
        [*command, "--shop", str(shop.path), "rehearse", "bare", "--headless"],
        cwd=ROOT,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as done:
        assert "started bare." in done.stdout.readline()
        done.stdout.close()
        complaint = done.stderr.read()
    assert (done.returncode, complaint) == (0, "")


def test_help_names_every_verb(capsys):
    assert cli.main(["--help"]) == 0
    shown = capsys.readouterr().out
    for verb in ("timeline", "takeoff", "start", "mark", "log", "rehearse", "new"):
        assert f"    {verb} " in shown
        assert cli.main([verb, "--help"]) == 0
        assert f"usage: pourbell {verb} " in capsys.readouterr().out


def test_shop_and_name_may_stand_before_or_after_the_verb(shop, capsys):
    folder = str(shop.path)
    assert cli.main(["--shop", folder, "--by", "Bo", "start", "bare"]) == 0
    assert cli.main(["note", "bare", "x", "--by", "Ines", "--shop", folder]) == 0
    stored = (shop.log / next(shop.log.glob("bare.*.json")).name).read_text()
    assert '"by": "Bo"' in stored.replace('":"', '": "')
    assert '"by": "Ines"' in stored.replace('":"', '": "')
    capsys.readouterr()


def test_ctrl_c_ends_quietly(shop, capsys, monkeypatch):
    def interrupted(*_args, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr(takeoff, "take_off", interrupted)
    assert cli.main(["--shop", str(shop.path), "takeoff", "bare"]) == 130
    assert capsys.readouterr() == ("", "")


def test_an_unexpected_error_goes_to_a_file_and_not_to_the_user(
    shop, capsys, monkeypatch
):
    def broken(*_args, **_options):
        raise KeyError("spoon")

    monkeypatch.setattr(takeoff, "take_off", broken)
    assert cli.main(["--shop", str(shop.path), "takeoff", "bare"]) == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    assert len(shown.err.splitlines()) == 2
    assert "Traceback" not in shown.err
    path = trouble.log_file()
    assert str(path) in shown.err
    assert "Traceback" in path.read_text(encoding="utf-8")
    assert "spoon" in path.read_text(encoding="utf-8")


def test_where_the_file_cannot_be_written_it_still_ends(shop, capsys, monkeypatch):
    Path(os.environ["XDG_STATE_HOME"]).write_text("a file in the way")

    def broken(*_args, **_options):
        raise KeyError("spoon")

    monkeypatch.setattr(takeoff, "take_off", broken)
    assert cli.main(["--shop", str(shop.path), "takeoff", "bare"]) == 1
    assert "cannot be written" in capsys.readouterr().err


class Crashing:
    """A program that stops as Textual does: it tells its console, and returns."""

    return_code = 1

    def __init__(self, *_session, **_options):
        self.error_console = None

    def run(self, *, mouse):
        assert mouse is False
        self.error_console.print("Traceback: the screen fell off")


def test_a_program_that_stops_leaves_its_story_in_the_file(shop, capsys, monkeypatch):
    monkeypatch.setattr(program, "is_terminal", lambda _stream: True)
    monkeypatch.setattr(tui.app, "PourbellApp", Crashing)
    assert cli.main(["--shop", str(shop.path)]) == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "Traceback" not in shown.err
    assert len(shown.err.splitlines()) == 2
    assert "fell off" in trouble.log_file().read_text(encoding="utf-8")


def test_a_stream_that_knows_few_letters_gets_them_escaped(shop, monkeypatch):
    narrow = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", narrow)
    assert cli.main(["--shop", str(shop.path), "timeline", "bare", "--temp", "21"]) == 0
    assert b"21.0 \\xb0C" in narrow.buffer.getvalue()
