"""``export``: the log as JSON lines, an event each."""

from __future__ import annotations

import argparse
import json

from scheduling.errors import LogFault
from scheduling.event import event_to_document
from scheduling.log import Log
from scheduling.pourname import SHOP
from tui import output
from tui.reviewing import oldest_first
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import journal_name, shop_folder


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs,
        "export",
        "the log as JSON lines, an event each, for keeping or for another machine",
        json="the same: it is JSON without it",
    )
    parser.add_argument(
        "pour",
        metavar="POUR",
        nargs="*",
        help=f'pours, or "{SHOP}" for what the shop accepted; else all there is',
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the events; 1 when some cannot be read."""
    log = Log(shop_folder(args).log)
    named = [journal_name(log, text) for text in args.pour]
    names = list(dict.fromkeys(named)) if named else [*oldest_first(log), SHOP]
    faults = []
    for name in names:
        try:
            events = log.events(name)
            damage = log.fault(name)
        except LogFault as fault:
            faults.append(str(fault))
            continue
        if damage is not None:
            faults.append(str(damage))
        # One pour at a time: ten years need not be held at once.
        lines = (json.dumps(event_to_document(event)) + "\n" for event in events)
        output.raw("".join(lines))
    for words in faults:
        output.complain(words)
    return 1 if faults else 0
