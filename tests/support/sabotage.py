"""Ways to break the real program from inside, at a moment a test chooses."""

from __future__ import annotations

import os
import time

from textual._context import active_app
from textual.widgets import Static

from tui.app import PourbellApp


def _at_signal(act):
    """The program does it a moment after the file named GO appears."""
    tick = PourbellApp.tick

    def broken(self):
        if os.path.exists(os.environ["POURBELL_SHOP"] + "/go"):  # noqa: PTH110 - plain
            os.unlink(os.environ["POURBELL_SHOP"] + "/go")  # noqa: PTH108 - plain
            act()
        tick(self)

    PourbellApp.tick = broken


def block():
    """The loop stands still for nine seconds."""
    _at_signal(lambda: time.sleep(9))


def explode():
    """An error nobody expects."""

    def act():
        raise RuntimeError("sabotage")

    _at_signal(act)


def explode_in_worker():
    """The same in a worker."""

    async def work():
        raise RuntimeError("sabotage")

    _at_signal(lambda: active_app.get().run_worker(work()))


def explode_in_paint():
    """The same while a widget is drawn."""

    def act():
        def broken(*_args):
            raise RuntimeError("sabotage")

        Static.render = broken
        active_app.get().screen.query(Static).refresh()

    _at_signal(act)


def flood():
    """Paints so much that a terminal which takes nothing stops the loop soon."""
    tick = PourbellApp.on_mount

    def mounted(self):
        tick(self)
        self.set_interval(0.05, lambda: self.refresh(repaint=True, layout=True))

    PourbellApp.on_mount = mounted


def beats():
    """Writes down ten times a second that the loop runs."""
    tick = PourbellApp.on_mount

    def mounted(self):
        tick(self)
        path = os.environ["POURBELL_SHOP"] + "/beats"

        def beat():
            with open(path, "a") as file:  # noqa: PTH123 - plain
                file.write(f"{time.monotonic()}\n")

        self.set_interval(0.1, beat)

    PourbellApp.on_mount = mounted
