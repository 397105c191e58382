"""A countdown or a short word, large enough to read across the shop.

Letters are five dots high; a dot is a whole number of cells, painted as reversed
spaces rather than block glyphs, so no font shows seams and no colour is needed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget
from typing_extensions import override

from tui.notify import clean
from tui.states import State

DOTS: dict[str, str] = {
    "0": "### #.# #.# #.# ###",
    "1": ".#. ##. .#. .#. ###",
    "2": "### ..# ### #.. ###",
    "3": "### ..# ### ..# ###",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ### ..# ###",
    "6": "### #.. ### #.# ###",
    "7": "### ..# ..# ..# ..#",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ###",
    "A": "### #.# ### #.# #.#",
    "B": "##. #.# ##. #.# ##.",
    "C": "### #.. #.. #.. ###",
    "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###",
    "F": "### #.. ##. #.. #..",
    "G": "### #.. #.# #.# ###",
    "H": "#.# #.# ### #.# #.#",
    "I": "### .#. .#. .#. ###",
    "J": "..# ..# ..# #.# ###",
    "K": "#.# #.# ##. #.# #.#",
    "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "O": "### #.# #.# #.# ###",
    "P": "### #.# ### #.. #..",
    "Q": "### #.# #.# ### ..#",
    "R": "##. #.# ##. #.# #.#",
    "S": "### #.. ### ..# ###",
    "T": "### .#. .#. .#. .#.",
    "U": "#.# #.# #.# #.# ###",
    "V": "#.# #.# #.# #.# .#.",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#.# #.# .#. #.# #.#",
    "Y": "#.# #.# ### .#. .#.",
    "Z": "### ..# .#. #.. ###",
    ":": ". # . # .",
    ".": ". . . . #",
    "+": "... .#. ### .#. ...",
    "-": "... ... ### ... ...",
    "<": "..# .#. #.. .#. ..#",
    ">": "#.. .#. ..# .#. #..",
    " ": ". . . . .",
}
"""Five rows of dots a character; letters with slanting strokes are wider than three."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """A line of text in dots, at one size.

    The second and fourth row of every letter hold only uprights and slants, so they
    may be taller than the three rows of strokes: that fills a height which is no
    multiple of five.

    Attributes:
        text: Capitals found in ``DOTS``.
        dot: Width of a dot, cells.
        stroke: Height of the first, third and fifth row, cells.
        rise: Height of the second and fourth row, cells.
    """

    text: str
    dot: int
    stroke: int
    rise: int

    @property
    def width(self) -> int:
        """Width of the whole line, cells."""
        return dots_across(self.text) * self.dot

    @property
    def height(self) -> int:
        """Height of the whole line, cells."""
        return 3 * self.stroke + 2 * self.rise

    def lines(self) -> tuple[str, ...]:
        """Return the picture, one string a row: ``#`` lit, space not."""
        glyphs = [DOTS[char].split() for char in self.text]
        heights = (self.stroke, self.rise, self.stroke, self.rise, self.stroke)
        picture: list[str] = []
        for row, height in enumerate(heights):
            dots = ".".join(glyph[row] for glyph in glyphs)
            cells = "".join((" " if dot == "." else dot) * self.dot for dot in dots)
            picture.extend([cells] * height)
        return tuple(picture)


def dots_across(text: str) -> int:
    """Return the width of a text in dots, one dot between letters."""
    return sum(len(DOTS[char].split()[0]) + 1 for char in text) - 1


