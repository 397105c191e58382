"""Time to integrate ten years of one-minute temperatures by each maturity method.

Run it: python tests/bench/maturity.py. The aim is under 300 ms a method.
"""

from __future__ import annotations

import time

import numpy as np
from shops import spread

from scheduling.history import History
from scheduling.maturity import (
    arrhenius,
    en_1992_1_1,
    freiesleben_hansen_pedersen,
    nurse_saul,
)

READINGS = 5_260_000
TIMES = 7
METHODS = (
    nurse_saul(),
    arrhenius(42.0, 20.0),
    freiesleben_hansen_pedersen(),
    en_1992_1_1(),
)


def main() -> None:
    """Measures and prints."""
    minutes = np.arange(READINGS, dtype=np.float64)
    days = minutes / 1440
    temps = 15 + 8 * np.sin(days * 2 * np.pi) + 12 * np.sin(days * 2 * np.pi / 365)
    history = History(minutes / 60, temps)
    print(f"{history.readings} readings, {history.hours / 8766:.1f} years")
    for methods in (*((one,) for one in METHODS), METHODS):
        values = []
        for _ in range(TIMES):
            began = time.perf_counter()
            history.matured(methods)
            values.append((time.perf_counter() - began) * 1000)
        name = methods[0].name if len(methods) == 1 else "all of them"
        print(f"{name:<28} {spread(values)}")


if __name__ == "__main__":
    main()
