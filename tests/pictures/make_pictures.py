"""Makes the pictures of the README with the program itself.

Run it: python tests/pictures/make_pictures.py. It writes one file for each of
PICTURES beside this one; the same program makes the same files.
"""

from __future__ import annotations

import asyncio
import os
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import moments

from scheduling.clock import SimulatedTime
from tui.app import PourbellApp
from tui.session import Session

SIZE = (100, 30)

PICTURES: dict[str, tuple[Callable[[Session], str], tuple[str, ...]]] = {
    "board": (moments.three_pours, ("b", "plus")),
    "pour-clock": (moments.desk_waiting, ("c",)),
    "alert": (moments.opens, ("c",)),
    "cure": (moments.bench_curing, ("m",)),
    "timings": (moments.twelve_slabs, ("j",)),
}
"""Name of each picture: the moment it shows, and the keys to its screen."""


def plain(svg: str) -> str:
    """Takes the random name of this run out of a picture, and the fonts of the web."""
    svg = re.sub(r"terminal-\d+-", "", svg)
    return re.sub(r"\s*@font-face \{.*?\}", "", svg, flags=re.DOTALL)


async def picture(name: str, folder: Path) -> str:
    """Runs the program up to a moment and returns its screen."""
    moment, keys = PICTURES[name]
    session = moments.open_shop(folder)
    first = moment(session)
    # Opened anew, as the maker would find it.
    session = Session(session.folder, SimulatedTime(session.time.now()))
    app = PourbellApp(session, first=first)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*keys)
        await app.workers.wait_for_complete()
        while app.current_mode == "timings" and not app.learner.learned:
            await pilot.pause(0.05)
        await pilot.pause()
        app.tick()
        await pilot.pause()
        return plain(app.export_screenshot(title="pourbell"))


def main() -> None:
    """Writes every picture, or those named."""
    for variable in ("NO_COLOR", "TEXTUAL_THEME"):
        os.environ.pop(variable, None)
    here = Path(__file__).parent
    for name in sys.argv[1:] or PICTURES:
        with tempfile.TemporaryDirectory(prefix="pourbell-") as folder:
            svg = asyncio.run(picture(name, Path(folder)))
        (here / f"{name}.svg").write_text(svg, encoding="utf-8")
        sys.stdout.write(f"{name}.svg {len(svg) / 1000:.0f} kB\n")


if __name__ == "__main__":
    main()
