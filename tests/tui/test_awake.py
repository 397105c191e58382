"""The child that keeps the machine awake: there while it is wanted, gone with us."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from support.terminal import ROOT, is_alive, wait_until
from tui.awake import KEEP_OPEN, StayAwake

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the keeper is sh")


@pytest.fixture
def keeper(tmp_path, monkeypatch):
    """A systemd-inhibit of our own; it writes down who it is and runs what it may."""
    told = tmp_path / "told"
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")

    def made(body):
        script = tmp_path / "systemd-inhibit"
        script.write_text(f'#!/bin/sh\necho "$$ $@" >> {told}\n{body}\n')
        script.chmod(0o755)
        return lambda: told.read_text().splitlines() if told.exists() else []

    return made


def test_it_holds_while_a_pour_is_open_and_no_longer(keeper):
    told = keeper("exec cat")
    awake = StayAwake()
    awake.look(wanted=False)
    assert told() == []
    awake.look(wanted=True)
    wait_until(told)
    pid, *words = told()[0].split()
    assert "--what=sleep:handle-lid-switch" in words
    awake.look(wanted=True)
    assert is_alive(int(pid))
    assert awake.trouble == ""
    awake.look(wanted=False)
    wait_until(lambda: not is_alive(int(pid)))
    assert len(told()) == 1


def test_it_ends_with_the_program_however_that_ends(keeper):
    told = keeper("exec cat")
    code = (
        "import os, time, tui.awake as a; one = a.StayAwake(); one.look(wanted=True);"
        "time.sleep(60)"
    )
    program = subprocess.Popen(
        [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    wait_until(told)
    pid = int(told()[0].split()[0])
    assert is_alive(pid)
    program.kill()
    program.wait()
    wait_until(lambda: not is_alive(pid))


def test_where_it_may_not_it_says_so_and_does_not_try_again(keeper):
    told = keeper("exit 1")
    awake = StayAwake()
    awake.look(wanted=True)
    wait_until(lambda: awake.look(wanted=True) or awake.trouble)
    for _ in range(5):
        awake.look(wanted=True)
    assert awake.trouble == KEEP_OPEN
    assert len(told()) == 1
    awake.look(wanted=False)
    assert awake.trouble == ""


def test_where_there_is_none_it_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    awake = StayAwake()
    awake.look(wanted=True)
    assert awake.trouble == KEEP_OPEN
    awake.end()
