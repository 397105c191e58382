"""What the figures of a cure are worth, over the screen that shows them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from rich.text import Text
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from scheduling.cure import Cure
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

    def __init__(self, cure: Cure) -> None:
        """Prepares the page.

        Args:
            cure: What it explains.
        """
        super().__init__()
        self._cure = cure

    def box(self) -> Iterable[Widget]:
        """Lays out the page."""
        with VerticalScroll():
            yield Static(self.page(), markup=False)

    def page(self) -> Text:
        """Returns the whole page."""
        text = Text("The figures are indicative, and this is why.", style="bold")
        text.append("   ESC goes back\n\n", style="not bold italic")
        for words in self._cure.warnings:  # whole, as no line of the screen has room
            text.append(f"! {clean(words, _LONGEST)}\n\n", style="not bold")
        for words in self._cure.explanation:
            text.append(f"{clean(words, _LONGEST)}\n\n", style="not bold")
        text.append("Thresholds\n")
        for mark in self._cure.marks:
            about = f"  {mark.what:<8}{mark.words}: {mark.standing}\n"
            text.append(clean(about, _LONGEST) + "\n", style="not bold")
        text.rstrip()
        return text
