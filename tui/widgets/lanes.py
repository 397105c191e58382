"""The board's time axis: one lane for each pour, drawn line by line.

Spans are blocks with their words, windows are bracketed, the now line runs through
every lane, hours in which the shop is closed are shaded.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from typing import ClassVar

from rich.cells import cell_len, set_cell_size
from rich.style import Style
from textual.geometry import Region, Size
from textual.scroll_view import ScrollView
from textual.strip import Strip
from typing_extensions import override

from scheduling.timeline import OVER, Span, Status
from tui.focus import STATES
from tui.inmemory import Pour
from tui.states import LOOKS, State
from tui.widgets.cells import Cells

LANE_ROWS = 3
"""Rows of a lane: its name, its blocks, its windows."""

_HEAD_ROWS = 1


@dataclass(frozen=True, slots=True)
class Scale:
    """Which stretch of time the axis shows.

    Attributes:
        start: At the left edge.
        per_cell: Time in one cell.
        width: Cells.
        zone: To label the axis in.
    """

    start: datetime
    per_cell: timedelta
    width: int
    zone: tzinfo

    @property
    def end(self) -> datetime:
        """At the right edge."""
        return self.start + self.width * self.per_cell

    def cell(self, when: datetime) -> int:
        """Returns the cell of an instant; outside 0 to width when it is not shown."""
        return int((when - self.start) // self.per_cell)

    def instant(self, cell: int) -> datetime:
        """Returns the instant at a cell's left edge."""
        return self.start + cell * self.per_cell


@dataclass(frozen=True, slots=True)
class Lane:
    """What one lane shows: a pour, its title line, and whether it is chosen."""

    pour: Pour
    title: str
    state: State
    chosen: bool


@dataclass(frozen=True, slots=True)
class Board:
    """Everything the axis draws, compared to see whether to draw it again.

    Attributes:
        scale: The stretch of time.
        lanes: Top to bottom.
        now: Cell of the now line.
        closed: Cells in which the shop is closed.
    """

    scale: Scale
    lanes: tuple[Lane, ...]
    now: int
    closed: frozenset[int] = field(default_factory=frozenset)


