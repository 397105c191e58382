"""T1, T3, T4, T5, random keys and a large paste; run by hand, ten minutes.

    PYTHONPATH=.:tests python tests/soak/rough.py [SHARE]

SHARE is a part of the counts, such as 0.1.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from support import roughly
from support.terminal import Program, pour_due_in, silent_shop

ENDS = {
    "q": 0,
    "SIGINT": 0,
    "SIGTERM": 143,
    "SIGHUP": 129,
    "SIGKILL": 137,
    "SIGSEGV": 139,
}


def ends(folder, how, status, count):
    """T1 and T3."""
    in_order = 0
    for number in range(count):
        shop = silent_shop(folder / f"{how}-{number}")
        name, _due = pour_due_in(shop, 600)
        with Program(shop) as program:
            program.up()
            if how == "q":
                program.press(b"q")
            else:
                program.send(getattr(signal, how))
            right = program.ended() == status
            in_order += (
                right and not program.left_on() and bool(roughly.whole(shop, name))
            )
    test = "T3" if status > 130 and how not in ("SIGTERM", "SIGHUP") else "T1"
    print(f"{test} {how}: {count} ends, terminal in order {in_order}", flush=True)


def main(share=1.0):
    """Runs all and prints a line for each."""

    def part(count):
        return max(1, round(count * share))

    with TemporaryDirectory() as path:
        folder = Path(path)
        for how, status in ENDS.items():
            ends(folder, how, status, part(20))
        slowest = roughly.resized(folder / "sizes", part(1000))
        print(f"T4 resizes: {part(1000)}, longest gap {slowest:.2f} s", flush=True)
        assert slowest <= 0.5, "T4"
        late = [roughly.unread(folder / f"unread-{n}", 20) for n in range(part(5))]
        print(
            f"T5 not read 20 s: {len(late)} runs, {len(late)} bells by the watch, "
            f"latest {max(late):.2f} s, all recovered",
            flush=True,
        )
        events, left = roughly.typed_at_random(folder / "keys", part(10_000))
        print(
            f"keys: {part(10_000)} random keys, left {left} times by the palette, "
            f"{events} more events, log whole",
            flush=True,
        )
        took = roughly.pasted(folder / "paste", 1_000_000)
        print(f"paste: 1 MB twice, noted and left after {took:.1f} s", flush=True)


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
