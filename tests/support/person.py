"""A person at the keys of the program, who reads its screen."""

from __future__ import annotations

import pytest


class Person:
    def __init__(self, app, pilot):
        self.app = app
        self.pilot = pilot

    async def keys(self, *keys):
        for key in keys:
            await self.pilot.press(key)
            await self.pilot.pause()
        await self.pilot.pause()

    async def see(self, words):
        """Waits until the screen shows some words; fails when it never does."""
        for _ in range(300):
            if words in self.text():
                return
            await self.pilot.pause(0.02)
        pytest.fail(f"{words!r} is not on the screen:\n{self.text()}")

    async def hush(self):
        """Answers whatever rings."""
        for _ in range(9):
            await self.pilot.pause(0.02)
            if self.app.bells.loudest() is None:
                return
            await self.keys("enter")

    def text(self):
        """Everything on the screen, as lines of plain text."""
        lines = self.app.screen._compositor.render_strips()
        return "\n".join(strip.text for strip in lines[: self.app.size.height])

    @property
    def said(self):
        return str(self.app.screen.query_one("#said").content)
