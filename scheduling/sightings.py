"""Waits that were seen from one side or both, as arrays, and what their clocks ran.

That a wait lay between two marks is taken for all they say: when somebody looks is
assumed not to depend on when it happens, and no look is left out in between.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduling.normal import Floats
from scheduling.observation import ENERGIES, Mark

LEAST_MIN = 1e-3
"""A clock that has not run, or was set back by fog, counts as this: never, on a log."""

_SAFE_SHARES = (0.02, 0.95)
"""Beyond these a share of evaporation changes nothing: far outside what is believed."""


@dataclass(frozen=True, slots=True)
class Sightings:
    """Waits as arrays; the first axis of those of marks is after, before.

    Attributes:
        which: Place of the wait's mix among the priors, (n,).
        counts: How much it counts beside one that is alone in its pour, (n,).
        known: Whether there is such a mark, (2, n).
        bends: log of the hydration minutes as a quadratic in energy, (2, 3, n).
        evaporation: Reference minutes by evaporation alone, (2, n).
    """

    which: NDArray[np.intp]
    counts: Floats
    known: NDArray[np.bool_]
    bends: Floats
    evaporation: Floats

    @classmethod
    def of(cls, waits: Iterable[tuple[int, Mark | None, Mark | None]]) -> Sightings:
        """Of the mix, the mark after which and that before which it was, each.

        Each counts as if it were alone in its pour.
        """
        never = Mark(0.0, (1.0, 1.0, 1.0))
        rows = list(waits)
        sides = [[row[1] for row in rows], [row[2] for row in rows]]
        marks = [[mark or never for mark in side] for side in sides]
        hydration = np.array([[mark.hydration for mark in side] for side in marks])
        logs = np.log(np.maximum(hydration.reshape(2, -1, 3), LEAST_MIN))
        low, middle, high = np.moveaxis(logs, 2, 0)
        bends = np.stack((middle, (high - low) / 2, (low + high) / 2 - middle), axis=1)
        return cls(
            np.array([row[0] for row in rows], dtype=np.intp),
            np.ones(len(rows)),
            np.array([[mark is not None for mark in side] for side in sides]),
            bends,
            np.array([[mark.evaporation for mark in side] for side in marks]),
        )

    def with_more(self, more: Sightings) -> Sightings:
        """These and then those."""
        return Sightings(
            np.concatenate((self.which, more.which)),
            np.concatenate((self.counts, more.counts)),
            np.concatenate((self.known, more.known), axis=1),
            np.concatenate((self.bends, more.bends), axis=2),
            np.concatenate((self.evaporation, more.evaporation), axis=1),
        )


def minutes(mark: Mark, energy: float | None, share: float | None) -> float:
    """Reference minutes a clock has run by a mark.

    Args:
        mark: The mark.
        energy: Activation energy, kJ/mol; None where the clock has none.
        share: Of evaporation; None where the clock has none.
    """
    middle = ENERGIES[1] if energy is None else energy
    seen = Sightings.of([(0, mark, None)])
    return float(
        np.exp(log_minutes(seen, np.full((1, 1), middle), _row(share))[0][0, 0, 0])
    )


def _row(value: float | None) -> Floats | None:
    return None if value is None else np.full((1, 1), value)


def log_minutes(
    seen: Sightings, energy: Floats, share: Floats | None
) -> tuple[Floats, Floats, Floats]:
    """Log minutes of both marks, and its slope by energy and by share, (2, F, n)."""
    step = ENERGIES[2] - ENERGIES[1]
    turn = (energy - ENERGIES[1]) / step
    level, slope, bend = (part[:, None, :] for part in np.moveaxis(seen.bends, 1, 0))
    logs = level + turn * (slope + turn * bend)
    by_energy = (slope + 2 * turn * bend) / step
    if share is None:
        return logs, by_energy, np.zeros_like(logs)
    safe = np.clip(share, *_SAFE_SHARES)
    hydration = np.exp(logs)
    evaporation = seen.evaporation[:, None, :]
    total = (1 - safe) * hydration + safe * evaporation
    runs = total > LEAST_MIN
    total = np.where(runs, total, LEAST_MIN)
    by_energy = np.where(runs, (1 - safe) * hydration * by_energy / total, 0.0)
    by_share = np.where(runs & (safe == share), (evaporation - hydration) / total, 0.0)
    return np.log(total), by_energy, by_share
