"""The screens of the shop by their modes; each is read in when it is first put up.

Only the board, which is up first, is there before.
"""

from __future__ import annotations

from collections.abc import Callable

from textual.screen import Screen

from tui.screens.board import BoardScreen


def _clock_screen() -> Screen[None]:
    from tui.screens.pourclock import PourClockScreen  # noqa: PLC0415 - after the first paint

    return PourClockScreen()


def _cure_screen() -> Screen[None]:
    from tui.screens.cure import CureScreen  # noqa: PLC0415 - after the first paint

    return CureScreen()


def _log_screen() -> Screen[None]:
    from tui.screens.logscreen import LogScreen  # noqa: PLC0415 - after the first paint

    return LogScreen()


def _timings_screen() -> Screen[None]:
    from tui.screens.timings import TimingsScreen  # noqa: PLC0415 - after the first paint

    return TimingsScreen()


MODES: dict[str, Callable[[], Screen[None]]] = {
    "board": BoardScreen,
    "clock": _clock_screen,
    "cure": _cure_screen,
    "log": _log_screen,
    "timings": _timings_screen,
}
"""How the screen of each mode is made."""
