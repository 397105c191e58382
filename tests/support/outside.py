"""A command of the user's own that misbehaves, beside a bell that must ring."""

from __future__ import annotations

import asyncio
import time
from dataclasses import dataclass
from datetime import UTC, datetime

from scheduling.alert import Alert
from scheduling.ringer import Ring
from scheduling.shop import Bells
from tui import output
from tui.chorus import Chorus
from tui.hook import Hook
from tui.notify import Notifier

AT_ONCE = 5

HOSTILE = (
    "$(touch pwned)",
    "`touch pwned`",
    "; touch pwned;",
    "' || touch pwned || '",
    '" && touch pwned && "',
    "| touch pwned",
    "-rf /",
    "--help",
    "a\nb\nALERT_KIND=other",
    "\x1b[2J\x1b]0;title\x07",
    "nul\0byte",
    "\u202egnirts",
    "\ud800 alone",
    "%s%n${IFS}",
    "../../etc/passwd",
    "x" * 100_000,
)
"""Texts that somebody could type or a file could hold."""


def misbehaving(folder):
    """Commands by what is wrong with them."""
    refused = folder / "refused"
    refused.write_text("#!/bin/sh\n")
    refused.chmod(0o644)
    flood = "head -c 50000000 /dev/zero"
    return {
        "hang": ("/bin/sh", "-c", "sleep 60 & sleep 60"),
        "refused": (str(refused),),
        "missing": (str(folder / "none"),),
        "50 MB": ("/bin/sh", "-c", flood),
        "50 MB of complaints": ("/bin/sh", "-c", f"{flood} >&2"),
        "fails": ("/bin/sh", "-c", "exit 3"),
        "killed": ("/bin/sh", "-c", "kill -9 $$"),
        "reads nothing": ("/bin/sh", "-c", "exec <&-; exit 4"),
    }


@dataclass
class Outcome:
    """What became of it.

    Attributes:
        gap_s: The longest the loop stood still.
        failures: What was said.
        beeps: How often the terminal bell rang meanwhile.
        took_s: How long it took until all was said.
    """

    gap_s: float
    failures: list
    beeps: int
    took_s: float


def ring(number, text="Place lift 1."):
    alert = Alert(
        id=f"alert-{number}",
        kind="window-open",
        shape="opens",
        due=datetime(2030, 4, 1, tzinfo=UTC),
        pour="bare.0401",
        step="lift-1",
        zone=text,
        word="OPEN",
        line=text,
        chain=f"chain {number}",
    )
    return Ring(alert, 0.0, 0)


def told(one):
    return output.call(one, datetime(2030, 4, 1, tzinfo=UTC), UTC)


async def live(command, folder):
    """Five alerts at once that nobody answers, and a command for each."""
    beeps = []
    bells = Bells(terminal=True, sound=False)
    notifier = Notifier(
        bells, write=beeps.append, bell=lambda: beeps.append(""), folder=folder
    )
    chorus = Chorus(notifier, Hook(command), told=told)
    chorus.audible = True
    gaps = []

    async def beat():
        while True:
            before = time.perf_counter()
            await asyncio.sleep(0.005)
            gaps.append(time.perf_counter() - before - 0.005)

    beating = asyncio.create_task(beat())
    await asyncio.sleep(0.01)
    begun = time.perf_counter()
    for number in range(AT_ONCE):
        chorus.put(ring(number))
    chorus.sound()
    chorus.call(0)
    chorus.call(60)
    running = {task for task in chorus._chores if "_run" in str(task.get_coro())}
    assert len(running) == AT_ONCE
    await asyncio.wait(running)
    took = time.perf_counter() - begun
    await asyncio.sleep(0.05)
    beating.cancel()
    failures = chorus.failures
    await chorus.end()
    return Outcome(max(gaps), failures, len(beeps), took)
