"""A chart in the terminal, drawn only when it or its size has changed."""

from __future__ import annotations

from typing import ClassVar

from textual.strip import Strip
from textual.widget import Widget
from typing_extensions import override

from tui.widgets.chart import Chart
from tui.widgets.picture import INKS, Picture


class Plot(Widget):
    """One chart, as large as the widget.

    Attributes:
        chart: What is drawn, or None.
    """

    ALLOW_SELECT = False

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "plot--title",
        "plot--axis",
        "plot--shaded",
        "plot--bracket",
        "plot--now",
        *(f"plot--{ink}" for ink in INKS),
    }
    """Titles, scales and labels, the other ground, brackets, the now bar, each ink."""

    DEFAULT_CSS = """
    Plot { width: 1fr; height: 1fr; }
    Plot > .plot--title { color: $foreground; }
    Plot > .plot--axis { color: $text-muted; }
    Plot > .plot--shaded { background: $surface; }
    Plot > .plot--bracket { color: $foreground; }
    Plot > .plot--now { color: $foreground; text-style: bold; }
    Plot > .plot--first { color: $accent; }
    Plot > .plot--second { color: $primary; }
    Plot > .plot--faint { color: $text-muted; }
    """

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - the name every Textual widget uses
        super().__init__(id=id)
        self.chart: Chart | None = None
        self._strips: list[Strip] = []
        self._drawn_for: tuple[int, int] | None = None

    def show(self, chart: Chart | None) -> None:
        """Draws a chart, or nothing when it is the one on the screen; None is blank."""
        if chart is not self.chart and chart != self.chart:
            self.chart = chart
            self._drawn_for = None
            self.refresh()

    @override
    def notify_style_update(self) -> None:
        self._drawn_for = None
        super().notify_style_update()

    @override
    def render_line(self, y: int) -> Strip:
        if self._drawn_for != self.size:
            rows = self._draw() if self.chart else []
            blank = Strip.blank(self.size.width, self.rich_style)
            rows += [blank] * (self.size.height - len(rows))
            self._strips, self._drawn_for = rows, self.size
        return self._strips[y]

    def _draw(self) -> list[Strip]:
        assert self.chart is not None
        styles = {
            name: self.get_component_rich_style(name, partial=True)
            for name in self.COMPONENT_CLASSES
        }
        picture = Picture(self.chart, *self.size, self.rich_style, styles)
        return [row.strip() for row in picture.rows()]
