"""F1 to F4 in full: ``PYTHONPATH=.:tests python tests/soak/bad_input.py [SEED]``."""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from scheduling.folder import ShopFolder
from support import fuzz


def main(seed=1):
    """Runs all and prints a line for each."""
    with TemporaryDirectory() as path:
        folder = Path(path)
        ShopFolder(folder).adopt_samples()
        for name, count, found in (
            ("F1 typed times", 200_000, fuzz.times(200_000, seed)),
            ("F2 TOML", 20_000, fuzz.toml(20_000, folder, seed)),
            ("F3 temperatures", 50_000, fuzz.temperatures(50_000, folder, seed)),
            ("F4 CSV", 5_000, fuzz.climate_csv(5_000, folder, seed)),
        ):
            print(
                f"{name}: {count} strings, {found['read']} read, "
                f"{found['refused']} refused in one way, 0 else",
                flush=True,
            )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
