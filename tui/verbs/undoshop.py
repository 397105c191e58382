"""``undo shop``: the newest entry of the shop's book is taken back."""

from __future__ import annotations

import argparse

from scheduling.errors import BadInput, Fault
from scheduling.event import Event
from scheduling.pourname import SHOP
from scheduling.shop import Timing
from scheduling.shopbook import decision, past_window
from tui import output
from tui.accepting import take_back
from tui.session import Session
from tui.verbs.opening import open_taught
from tui.verbs.saving import in_full


def run(args: argparse.Namespace) -> int:
    """Takes back a decision or a past row, and says which.

    Raises:
        BadInput: There is none.
        LogFault: NOT SAVED.
    """
    session = open_taught(args)
    newest = session.book.newest
    if newest is None:
        raise BadInput(Fault("undo", SHOP, "", "nothing to take back"))
    event = take_back(session, newest.id)
    if args.json:
        output.as_json({"event": event.id})
    else:
        about = _about(session, newest)
        output.line(
            f"{SHOP}: taken back: {about} - saved, {in_full(session, event.at)}"
        )
    return 0


def _about(session: Session, event: Event) -> str:
    """What an entry was, and of when."""
    made = f"of {in_full(session, event.recorded_at)}"
    if (said := decision(event)) is not None:
        value = said.value
        if isinstance(value, Timing):
            return f"{event.kind} {value.name}, {value.mix}, {made}"
        return f"{event.kind} {value.step}, work, {made}"
    if (window := past_window(event)) is not None:
        where = f"{window.mix} {window.zone}".strip()
        sprayed = window.sprayed.astimezone(session.zone)
        return f"past window {where}, sprayed {sprayed:%Y-%m-%d %H:%M}"
    return f"{event.kind} {made}"
