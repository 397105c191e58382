"""Time from a key to its paint with ten pours on the board, at 140x40.

Run it: python tests/bench/key_to_paint.py [ROUNDS]. The program runs in this process
without a terminal; what would be written to one is made all the same. "painted" is
the paint of the line that says the key was taken in, "saved" of the one that says it
is on the disk; the other keys count to their first paint. A key
pressed during a tick waits for its end.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from shops import shop_of_pours, spread

from tui.app import PourbellApp
from tui.pours import STALE, Pours

POURS = 10
NOW = datetime(2030, 4, 1, 9, 0, tzinfo=UTC)
LONGEST_S = 5.0
TICKS = 5
"""Few, as the clock moves on and nothing is to ring."""


class Paints:
    """When a program painted, and what its said line was then."""

    def __init__(self, app: PourbellApp) -> None:
        self.all: list[tuple[float, str]] = []
        self._app = app
        self._display = app._display
        app._display = self._note

    def _note(self, screen, renderable):
        if hasattr(renderable, "render_segments"):
            renderable.render_segments(self._app.console)
        self._display(screen, renderable)
        said = screen.query("#said")
        words = str(said.first().content) if said else ""
        self.all.append((time.perf_counter(), words))


async def press(paints: Paints, pilot, key: str, *words: str) -> list[float]:
    """Presses a key; returns ms to its first paint, or to the first of each words."""
    await settle(pilot)
    paints.all = []
    began = time.perf_counter()
    await pilot.press(key)
    found: list[float] = []
    for wanted in words or ("",):
        while not (hits := [at for at, said in paints.all if wanted in said]):
            if time.perf_counter() - began > LONGEST_S:
                raise SystemExit(f"{key}: {wanted!r} was never painted")
            await asyncio.sleep(0)
        found.append((hits[0] - began) * 1000)
    return found


async def settle(pilot) -> None:
    """Lets whatever an earlier key set going come to its end."""
    for _ in range(3):
        await pilot.pause()


async def measure(path: Path, rounds: int) -> None:
    """Presses keys and prints."""
    session = shop_of_pours(path, NOW, POURS)
    app = PourbellApp(session, first=session.open_pours()[0].name)
    paints = Paints(app)
    laid_out = 0
    lay_out = Pours._lay_out

    def counted(self, name):
        nonlocal laid_out
        laid_out += 1
        lay_out(self, name)

    Pours._lay_out = counted
    kinds = {
        "soft (s), painted": [],
        "soft (s), saved": [],
        "next pour (right)": [],
        "note taken (enter), painted": [],
        "note taken (enter), saved": [],
        "board (b)": [],
        "pour clock (c)": [],
        "earlier on the board (left)": [],
        "the tick, nothing new": [],
        "the tick, every forecast stale": [],
    }
    async with app.run_test(size=(140, 40)) as pilot:
        await settle(pilot)
        for key in ("b", "c", "l", "c"):  # screens are made when first asked for
            await press(paints, pilot, key)
        laid_out, marks = 0, 0
        for _ in range(rounds):
            marks += 2
            painted, saved = await press(paints, pilot, "s", "saving", "saved")
            kinds["soft (s), painted"].append(painted)
            kinds["soft (s), saved"].append(saved)
            kinds["next pour (right)"] += await press(paints, pilot, "right")
            await press(paints, pilot, "n")
            await press(paints, pilot, "x")
            painted, saved = await press(paints, pilot, "enter", "saving", "saved")
            kinds["note taken (enter), painted"].append(painted)
            kinds["note taken (enter), saved"].append(saved)
            kinds["board (b)"] += await press(paints, pilot, "b")
            kinds["earlier on the board (left)"] += await press(paints, pilot, "left")
            kinds["pour clock (c)"] += await press(paints, pilot, "c")
        each = laid_out / marks
        for _ in range(TICKS):
            for name in ("the tick, nothing new", "the tick, every forecast stale"):
                began = time.perf_counter()
                app.tick()
                kinds[name].append((time.perf_counter() - began) * 1000)
                if name.endswith("new"):
                    session.time.advance_to(session.time.now() + STALE)
    events = sum(len(session.events(pour.name)) for pour in session.open_pours())
    print(f"{POURS} open pours, {events} events at the end, 140x40, {rounds} rounds")
    print(f"{each:.1f} timelines laid out for each mark")
    for name, values in kinds.items():
        print(f"{name:<31} {spread(values)}")


def main() -> None:
    """Measures and prints."""
    for name in ("NO_COLOR", "TEXTUAL_THEME", "TEXTUAL_ANIMATIONS"):
        os.environ.pop(name, None)
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    with tempfile.TemporaryDirectory(prefix="pourbell-bench-") as path:
        asyncio.run(measure(Path(path), rounds))


if __name__ == "__main__":
    main()
