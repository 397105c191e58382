"""Time of a cure forecast's heat balances, and two models of one night side by side.

Run it: python tests/bench/heat.py.
"""

from __future__ import annotations

import time
from math import exp

from shops import spread

from scheduling.heat import STEP_H, Air, Course, Rise, course
from scheduling.hydration import STANDING
from scheduling.shell import COVERS, FORM_SIDE, Cover, Shell

NIGHT = ((0, 21.0), (12, 12.0), (16, 12.0), (19, 16.0), (22, 18.0), (72, 18.0))
"""Hours after 14:00 and the air of the shop, degC."""

PULSES = (
    ("plastic only", 92, 4, None),
    ("plastic and blanket", 135, 8, None),
    ("blanket, held at 18", 135, 8, 18.0),
)
"""What lies over the piece, time constant in min, rise in K, and the least air."""


def night(step_h: float) -> Air:
    """The night, in steps."""
    temps = []
    for number in range(round(72 / step_h) + 1):
        at = number * step_h
        after = next(i for i, (hour, _) in enumerate(NIGHT) if i and at <= hour)
        (left, low), (right, high) = NIGHT[after - 1 : after + 1]
        temps.append(low + (high - low) * (at - left) / (right - left))
    return Air(step_h, tuple(temps))


def shown(found: Course) -> str:
    """When 18 equivalent hours are reached, and how warm the piece was."""
    hours = found.reaches(18)
    assert hours is not None
    hour, minute = divmod(round((14 + hours) * 60) % 1440, 60)
    energy = found.energy
    gap = abs(energy.stored + energy.lost - energy.released) / energy.released
    return (
        f"{hour:02d}:{minute:02d}   warmest {max(found.temps_c):.1f} °C   gap {gap:.1e}"
    )


def main() -> None:
    """Measures and prints."""
    shell = Shell(0.022)
    print("stand-in pulse, one-minute steps")
    for name, minutes, rise, held in PULSES:
        loss = shell.capacity / (minutes * 60)
        cover = Cover("plastic", loss - FORM_SIDE, held)
        pulse = Rise(lambda te, k=rise: k * 1.3 * exp(-(((te - 9) / 5) ** 2)), loss)
        print(f"  {name:<22}{shown(course(shell, cover, pulse, night(1 / 60), 23.0))}")
    air = night(STEP_H)
    print(f"three-parameter model, {STANDING}")
    for name, cover in COVERS.items():
        print(
            f"  {name:<22}{shown(course(shell, cover, shell.hydration(), air, 23.0))}"
        )
    covers = [COVERS[name] for name in ("plastic", "blanket", "heated tent")]
    values = []
    for _ in range(25):
        began = time.perf_counter()
        for _ in range(10):
            heat = shell.hydration()
            for cover in covers:
                course(shell, cover, heat, air, 23.0)
        values.append((time.perf_counter() - began) * 1000)
    print(f"ten pours, three covers each, 72 h   {spread(values)}")


if __name__ == "__main__":
    main()
