"""Which events of a log are in force, and which of them a person may take back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from scheduling.errors import LogFault
from scheduling.event import Event

UNDOABLE = (
    "started",
    "finished",
    "skipped",
    "touch",
    "reading",
    "weighed",
    "fogged",
    "covered",
    "uncovered",
    "resprayed",
    "hands",
    "note",
    "defect",
    "corrected",
    "sealed",
)
"""Kinds a person records and may take back; ringing and answering a bell is not."""


def active(events: Iterable[Event]) -> list[Event]:
    """Returns the events in force: undone ones left out, corrected ones at their time.

    A corrected event counts as written down when it was corrected.
    An undo can itself be undone. A correction or an undo of something unknown is
    nothing.
    """
    cancelled: set[str] = set()
    kept: list[Event] = []
    for event in reversed(list(events)):
        if event.id in cancelled:
            continue
        if event.kind == "undone":
            cancelled.add(str(event.data.get("event", "")))
        else:
            kept.append(event)
    kept.reverse()
    moved: dict[str, tuple[datetime, datetime]] = {}
    for event in kept:
        if event.kind == "corrected":
            at = _instant(event.data.get("at"))
            if at is not None:
                moved[str(event.data.get("event", ""))] = at, event.recorded_at
    return [
        _moved(event, *moved[event.id]) if event.id in moved else event
        for event in kept
        if event.kind != "corrected"
    ]


def undo_target(events: Sequence[Event]) -> Event | None:
    """Returns the newest event that a person could take back, or None.

    Steps passed over because the pour was joined later (they carry a ``why``) belong
    to its start, which only putting the pour away takes back. What a ``probe`` wrote
    down nobody did; a file of a logger goes as a whole.
    """
    cancelled: set[str] = set()
    for event in reversed(events):
        if event.id in cancelled:
            continue
        if event.kind == "undone":
            cancelled.add(str(event.data.get("event", "")))
        elif event.kind in UNDOABLE and not {"why", "probe"} & event.data.keys():
            return event
    return None


def _instant(value: object) -> datetime | None:
    try:
        at = datetime.fromisoformat(str(value))
    except ValueError:
        return None
    return at if at.tzinfo else None


def _moved(event: Event, at: datetime, recorded_at: datetime) -> Event:
    """The event at another time; unmoved by a time that no event can have."""
    try:
        return replace(event, at=at, recorded_at=recorded_at)
    except LogFault:
        return event
