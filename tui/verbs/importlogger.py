"""``import POUR FILE.csv``: what a logger recorded goes into the log of a pour."""

from __future__ import annotations

import argparse
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

from scheduling.climate import Reading
from scheduling.climatecsv import read_climate_rows
from scheduling.errors import BadInput, Fault
from scheduling.times import say
from scheduling.trace import Sifted, at_place, sift, trace_data
from tui import output
from tui.session import Session
from tui.verbs.opening import find_pour, open_session

_FAST_CLOCK = timedelta(minutes=1)
"""How far a logger's clock may be ahead."""


def run(args: argparse.Namespace, path: Path) -> int:
    """Imports a file, whole or not at all."""
    args.place = args.place or "shop"
    session = open_session(args)
    pour = find_pour(session, args.pour)
    rows, faults = read_climate_rows(path, session.zone)
    faults = faults or _in_future(session, rows, str(path))
    state = session.pour(pour).state
    placed = [at_place(row, args.place) for row in rows]
    begun = state.begun or session.time.now()
    sifted = sift(placed, state.readings, begun)
    event = None
    if faults:
        if args.dry_run:
            _tell(args, session, pour, path, sifted, refused=len(faults), event=None)
        nothing = Fault(str(path), "", "", "nothing is imported: all rows or none")
        raise BadInput(*faults, nothing)
    if sifted.new and not args.dry_run:
        source = f"{path.name} sha256:{sha256(path.read_bytes()).hexdigest()[:16]}"
        data = trace_data(sifted.new, source)
        made = session.event(pour, "reading", data=data, at=sifted.new[0].at)
        event = session.accept(made).id
        session.settle(pour)
    _tell(args, session, pour, path, sifted, refused=0, event=event)
    return 0


def _in_future(session: Session, rows: list[Reading], where: str) -> list[Fault]:
    now = session.time.now()
    late = next((row.at for row in rows if row.at > now + _FAST_CLOCK), None)
    if late is None:
        return []
    want = "only times that have passed: set the logger's clock, or the shop's zone"
    return [Fault(where, "time", say(late, session.zone, now), want)]


def _tell(
    args: argparse.Namespace,
    session: Session,
    pour: str,
    path: Path,
    sifted: Sifted,
    *,
    refused: int,
    event: str | None,
) -> None:
    """Says what became of the rows."""
    if args.json:
        output.as_json(
            {
                "pour": pour,
                "as": args.place,
                "dry_run": args.dry_run,
                "event": event,
                "rows": {
                    "read": sifted.read + refused,
                    "used": len(sifted.new),
                    "known": sifted.known,
                    "close": sifted.close,
                    "outside": sifted.outside,
                    "refused": refused,
                },
            }
        )
        return
    now = session.time.now()
    output.line(
        f"{pour}: {path.name} as {args.place}: {sifted.read + refused} rows read"
    )
    for count, words in (
        (refused, "refused"),
        (len(sifted.new), "would be added" if args.dry_run or refused else "added"),
        (sifted.known, "in the log already"),
        (sifted.close, "within 5 min of the row before, left out"),
        (sifted.outside, "more than a day before the pour, left out"),
    ):
        if count:
            output.line(f"  {count} {words}")
    if sifted.new:
        first, last = sifted.new[0].at, sifted.new[-1].at
        output.line(f"  from {say(first, session.zone, now)}")
        output.line(f"  to   {say(last, session.zone, now)}")
    if event:
        output.line("saved")
    elif not sifted.new:
        output.line("nothing new")
