"""Which of many spans can be drawn on few rows without hiding each other."""

from __future__ import annotations

from collections.abc import Sequence

_MARKED = 0.55
"""Share of many rows that spans take, so that the curves over them are seen."""

_FEW = 8
"""Rows up to which they take all."""


def rows_for(rows: int) -> int:
    """How many of a panel's rows, from the lowest, spans are drawn on."""
    return rows if rows <= _FEW else max(_FEW, int(rows * _MARKED))


def packed(spans: Sequence[tuple[int, int]], rows: int) -> list[tuple[int, int]]:
    """Returns which spans are drawn and on which row, the first of them lowest.

    As many as can be without two touching on a row, taken evenly from all of them.

    Args:
        spans: First and last column of each.
        rows: Rows there are, 0 the lowest.

    Returns:
        Place among the spans and row of each that is drawn.
    """
    if rows < 1:
        return []
    count = len(spans)
    while count > rows:
        chosen = [number * len(spans) // count for number in range(count)]
        found = _fitted([spans[place] for place in chosen], rows)
        if found is not None:
            return list(zip(chosen, found, strict=True))
        count = count * 9 // 10  # thousands are thinned within a blink
    count = min(len(spans), rows)
    chosen = [number * len(spans) // count for number in range(count)]
    return [(place, at * rows // count) for at, place in enumerate(chosen)]


def _fitted(spans: Sequence[tuple[int, int]], rows: int) -> list[int] | None:
    """A row for each, or None where they do not go in."""
    taken: list[list[tuple[int, int]]] = [[] for _ in range(rows)]
    found = []
    for low, high in spans:
        free = (
            row
            for row in range(rows)
            if all(high + 1 < start or low > end + 1 for start, end in taken[row])
        )
        row = next(free, None)
        if row is None:
            return None
        taken[row].append((low, high))
        found.append(row)
    return found
