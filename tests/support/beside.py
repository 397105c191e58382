"""A second program beside the real one: what each sees of the other, and when."""

from __future__ import annotations

import random
import time

from scheduling.clock import WallTime
from scheduling.log import Log
from support.terminal import Program, wait_until
from tui.session import Session

LIMIT_S = 3.0


def meet(shop, pour, *, events):
    """Starts the program and writes beside it; the program writes, and is seen.

    Args:
        shop: The shop folder.
        pour: A pour of it.
        events: How many are written beside the program.

    Returns:
        Seconds until the program showed each event of ours, and until we saw the
        program's own.
    """
    session = Session(shop, WallTime(), "beside")
    session.load_one(pour)
    lags = []
    with Program(shop) as program:
        program.up()
        wait_until(lambda: b"\a" in program.output)
        program.press(b"\r")  # the test bell of the day is over the names
        wait_until(lambda: "tested" in kinds(shop, pour))
        for number in range(events):
            time.sleep(random.random())  # anywhere between two looks of the program
            name = f"Guest{number}q"
            session.accept(session.event(pour, "hands", data={"in": [name]}))
            session.settle(pour)
            seen = wait_until(
                lambda name=name: name.encode() in program.output, LIMIT_S
            )
            lags.append(seen)
        program.press(b"c")
        wait_until(lambda: b"touch" in program.output)
        before = len(Log(shop.log).events(pour))
        program.press(b"n")
        wait_until(lambda: b"A line for the log" in program.output)
        program.press(b"from the keys\r")
        back = wait_until(
            lambda: any(
                event.data.get("text") == "from the keys"
                for event in Log(shop.log).events(pour)[before:]
            ),
            LIMIT_S,
        )
        session.load()
        program.press(b"q")
        program.ended()
    return lags, back


def kinds(shop, pour):
    """What kinds of event a pour has."""
    return {event.kind for event in Log(shop.log).events(pour)}
