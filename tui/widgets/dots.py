"""A field of fine dots, two by four in each cell, as braille letters.

Braille is one cell wide in every terminal, and the shape of a curve stays without
colour. The dots of one cell share one ink: that of what was drawn last.
"""

from __future__ import annotations

from tui.widgets.chart import Axis, Ink, Line, Points, Ribbon, between

ACROSS, DOWN = 2, 4
"""Dots in a cell."""

_BLANK = 0x2800
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


class DotField:
    """The dots of one panel."""

    def __init__(
        self, columns: int, rows: int, axis: Axis, reach: tuple[float, float]
    ) -> None:
        """Makes an empty field.

        Args:
            columns: Cells across, at least 1.
            rows: Cells down, at least 1.
            axis: What the columns stand for.
            reach: y of the lowest and the highest dot.
        """
        self.columns = columns
        self.rows = rows
        self._axis = axis
        self._low, self._high = reach
        self._bits = [[0] * columns for _ in range(rows)]
        self._inks: list[list[Ink]] = [["faint"] * columns for _ in range(rows)]

    def cell(self, row: int, column: int) -> tuple[str, Ink] | None:
        """The letter of a cell and its ink, None where there is no dot."""
        bits = self._bits[row][column]
        return (chr(_BLANK + bits), self._inks[row][column]) if bits else None

    def down(self, y: float) -> int:
        """Row of dots, from the top, at which a y lies; outside when it is not shown.

        A y far outside is only just outside, so that no number grows too large.
        """
        share = (self._high - y) / (self._high - self._low)
        return round(min(max(share, -1.0), 2.0) * (self.rows * DOWN - 1))

    def line(self, line: Line) -> None:
        """Draws a line."""
        before: int | None = None
        for column in range(self.columns * ACROSS):
            y = self._at(line.points, column)
            if y is None:
                before = None
                continue
            here = self.down(y)
            if line.dotted:
                if column % ACROSS == 0:
                    self._dot(column, here, line.ink)
                continue
            # A steep line is drawn down to where the column before it ended.
            start = (
                here if before is None else before + (here > before) - (here < before)
            )
            for row in range(min(start, here), max(start, here) + 1):
                self._dot(column, row, line.ink)
            before = here

    def ribbon(self, ribbon: Ribbon) -> None:
        """Draws both edges of a ribbon; a filling would blur the line within."""
        for part in (1, 2):
            edge = tuple((point[0], point[part]) for point in ribbon.points)
            self.line(Line(ribbon.name, edge, ribbon.ink, dotted=True))

    def _at(self, points: Points, column: int) -> float | None:
        """The y of a series in the middle of a column of dots, None outside it."""
        share = (column + 0.5) / (self.columns * ACROSS)
        x = self._axis.low + share * (self._axis.high - self._axis.low)
        if not points or not points[0][0] <= x <= points[-1][0]:
            return None
        return between(points, x)

    def _dot(self, column: int, row: int, ink: Ink) -> None:
        if not 0 <= row < self.rows * DOWN:
            return
        self._bits[row // DOWN][column // ACROSS] |= _BITS[row % DOWN][column % ACROSS]
        self._inks[row // DOWN][column // ACROSS] = ink


def sample(line: Line) -> str:
    """A piece of a line for the legend."""
    return "⠂⠂⠂" if line.dotted else "⠒⠒⠒"


RIBBON_SAMPLE = "⡁⡁⡁"
"""A piece of a ribbon for the legend."""
