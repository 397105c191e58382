"""``ring``: the bells without the program, and the user's own command."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import subprocess
import sys
import time

import pytest

from scheduling.log import Log
from support.terminal import ROOT, pour_due_in, silent_shop, wait_until
from tui import hook
from tui.hook import Hook

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals")

ALERT_KEYS = {"type", "kind", "at", "due", "pour", "step", "zone", "late_s"}
TELL = "import os, sys; open(sys.argv[1], 'a').write(sys.stdin.read())"


@pytest.fixture
def shop(tmp_path):
    return silent_shop(tmp_path / "shop")


@pytest.fixture
def ring(shop):
    """Starts ``pourbell ring`` on the shop; whatever still runs is ended."""
    running = []

    def start(*words):
        process = subprocess.Popen(
            [sys.executable, "-m", "tui.cli", "--shop", str(shop.path), "ring", *words],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        running.append(process)
        return process

    yield start
    for process in running:
        process.kill()
        process.communicate()


def is_logged(shop, pour):
    return any(event.kind == "rang" for event in Log(shop.log).events(pour))


def test_it_rings_in_time_tells_runs_and_ends_on_a_signal(shop, ring, tmp_path):
    name, _due = pour_due_in(shop, 2.5)
    told = tmp_path / "told"
    process = ring("--json", "--run", sys.executable, "-c", TELL, str(told))
    line = json.loads(process.stdout.readline())
    assert set(line) == ALERT_KEYS
    assert (line["type"], line["pour"], line["late_s"]) == ("alert", name, 0)
    wait_until(lambda: told.exists() and told.read_text().endswith("\n"))
    assert json.loads(told.read_text())["repeat"] == 0
    wait_until(lambda: is_logged(shop, name))
    process.send_signal(signal.SIGTERM)
    assert process.wait(5) == 0


def test_one_rings_the_other_waits_and_takes_over(shop, ring):
    name, _due = pour_due_in(shop, -5)
    first = ring()
    assert "BELL" in first.stdout.readline()
    second = ring("--json")
    assert "another program rings" in second.stderr.readline()
    first.send_signal(signal.SIGINT)
    assert first.wait(5) == 0
    assert json.loads(second.stdout.readline())["pour"] == name


def test_what_was_put_right_in_the_log_is_said(shop, ring):
    name, _due = pour_due_in(shop, -5)
    with (shop.log / "live" / f"{name}.jnl").open("ab") as journal:
        journal.write(b'{"half": "a li')
    process = ring()
    assert "BELL" in process.stdout.readline()
    assert f"{name}: half a line was set aside" in process.stderr.readline()


def test_an_empty_shop_is_left_empty(tmp_path, ring):
    process = ring("--shop", str(tmp_path / "nothing"))
    time.sleep(1.5)
    assert process.poll() is None
    process.send_signal(signal.SIGTERM)
    assert process.wait(5) == 0
    assert not (tmp_path / "nothing").exists()


# -- the command


def sh(script):
    return Hook(["/bin/sh", "-c", script])


async def test_a_command_gets_the_alert_cleaned(tmp_path):
    out = tmp_path / "out"
    alert = {"kind": "window-open", "zone": "$(touch x)\x1b[2J\0`id`", "step": None}
    script = f'printf %s "$ALERT_ZONE/$ALERT_STEP/$HIDDEN" > {out}; cat >> {out}'
    os.environ["HIDDEN"] = "secret"
    try:
        assert await sh(script).run(alert) is None
    finally:
        del os.environ["HIDDEN"]
    first, _, rest = out.read_text().partition("{")
    assert first == "$(touch x)[2J`id`//"
    assert json.loads("{" + rest) == alert


@pytest.mark.parametrize(
    ("script", "words"),
    [
        ("exit 3", "exit status 3"),
        ("echo no horn >&2; exit 1", "no horn"),
        ("yes", "printed more"),
        ("sleep 60 & sleep 60", "busy"),
    ],
)
async def test_a_command_that_fails_is_said(script, words, monkeypatch):
    monkeypatch.setattr(hook, "LONGEST_S", 0.5)
    assert words in await sh(script).run({})


async def test_a_command_that_floods_is_over_at_once():
    for _ in range(20):
        assert "printed more" in await sh("yes & yes").run({})


async def test_a_command_that_is_missing_is_said(tmp_path):
    assert "could not be started" in await Hook([str(tmp_path / "none")]).run({})


async def test_two_run_at_a_time(tmp_path):
    script = f"echo + >> {tmp_path}/log; sleep 0.1; echo - >> {tmp_path}/log"
    one = sh(script)
    await asyncio.gather(*(one.run({}) for _ in range(5)))
    depth = deepest = 0
    for line in (tmp_path / "log").read_text().split():
        depth += 1 if line == "+" else -1
        deepest = max(deepest, depth)
    assert deepest == 2
