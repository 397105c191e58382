"""What the figures of a screen are worth, over the screen that shows them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from rich.text import Text
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from tui.notify import clean
from tui.screens.dialog import Dialog

_LONGEST = 1000
"""Characters of one paragraph."""


class Why(Dialog[None]):
    """Where the figures come from, and how far to trust them."""

    CSS_PATH = "why.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,w,q,enter", "dismiss(None)", "back"),
    ]

    def __init__(
        self,
        title: str,
        parts: Iterable[str],
        heading: str = "",
        rows: Iterable[str] = (),
    ) -> None:
        """Prepares the page.

        Args:
            title: A sentence over it.
            parts: Its paragraphs.
            heading: Over the rows.
            rows: One line each, below the paragraphs.
        """
        super().__init__()
        self._says = title
        self._parts = tuple(parts)
        self._heading = heading
        self._rows = tuple(rows)

    def box(self) -> Iterable[Widget]:
        """Lays out the page."""
        with VerticalScroll():
            yield Static(self.page(), markup=False)

    def page(self) -> Text:
        """Returns the whole page."""
        text = Text(self._says, style="bold")
        text.append("   ESC goes back\n\n", style="not bold italic")
        for words in self._parts:
            text.append(f"{clean(words, _LONGEST)}\n\n", style="not bold")
        text.append(f"{self._heading}\n")
        for words in self._rows:
            text.append(f"  {clean(words, _LONGEST)}\n", style="not bold")
        text.rstrip()
        return text
