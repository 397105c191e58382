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


class Passing(ModalScreen[Answer]):
    """A screen over the others, which goes away once.

    Quick keys come before it is laid out, or two at a time: those are passed over.
    """

    _laid_out = False

    def on_mount(self) -> None:
        """Takes keys from now on."""
        self._laid_out = True

    @property
    def takes_keys(self) -> bool:
        """Whether it is there and not on its way out."""
        return self._laid_out and self.is_active

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Lets no key act on a screen that is not there."""
        return self.takes_keys and super().check_action(action, parameters)

    def dismiss(self, result: Answer | None = None) -> AwaitComplete:
        """Goes away with an answer."""
        return super().dismiss(result) if self.takes_keys else AwaitComplete()


class Dialog(Passing[Answer]):
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
