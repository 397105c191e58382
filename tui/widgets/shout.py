"""The takeover of an alert: half the screen, read from three metres.

What opens, what closes and what merely calls differ in shape, not only in colour:

- opens: a plain field, chevrons pointing outwards on both sides of the word;
- closes: a thick rule above, another below that carries the words in reverse, and
  chevrons pointing inwards;
- note: a pillar at each side.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget
from typing_extensions import override

from tui.notify import clean
from tui.widgets.bigclock import Lettering, dots_across, fit, paint

if TYPE_CHECKING:
    from tui.sound import Shape

_CHEVRONS: dict[Shape, tuple[str, str]] = {"opens": ("<", ">"), "closes": (">", "<")}
"""Left and right of the word."""

_SMALL_FRAMES: dict[Shape, tuple[str, str]] = {
    "opens": ("<<<", ">>>"),
    "closes": (">>>", "<<<"),
    "note": ("||", "||"),
}
"""The same in plain characters, where there is no room for dots."""

_LEAST_ROWS = 9
"""Below this height the word is written in plain bold letters."""


@dataclass(frozen=True, slots=True)
class ShoutText:
    """What an alert says.

    Attributes:
        shape: Which of the three shapes.
        word: One big word: OPEN, CLOSING, TOUCH, MIX, COVER.
        line: What to do, in plain words.
        key_hint: The key that acknowledges it.
        repeat: How often it has been repeated, from 0; odd ones show in reverse, so
            that each repeat moves the whole block.
    """

    shape: Shape
    word: str
    line: str
    key_hint: str
    repeat: int = 0


@dataclass(frozen=True, slots=True)
class _Row:
    """One row of the block.

    Attributes:
        cells: Picture, ``#`` lit, space not, as wide as the block.
        words: Written over the middle of it.
        cap: The words stand on a key cap: reversed against the row.
    """

    cells: str
    words: str = ""
    cap: bool = False


class Shout(Widget):
    """The alert that takes over the top half of the screen until acknowledged."""

    ALLOW_SELECT = False

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "shout--opens",
        "shout--closes",
        "shout--note",
    }
    """Of each shape: ``background`` is the field, ``color`` the letters on it."""

    # A layer of its own: the screen below keeps its layout while the block is up.
    DEFAULT_CSS = """
    Shout {
        dock: top;
        layer: shout;
        width: 100%;
        height: 50%;
        min-height: 5;
        display: none;
    }
    Shout > .shout--opens { background: $shout-opens; color: $shout-opens-text; }
    Shout > .shout--closes { background: $shout-closes; color: $shout-closes-text; }
    Shout > .shout--note { background: $shout-note; color: $shout-note-text; }
    """

    alert: reactive[ShoutText | None] = reactive(None)
    """What is shouted; None hides the block."""

    def __init__(
        self,
        *,
        id: str | None = None,  # noqa: A002 - the name every Textual widget uses
        classes: str | None = None,
    ) -> None:
        """Start hidden.

        Args:
            id: Of the widget.
            classes: Of the widget.
        """
        super().__init__(id=id, classes=classes)
        self._strips: list[Strip] | None = None
        self._drawn_for: tuple[ShoutText | None, int, int] | None = None

    def watch_alert(self, alert: ShoutText | None) -> None:
        """Show or hide the block."""
        self.display = alert is not None

    @override
    def notify_style_update(self) -> None:
        self._strips = None
        super().notify_style_update()

    @override
    def render_line(self, y: int) -> Strip:
        wanted = (self.alert, *self.size)
        if self._strips is None or self._drawn_for != wanted:
            self._strips = self._draw()
            self._drawn_for = wanted
        return self._strips[y]

    def _draw(self) -> list[Strip]:
        width, height = self.size
        alert = self.alert
        if alert is None:
            return [Strip.blank(width)] * height
        style = self.get_component_rich_style(f"shout--{alert.shape}")
        if alert.repeat % 2:
            style += Style(reverse=not style.reverse)
        rows = _layout(alert, width, height)
        return [Strip(_paint_row(row, style), width) for row in rows]


def _layout(alert: ShoutText, width: int, height: int) -> list[_Row]:
    """Arrange the block; exactly ``height`` rows."""
    closes = alert.shape == "closes"
    ground = _ground(alert.shape, width)
    foot = _foot(alert, width, height, "#" * width if closes else ground)
    room = height - len(foot)
    if room < 3:
        return [*_small_word(alert, ground), *foot, *[_Row(ground)] * height][:height]
    # Two rows keep the word off the edge, or off a rule, and off the foot; whatever
    # else is above the word of a window that closes is one more row of its rule.
    kept = 3 + height // 16
    big = _big_word(alert, width, room - kept) if height >= _LEAST_ROWS else ()
    word = [_Row(line) for line in big] or _small_word(alert, ground)
    spare = room - len(word)
    if closes:
        rule = [_Row(foot[0].cells)] * max(1, spare - 2)
        air = [_Row(ground)] * ((spare - len(rule)) // 2)
        odd = [_Row(ground)] * ((spare - len(rule)) % 2)
        return [*rule, *air, *word, *odd, *air, *foot]
    above = max(1, (spare - 1) // 2)
    between = min(above, spare - above)
    below = spare - above - between
    blank = [_Row(ground)]
    return [*blank * above, *word, *blank * between, *foot, *blank * below]


def _ground(shape: Shape, width: int) -> str:
    """Return an empty row of the field: blank, or with its two pillars."""
    pillar = "#" * (width // 20 if shape == "note" else 0)
    return pillar + " " * (width - 2 * len(pillar)) + pillar


def _foot(alert: ShoutText, width: int, height: int, cells: str) -> list[_Row]:
    """Return the words and the key; at least one row."""
    room = max(8, width - 2 * (width // 20) - 4)
    lines = _wrap(clean(alert.line), room, 2 if height > _LEAST_ROWS + 1 else 1)
    return [
        *(_Row(cells, words) for words in lines),
        _Row(cells, f" {clean(alert.key_hint)} ", cap=True),
    ]


def _wrap(text: str, room: int, most: int) -> list[str]:
    """Break a text into few lines of about the same length; cut what does not fit."""
    lines = textwrap.wrap(text, room, max_lines=most, placeholder=" ...")
    for width in range(8, room):
        even = textwrap.wrap(text, width)
        if len(even) <= len(lines):
            return even
    return lines


def _small_word(alert: ShoutText, ground: str) -> list[_Row]:
    left, right = _SMALL_FRAMES[alert.shape]
    return [_Row(ground, f"{left}  {clean(alert.word)}  {right}")]


def _big_word(alert: ShoutText, width: int, room: int) -> tuple[str, ...]:
    """Return the word in dots with what stands beside it; empty when it cannot be."""
    ground = _ground(alert.shape, width)
    free = ground.count(" ")
    marks = _CHEVRONS.get(alert.shape)
    # A mark is three dots and one of air, on either side.
    lettering = _fit_beside(alert.word, free, room, 8 if marks else 2)
    if lettering is None:
        return ()
    middle = [line.center(free) for line in lettering.lines()]
    if marks:
        middle = _with_marks(middle, lettering, marks)
    edge = "#" * ((width - free) // 2)
    return tuple(f"{edge}{line}{edge}" for line in middle)


def _fit_beside(word: str, width: int, room: int, beside: int) -> Lettering | None:
    """Fit a word so that ``beside`` dots of its own size stay free next to it."""
    known = fit(word, width, room)
    if known is None:
        return None
    across = dots_across(known.text)
    return fit(word, width * across // (across + beside), room)


def _with_marks(
    middle: list[str], lettering: Lettering, marks: tuple[str, str]
) -> list[str]:
    """Set up to three chevrons in the space on each side of the word."""
    side = (len(middle[0]) - lettering.width) // 2
    pitch = 4 * lettering.dot
    count = max(1, min(3, (side - 2 * lettering.dot) // pitch))
    left, right = (
        Lettering(mark * count, lettering.dot, lettering.stroke, lettering.rise)
        for mark in marks
    )
    return [
        before.center(side) + line[side : len(line) - side] + after.center(side)
        for before, line, after in zip(left.lines(), middle, right.lines(), strict=True)
    ]


def _paint_row(row: _Row, style: Style) -> list[Segment]:
    width = len(row.cells)
    words = row.words
    if cell_len(words) > width:
        words = set_cell_size(words, width)
    start = (width - cell_len(words)) // 2
    end = start + cell_len(words)
    under = row.cells[width // 2 : width // 2 + 1] == "#"
    reverse = bool(style.reverse) ^ under ^ row.cap
    letters = style + Style(bold=True, reverse=reverse)
    return [
        *paint(row.cells[:start], style),
        Segment(words, letters),
        *paint(row.cells[end:], style),
    ]
