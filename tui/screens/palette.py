"""The library's palette of commands, which must not take the program with it."""

from __future__ import annotations

from typing import Any

from textual.command import CommandPalette
from textual.worker import Worker

from tui.screens.dialog import Passing


class Palette(CommandPalette, Passing[None]):
    """A palette whose search may fail: it does when it is closed as it begins."""

    def run_worker(self, *work: Any, **options: Any) -> Worker[Any]:  # noqa: ANN401 - the library's own
        """Runs the search, and never ends the program for it."""
        return super().run_worker(*work, **{**options, "exit_on_error": False})
