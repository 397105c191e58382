"""The drawing of a chart: panels, brackets and one axis, row by row.

Series differ in stroke as well as in colour, so that a plot reads without colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import get_args

from rich.cells import cell_len
from rich.style import Style

from tui.widgets.cells import Cells
from tui.widgets.chart import (
    Bracket,
    Chart,
    Ink,
    Panel,
    Span,
    in_order,
    reach,
    round_numbers,
)
from tui.widgets.dots import DOWN, DotField
from tui.widgets.legend import Entry, legend
from tui.widgets.spans import packed, rows_for

INKS: tuple[Ink, ...] = get_args(Ink)

_LEAST_ROWS = 2
"""Rows below which a panel says nothing."""

_GOOD_ROWS = 4
"""Rows a panel wants before a second row goes to brackets."""


_MOST_LEGEND = 2
"""Rows a title with its legend may take."""


@dataclass(frozen=True, slots=True)
class Room:
    """How the rows of a plot are given out.

    Attributes:
        titles: Rows for the title of each panel and its legend.
        panels: Rows of each panel.
        brackets: Rows of brackets.
        labels: Whether the axis has its row.
    """

    titles: int
    panels: tuple[int, ...]
    brackets: int
    labels: bool

    @classmethod
    def of(cls, height: int, panels: int, wanted: int, legend: int = 1) -> Room | None:
        """Gives out the rows.

        Args:
            height: Rows there are.
            panels: How many there are.
            wanted: Rows the brackets want.
            legend: Rows that title and legend of a panel want.

        Returns:
            None where a panel would have no row.
        """
        if not panels or height < panels:
            return None
        labels = height > panels * _LEAST_ROWS
        left = height - labels
        titles = int(left >= panels * (_LEAST_ROWS + 1))
        if left >= panels * (_GOOD_ROWS + legend):
            titles = legend
        left -= panels * titles
        spare = left - panels * _GOOD_ROWS
        brackets = min(wanted, max(spare, int(spare >= 1 - panels)))
        share, more = divmod(left - brackets, panels)
        rows = tuple(share + (index < more) for index in range(panels))
        return cls(titles, rows, brackets, labels)


class Picture:
    """One chart on its way into rows of cells."""

    def __init__(
        self,
        chart: Chart,
        width: int,
        height: int,
        ground: Style,
        styles: Mapping[str, Style],
    ) -> None:
        self._chart = chart
        self._width = width
        self._ground = ground
        self._styles = styles
        self._scales = [reach(panel, chart.axis) for panel in chart.panels]
        fewest = Room.of(height, len(chart.panels), len(chart.brackets))
        self._ticks = [
            [(y, f"{y:g}") for y in round_numbers(*scale, max(1, rows // 2))]
            for scale, rows in zip(
                self._scales, fewest.panels if fewest else (), strict=False
            )
        ]
        self._gutter = self._gutter_width()
        self._columns = max(0, width - self._gutter)
        self._shaded = self._shaded_columns()
        self._packed = self._pack()
        count, wanted = len(chart.panels), len(self._packed)
        # Fewer spans go in where the legend takes more rows, which is one word more.
        self._room = Room.of(height, count, wanted, _MOST_LEGEND)
        self._drawn_spans = self._pack_spans()
        rows = max((len(self._legend(n)) for n in range(count)), default=1)
        self._room = Room.of(height, count, wanted, min(rows, _MOST_LEGEND))
        self._drawn_spans = self._pack_spans()

    def rows(self) -> Iterable[Cells]:
        """Every row from the top; none where there is no room at all."""
        room = self._room
        if room is None or self._columns < 1:
            return
        for index, panel in enumerate(self._chart.panels):
            yield from self._title(panel, index, room.titles)
            yield from self._panel(panel, index, room.panels[index])
        yield from self._brackets(room.brackets)
        if room.labels:
            yield self._labels()

    def _style(self, name: str) -> Style:
        return self._ground + self._styles[f"plot--{name}"]

    # -- places

    def _column(self, x: float) -> int:
        """Column of an x; outside 0 to columns when it is not shown."""
        axis = self._chart.axis
        share = (x - axis.low) / (axis.high - axis.low)
        return int(min(max(share, -1.0), 2.0) * self._columns // 1)

    def _on(self, x: float) -> bool:
        return 0 <= self._column(x) < self._columns

    def _gutter_width(self) -> int:
        labels = (len(label) for ticks in self._ticks for _, label in ticks)
        # Where the plot is narrow the curve matters more than its scale.
        widest = max(labels, default=0) + 1
        return widest if self._width >= 4 * widest else 0

    def _shaded_columns(self) -> list[int]:
        low, high = self._chart.axis.low, self._chart.axis.high
        step = (high - low) / max(1, self._columns)
        middles = (low + (column + 0.5) * step for column in range(self._columns))
        return [n for n, x in enumerate(middles) if self._chart.is_shaded(x)]

    # -- rows

    def _row(self, shade: str = "") -> Cells:
        """An empty row with its ground, and a letter where that is the other one."""
        cells = Cells(self._width, self._ground)
        style = self._styles["plot--axis" if shade else "plot--shaded"]
        for column in self._shaded:
            cells.lay(self._gutter + column, shade or " ", style)
        return cells

    def _lay(self, cells: Cells, column: int, text: str, name: str) -> None:
        """Writes text on the ground that is there; what lies outside is lost."""
        style = self._styles[f"plot--{name}"]
        for at, letter in enumerate(text, column):
            if 0 <= at < self._columns:
                cells.lay(self._gutter + at, letter, style)

    def _bar(self, cells: Cells) -> Cells:
        now = self._chart.now
        if now is not None and self._on(now):
            at = self._gutter + self._column(now)
            cells.lay(at, "│", self._styles["plot--now"], keep=True)
        return cells

    def _title(self, panel: Panel, index: int, rows: int) -> Iterable[Cells]:
        """The title and the legend, as much of it as has room."""
        legend = self._legend(index)
        for number in range(rows):
            entries = legend[number] if number < len(legend) else []
            cells = Cells(self._width, self._ground)
            if number == 0:
                title = self._style("title")
                cells.write(self._gutter, panel.title, title, len(panel.title))
            for one in entries:
                length = len(one.stroke)
                after = one.left + length + bool(length)
                cells.write(one.left, one.stroke, self._style(one.ink), length)
                cells.write(after, one.name, self._style("axis"), cell_len(one.name))
            yield cells

    def _legend(self, index: int) -> list[list[Entry]]:
        drawn = len(self._drawn_spans[index])
        return legend(self._chart.panels[index], drawn, self._gutter, self._width)

    def _panel(self, panel: Panel, index: int, rows: int) -> Iterable[Cells]:
        """One panel: scale, lines up from the brackets' middles, strokes, letters."""
        field = DotField(self._columns, rows, self._chart.axis, self._scales[index])
        drawn = [self._row() for _ in range(rows)]
        self._scale(drawn, field, index)
        for cells in drawn:
            for one in self._chart.brackets:
                self._lay(cells, self._column(one.at), "┊", "axis")
        self._strokes(drawn, field, panel)
        self._spans(drawn, panel, index)
        for dots in panel.dots:
            for x, y in dots.points:
                row = field.down(y) // DOWN
                if 0 <= row < rows:
                    self._lay(drawn[row], self._column(x), dots.glyph, dots.ink)
        return map(self._bar, drawn)

    def _scale(self, drawn: list[Cells], field: DotField, index: int) -> None:
        for y, label in self._ticks[index] if self._gutter else ():
            text = label.rjust(self._gutter - 1)
            row = field.down(y) // DOWN
            drawn[row].write(0, text, self._style("axis"), len(text))

    def _strokes(self, drawn: list[Cells], field: DotField, panel: Panel) -> None:
        for ribbon in panel.ribbons:
            field.ribbon(ribbon)
        for line in panel.lines:
            field.line(line)
        for row, cells in enumerate(drawn):
            for column in range(self._columns):
                if found := field.cell(row, column):
                    self._lay(cells, column, *found)

    def _pack_spans(self) -> list[list[tuple[int, int]]]:
        """Place and row, from the lowest, of the spans drawn in each panel."""
        found = []
        for index, panel in enumerate(self._chart.panels):
            columns = [
                self._ends(one) for one in (panel.spans.each if panel.spans else ())
            ]
            rows = self._room.panels[index] if self._room else 0
            found.append(packed(columns, rows_for(rows)))
        return found

    def _ends(self, one: Span) -> tuple[int, int]:
        """First and last column of a span; one seen from one side has one of them."""
        ends = [
            min(max(self._column(x), 0), max(0, self._columns - 1))
            for x in (one.low, one.high)
            if x is not None
        ]
        return min(ends, default=0), max(ends, default=0)

    def _spans(self, drawn: list[Cells], panel: Panel, index: int) -> None:
        for place, row in self._drawn_spans[index]:
            assert panel.spans is not None
            one = panel.spans.each[place]
            for x, glyph in ((one.low, "["), (one.high, "]")):
                if x is None:
                    continue
                at = min(max(self._column(x), 0), self._columns - 1)
                cells = drawn[len(drawn) - 1 - row]
                ink = "faint" if one.odd else "second"
                self._lay(cells, at, "?" if one.odd else glyph, ink)

    def _pack(self) -> list[list[tuple[int, str]]]:
        """Brackets in as few rows as they need, each with its first column."""
        rows: list[list[tuple[int, str]]] = []
        for one in in_order(self._chart.brackets):
            placed = self._bracket(one)
            if placed is None:
                continue
            free = (row for row in rows if row[-1][0] + len(row[-1][1]) < placed[0])
            row = next(free, None)
            if row is None:
                rows.append([placed])
            else:
                row.append(placed)
        return rows

    def _brackets(self, rows: int) -> Iterable[Cells]:
        """As many rows of brackets as there is room for."""
        for brackets in self._packed[:rows]:
            cells = self._row()
            for left, text in brackets:
                self._lay(cells, left, text, "bracket")
            yield self._bar(cells)

    def _bracket(self, one: Bracket) -> tuple[int, str] | None:
        """First column and letters of a bracket, None when it is not shown."""
        low, at, high = (self._column(x) for x in (one.low, one.at, one.high))
        left, right = max(low, 0), min(high, self._columns - 1)
        if left > right:
            return None
        letters = ["─"] * (right - left + 1)
        for column, letter in ((low, "├"), (high, "┤"), (at, "┼")):
            if left <= column <= right:
                letters[column - left] = letter
        text = "".join(letters)
        if right + 2 + len(one.label) <= self._columns:
            return left, f"{text} {one.label}"
        if len(one.label) < left:
            return left - len(one.label) - 1, f"{one.label} {text}"
        return left, text

    def _labels(self) -> Cells:
        """The axis: now first, then as many labels as have room.

        Dots tell the shaded stretches where there is no colour.
        """
        cells = self._row("·")
        taken: list[tuple[int, int]] = []
        labels = [(x, label, "axis") for x, label in self._chart.axis.ticks]
        if self._chart.now is not None:
            labels.insert(0, (self._chart.now, "now", "title"))
        for x, label, name in labels:
            left = self._column(x)
            right = left + cell_len(label)
            free = all(right < start or left > end for start, end in taken)
            if self._on(x) and right <= self._columns and free:
                self._lay(cells, left - 1, f" {label} ", name)
                taken.append((left, right))
        return cells
