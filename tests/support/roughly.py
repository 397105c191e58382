"""A terminal treated roughly: resized, not read, typed into at random, pasted into."""

from __future__ import annotations

import itertools
import random
import re
import string
import time

from scheduling.clock import WallTime
from support.hostile import ESCAPE
from support.terminal import Program, boot_s, pour_due_in, rang, silent_shop, wait_until
from tui.session import Session

_KEYS = [
    *(
        sign.encode()
        for sign in string.ascii_lowercase.replace("q", "")
        + string.digits
        + " .,:+-=?/["
    ),
    *(b"\r", b"\t", ESCAPE, b"\x7f", b"\x1b[A", b"\x1b[B", b"\x1b[C", b"\x1b[D"),
    *(b"\x1b[5~", b"\x1b[6~", b"\x1b[H", b"\x1b[3~", b"\x1bOQ", b"\x1b[24~"),
    *(b"\x1b[Z", "é".encode(), "🧱".encode(), b"\x1b[200~two\nlines\x1b[201~"),
    *(bytes([control]) for control in (1, 2, 5, 6, 11, 14, 16, 18, 21, 23)),
]
"""What a keyboard may send, but for what leaves the program on purpose."""


def resized(folder, count, seed=1):
    """T4: many resizes; returns the longest time the loop stood still, seconds."""
    rng = random.Random(seed)
    shop = silent_shop(folder)
    pour_due_in(shop, 600)
    with Program(shop, sabotage="beats") as program:
        program.up()
        for _ in range(count):
            program.resize(rng.randint(1, 260), rng.randint(1, 90))
            time.sleep(0.005)
        program.resize(1, 1)
        time.sleep(0.3)
        program.resize(80, 24)
        time.sleep(0.3)
        program.press(b"q")
        assert program.ended() == 0
        assert program.left_on() == []
        assert b"unexpected" not in program.output
    beats = list(map(float, (folder / "beats").read_text().split()))
    return max(later - sooner for sooner, later in itertools.pairwise(beats))


def unread(folder, seconds):
    """T5: a terminal that is not read for a time, while a bell comes due.

    Returns seconds after due at which the watch rang.
    """
    shop = silent_shop(folder)
    name, due = pour_due_in(shop, 6.0)
    with Program(shop, sabotage="flood") as program:
        program.up()
        time.sleep(max(0.0, due - 3.0 - boot_s()))
        program.reading.clear()
        time.sleep(seconds)
        late = program.heard.rang_at()
        assert late is not None
        program.reading.set()
        wait_until(lambda: rang(shop, name), 10)
        wait_until(lambda: not program.heard.rings_now(), 10)
        program.press(b"q")
        assert program.ended() == 0
        assert program.left_on() == []
        return late - due


def typed_at_random(folder, count, seed=1):
    """Random keys; returns how many events more there are, and how often it ended."""
    rng = random.Random(seed)
    shop = silent_shop(folder)
    name, _due = pour_due_in(shop, 600)
    before = whole(shop, name)
    left = count
    starts = 0
    while left > 0:
        with Program(shop) as program:
            program.up()
            starts += 1
            # The palette may find "quit"; then the rest goes into a new program.
            while left > 0 and program.process.poll() is None:
                burst = min(left, rng.randint(1, 12))
                program.press(b"".join(rng.choices(_KEYS, k=burst)))
                left -= burst
                time.sleep(0.05)
            if program.process.poll() is None:
                leave(program)
            assert program.ended() == 0
            assert program.left_on() == []
            assert b"stopped" not in program.output
    assert mishaps(shop) == [], mishaps(shop)
    return whole(shop, name) - before, starts - 1


def mishaps(shop):
    """What went wrong, but for keys of the library's palette while it has no line."""
    logs = (shop.path / "state").rglob("pourbell.log*")
    lines = "".join(log.read_text() for log in logs).splitlines()
    known = re.compile(r" (command_list\(.*\)|cursor_down) failed$")
    return [line for line in lines if " ERROR " in line and not known.search(line)]


def leave(program):
    """Leaves whatever is open and then the program."""
    for _ in range(40):
        program.press(ESCAPE)
        time.sleep(0.15)
        if program.process.poll() is not None:
            return
        program.press(b"q")
        time.sleep(0.15)
        if program.process.poll() is not None:
            return


def pasted(folder, size):
    """A paste of so many bytes into a question and onto the board; returns seconds."""
    shop = silent_shop(folder)
    name, _due = pour_due_in(shop, 600)
    text = b"\x1b[200~" + b"wet [/red] edge\n" * (size // 16) + b"\x1b[201~"
    begun = time.perf_counter()
    with Program(shop) as program:
        program.up()
        program.press(text)
        time.sleep(0.5)
        program.press(b"c")
        time.sleep(0.5)
        program.press(b"n")
        wait_until(lambda: b"A line for the log" in program.output, 20)
        program.press(text)
        program.press(b"\r")
        wait_until(lambda: whole(shop, name, "note"), 30)
        took = time.perf_counter() - begun
        program.press(b"q")
        assert program.ended(20) == 0
        assert b"unexpected" not in program.output
    return took


def whole(shop, name, kind=""):
    """How many events a pour has, once the log is seen to be whole."""
    session = Session(shop, WallTime())
    session.load()
    assert session.faults == {}
    events = session.log.events(name)
    return sum(event.kind == kind or not kind for event in events)
