"""``timings``: what the log teaches; accepted, refused, and tried on the past."""

from __future__ import annotations

import argparse
from collections.abc import Iterable

from scheduling.errors import BadInput, Fault
from scheduling.learned import Learned, LearnedPace
from scheduling.observation import Lessons
from scheduling.pourname import SHOP
from scheduling.shopbook import Key, key_of
from scheduling.units import Units
from scheduling.written import shown
from tui import output, timingwords
from tui.session import Session
from tui.teaching import Taught, all_lessons, learn, together
from tui.verbs import timingsbacktest, timingsdecided, timingsjson
from tui.verbs.arguments import LONGEST_NAME, Parser, Verbs, add_verb, words
from tui.verbs.opening import open_session
from tui.verbs.timingsoffers import Wanted, keys


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
    if args.work and (args.mix or args.backtest):
        raise BadInput(Fault("--work", "", "", "without --mix and --backtest"))
    session = open_session(args)
    session.read_book()
    deciding = args.accept or args.refuse or args.take_back
    if deciding and args.name:
        raise BadInput(Fault("--name", "", shown(args.name), "only to list"))
    wanted = Wanted(deciding or args.name, args.mix, args.work)
    if args.take_back:
        return timingsdecided.take_back(session, wanted, json=args.json)
    faults: list[str] = []
    lessons = together(all_lessons(session, faults))
    taught = learn(lessons, session.shop)
    if deciding:
        code = timingsdecided.decide(
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
    tried = (
        timingsbacktest.tried(lessons, wanted, session.shop) if args.backtest else None
    )
    if args.json:
        output.as_json(timingsjson.taught(session, found, tried))
    elif tried is not None:
        timingsbacktest.show(tried)
    elif not known:
        output.line("nothing learned yet: no touch test and no step done in the log")
    else:
        _windows(session, found.windows)
        _work(session, found.work, after=bool(found.windows))
    return 0


# -- windows

_WINDOWS = ("wait", "default", "learned", "P10-P90", "pours", "at", "state")


def _windows(session: Session, windows: Iterable[Learned]) -> None:
    """One table and, below, what it has no column for."""
    units = Units(session.shop.units)
    found = sorted(windows, key=lambda one: one.mix)
    if not found:
        return
    output.parted_table(
        _WINDOWS, ((one.mix, _window(session, one, units)) for one in found)
    )
    told = [line for one in found for line in _about(session, one)]
    if told:
        output.line()
    for line in told:
        output.lines(line, indent="  ")


def _window(session: Session, one: Learned, units: Units) -> tuple[str, ...]:
    scale = timingwords.Scale.of(one.default.p50)
    learned = one.pours > 0
    return (
        one.name,
        f"{timingwords.figure(one.default.p50, scale)} {scale.word}",
        timingwords.figure(one.learned.p50, scale) if learned else "",
        timingwords.ends(one.learned, scale) if learned else "",
        str(one.pours),
        timingwords.temperatures(one.temp_range_c, units) if learned else "",
        timingwords.state(session.book, key_of(one.timing), one.pours),
    )


def _about(session: Session, one: Learned) -> Iterable[str]:
    """What no column has room for: the clock, what was decided, odd and left out."""
    name = f"{one.name}, {one.mix}"
    if one.energy is not None and one.energy.told:
        said = timingwords.estimate(one.energy, " kJ/mol")
        yield f"{name}: activation energy {said}"
    if one.share is not None and one.share.told:
        yield f"{name}: share of evaporation {timingwords.estimate(one.share)}"
    yield from _decided(session, name, key_of(one.timing), one.pours)
    for each in one.seen:
        if each.odd:
            yield f"{name}: {timingwords.odd_window(each.said, each.weight)}"
    for left in timingwords.left_out(each.why_not for each in one.left_out):
        yield f"{name}: {left}"


def _decided(session: Session, name: str, key: Key, learned_from: int) -> Iterable[str]:
    book = session.book
    for word, found in (("accepted", book.accepted), ("refused", book.refused)):
        if key in found:
            said = timingwords.decided(word, found[key], session.zone, learned_from)
            yield f"{name}: {said}"


# -- work

_WORK = ("work", "castings", "factor", "P10-P90", "state")


def _work(session: Session, work: Iterable[LearnedPace], *, after: bool) -> None:
    """A table with what belongs to each step in the lines below its row."""
    found = list(work)
    if not found:
        return
    if after:
        output.line()
    heading, *rows = output.columns(_WORK, [_pace(session, one) for one in found])
    output.line(heading)
    for one, row in zip(found, rows, strict=True):
        output.line(row)
        for line in _about_work(session, one):
            output.lines(f"  {line}", indent="    ")


def _pace(session: Session, one: LearnedPace) -> tuple[str, ...]:
    learned = one.castings > 0
    return (
        one.step,
        str(one.castings),
        f"x{one.learned.p50:.2f}" if learned else "",
        f"{one.learned.p10:.2f}-{one.learned.p90:.2f}" if learned else "",
        timingwords.state(session.book, key_of(one.pace), one.castings),
    )


def _about_work(session: Session, one: LearnedPace) -> Iterable[str]:
    units = Units(session.shop.units)
    if one.castings:
        yield from filter(
            None,
            (
                timingwords.rates(one.step, 1.0, one.learned.p50, units),
                timingwords.people(one),
                timingwords.trend(one, session.zone),
            ),
        )
    yield from (
        line.removeprefix(": ")
        for line in _decided(session, "", key_of(one.pace), one.castings)
    )
    for each in one.seen:
        if each.odd:
            yield timingwords.odd_work(each.said, each.weight)
    yield from timingwords.left_out(each.why_not for each in one.left_out)
