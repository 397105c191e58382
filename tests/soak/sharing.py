"""L1 and L5 with the real program: ``PYTHONPATH=.:tests python tests/soak/sharing.py``.

Some minutes; a number after it is how many starts, 50 unless told otherwise.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from support.beside import meet
from support.terminal import pour_due_in, silent_shop

EVENTS = 4


def main():
    """Starts, writes from both sides, and prints."""
    starts = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    lags, backs, failed = [], [], 0
    with tempfile.TemporaryDirectory() as path:
        for number in range(starts):
            shop = silent_shop(Path(path) / str(number))
            pour, _ = pour_due_in(shop, 3600)
            try:
                seen, back = meet(shop, pour, events=EVENTS)
            except AssertionError as late:
                print(f"start {number}: {late}")
                failed += 1
                continue
            lags += seen
            backs.append(back)
    lags.sort()
    print(
        f"L1 second program: {starts} starts, both wrote and saw the other in "
        f"{starts - failed}, the program's own seen within {max(backs):.2f} s"
    )
    print(
        f"L5 lag: {len(lags)} events, p50 {lags[len(lags) // 2]:.2f} s, "
        f"p99 {lags[len(lags) * 99 // 100]:.2f} s, max {lags[-1]:.2f} s"
    )
    raise SystemExit(bool(failed or lags[-1] > 1.2))


if __name__ == "__main__":
    main()
