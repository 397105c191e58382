"""``cure``: how far a pour has cured, when it is ready for what, and what covers do."""

from __future__ import annotations

import argparse
from datetime import tzinfo

from scheduling.cure import Cure
from scheduling.shell import CoverName
from scheduling.spread import Spread
from scheduling.units import Units
from tui import output
from tui.curewords import band, demould, strength
from tui.session import Session
from tui.verbs.arguments import Parser, Verbs, add_verb, temperature
from tui.verbs.opening import find_pour, open_session

COVERS: dict[str, CoverName] = {
    "open": "open",
    "plastic": "plastic",
    "blanket": "blanket",
    "tent": "heated tent",
}
"""Covers as they are typed."""


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs, "cure", "how far a pour has cured, and when it is ready for what"
    )
    parser.add_argument(
        "pour", metavar="POUR", nargs="?", help="one pour; else all that are curing"
    )
    parser.add_argument(
        "--low",
        metavar="C",
        type=temperature("--low"),
        help="suppose this low of tonight, degC",
    )
    parser.add_argument(
        "--cover", choices=tuple(COVERS), help="suppose this over the piece"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the cure; 1 when a pour in the log cannot be read."""
    session = open_session(args)
    if args.pour is None:
        session.load()
        names = [pour.name for pour in session.open_pours()]
    else:
        names = [find_pour(session, args.pour)]
    cover = None if args.cover is None else COVERS[args.cover]
    found = [session.cure(name, low_c=args.low, cover=cover) for name in names]
    if args.pour is None:
        found = [cure for cure in found if cure.cast_at is not None]
    if args.json:
        output.as_json({"pours": [to_json(cure, session.zone) for cure in found]})
    else:
        _print(session, found)
    for fault in session.faults.values():
        output.complain(fault)
    return 1 if session.faults else 0


# -- for programs


def to_json(cure: Cure, zone: tzinfo) -> dict[str, object]:
    """Returns a cure as JSON; times carry the shop's offset.

    Figures of the piece are null while there is no piece.
    """
    cast = cure.cast_at is not None
    return {
        "pour": cure.pour,
        "age_h": round(cure.age_h, 3) if cast else None,
        "equivalent_age_h": round(cure.equivalent_age_h, 3) if cast else None,
        "piece_temp_c": round(cure.piece_c, 2) if cast else None,
        "strength_mpa": _spread(cure.strength_mpa) if cast else None,
        "marks": [
            {
                "what": mark.what,
                "at": output.band(mark.at, zone),
                "standing": mark.standing,
            }
            for mark in cure.marks
        ],
        "what_if": [
            {
                "cover": one.cover,
                "low_c": round(one.low_c, 2),
                "demould_at": one.demould_at and output.iso(one.demould_at, zone),
            }
            for one in cure.what_if
        ],
    }


def _spread(found: Spread) -> dict[str, float]:
    return {
        "p10": round(found.p10, 3),
        "p50": round(found.p50, 3),
        "p90": round(found.p90, 3),
    }


# -- for people


def _print(session: Session, found: list[Cure]) -> None:
    if not found:
        output.line("no pour is curing")
    units = Units(session.shop.units)
    said: set[str] = set()
    for number, cure in enumerate(found):
        if number:
            output.line()
        output.line(f"{cure.pour}: {session.pour(cure.pour).job.title}")
        if cure.cast_at is None:
            output.line("not cast yet")
        else:
            output.line(
                f"piece {units.temperature(cure.piece_c)}, "
                f"{strength(cure.strength_mpa, units)}, "
                f"equivalent age {output.length(cure.equivalent_age_h * 60)}, "
                f"age {output.length(cure.age_h * 60)}"
            )
        _print_marks(cure, session.zone)
        _print_what_if(cure, session, units)
        for words in cure.warnings:
            output.lines(f"! {words}", indent="  ")
        for words in cure.explanation:
            if words not in said:  # most of it goes for every pour
                output.lines(words)
        said.update(cure.explanation)


def _print_marks(cure: Cure, zone: tzinfo) -> None:
    output.line()
    output.table(
        ("ready to", "at", "8 times in 10", "threshold"),
        [
            (
                mark.what,
                *band(mark.at, cure.at, zone),
                f"{mark.words} ({mark.standing})",
            )
            for mark in cure.marks
        ],
        left=4,
    )


def _print_what_if(cure: Cure, session: Session, units: Units) -> None:
    if not cure.what_if:
        return
    hours = session.pour(cure.pour).setting.hours
    output.line()
    output.table(
        ("tonight under", "low", "demould", "opening"),
        [
            (
                f"{one.cover}{' *' if one.cover == cure.cover else ''}",
                units.temperature(one.low_c),
                *demould(one, cure.at, hours, session.zone),
            )
            for one in cure.what_if
        ],
        left=4,
    )
    output.line("(* the cover of all other figures)")
