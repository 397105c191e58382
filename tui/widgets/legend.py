"""The legend of a panel, in as many rows as it needs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rich.cells import cell_len

from tui.widgets.chart import Ink, Panel
from tui.widgets.dots import RIBBON_SAMPLE, sample

_APART = 3
"""Cells between the entries."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One series: the column it begins at, its stroke or letter, its name and ink."""

    left: int
    stroke: str
    name: str
    ink: Ink


def legend(panel: Panel, drawn: int, left: int, width: int) -> list[list[Entry]]:
    """Returns the rows of a legend; the first stands after the title.

    Args:
        panel: The panel.
        drawn: How many of its spans are drawn.
        left: Column at which title and rows begin.
        width: Columns there are.
    """
    rows: list[list[Entry]] = [[]]
    at = left + len(panel.title) + _APART
    for stroke, name, ink in _entries(panel, drawn):
        length = len(stroke) + bool(stroke) + cell_len(name)
        if at + length > width:
            rows.append([])
            at = left
        rows[-1].append(Entry(at, stroke, name, ink))
        at += length + _APART
    return rows


def _entries(panel: Panel, drawn: int) -> Iterable[tuple[str, str, Ink]]:
    if panel.spans is not None:
        each = panel.spans.each
        if any(one.low is not None and not one.odd for one in each):
            yield "[", panel.spans.low, "second"
        if any(one.high is not None and not one.odd for one in each):
            yield "]", panel.spans.high, "second"
        if any(one.odd for one in each):
            yield "?", "odd", "faint"
        if drawn < len(each):
            yield "", f"{drawn} of {len(each)} shown", "faint"
    for dots in panel.dots:
        yield dots.glyph, dots.name, dots.ink
    for line in panel.lines:
        yield sample(line), line.name, line.ink
    for one in panel.ribbons:
        yield RIBBON_SAMPLE, one.name, one.ink
