"""Events on a clock that was set: elapsed time counts, not what the clock said.

Every event carries the boot clock of the machine beside its instant. As long as the
machine has not been restarted since, that tells how long ago it was written, however
the clock has been set meanwhile. The events of an earlier run of the machine lie on
the clock as it was at the last of them: whoever notices that a clock was set writes
an event of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from scheduling.clock import STEP_S, TimeSource
from scheduling.errors import LogFault
from scheduling.event import Event


def on_scale(events: Sequence[Event], time: TimeSource) -> list[Event]:
    """Returns events, in the order recorded, as they lie on the scale of ``time``."""
    last = {event.boot[1]: event for event in events}
    return [_placed(event, last[event.boot[1]], time) for event in events]


def newest(events: Iterable[Event]) -> datetime | None:
    """Returns when the newest of some events was written, or None."""
    return max((event.recorded_at for event in events), default=None)


def _placed(event: Event, last: Event, time: TimeSource) -> Event:
    written = time.placed(event.boot)
    if written is None and event.boot[1]:
        since = timedelta(milliseconds=last.boot[0] - event.boot[0])
        written = last.recorded_at - since
    if written is None:
        return event
    moved = written - event.recorded_at
    if abs(moved.total_seconds()) <= STEP_S:
        return event
    data = event.data
    if event.kind == "corrected":
        data = {**data, "at": _moved(data.get("at"), moved)}
    try:
        return replace(
            event, at=event.at + moved, recorded_at=event.recorded_at + moved, data=data
        )
    except (LogFault, OverflowError):  # a time no event can have
        return event


def _moved(value: object, by: timedelta) -> str:
    """A time that was typed by the clock as it was then."""
    try:
        return (datetime.fromisoformat(str(value)) + by).isoformat()
    except (ValueError, OverflowError):
        return str(value)
