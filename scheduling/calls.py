"""The timetable of what nobody answers: when it rings again, when a command is run."""

from __future__ import annotations

from collections.abc import Iterable

REPEATS_S = (20.0, 20.0)
"""Seconds between the first rings of an alert."""
REPEAT_THEN_S = 30.0
"""Seconds between all further rings."""

LOOKED_S = 1.5
"""A look comes at least this often, seconds, unless something held it up."""

FIRST_CALL_S = 60.0
"""Seconds for which an alert may stay unanswered before a command is run for it."""
CALL_AGAIN_S = 180.0
"""Seconds from one run to the next for the same alert."""

Key = tuple[str, str]


def pause_s(repeat: int) -> float:
    """Returns the seconds from one ring to the next; the first ring is number 0."""
    return REPEATS_S[repeat] if repeat < len(REPEATS_S) else REPEAT_THEN_S


def counted_s(planned_s: float, real_s: float) -> float:
    """Returns the second from which the next ring or call is counted.

    It is the planned one, or the lateness of each look would add up; after a longer
    pause, such as a silence, the timetable goes on from there.
    """
    return planned_s if real_s - planned_s <= LOOKED_S else real_s


class Calls:
    """When a command of the user's own is run: each alert by its pour and id."""

    def __init__(self) -> None:
        self._next_s: dict[Key, float] = {}
        self._called: set[Key] = set()

    def due(
        self, unanswered: Iterable[Key], real_s: float, *, at_once: bool
    ) -> list[Key]:
        """Returns the alerts for which the command is to be run now.

        Args:
            unanswered: What rings; an alert that is left out begins anew.
            real_s: A monotonic time in seconds.
            at_once: Whether nothing else can be heard: then nobody waits a minute.
        """
        first = real_s + FIRST_CALL_S
        self._next_s = {key: self._next_s.get(key, first) for key in unanswered}
        self._called &= self._next_s.keys()
        due = [
            key
            for key, next_s in self._next_s.items()
            if next_s <= real_s or (at_once and key not in self._called)
        ]
        for key in due:
            planned_s = min(self._next_s[key], real_s)
            self._next_s[key] = counted_s(planned_s, real_s) + CALL_AGAIN_S
        self._called.update(due)
        return due
