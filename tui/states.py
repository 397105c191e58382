"""The one table from the state of a step or a window to its look.

A state is told apart by its word, its letter and its glyph, so that the screen
reads without colour; colours live in ``tui.themes`` under the style names.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    """What a step, or the window before it, is doing at one moment."""

    WAITING = "waiting"
    """Not due yet, or an unattended wait that runs by itself."""
    NEXT = "next"
    """The step that comes after the one in hand."""
    WATCHED = "watched"
    """Only a touch test can say: somebody must go and touch it."""
    READY = "ready"
    """Everything before it is done and no window limits it."""
    OPEN = "open"
    """Inside its window, with time in hand."""
    CLOSING = "closing"
    """Inside its window, which is about to close."""
    CLOSED = "closed"
    """Its window closed before the work was done."""
    RUNNING = "running"
    """Hands are on it."""
    DONE = "done"
    """Finished and logged."""
    SKIPPED = "skipped"
    """Left out on purpose."""
    LATE = "late"
    """Past the moment it was planned or promised for."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a state is shown.

    Attributes:
        word: What people in the shop call it.
        letter: One capital, unique, where only a letter fits.
        glyph: One cell wide in every terminal, unique.
        style: Name of its theme variable; ``-text`` and ``-ink`` belong to it.
    """

    word: str
    letter: str
    glyph: str
    style: str


def _row(state: State, word: str, letter: str, glyph: str) -> tuple[State, Look]:
    return state, Look(word, letter, glyph, f"state-{state}")


LOOKS: dict[State, Look] = dict(
    (
        _row(State.WAITING, "waiting", "W", "."),
        _row(State.NEXT, "next", "N", ">"),
        _row(State.WATCHED, "touch it", "T", "?"),
        _row(State.READY, "ready", "R", "+"),
        # A whole ring, a ring half gone, a barred one: the window as it shuts.
        _row(State.OPEN, "open", "O", "O"),
        _row(State.CLOSING, "closing", "C", ")"),
        _row(State.CLOSED, "closed", "X", "#"),
        _row(State.RUNNING, "at work", "A", "*"),
        _row(State.DONE, "done", "D", "✓"),
        _row(State.SKIPPED, "skipped", "S", "-"),
        _row(State.LATE, "late", "L", "!"),
    )
)
"""Every state and its look."""
