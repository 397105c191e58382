"""One question at a time: a line of text, checked before it is taken."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import ClassVar

from rich.text import Text
from textual import getters
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Input, Static

from scheduling.errors import BadInput
from tui.notify import clean
from tui.screens.dialog import Dialog

Check = Callable[[str], str]
"""Reads what is typed: returns what it would mean in words, or raises BadInput."""


class Ask(Dialog[str | None]):
    """Asks for one line; what it would mean is said while it is typed."""

    CSS_PATH = "ask.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss(None)", "back"),
    ]

    line = getters.query_one(Input)
    means = getters.query_one("#means", Static)

    def __init__(self, title: str, hint: str, check: Check) -> None:
        """Prepares the question.

        Args:
            title: What is asked.
            hint: How to answer, with an example.
            check: Says what the answer means, or refuses it.
        """
        super().__init__()
        self._title = title
        self._hint = hint
        self._check = check

    def box(self) -> Iterable[Widget]:
        """Lays out the question."""
        yield Static(clean(self._title), id="title", markup=False)
        yield Static(clean(self._hint, 400), id="hint", markup=False)
        yield Input(max_length=200)
        yield Static(id="means", markup=False)
        yield Static("ENTER takes it   ESC back", id="keys", markup=False)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Says what it would mean so far."""
        self.say(event.value)

    def say(self, value: str) -> bool:
        """Says what an answer means; returns whether it can be taken."""
        if not value.strip():
            self.means.update("")
            return False
        try:
            words = self._check(value)
        except BadInput as error:
            self.means.set_class(True, "bad")
            self.means.update(Text(clean(error.faults[0].want, 300)))
            return False
        self.means.set_class(False, "bad")
        self.means.update(Text(clean(words, 300)))
        return True

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Takes the answer if it can be read; what was typed stays if not."""
        if self.say(event.value):
            self.dismiss(event.value)
        else:
            self.app.bell()
