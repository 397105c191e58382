"""``log``: what happened, and actual against planned."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator

from scheduling.defect import say_defect
from scheduling.errors import BadInput, Fault
from scheduling.review import Group, Row, group, to_csv
from scheduling.times import say
from scheduling.touch import say_try
from scheduling.units import Units
from tui import output
from tui.reviewing import Reviewed, oldest_first, read_each, reviewed
from tui.session import Session
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import find_pour, open_session


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs, "log", "what happened, and how long it took against the plan"
    )
    parser.add_argument(
        "pour", metavar="POUR", nargs="?", help="one pour; else all of them"
    )
    parser.add_argument(
        "--csv", action="store_true", help="print CSV, a row for a step"
    )
    by = parser.add_mutually_exclusive_group()
    by.add_argument(
        "--by-step",
        dest="grouped",
        action="store_const",
        const="step",
        help="all pours together, step by step",
    )
    by.add_argument(
        "--by-job",
        dest="grouped",
        action="store_const",
        const="job",
        help="all pours together, job by job",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the log; 1 when a pour in it cannot be read."""
    if args.csv and (args.json or args.grouped):
        raise BadInput(Fault("--csv", "", "", "without --json, --by-step and --by-job"))
    session = open_session(args)
    if args.pour is None:
        names = oldest_first(session.log)
    else:
        names = [find_pour(session, args.pour)]
    faults: list[str] = []
    found = read_each(session, names, faults, reviewed)
    if args.csv:
        output.raw(to_csv(row for pour in found for row in pour.rows))
    elif args.grouped:
        _print_groups(
            group((row for pour in found for row in pour.rows), args.grouped), args
        )
    elif args.json:
        _print_json(session, found)
    else:
        _print_pours(session, found)
    for fault in faults:
        output.complain(fault)
    return 1 if faults else 0


# -- for programs


def _print_json(session: Session, found: Iterator[Reviewed]) -> None:
    """Prints one object, pour by pour: ten years need not be held at once."""
    before = '{"pours": ['
    for pour in found:
        output.raw(before + json.dumps(_pour(session, pour), allow_nan=False))
        before = ", "
    output.raw(("" if before == ", " else before) + "]}\n")


def _pour(session: Session, pour: Reviewed) -> dict[str, object]:
    state = pour.state
    assert state.job is not None
    assert state.begun is not None
    return {
        "pour": state.pour,
        "job": state.job.id,
        "started": output.iso(state.begun, session.zone),
        "events": [
            {
                "id": event.id,
                "at": output.iso(event.at, session.zone),
                "kind": event.kind,
                "step": event.step or None,
                "zone": event.zone or None,
                "data": dict(event.data),
            }
            for event in pour.events
        ],
        "demould_tries": [
            {
                "at": output.iso(tried.at, session.zone),
                "ready": tried.ready,
                "first_possible": tried.first_possible,
            }
            for tried in pour.state.demould_tries
        ],
        "steps": [
            {
                "step": row.step,
                "phase": row.phase,
                "zone": row.zone or None,
                "planned_min": row.planned_min,
                "forecast_min": row.forecast_min,
                "actual_min": row.actual_min,
                "ratio": None if row.ratio is None else round(row.ratio, 3),
                "temp_c": row.temp_c,
            }
            for row in pour.rows
        ],
    }


def _group(found: Group) -> dict[str, object]:
    return {
        "name": found.name,
        "count": found.count,
        "planned_min": found.planned_min,
        "actual_min": found.actual_min,
        "ratio": found.ratio,
        "low_ratio": found.low_ratio,
        "high_ratio": found.high_ratio,
    }


# -- for people


def _print_pours(session: Session, found: Iterator[Reviewed]) -> None:
    units = Units(session.shop.units)
    number = 0
    for number, pour in enumerate(found, 1):
        state = pour.state
        assert state.job is not None
        assert state.begun is not None
        if number > 1:
            output.line()
        begun = say(state.begun, session.zone, session.time.now())
        output.line(f"{state.pour}: {state.job.title}")
        output.line(f"begun {begun}")
        for tried in state.demould_tries:
            at = say(tried.at, session.zone, session.time.now())
            said = say_try(ready=tried.ready, first_possible=tried.first_possible)
            output.line(f"demould {said}, {at}")
        for defect in state.defects:
            at = say(defect.at, session.zone, session.time.now())
            output.lines(f"defect: {say_defect(defect)}, {at}", indent="  ")
        if not pour.rows:
            output.line("nothing marked yet")
            continue
        output.table(
            ("step", "planned", "forecast", "actual", "ratio", "shop"),
            [_cells(row, units) for row in pour.rows],
        )
    if not number:
        output.line("no pour in the log yet")


def _cells(row: Row, units: Units) -> tuple[str, ...]:
    return (
        f"{row.step} {row.zone}".strip(),
        output.length(row.planned_min),
        _length(row.forecast_min),
        _length(row.actual_min),
        "" if row.ratio is None else f"{row.ratio:.2f}",
        "" if row.temp_c is None else units.temperature(row.temp_c),
    )


def _length(minutes: float | None) -> str:
    return "" if minutes is None else output.length(minutes)


def _print_groups(groups: list[Group], args: argparse.Namespace) -> None:
    if args.json:
        shown = [_group(found) for found in groups]
        output.as_json({"by": args.grouped, "groups": shown})
        return
    if not groups:
        output.line("nothing finished yet")
        return
    output.table(
        (args.grouped, "times", "planned", "actual", "ratio", "from", "to"),
        [
            (
                found.name,
                str(found.count),
                output.length(found.planned_min),
                output.length(found.actual_min),
                f"{found.ratio:.2f}",
                f"{found.low_ratio:.2f}",
                f"{found.high_ratio:.2f}",
            )
            for found in groups
        ],
    )