class Lanes(ScrollView):
    """All pours on one time axis."""

    ALLOW_SELECT = False

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "lanes--axis",
        "lanes--now",
        "lanes--shut",
        "lanes--title",
        "lanes--chosen",
        *(f"lanes--{state}" for state in State),
    }
    """Axis labels, now line, closed hours, titles, the chosen title, and each state's
    block."""

    DEFAULT_CSS = """
    Lanes { height: auto; max-height: 60%; min-height: 4; }
    Lanes > .lanes--axis { color: $text-muted; background: $surface; }
    Lanes > .lanes--now { color: $background; background: $foreground; }
    Lanes > .lanes--shut { background: $panel; color: $text-muted; }
    Lanes > .lanes--title { color: $foreground; }
    Lanes > .lanes--chosen {
        color: $background; background: $accent; text-style: bold;
    }
    """ + "\n".join(
        f"Lanes > .lanes--{state} {{ background: $state-{state};"
        f" color: $state-{state}-text; }}"
        for state in State
    )

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - the name every Textual widget uses
        super().__init__(id=id)
        self._board: Board | None = None
        self._strips: dict[int, Strip] = {}

    def show(self, board: Board) -> None:
        """Draws a board, or nothing when it is the one on the screen."""
        if board == self._board:
            return
        self._board = board
        self._strips.clear()
        rows = _HEAD_ROWS + LANE_ROWS * len(board.lanes)
        self.virtual_size = Size(board.scale.width, rows)
        self.styles.height = rows
        chosen = next((i for i, lane in enumerate(board.lanes) if lane.chosen), 0)
        top = _HEAD_ROWS + chosen * LANE_ROWS
        self.scroll_to_region(
            Region(0, top, 1, LANE_ROWS), animate=False, force=True, immediate=True
        )
        self.refresh()

    @override
    def notify_style_update(self) -> None:
        self._strips.clear()
        super().notify_style_update()

    @override
    def render_line(self, y: int) -> Strip:
        board = self._board
        if board is None:
            return Strip.blank(self.size.width, self.rich_style)
        row = y if y < _HEAD_ROWS else y + self.scroll_offset.y
        strip = self._strips.get(row)
        if strip is None:
            strip = self._strips[row] = self._draw(board, row)
        return strip

    def _draw(self, board: Board, row: int) -> Strip:
        cells = Cells(board.scale.width, self.rich_style)
        index, part = divmod(row - _HEAD_ROWS, LANE_ROWS)
        if row < _HEAD_ROWS:
            self._draw_axis(cells, board)
            return cells.strip()
        if index >= len(board.lanes):
            return cells.strip()
        lane = board.lanes[index]
        shut = self.get_component_rich_style("lanes--shut")
        if part == 0:
            name = "lanes--chosen" if lane.chosen else "lanes--title"
            style = self.get_component_rich_style(name)
            title, width = lane.title, board.scale.width
            if cell_len(title) > width:
                title = set_cell_size(title, width - 1) + "…"
            cells.write(0, title, style, width)
            return cells.strip()
        for cell in board.closed:
            cells.write(cell, " " if part == 1 else "·", shut, 1)
        if part == 1:
            self._draw_blocks(cells, board, lane)
        else:
            self._draw_windows(cells, board, lane)
        self._draw_now(cells, board)
        return cells.strip()

    def _draw_axis(self, cells: Cells, board: Board) -> None:
        style = self.get_component_rich_style("lanes--axis")
        cells.write(0, "", style, board.scale.width)
        scale = board.scale
        step = _tick(scale.per_cell)
        local = scale.start.astimezone(scale.zone)
        tick = local.replace(minute=0, second=0, microsecond=0)
        if step >= timedelta(days=1):
            tick = tick.replace(hour=0)
        last = -10
        while (cell := scale.cell(tick)) < scale.width:
            midnight = tick.astimezone(scale.zone).hour == 0
            label = f"{tick:%a %d}" if midnight else f"{tick:%H:%M}"
            if cell > max(last, -1) and cell + len(label) <= scale.width:
                cells.write(cell, label, style, len(label))
                last = cell + len(label)
            tick = (tick + step).replace(tzinfo=scale.zone)
        if 0 <= board.now < scale.width:
            cells.write(board.now, "v", style + Style(bold=True), 1)

    def _draw_blocks(self, cells: Cells, board: Board, lane: Lane) -> None:
        for block in _blocks(lane.pour, board.scale):
            style = self.get_component_rich_style(f"lanes--{block.state}")
            words = f"{LOOKS[block.state].glyph}{block.words}"
            cells.write(block.left, words, style, block.right - block.left)

    def _draw_windows(self, cells: Cells, board: Board, lane: Lane) -> None:
        """Draws waits that have begun and every window, the first to open on top."""
        waits = [
            (span.opens.p50, span)
            for span in lane.pour.timeline.spans
            if span.kind == "wait" and span.status not in OVER and span.opens
        ]
        for opens, span in waits:
            if span.closes or board.scale.cell(span.start) <= board.now:
                begin = max(0, board.scale.cell(span.start))
                end = min(board.scale.cell(opens), board.scale.width)
                dim = self.rich_style + Style(dim=True)
                for cell in range(begin, end):
                    cells.restyle(cell, dim, "-")
        taken = 0
        for opens, span in sorted(waits, key=lambda each: each[0]):
            left = max(taken, board.scale.cell(opens))
            taken = max(taken, self._draw_window(cells, board, span, left))

    def _draw_window(self, cells: Cells, board: Board, span: Span, left: int) -> int:
        """Draws one window from a cell on; returns the first cell behind it."""
        if span.closes is None:
            if board.scale.cell(span.start) <= board.now:
                cells.write(left, "|", self.rich_style + Style(bold=True), 1)
            return 0
        style = self.get_component_rich_style(f"lanes--{STATES[span.status]}")
        right = board.scale.cell(span.closes.p50)
        if right <= left:
            return 0
        label = span.key.zone or span.key.step
        inner = set_cell_size(label, right - left - 1)
        cells.write(left, f"[{inner}]", style, right - left + 1)
        return right + 1

    def _draw_now(self, cells: Cells, board: Board) -> None:
        if 0 <= board.now < board.scale.width:
            cells.restyle(board.now, self.get_component_rich_style("lanes--now"), "│")


@dataclass(slots=True)
class _Block:
    """A run of cells with one label."""

    left: int
    right: int
    state: State
    step: str
    phases: list[str]

    @property
    def words(self) -> str:
        """The step, or the phases it runs through where several steps share it."""
        if self.step:
            return self.step
        first, last = self.phases[0], self.phases[-1]
        return first if first == last else f"{first} to {last}"


_LEGIBLE = 8
"""Cells a block wants for its words; narrower ones merge across phases too."""


def _blocks(pour: Pour, scale: Scale) -> list[_Block]:
    """Returns the blocks of a lane; steps too short for their words are merged."""
    blocks: list[_Block] = []
    spans = [s for s in pour.timeline.steps() if s.status is not Status.SKIPPED]
    for span in sorted(spans, key=lambda span: span.start):
        left = max(0, scale.cell(span.start))
        right = min(scale.width, max(left + 1, scale.cell(span.finish)))
        if scale.cell(span.finish) < 0 or left >= scale.width:
            continue
        state = STATES[span.status]
        last = blocks[-1] if blocks else None
        if last is not None and left <= last.right and _merge(last, span, state, right):
            last.right = max(last.right, right)
            last.step = ""
            last.phases.append(span.phase)
        else:
            blocks.append(_Block(left, right, state, str(span.key), [span.phase]))
    return blocks


def _merge(last: _Block, span: Span, state: State, right: int) -> bool:
    """Whether a span joins the block before it: alike, and too short for its words."""
    if last.state is not state:
        return False
    if last.phases[-1] == span.phase:
        return len(str(span.key)) + 1 > right - last.right
    return last.right - last.left < _LEGIBLE


def _tick(per_cell: timedelta) -> timedelta:
    """The smallest round step whose labels have room."""
    for step in (
        timedelta(hours=1),
        timedelta(hours=2),
        timedelta(hours=4),
        timedelta(hours=6),
        timedelta(hours=12),
    ):
        if step / per_cell >= 8:
            return step
    return timedelta(days=1)
