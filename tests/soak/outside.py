"""H1 and H2 in full: commands that misbehave, five at once; run by hand, a minute.

python tests/soak/outside.py [ROUNDS]
"""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from support.outside import AT_ONCE, live, misbehaving
from tui import hook


def main(rounds=10):
    hook.LONGEST_S = 1.0
    with TemporaryDirectory() as path:
        folder = Path(path)
        for wrong, command in misbehaving(folder).items():
            told = [asyncio.run(live(command, folder)) for _ in range(rounds)]
            print(
                f"H2 {wrong}: {rounds} rounds of {AT_ONCE} at once, "
                f"{sum(bool(one.failures) for one in told)} said, "
                f"{sum(one.beeps > 0 for one in told)} rang meanwhile, loop gap max "
                f"{1000 * max(one.gap_s for one in told):.0f} ms",
                flush=True,
            )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
