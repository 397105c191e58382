"""``rehearse``: a whole pour on a simulated clock, in a throw-away shop folder."""

from __future__ import annotations

import argparse
import asyncio
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from scheduling.clock import SimulatedTime
from scheduling.errors import BadInput, Fault, LogFault
from scheduling.event import Event
from scheduling.folder import ShopFolder
from scheduling.job import Job
from scheduling.pourname import SHOP
from scheduling.recipe import ENTRIES
from scheduling.rehearsal import Hands
from scheduling.ringer import Ring
from scheduling.shop import TypicalDay
from tui import output
from tui.rehearsal import Play, headless, live
from tui.session import Session
from tui.verbs.air import add_air, typical_day
from tui.verbs.arguments import Parser, Verbs, add_verb, number, whole
from tui.verbs.opening import find_job, next_morning, open_session, start_at
from tui.verbs.program import check_terminal, show

if TYPE_CHECKING:
    from tui.app import PourbellApp

SPEED = 60.0
"""Simulated seconds in a real one, when nobody says."""

SEED = 1
"""Which of the simulated crews works, when nobody says."""

JOINED = "weigh-off"
"""Where a rehearsal in the program begins, so that the bells come soon."""


@dataclass(frozen=True, slots=True)
class Wish:
    """One rehearsal.

    Attributes:
        job: What is poured.
        entry: Where the pour is joined.
        start: The first simulated instant; None is the next morning, so that a whole
            day lies ahead.
        day: Its typical day; None is the shop's own.
        speed: Simulated seconds in a real one.
        seed: The same one makes the same rehearsal.
        hands_on: The person marks the steps.
    """

    job: Job
    entry: str = JOINED
    start: datetime | None = None
    day: TypicalDay | None = None
    speed: float = SPEED
    seed: int = SEED
    hands_on: bool = False


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs,
        "rehearse",
        "a whole pour on a fast clock; nothing of it is kept",
        json="with --headless: print one JSON object per line",
    )
    parser.add_argument("job", metavar="JOB", help='a job file, an id, or "bare"')
    parser.add_argument(
        "--speed",
        metavar="N",
        type=number("--speed", 1, 3600, "simulated seconds in a real one"),
        help=f"how many times faster than real, else {SPEED:g}",
    )
    parser.add_argument(
        "--from",
        dest="entry",
        metavar="STEP",
        choices=ENTRIES,
        help=f"where it is joined: {', '.join(ENTRIES)}",
    )
    parser.add_argument(
        "--hands-on", action="store_true", help="you mark the steps yourself"
    )
    parser.add_argument(
        "--headless",
        action="store_true",
        help="without the program: print what rings and what happens, never wait",
    )
    parser.add_argument(
        "--seed",
        metavar="N",
        type=whole("--seed", 0, 999_999_999),
        default=SEED,
        help="the same number makes the same rehearsal",
    )
    add_air(parser)
    parser.add_argument(
        "--start", metavar="TIME", help="when it begins; else the next morning"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Rehearses a job."""
    _check(args)
    shop = open_session(args)
    wish = Wish(
        find_job(shop, args.job),
        args.entry or ("form" if args.headless else JOINED),
        start_at(shop, args.start) if args.start else None,
        typical_day(args, shop.shop.climate),
        args.speed or SPEED,
        args.seed,
        args.hands_on,
    )
    if not args.headless:
        check_terminal()
        return in_program(args, wish)
    with thrown_away(shop, wish, speed=0.0) as (play, clock):
        _print(play, clock, as_json=args.json)
    return 0


def _check(args: argparse.Namespace) -> None:
    wrong = want = ""
    if args.headless and args.hands_on:
        wrong, want = "--hands-on", "not with --headless: nobody could mark the steps"
    elif args.headless and args.speed is not None:
        wrong, want = "--speed", "not with --headless: it never waits"
    elif args.json and not args.headless:
        wrong, want = "--json", "only with --headless"
    if wrong:
        raise BadInput(Fault(wrong, "", "", want))


@contextmanager
def thrown_away(
    shop: Session, wish: Wish, *, speed: float
) -> Iterator[tuple[Play, SimulatedTime]]:
    """Starts a pour on a simulated clock in a folder that is gone afterwards.

    Args:
        shop: The real shop, which is only read.
        wish: What to rehearse.
        speed: Simulated seconds in a real one; 0 stands still.

    Yields:
        The pour with its hands, and its clock.
    """
    clock = SimulatedTime(wish.start or next_morning(shop), speed)
    with TemporaryDirectory(
        prefix="pourbell-rehearsal-", ignore_cleanup_errors=True
    ) as path:
        folder = ShopFolder(Path(path))
        _copy(shop.folder, folder)
        session = Session(folder, clock, shop.by)
        with suppress(LogFault):  # then it goes by the shop's defaults
            session.log.append(*shop.log.events(SHOP))
        if wish.day is not None:
            session.use_shop(replace(session.shop, climate=wish.day))
        try:
            name = session.start(wish.job, entry=wish.entry)
        except ValueError as error:  # the shop's calendar has no day for it
            raise BadInput(Fault("shop.toml", "hours", "", str(error))) from error
        yield Play(session, name, Hands(wish.seed)), clock


def _copy(source: ShopFolder, target: ShopFolder) -> None:
    target.jobs.mkdir(parents=True)
    if source.shop_file.is_file():
        shutil.copyfile(source.shop_file, target.shop_file)
    for path in source.job_files():
        if path.is_file():
            shutil.copyfile(path, target.jobs / path.name)


def in_program(args: argparse.Namespace, wish: Wish) -> int:
    """Rehearses in the program, and again what is asked for in there."""
    while True:
        shop = open_session(args)
        with thrown_away(shop, wish, speed=wish.speed) as (play, _):
            code, job = show(
                play.session,
                mark=f"REHEARSAL x{wish.speed:g} ",
                first=play.name,
                play=None if wish.hands_on else partial(_begin, play),
            )
        if code or job is None:
            return code
        wish = replace(wish, job=job, start=None)


def _begin(play: Play, app: PourbellApp) -> asyncio.Task[None]:
    return asyncio.get_running_loop().create_task(live(play, app))


# -- without the program


def _print(play: Play, clock: SimulatedTime, *, as_json: bool) -> None:
    show_one = _json if as_json else _words
    for event in play.session.events(play.name):
        show_one(play.session, event)
    for one in headless(play, clock):
        show_one(play.session, one)


def _json(session: Session, one: Ring | Event) -> None:
    zone = session.zone
    if isinstance(one, Event):
        output.as_json(
            {
                "type": "event",
                "kind": one.kind,
                "at": output.iso(one.at, zone),
                "pour": one.pour,
                "step": one.step or None,
                "zone": one.zone or None,
                "data": dict(one.data),
            }
        )
        return
    output.as_json(output.alert(one, session.time.now(), zone))


def _words(session: Session, one: Ring | Event) -> None:
    now, zone = session.time.now(), session.zone
    if isinstance(one, Ring):
        output.line(output.bell(one, now, zone))
        return
    about = f"{one.step} {one.zone}".strip() or one.pour
    feel = f" {one.data['feel']}" if one.kind == "touch" else ""
    output.line(f"{output.stamp(now, zone)}  {one.kind} {about}{feel}")
