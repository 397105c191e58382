"""``check``: the shop folder, its log, the disk, the bells and the terminal."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

from scheduling.disk import Disk
from scheduling.errors import BadInput
from scheduling.folder import ShopFolder
from scheduling.log import Log
from scheduling.shop import Bells
from tui import output
from tui.verbs import trouble
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import journal_name, shop_folder

if TYPE_CHECKING:
    from scheduling.finding import Finding, Standing

_WORDS: dict[Standing, str] = {"ok": "ok", "look": "look", "fault": "FAULT"}

_HEADINGS = {
    "files": "shop folder",
    "log": "log",
    "disk": "disk",
    "bells": "bells",
    "terminal": "terminal",
    "program": "program",
}


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs, "check", "whether files, log, disk, bells and terminal are all right"
    )
    parser.add_argument(
        "--set-aside",
        metavar="POUR",
        help="go on in a new file where a journal is damaged in its middle; the "
        "damaged one is kept",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Checks; 1 only when something that was kept cannot be read as it was."""
    folder = shop_folder(args)
    if args.set_aside is not None:
        return _set_aside(args, folder)
    if args.json:
        found = list(_findings(folder))
        output.as_json(_as_json(folder, found))
    else:
        found = _print(folder)
    return int(any(each.standing == "fault" for each in found))


def _findings(folder: ShopFolder) -> Iterator[Finding]:
    # Every verb reads this module in; what follows is for this one alone.
    from scheduling.diskprobe import disk_findings  # noqa: PLC0415 - see above
    from scheduling.integrity import log_files, shop_files  # noqa: PLC0415 - see above
    from tui.surroundings import bell_findings, terminal_findings  # noqa: PLC0415 - see above

    disk = Disk()
    yield from shop_files(folder)
    yield from log_files(folder, disk)
    yield from disk_findings(folder.path, folder.log, disk)
    bells = _bells(folder)
    # A shop file need not know of a command.
    yield from bell_findings(bells, getattr(bells, "command", ()), os.environ)
    yield from terminal_findings(os.environ)
    yield _program_log()


def _bells(folder: ShopFolder) -> Bells:
    try:
        return folder.shop().bells
    except (BadInput, OSError):  # named among the files
        return Bells()


def _program_log() -> Finding:
    from scheduling.finding import Finding  # noqa: PLC0415 - only for this verb

    path = trouble.log_file()
    if not path.exists():
        return Finding("program", "what went wrong", "ok", f"nothing yet; {path}")
    kb = path.stat().st_size / 1000
    return Finding("program", "what went wrong", "ok", f"{kb:.0f} kB in {path}")


def _as_json(folder: ShopFolder, found: list[Finding]) -> dict[str, object]:
    return {
        "folder": str(folder.path),
        "faults": sum(each.standing == "fault" for each in found),
        "looks": sum(each.standing == "look" for each in found),
        "findings": [
            {
                "part": each.part,
                "about": each.about,
                "standing": each.standing,
                "found": each.found,
                "do": each.do or None,
                **each.values,
            }
            for each in found
        ],
    }


def _print(folder: ShopFolder) -> list[Finding]:
    """Prints each finding as it is found: ten years take a while."""
    found: list[Finding] = []
    for each in _findings(folder):
        if not found or found[-1].part != each.part:
            where = f" {folder.path}" if each.part == "files" else ""
            output.line(f"{_HEADINGS[each.part]}{where}")
        found.append(each)
        for part in each.found.splitlines():
            words = f"  {_WORDS[each.standing]:<5}  {each.about}: {part}"
            output.lines(words, indent=" " * 9)
        if each.do:
            output.lines(f"         -> {each.do}", indent=" " * 12)
    faults = sum(each.standing == "fault" for each in found)
    looks = sum(each.standing == "look" for each in found)
    output.line()
    output.line(f"faults: {faults}; worth a look: {looks}")
    return found


def _set_aside(args: argparse.Namespace, folder: ShopFolder) -> int:
    """Goes on in a new file; says what it did and where the damaged one lies."""
    log = Log(folder.log)
    pour = journal_name(log, args.set_aside)
    aside = log.set_aside(pour)
    events = len(log.events(pour))
    for note in log.notes:
        output.complain(note)
    if args.json:
        kept = None if aside is None else str(aside)
        output.as_json({"pour": pour, "events": events, "kept": kept})
    elif aside is None:
        output.lines(f"{pour}: its journal is not damaged; nothing was done")
    else:
        output.lines(
            f"{pour}: goes on with the {events} events that can be read; the damaged "
            f"journal is kept whole in {aside}"
        )
    return 0
