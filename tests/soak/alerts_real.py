"""A3, A5, A8 and T1 in full, with the real program; run by hand, a quarter of an hour.

    python tests/soak/alerts_real.py [SHARE]

SHARE is a part of the counts, such as 0.1.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from support.terminal import Program, pour_due_in, silent_shop
from support.watchstory import tell

COUNTS = {
    "killed": 100,
    "stopped": 40,
    "blocked": 40,
    "exploded": 20,
    "terminated": 20,
    "not_read": 20,
    "hung_up": 20,
    "left": 20,
    "healthy": 20,
    "watch_killed": 20,
    "answered_elsewhere": 20,
    "silenced_elsewhere": 20,
    "taken_over": 20,
}
IDS = {"stopped": "A3", "blocked": "A3", "watch_killed": "A8"}
"""Acceptance tests by story; every other is A5."""
TOGETHER = 6
ENDS = {"q": 0, "SIGINT": None, "SIGTERM": 143, "SIGHUP": 129}


def spread(values):
    """p50 and max of some seconds, as words."""
    ordered = sorted(values)
    if not ordered:
        return "none"
    return f"p50 {ordered[len(ordered) // 2]:.2f} s max {ordered[-1]:.2f} s"


def bells(folder, name, count):
    outcomes = tell(folder, [name] * count, together=TOGETHER)
    watch = [one.watch_s for one in outcomes if one.watch_s is not None]
    program = [one.program_s for one in outcomes if one.program_s is not None]
    early = sum(value < -0.1 for value in (*watch, *program))
    took = [one.took_s for one in outcomes if one.took_s]
    print(
        f"{IDS.get(name, 'A5')} {name}: {count} runs, "
        f"watch rang {len(watch)} ({spread(watch)}), "
        f"program rang {len(program)} ({spread(program)}), {early} early"
        + (f", took {spread(took)}" if took else ""),
        flush=True,
    )


def ends(folder, how, status, count):
    in_order = 0
    for number in range(count):
        shop = silent_shop(folder / f"{how}-{number}")
        pour_due_in(shop, 600)
        with Program(shop) as program:
            program.up()
            if how == "q":
                program.press(b"q")
            else:
                program.send(getattr(signal, how))
            ended = program.ended()
            right = status is None or ended == status
            in_order += right and not program.left_on()
    print(f"T1 {how}: {count} ends, terminal in order {in_order}", flush=True)


def main(share=1.0):
    with TemporaryDirectory() as path:
        folder = Path(path)
        for name, count in COUNTS.items():
            (folder / name).mkdir()
            bells(folder / name, name, max(1, round(count * share)))
        for how, status in ENDS.items():
            ends(folder, how, status, max(1, round(20 * share)))
        left = [
            entry.name
            for entry in Path("/proc").iterdir()
            if entry.name.isdigit() and _is_ours(entry, path)
        ]
        print(f"processes left over: {len(left)}")


def _is_ours(entry, path):
    try:
        return os.fsencode(path) in (entry / "environ").read_bytes()
    except OSError:
        return False


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
