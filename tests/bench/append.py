"""Time until one event is safely on the disk, by how many the pour already has.

Run it: python tests/bench/append.py [FOLDER]. The folder, by default the one for
temporary files, decides which disk is measured.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from shops import add_notes, sample_shop, spread

from scheduling.clock import SimulatedTime
from tui.session import Session

NOW = datetime(2030, 4, 1, 9, 0, tzinfo=UTC)
COUNTS = (10, 100, 500)
TIMES = 40


def one_sync(folder: Path, size: int) -> str:
    """Says what writing and syncing a file of a size takes by itself."""
    values = []
    for _ in range(TIMES):
        began = time.perf_counter()
        with (folder / "sync").open("wb") as file:
            file.write(b"x" * size)
            file.flush()
            os.fsync(file.fileno())
        values.append((time.perf_counter() - began) * 1000)
    return spread(values)


def main() -> None:
    """Measures and prints."""
    where = sys.argv[1] if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory(prefix="pourbell-bench-", dir=where) as path:
        folder = sample_shop(Path(path), "UTC")
        session = Session(folder, SimulatedTime(NOW), "bench")
        name = session.start(folder.job("two-legged-desk"))
        for count in COUNTS:
            add_notes(session, name, count)
            values = []
            for _ in range(TIMES):
                event = session.event(name, "note", data={"text": "one more line"})
                began = time.perf_counter()
                session.log.append(event)
                values.append((time.perf_counter() - began) * 1000)
            session.load()
            size = (folder.log / f"{name}.json").stat().st_size
            print(
                f"from {count:>3} events, {size / 1000:3.0f} kB: {spread(values)}",
                end="",
            )
            print(f"   one sync alone: {one_sync(folder.path, size)}")


if __name__ == "__main__":
    main()
