"""``import FILE.jsonl``: an exported log, every event once, whole or not at all."""

from __future__ import annotations

import argparse
from pathlib import Path

from scheduling.exported import Addition, ExportedLog, add, additions
from scheduling.pourname import SHOP
from tui import output
from tui.verbs.opening import open_session


def run(args: argparse.Namespace, path: Path) -> int:
    """Adds what the log does not have yet."""
    session = open_session(args)
    exported = ExportedLog(path, session.time.now())
    found = additions(exported, session.log)
    if not args.dry_run:
        add(exported, session.log, found)
        for one in found:
            if one.fresh and one.target != SHOP:
                session.put_by(one.target)
        for words in session.faults.values():
            output.complain(words)
    if args.json:
        output.as_json(_as_json(path, found, dry_run=args.dry_run))
    else:
        _print(path, found, dry_run=args.dry_run)
    return 0


def _as_json(path: Path, found: list[Addition], *, dry_run: bool) -> dict[str, object]:
    return {
        "file": path.name,
        "dry_run": dry_run,
        "added": sum(one.fresh for one in found),
        "known": sum(one.known for one in found),
        "pours": [
            {
                "pour": one.target,
                "in_file": one.pour,
                "new": one.new,
                "added": one.fresh,
                "known": one.known,
            }
            for one in found
        ],
    }


def _print(path: Path, found: list[Addition], *, dry_run: bool) -> None:
    would = "would be added" if dry_run else "added"
    for one in found:
        if one.fresh:
            name = "the shop's own" if one.target == SHOP else one.target
            was = f" (in the file {one.pour})" if one.pour != one.target else ""
            output.line(f"{name}{was}: {one.fresh} events {would}")
    fresh, known = sum(one.fresh for one in found), sum(one.known for one in found)
    output.line(f"{path.name}: {fresh} events {would}, {known} in the log already")
    if not fresh:
        output.line("nothing new")
    elif not dry_run:
        output.line("saved")
