"""``defect``: writes down what is wrong with a piece, weeks after its pour too."""

from __future__ import annotations

import argparse

from scheduling.defect import (
    ACTIONS,
    CODES,
    FOUND_AT,
    MOST_EXTRA_MIN,
    defect_of,
    say_defect,
)
from scheduling.plainjson import Json
from tui.verbs.arguments import MOST_CHARACTERS, Parser, Verbs, number, words
from tui.verbs.opening import find_pour, happened_at, open_session
from tui.verbs.saving import about_pour, add_at, saved

_TEXTS = {
    "place": ("PLACE", "where: a place on your grid, or words"),
    "size": ("SIZE", 'how large, such as "40 mm" or "two palms"'),
    "material": ("WORDS", "extra material"),
    "note": ("TEXT", "whatever else is to be known"),
}
"""Flags that take words, each with what stands for the value and the help."""


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = about_pour(verbs, "defect", "something is wrong with the piece")
    parser.add_argument(
        "code", metavar="CODE", choices=tuple(CODES), help=f"one of {', '.join(CODES)}"
    )
    parser.add_argument("--zone", metavar="Z", default="", help="of the form")
    parser.add_argument(
        "--step", metavar="STEP", default="", help="the step that is suspected"
    )
    for flag, (metavar, what) in _TEXTS.items():
        parser.add_argument(
            f"--{flag}",
            metavar=metavar,
            type=words(f"--{flag}", MOST_CHARACTERS),
            help=what,
        )
    parser.add_argument(
        "--found",
        metavar="STAGE",
        choices=FOUND_AT,
        help=f"{', '.join(FOUND_AT)}; else by the step in hand",
    )
    parser.add_argument(
        "--action",
        metavar="ACTION",
        choices=ACTIONS,
        help=f"what is done about it: {', '.join(ACTIONS)}",
    )
    parser.add_argument(
        "--hours",
        metavar="H",
        type=number("--hours", 0, MOST_EXTRA_MIN / 60, "person-hours"),
        help="extra work, person-hours",
    )
    parser.add_argument(
        "--change-default",
        action="store_true",
        help="a default of the shop is to be looked at again",
    )
    add_at(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Writes a defect down."""
    session = open_session(args)
    pour = find_pour(session, args.pour)
    event = session.defect(
        pour,
        args.code,
        _details(args),
        zone=args.zone,
        step=args.step,
        at=happened_at(session, args.at),
    )
    return saved(args, session, event, say_defect(defect_of(event)))


def _details(args: argparse.Namespace) -> dict[str, Json]:
    """What was said of it, by its key in the log; what was not said is left out."""
    said: dict[str, Json] = {
        "place": args.place,
        "size": args.size,
        "found_at": args.found,
        "action": args.action,
        "extra_min": None if args.hours is None else round(args.hours * 60, 1),
        "material": args.material,
        "text": args.note,
        "change_default": args.change_default or None,
    }
    return {key: value for key, value in said.items() if value is not None}
