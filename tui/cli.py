"""The command line: ``pourbell`` opens the program, a verb does one thing and ends.

Exit status: 0 done, 1 the answer is no, 2 bad input. Nothing here, and no verb,
brings the screens in unless the program itself is opened.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from scheduling.clock import TimeSource, WallTime
from scheduling.errors import BadInput, PourbellError
from tui import output
from tui.launcher import names_verb
from tui.verbs import program, trouble
from tui.verbs.arguments import Parser, add_everywhere

DONE = 0
NO = 1
BAD_INPUT = 2
STOPPED = 130
"""Exit status after Ctrl-C, as shells count it."""

FAMILIES = (
    "timeline",
    "takeoff",
    "marking",
    "export",
    "defect",
    "importing",
    "cure",
    "logs",
    "defects",
    "timings",
    "maturity",
    "rehearse",
    "ring",
    "silence",
    "new",
    "check",
)
"""The modules of tui.verbs that add verbs, in the order of the help."""


def build(families: Sequence[str] = FAMILIES) -> Parser:
    """Returns the parser of the whole command line, or of some families of verbs."""
    parser = Parser(
        prog="pourbell",
        description="Rings before the back-coat window opens, and keeps the log of "
        "every pour. Without a verb it opens the program.",
        epilog='"pourbell VERB --help" tells more about one. Numbers in flags are '
        "degC, percent and km/h.",
    )
    add_everywhere(parser, default=None)
    parser.add_argument(
        "--version", action="store_true", help="print the version and end"
    )
    parser.set_defaults(run=program.run)
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", parser_class=Parser)
    for family in families:
        import_module(f"tui.verbs.{family}").add(verbs)
    return parser


def main(argv: Sequence[str] | None = None, *, time: TimeSource | None = None) -> int:
    """Does what the command line says and returns the exit status.

    Args:
        argv: The words after the program's name; None takes the process's own.
        time: Where the time comes from, the machine's own unless given.
    """
    _say_anything()
    try:
        return _run(argv, time or WallTime())
    except BadInput as bad:
        output.complain(str(bad))
        return BAD_INPUT
    except PourbellError as fault:
        output.complain(str(fault))
        return NO
    except KeyboardInterrupt:
        return STOPPED
    except BrokenPipeError:
        _close_quietly()
        return DONE
    except Exception as error:  # noqa: BLE001 - nobody is shown a traceback
        trouble.own_up(error)
        return NO


def _run(argv: Sequence[str] | None, time: TimeSource) -> int:
    try:
        words = sys.argv[1:] if argv is None else argv
        args = build(FAMILIES if names_verb(words) else ()).parse_args(words)
    except SystemExit as done:  # only --help ends so
        return int(done.code or DONE)
    if args.version:
        output.line(f"pourbell {version()}")
        return DONE
    args.time = time
    code = _of(args)
    sys.stdout.flush()
    return code


def _of(args: argparse.Namespace) -> int:
    return int(args.run(args))


def version() -> str:
    """Returns the installed version."""
    from importlib import metadata  # noqa: PLC0415 - asked for rarely

    try:
        return metadata.version("pourbell")
    except metadata.PackageNotFoundError:
        return "(not installed)"


def _say_anything() -> None:
    """Lets a stream of a poor encoding take every letter, escaped where it must."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def _close_quietly() -> None:
    """Keeps the interpreter from complaining about the pipe once more at its end."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


if __name__ == "__main__":
    raise SystemExit(main())
