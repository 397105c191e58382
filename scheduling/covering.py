"""What lies over a piece from when on: by the steps of its cure, and as people say."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from scheduling.process import StepKey

if TYPE_CHECKING:  # brings the heat balance in, after the first paint
    from scheduling.shell import CoverName

CASTING = StepKey("screed")
"""A piece counts as cast when this step is done."""

COVERING: tuple[tuple[StepKey, CoverName], ...] = (
    (StepKey("cover"), "plastic"),
    (StepKey("blankets"), "blanket"),
)
"""Steps at whose end something comes on."""

UNCOVERING = StepKey("back-grind")
"""The step for which everything comes off."""

COVER_NAMES: tuple[CoverName, ...] = ("open", "plastic", "blanket", "heated tent")
"""From the least to the most."""

Change = tuple[datetime, "CoverName"]
"""From when on something lies over a piece, and what."""

CoverChanges = tuple[Change, ...]
"""What lies over a piece from an instant on, in order of time; ``open`` before all."""


def cover_changes(
    steps: Iterable[Change],
    said: Iterable[Change],
    uncovered: datetime | None,
    under: Change | None = None,
) -> CoverChanges:
    """Puts together what the steps bring on and what people say they did.

    A step only adds: nobody takes a heated tent off because the blankets were due.
    What people say lies there from then on, less or more.

    Args:
        steps: When a step ends, or is forecast to, and what it brings on.
        said: What was logged to lie there, and from when on.
        uncovered: When everything comes off for the work on the piece, or None.
        under: Instead of all that comes after it but ``uncovered``.
    """
    marked: list[tuple[datetime, bool, CoverName]] = [
        *((when, False, name) for when, name in steps),
        *((when, True, name) for when, name in said),
    ]
    if under is not None:
        marked = [mark for mark in marked if mark[0] < under[0]]
        marked.append((under[0], True, under[1]))
    if uncovered is not None:
        marked.append((uncovered, True, "open"))
    changes: list[tuple[datetime, CoverName]] = []
    now: CoverName = "open"
    for when, final, name in sorted(marked, key=lambda mark: mark[:2]):
        more = COVER_NAMES.index(name) > COVER_NAMES.index(now)
        if name != now and (final or more):
            changes.append((when, name))
            now = name
    return tuple(changes)
