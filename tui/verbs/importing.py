"""``import``: a logger's file, an exported log or past pours from paper."""

from __future__ import annotations

import argparse
from pathlib import Path

from scheduling.errors import BadInput, Fault
from scheduling.thresholds import PLACES
from scheduling.written import shown
from tui.verbs.arguments import Parser, Verbs, add_verb

_LINES = (".jsonl", ".ndjson")


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    what = (
        "put a logger's temperatures into a pour, or an exported log or past pours "
        "from paper into the log"
    )
    parser = add_verb(verbs, "import", what)
    parser.add_argument(
        "pour",
        metavar="POUR",
        nargs="?",
        help="that a logger's file goes into: its name, or how it begins",
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        help="with a pour a logger's CSV (time, temp, rh); without one what "
        '"pourbell export" printed (.jsonl), or a CSV of past pours (date, mix, '
        "temp_c, sprayed, last_soft, first_ready, first_going_off, first_gone)",
    )
    parser.add_argument(
        "--as",
        dest="place",
        metavar="PLACE",
        choices=PLACES,
        help=f"what a logger measured: {', '.join(PLACES)}; else the shop",
    )
    parser.add_argument(
        "--dry-run", action="store_true", help="say what it would add, and add nothing"
    )
    parser.add_argument(
        "--replace",
        action="store_true",
        help="let rows of past pours take the place of what the log has with other "
        "values",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Imports a file, whole or not at all."""
    # Every verb reads this module in; what follows is for this one alone.
    path = Path(args.file)
    on_paper = args.pour is None and path.suffix.lower() not in _LINES
    if args.replace and not on_paper:
        want = "only with past pours: import FILE.csv --replace"
        raise BadInput(Fault("--replace", "", "", want))
    if args.pour is not None:
        from tui.verbs import importlogger  # noqa: PLC0415 - see above

        return importlogger.run(args, path)
    if args.place is not None:
        want = "only with a pour: import POUR FILE.csv --as PLACE"
        raise BadInput(Fault("--as", "", args.place, want))
    if not on_paper:
        from tui.verbs import importlog  # noqa: PLC0415 - see above

        return importlog.run(args, path)
    from scheduling.papercolumns import HEADINGS  # noqa: PLC0415 - see above
    from scheduling.papercsv import is_paper  # noqa: PLC0415 - see above

    if not is_paper(path):
        want = (
            "an exported log (.jsonl), or past pours with the columns "
            f"{HEADINGS}; for a logger's file write import POUR FILE.csv"
        )
        raise BadInput(Fault(shown(str(path)), "", "", want))
    from tui.verbs import importpaper  # noqa: PLC0415 - see above

    return importpaper.run(args, path)
