"""How much the things of one pour tell together: its day is in all of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence

import numpy as np

from scheduling.normal import Floats

OF_THE_DAY = 0.5
"""Correlation of the zones of one wait, or the steps of one kind, within one pour
(estimate)."""


def shares(castings: Sequence[Hashable]) -> Floats:
    """How much each entry counts, as k of one casting tell less than k castings do.

    Args:
        castings: What each is of, (n,).

    Returns:
        1 of one alone, and of k together 1 / (1 + (k - 1) OF_THE_DAY) each, (n,).
    """
    sizes = Counter(castings)
    return np.array([1 / (1 + (sizes[each] - 1) * OF_THE_DAY) for each in castings])
