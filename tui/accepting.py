"""What somebody decides of what the log teaches, as events of the shop's book.

Unlike the mark of a pour, such an event is on the disk when these functions return.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from scheduling.errors import BadInput, Fault
from scheduling.event import Event, Kind
from scheduling.pourname import SHOP
from scheduling.shop import Pace, Timing
from scheduling.shopbook import decision, decision_data
from tui.pours import Pours

if TYPE_CHECKING:
    from scheduling.spread import Spread

_AFTER = timedelta(milliseconds=1)


def accept(
    pours: Pours,
    value: Timing | Pace,
    was: Spread,
    temp_range_c: tuple[float, float] | None = None,
) -> Event:
    """Writes down that a learned threshold or pace counts from now on, for new pours.

    Args:
        pours: The shop's.
        value: The threshold or pace.
        was: What it replaces: reference minutes, or a factor on the rate of the trade.
        temp_range_c: Coldest and warmest mean temperature a threshold was learned at,
            degC.

    Returns:
        What was written; it is on the disk.

    Raises:
        BadInput: No such value can be worked with.
        LogFault: NOT SAVED.
    """
    return _decide(pours, "accepted", value, was, temp_range_c)


def refuse(
    pours: Pours,
    value: Timing | Pace,
    was: Spread,
    temp_range_c: tuple[float, float] | None = None,
) -> Event:
    """Writes down that a learned value is not wanted until more pours speak for it.

    What was accepted before stays in force. Arguments and errors are those of
    ``accept``.
    """
    return _decide(pours, "refused", value, was, temp_range_c)


def take_back(pours: Pours, event_id: str) -> Event:
    """Takes back an event of the shop's book: what was there before counts again.

    Args:
        pours: The shop's.
        event_id: Of an accepting, a refusal or a window from paper.

    Raises:
        BadInput: There is no such event, or it is taken back already.
        LogFault: NOT SAVED.
    """
    pours.read_book()
    if event_id not in pours.book.standing:
        raise BadInput(Fault(SHOP, "", event_id, "nothing to take back"))
    undone = pours.event(SHOP, "undone", data={"event": event_id})
    return write_book(pours, undone)[0]


def write_book(pours: Pours, *events: Event) -> tuple[Event, ...]:
    """Writes events of the shop's book, all or none, and reads it again.

    As what was recorded last counts, they are recorded after all that is there, even
    where the clock was set back.

    Returns:
        What was written.

    Raises:
        LogFault: NOT SAVED.
    """
    pours.read_book()
    newest = pours.book.newest
    if newest is not None and newest.recorded_at > pours.time.now():
        after = newest.recorded_at + _AFTER
        events = tuple(replace(event, recorded_at=after) for event in events)
    pours.log.append(*events)
    pours.read_book()
    return events


def _decide(
    pours: Pours,
    kind: Kind,
    value: Timing | Pace,
    was: Spread,
    temp_range_c: tuple[float, float] | None,
) -> Event:
    made = pours.event(SHOP, kind, data=decision_data(value, was, temp_range_c))
    if decision(made) is None:
        raise BadInput(Fault(SHOP, "", repr(value), "a value within its range"))
    return write_book(pours, made)[0]
