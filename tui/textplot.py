"""Points as letters on lines of text, for a terminal without the program."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tui.widgets.chart import number_axis

_ROWS = 14


@dataclass(frozen=True, slots=True)
class Letters:
    """A series.

    Attributes:
        glyph: One letter; that of a later series lies over the earlier.
        points: x and y, 0 or more.
    """

    glyph: str
    points: Sequence[tuple[float, float]]


def against(series: Sequence[Letters], most: float, width: int) -> Iterable[str]:
    """Returns a field with the diagonal on which x is y; both axes begin at 0.

    Args:
        series: What is drawn.
        most: Where the axes end, above 0; what lies beyond is drawn at the edge.
        width: Columns there are.
    """
    axis = number_axis(0.0, most, _ROWS // 3)
    gutter = max(len(label) for _, label in axis.ticks) + 1
    columns = min(width - gutter - 1, 4 * _ROWS)
    field = [[" "] * columns for _ in range(_ROWS)]

    def place(x: float, y: float) -> tuple[int, int]:
        across = round(min(x / most, 1.0) * (columns - 1))
        return _ROWS - 1 - round(min(y / most, 1.0) * (_ROWS - 1)), across

    for step in range(columns):
        row, column = place(*(most * step / (columns - 1),) * 2)
        field[row][column] = "."
    for letters in series:
        for point in letters.points:
            row, column = place(*point)
            field[row][column] = letters.glyph
    names = {place(0.0, y)[0]: label for y, label in axis.ticks}
    for row, cells in enumerate(field):
        yield f"{names.get(row, ''):>{gutter}}|{''.join(cells)}".rstrip()
    foot = [" "] * (columns + gutter)
    for x, label in axis.ticks:
        at = min(place(x, 0.0)[1], columns - len(label))
        foot[at : at + len(label)] = label
    yield f"{'':>{gutter}} {''.join(foot)}".rstrip()
