"""What all dialogs share: they stand over the screen, and an alert stands over them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TypeVar

from textual import getters
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.containers import Container
from textual.screen import ModalScreen
from textual.widget import Widget

from tui.widgets.shout import Shout, ShoutText

Answer = TypeVar("Answer")


class Dialog(ModalScreen[Answer]):
    """A dialog with the alert block above it."""

    shout = getters.query_one(Shout)

    def compose(self) -> ComposeResult:
        """Lays out the box and the alert block."""
        with Container(id="box"):
            yield from self.box()
        yield Shout()

    def box(self) -> Iterable[Widget]:
        """Yields what stands in the box."""
        raise NotImplementedError

    def dismiss(self, result: Answer | None = None) -> AwaitComplete:
        """Goes away with an answer, once: the second of two quick keys is too late."""
        return super().dismiss(result) if self.is_active else AwaitComplete()

    @property
    def ready(self) -> bool:
        """Whether the dialog is laid out."""
        return bool(self.query(Shout))

    def put_shout(self, alert: ShoutText | None) -> None:
        """Raises the alert block, or takes it down."""
        if alert is not None:
            hint = alert.key_hint.replace("ENTER", "F12")
            alert = replace(alert, key_hint=hint)
        self.shout.alert = alert
