"""Ways to break the real program from inside, at a moment a test chooses."""

from __future__ import annotations

import os
import time

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


def flood():
    """Paints so much that a terminal which takes nothing stops the loop soon."""
    tick = PourbellApp.on_mount

    def mounted(self):
        tick(self)
        self.set_interval(0.05, lambda: self.refresh(repaint=True, layout=True))

    PourbellApp.on_mount = mounted
