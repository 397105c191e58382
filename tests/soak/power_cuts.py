"""S3, S4 at length: ``PYTHONPATH=.:tests python tests/soak/power_cuts.py``."""

from __future__ import annotations

from support import memorydisk
from support.logs import WORKS, kills, power_cuts
from support.memorydisk import MUTANTS, MemoryDisk


def main():
    """Enumerates and prints a line for each."""
    bad = 0
    for work in WORKS:
        points, wrong = kills(work)
        print(f"S3 kill, {work}: {sum(points.values())} points, {len(wrong)} wrong")
        bad += len(wrong)
    memorydisk.CUTS = 200
    for work in WORKS:
        states, wrong, second, second_wrong = power_cuts(MemoryDisk, work, again=250)
        print(
            f"S4 power cut, {work}: {states} states, {wrong} wrong; "
            f"{second} second cuts, {second_wrong} wrong"
        )
        bad += wrong + second_wrong
    memorydisk.CUTS = 40
    for mutant in MUTANTS:
        for work in WORKS:
            states, wrong, _, _ = power_cuts(mutant, work)
            print(f"S4 {mutant.__name__}, {work}: {states} states, {wrong} caught")
        bad += not wrong
    raise SystemExit(bool(bad))


if __name__ == "__main__":
    main()
