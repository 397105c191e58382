"""What the big clock shows: the one thing about a pour that matters most now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduling.thresholds import ESTIMATE, PRACTICE
from scheduling.timeline import OVER, Span, Status, Timeline
from scheduling.touch import opened_at
from tui.states import State

STATES: dict[Status, State] = {
    Status.WAITING: State.WAITING,
    Status.NEXT: State.NEXT,
    Status.OPEN: State.OPEN,
    Status.CLOSING: State.CLOSING,
    Status.CLOSED: State.CLOSED,
    Status.RUNNING: State.RUNNING,
    Status.DONE: State.DONE,
    Status.SKIPPED: State.SKIPPED,
}
"""The look of each status of a span."""


@dataclass(frozen=True, slots=True)
class Focus:
    """The thing to watch.

    Attributes:
        title: What is counted, in a few words.
        until: The moment it is counted to; past it the clock counts up.
        state: Whose look the clock wears.
        span: The span it is about, or None when the pour is over.
    """

    title: str
    until: datetime | None
    state: State
    span: Span | None


def focus(timeline: Timeline, now: datetime) -> Focus:
    """Returns what to watch: a zone's window first, then the step in hand or next."""
    windows = [
        focused
        for zone in timeline.zones_to_touch()
        if (focused := _window(timeline, zone, now)) is not None
    ]
    if windows:
        return min(windows, key=_urgency)
    span = timeline.next_step()
    if span is None:
        return Focus("all done", None, State.DONE, None)
    if span.status is Status.RUNNING:
        due = span.start + timedelta(minutes=span.minutes)
        if now > due:
            return Focus(f"{span.key} at work, over its time by", due, State.LATE, span)
        return Focus(f"{span.key} at work, ends in", due, State.RUNNING, span)
    wait = timeline.wait_for(span.key)
    if wait is not None and wait.status not in OVER and span.start > now:
        return Focus(
            f"{wait.key.step}, then {span.key} in", span.start, State.NEXT, span
        )
    if span.start > now:
        return Focus(f"next: {span.key} in", span.start, State.NEXT, span)
    return Focus(f"next: {span.key}", None, State.READY, span)


def own_standing(timeline: Timeline, span: Span | None) -> str:
    """Says where the wait before a step is from, when it is no shop default.

    ``learned from 9 pours``, or that it is the shop's own value.
    """
    wait = timeline.wait_for(span.holds) if span is not None else None
    if wait is None:
        return ""
    words, _, _ = wait.standing.partition(";")  # what the piece's warmth is from
    return "" if words in (ESTIMATE, PRACTICE) else words


def _window(timeline: Timeline, zone: str, now: datetime) -> Focus | None:
    span = next(
        (s for s in timeline.spans if s.window is not None and s.key.zone == zone), None
    )
    if span is None or span.window is None:
        return None
    found = span.window
    opened = opened_at(found)
    if opened is not None and now >= opened:
        state = STATES[span.status]
        closes = found.closes.p50 if found.closes else None
        if state is State.CLOSED:
            return Focus(f"{zone} has closed: re-spray or bond", closes, state, span)
        if found.ready_at is None:
            return Focus(
                f"{zone} by forecast: touch it. Closes", closes, State.WATCHED, span
            )
        if state in (State.WAITING, State.NEXT):
            state = State.OPEN
        return Focus(f"{zone} {state.value}: lift 1. Closes in", closes, state, span)
    return Focus(f"{zone} soft: opens about", opened, State.WAITING, span)


def _urgency(one: Focus) -> tuple[int, float]:
    order = (State.CLOSED, State.CLOSING, State.OPEN, State.WATCHED)
    rank = order.index(one.state) if one.state in order else len(order)
    return rank, one.until.timestamp() if one.until else 0.0


def countdown(until: datetime | None, now: datetime) -> str:
    """Returns the time left as the big clock shows it; "+" counts up past it."""
    if until is None:
        return "NOW"
    seconds = round((until - now).total_seconds())
    sign = "+" if seconds < 0 else ""
    minutes, rest = divmod(abs(seconds), 60)
    if minutes < 100:
        return f"{sign}{minutes}:{rest:02d}"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{sign}{hours}:{minutes:02d} H"
    return f"{sign}{hours // 24} D"


def in_minutes(until: datetime | None, now: datetime) -> str:
    """Returns the time left in whole minutes, for lines that seldom change."""
    if until is None:
        return ""
    minutes = int((until - now).total_seconds() // 60)
    if minutes < 0:
        return f"+{-minutes} min"
    return f"{minutes} min" if minutes < 100 else f"{minutes // 60} h"