def fit(text: str, width: int, height: int) -> Lettering | None:
    """Return the largest lettering of a text that fits and keeps its shape.

    Args:
        text: Any case.
        width: Room, cells.
        height: Room, cells.

    Returns:
        None when the room is too small, the text is empty, or a character has no
        dots.
    """
    capitals = text.upper()
    if not capitals or any(char not in DOTS for char in capitals):
        return None
    widest = width // dots_across(capitals)
    stroke = min(height // 5, widest)
    if stroke < 1:
        return None
    rise = min((height - 3 * stroke) // 2, 2 * stroke)
    return Lettering(capitals, min(widest, 3 * stroke), stroke, rise)


def paint(cells: str, style: Style) -> list[Segment]:
    """Turn a row of a picture into segments; lit cells are the style reversed.

    Args:
        cells: ``#`` lit, space not.
        style: Colours of an unlit cell.
    """
    lit = style + Style(reverse=not style.reverse)
    return [
        Segment(" " * len(list(run)), lit if dot == "#" else style)
        for dot, run in groupby(cells)
    ]


class BigClock(Widget):
    """One short text, as large as the widget allows, in the colour of a state.

    A window that closes, has closed, or a step that is late is shown as dark
    letters cut out of a lit field, or between two lit bars where there is no room
    for a field, so that it differs without colour.
    """

    ALLOW_SELECT = False

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"bigclock--{state}" for state in State}
    """One class a state, ``bigclock--<state>``: colour of the letters, and
    ``text-style: reverse`` where the letters are cut out of a lit field."""

    DEFAULT_CSS = "BigClock { width: 1fr; height: 1fr; }\n" + "\n".join(
        f"BigClock > .bigclock--{state} {{ color: $state-{state}-ink;"
        + (
            " text-style: reverse; }"
            if state in {State.CLOSING, State.CLOSED, State.LATE}
            else " }"
        )
        for state in State
    )

    text: reactive[str] = reactive("")
    """What is shown: ``12:34``, ``1:05 H``, ``NOW``."""

    state: reactive[State] = reactive(State.WAITING)
    """Whose colours it wears."""

    def __init__(
        self,
        text: str = "",
        state: State = State.WAITING,
        *,
        id: str | None = None,  # noqa: A002 - the name every Textual widget uses
        classes: str | None = None,
    ) -> None:
        """Show a text at once.

        Args:
            text: What is shown.
            state: Whose colours it wears.
            id: Of the widget.
            classes: Of the widget.
        """
        super().__init__(id=id, classes=classes)
        self._strips: list[Strip] | None = None
        self._drawn_for: tuple[str, State, int, int] | None = None
        self.set_reactive(BigClock.text, text)
        self.set_reactive(BigClock.state, state)

    @override
    def notify_style_update(self) -> None:
        self._strips = None
        super().notify_style_update()

    @override
    def render_line(self, y: int) -> Strip:
        wanted = (self.text, self.state, *self.size)
        if self._strips is None or self._drawn_for != wanted:
            self._strips = self._draw()
            self._drawn_for = wanted
        return self._strips[y]

    def _draw(self) -> list[Strip]:
        width, height = self.size
        style = self.get_component_rich_style(f"bigclock--{self.state}")
        edge = ""
        if style.reverse:
            # The lit field needs a rim, or the letters run out of it.
            lettering = fit(self.text, width - 4, height - 2)
            if lettering is None:
                edge = "##"
                lettering = fit(self.text, width - 6, height)
        else:
            lettering = fit(self.text, width, height)
        if lettering is None:
            return _plain(clean(self.text), width, height, style)
        if edge:
            style += Style(reverse=False)
        above = (height - lettering.height) // 2
        picture = {above + row: line for row, line in enumerate(lettering.lines())}
        room = width - 2 * len(edge)
        return [
            Strip(paint(edge + picture.get(y, "").center(room) + edge, style), width)
            for y in range(height)
        ]


def _plain(text: str, width: int, height: int, style: Style) -> list[Strip]:
    """Return the text in bold letters of one cell, in the middle."""
    words = Strip([Segment(text, style + Style(bold=True))]).crop(0, width)
    left = (width - words.cell_length) // 2
    blank = Strip.blank(width, style)
    line = Strip.join([Strip.blank(left, style), words]).extend_cell_length(
        width, style
    )
    return [line if y == height // 2 else blank for y in range(height)]
