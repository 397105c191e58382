"""Between what the waits of the past lay, on the clock as it was learned."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scheduling.learned import Learned, Seen
from scheduling.observation import ENERGIES, Mark, Observation
from scheduling.sightings import Sightings, log_minutes


def seen(learned: Learned) -> tuple[Seen, ...]:
    """Returns between what each wait lay that something was learned from."""
    said = [weighed.said for weighed in learned.seen]
    low, high = _minutes(learned, said)
    return tuple(
        Seen(
            one.said.pour,
            _end(one.said.after, low[at]),
            _end(one.said.before, high[at]),
            one.odd,
        )
        for at, one in enumerate(learned.seen)
    )


def _end(mark: Mark | None, minutes: float) -> float | None:
    return None if mark is None else minutes


def _minutes(
    learned: Learned, said: Sequence[Observation]
) -> tuple[list[float], list[float]]:
    if not said:
        return [], []
    waits = Sightings.of((0, one.after, one.before) for one in said)
    energy = learned.energy.p50 if learned.energy else ENERGIES[1]
    share = None if learned.share is None else np.full((1, 1), learned.share.p50)
    logs, _, _ = log_minutes(waits, np.full((1, 1), energy), share)
    low, high = np.exp(logs[:, 0, :]).tolist()
    return low, high
