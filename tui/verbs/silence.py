"""``silence``: no bell sounds for a while; alerts still take the screen."""

from __future__ import annotations

import argparse

from scheduling.folding import MOST_SILENT
from tui import output
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import open_session

_MOST_MIN = int(MOST_SILENT.total_seconds()) // 60


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs,
        "silence",
        "silence the bells of the shop for some minutes",
        json='print {"event", "min"} once it is safely written',
    )
    parser.add_argument(
        "--min",
        dest="minutes",
        metavar="N",
        type=int,
        choices=range(_MOST_MIN + 1),
        default=_MOST_MIN,
        help=f"for so many minutes, at most {_MOST_MIN}; 0 lets them sound again",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Silences every program on this log."""
    session = open_session(args)
    session.load()
    event = session.silence(args.minutes)
    session.settle(event.pour)
    if args.json:
        output.as_json({"event": event.id, "min": args.minutes})
    elif args.minutes:
        output.line(f"silent for {args.minutes} min; alerts still take the screen")
    else:
        output.line("the bells sound again")
    return 0
