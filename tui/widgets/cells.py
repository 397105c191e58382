"""A row of cells that widgets draw on, one character and one style in each."""

from __future__ import annotations

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from tui.notify import clean


class Cells:
    """One row of cells that can be written over."""

    def __init__(self, width: int, style: Style) -> None:
        self._cells: list[tuple[str, Style]] = [(" ", style)] * width

    def write(self, left: int, text: str, style: Style, width: int) -> None:
        """Writes text cut or filled to a width; what lies outside is lost."""
        shown = set_cell_size(clean(text), max(0, width))
        if cell_len(shown) != len(shown):
            shown = shown.encode("ascii", "replace").decode("ascii")[:width]
        for offset, character in enumerate(shown):
            if 0 <= left + offset < len(self._cells):
                self._cells[left + offset] = (character, style)

    def lay(
        self, cell: int, character: str, style: Style, *, keep: bool = False
    ) -> None:
        """Puts a character of one cell on the ground that is there.

        Args:
            cell: Which.
            character: One cell wide.
            style: Laid over the style that is there.
            keep: Whether a character that is there stays.
        """
        there, ground = self._cells[cell]
        kept = there if keep and there != " " else character
        self._cells[cell] = (kept, ground + style)

    def restyle(self, cell: int, style: Style, blank: str) -> None:
        """Lays a style over a cell, and a character where it is blank."""
        character, _ = self._cells[cell]
        self._cells[cell] = (blank if character == " " else character, style)

    def strip(self) -> Strip:
        """Returns the row, neighbours of one style run together."""
        segments: list[Segment] = []
        for character, style in self._cells:
            if segments and segments[-1].style == style:
                segments[-1] = Segment(segments[-1].text + character, style)
            else:
                segments.append(Segment(character, style))
        return Strip(segments, len(self._cells))
