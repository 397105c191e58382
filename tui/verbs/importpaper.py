"""``import FILE.csv``: past pours from paper, every window once, all or none."""

from __future__ import annotations

import argparse
from pathlib import Path

from scheduling.papercsv import Paper, read_paper
from scheduling.pourname import SHOP
from scheduling.shop import TypicalDay
from scheduling.shopbook import window_data
from scheduling.units import Units
from tui import output
from tui.accepting import write_book
from tui.session import Session
from tui.verbs.opening import open_taught


def run(args: argparse.Namespace, path: Path) -> int:
    """Adds the windows that the log does not have yet, and replaces if asked to."""
    session = open_taught(args)
    paper = read_paper(
        path,
        session.shop,
        session.zone,
        now=session.time.now(),
        known=session.book.windows,
        replacing=args.replace,
    )
    if not args.dry_run:
        write_book(
            session,
            *(
                session.event(SHOP, "past", data=window_data(one), at=one.sprayed)
                for one in (*paper.changed, *paper.fresh)
            ),
        )
    if args.json:
        output.as_json(_as_json(path, paper, dry_run=args.dry_run))
    else:
        _print(session, path, paper, dry_run=args.dry_run)
    return 0


def _as_json(path: Path, paper: Paper, *, dry_run: bool) -> dict[str, object]:
    return {
        "file": path.name,
        "dry_run": dry_run,
        "windows": {
            "added": len(paper.fresh),
            "replaced": len(paper.changed),
            "known": paper.known,
        },
        "pours": paper.pours,
        "assumed": dict(sorted(paper.assumed.items())),
        "passed_over": list(paper.passed_over),
    }


def _print(session: Session, path: Path, paper: Paper, *, dry_run: bool) -> None:
    would = "would be added" if dry_run else "added"
    fresh = _count(len(paper.fresh), "window")
    pours = _count(paper.pours, "pour")
    output.line(
        f"{path.name}: {fresh} of {pours} {would}, {paper.known} in the log already"
    )
    if paper.changed:
        replaced = "would be replaced" if dry_run else "replaced"
        output.line(f"  {_count(len(paper.changed), 'window')} {replaced}")
    usual = _usual(session.shop.climate, Units(session.shop.units))
    for name, rows in sorted(paper.assumed.items()):
        rows_said = _count(rows, "row")
        output.line(f"  {usual[name]} by the shop's typical day in {rows_said}")
    if paper.passed_over:
        output.lines(f"  passed over: {', '.join(paper.passed_over)}", indent="    ")
    if not (paper.fresh or paper.changed):
        output.line("nothing new")
    elif not dry_run:
        output.line("saved")


def _usual(day: TypicalDay, units: Units) -> dict[str, str]:
    return {
        "rh_pct": f"{day.rh_pct:.0f} % RH",
        "wind_kmh": f"wind {units.speed(day.wind_kmh)}",
    }


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'s' * (number != 1)}"
