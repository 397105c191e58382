"""What the verbs that write to the log share: each says so only once it is saved."""

from __future__ import annotations

import argparse
from datetime import datetime

from scheduling.event import Event
from scheduling.pourname import SHOP
from scheduling.times import say
from tui import output
from tui.session import Session
from tui.verbs.arguments import Parser, Verbs, add_verb

_EVENT = 'print {"event"} once it is safely written'


def about_pour(
    verbs: Verbs[Parser], name: str, what: str, *, or_shop: bool = False
) -> Parser:
    """Adds a verb that writes one event about a pour, or about the shop's book."""
    parser = add_verb(verbs, name, what, json=_EVENT)
    shop = f', or "{SHOP}"' if or_shop else ""
    parser.add_argument(
        "pour", metavar="POUR", help=f"its name, or how it begins{shop}"
    )
    return parser


def add_at(parser: Parser) -> None:
    """Adds ``--at``: when it happened."""
    parser.add_argument(
        "--at", metavar="TIME", help="when, if not now: 9:42, -5, yesterday 16:10"
    )


def saved(args: argparse.Namespace, session: Session, event: Event, what: str) -> int:
    """Writes an event to the log and only then says so.

    Raises:
        LogFault: It is not saved.
    """
    session.settle(event.pour)
    for note in session.log.notes:  # what was put right before it
        output.complain(note)
    if args.json:
        output.as_json({"event": event.id})
    else:
        output.line(f"{event.pour}: {what} - saved, {in_full(session, event.at)}")
    return 0


def in_full(session: Session, at: datetime) -> str:
    """Says an instant in full."""
    return say(at, session.zone, session.time.now())
