"""S1 at length: ``PYTHONPATH=.:tests python tests/soak/contract.py [RUNS]``."""

from __future__ import annotations

import sys

from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from support.machine import JournalBesideMemory


def main():
    """Runs the machine and prints."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    run_state_machine_as_test(
        JournalBesideMemory,
        settings=settings(
            max_examples=runs,
            stateful_step_count=50,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
    print(f"S1 contract: {runs} runs of up to 50 steps, 0 differences")


if __name__ == "__main__":
    main()
