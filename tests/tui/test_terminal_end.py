"""T1: however the program ends, the terminal is usable afterwards."""

from __future__ import annotations

import os
import signal

import pytest

from scheduling.clock import WallTime
from support.terminal import MODES, Program, pour_due_in, silent_shop, wait_until
from tui.session import Session

pytestmark = pytest.mark.skipif(os.name != "posix", reason="wants a pseudo-terminal")


@pytest.mark.parametrize(
    ("end", "status"),
    [
        (b"q", 0),
        (signal.SIGTERM, 143),
        (signal.SIGHUP, 129),
    ],
)
def test_the_terminal_is_in_order_and_the_log_whole(tmp_path, end, status):
    shop = silent_shop(tmp_path / "shop")
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
        assert b"unexpected" not in program.output
        wait_until(lambda: bool(program.watches()) == (status != 0))
    session = Session(shop, WallTime())
    session.load()
    assert session.faults == {}
    assert session.pour(name)
