"""``timings``: what the log teaches; accepted, refused, and tried on the past."""

from __future__ import annotations

import argparse

from scheduling.errors import BadInput, Fault
from scheduling.observation import Lessons
from scheduling.pourname import SHOP
from scheduling.written import shown
from tui import output
from tui.session import Session
from tui.timings.teaching import Taught, all_lessons, learn, together
from tui.verbs.arguments import LONGEST_NAME, Parser, Verbs, add_verb, words
from tui.verbs.opening import open_session
from tui.verbs.timings import asjson, backtest, decided, tables
from tui.verbs.timings.offers import Wanted, keys


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs, "timings", "what the log teaches of waits and work; accept or refuse it"
    )
    do = parser.add_mutually_exclusive_group()
    for flag, what in (
        ("--accept", "new pours run on what was learned of a wait or step"),
        ("--refuse", "what was learned of it is not wanted until more pours say so"),
        ("--take-back", "the last accepting or refusing of it no longer counts"),
    ):
        do.add_argument(flag, metavar="NAME", type=words(flag, LONGEST_NAME), help=what)
    do.add_argument(
        "--backtest",
        action="store_true",
        help="forecast every past wait with what was known before it, and compare",
    )
    parser.add_argument(
        "--name",
        metavar="NAME",
        type=words("--name", LONGEST_NAME),
        help="only the wait or step of this name",
    )
    parser.add_argument(
        "--mix",
        metavar="M",
        type=words("--mix", LONGEST_NAME),
        help="only waits of this mix or sealer",
    )
    parser.add_argument(
        "--work", action="store_true", help="only work, where a wait has the same name"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints what was learned, or decides; 1 when the answer is no."""
    if args.work and args.mix:
        raise BadInput(Fault("--work", "", "", "without --mix"))
    session = open_session(args)
    session.read_book()
    deciding = args.accept or args.refuse or args.take_back
    if deciding and args.name:
        raise BadInput(Fault("--name", "", shown(args.name), "only to list"))
    wanted = Wanted(deciding or args.name, args.mix, args.work)
    if args.take_back:
        return decided.take_back(session, wanted, json=args.json)
    faults: list[str] = []
    lessons = together(all_lessons(session, faults))
    taught = learn(lessons, session.shop)
    if deciding:
        code = decided.decide(
            session,
            taught,
            wanted,
            "accepted" if args.accept else "refused",
            json=args.json,
        )
    else:
        code = _print(session, lessons, taught, wanted, args)
    if SHOP in session.faults:
        faults.append(session.faults[SHOP])
    for fault in faults:
        output.complain(fault)
    return 1 if faults else code


def _print(
    session: Session,
    lessons: Lessons,
    taught: Taught,
    wanted: Wanted,
    args: argparse.Namespace,
) -> int:
    found = wanted.among(taught)
    known = bool(taught.windows or taught.work)
    if known and not (found.windows or found.work):
        raise wanted.unknown(keys(taught))
    tried = backtest.tried(lessons, wanted, session.shop) if args.backtest else None
    if args.json:
        output.as_json(asjson.taught(session, found, tried))
    elif tried is not None:
        backtest.show(tried)
    elif not known:
        output.line("nothing learned yet: no touch test and no step done in the log")
    else:
        tables.windows(session, found.windows)
        tables.work(session, found.work, after=bool(found.windows))
    return 0
