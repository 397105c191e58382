"""Where the program writes what went wrong, so that nobody sees a traceback."""

from __future__ import annotations

import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from logging.handlers import RotatingFileHandler
from pathlib import Path

from platformdirs import user_log_path

from tui import output

LARGEST_BYTES = 500_000
KEPT = 3
"""How large a log file grows, and how many older ones are kept."""

_log = logging.getLogger(__name__)


def log_file() -> Path:
    """Returns the file that tells what went wrong; it may not exist."""
    return user_log_path("pourbell", appauthor=False) / "pourbell.log"


@contextmanager
def keeping() -> Iterator[Path]:
    """Writes warnings and errors to the log file while it lasts; gives its path."""
    path = log_file()
    handler: logging.Handler
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(
            path, maxBytes=LARGEST_BYTES, backupCount=KEPT, encoding="utf-8", delay=True
        )
    except OSError:  # a machine without room for it still pours
        handler = logging.NullHandler()
    handler.setFormatter(
        logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s")
    )
    handler.setLevel(logging.WARNING)
    # A full disk must not print tracebacks over the screen either.
    raising, logging.raiseExceptions = logging.raiseExceptions, False
    root = logging.getLogger()
    root.addHandler(handler)
    try:
        yield path
    finally:
        root.removeHandler(handler)
        handler.close()
        logging.raiseExceptions = raising


def own_up(error: BaseException) -> None:
    """Writes an unexpected error to the log file and says where, in two lines."""
    with keeping() as path:
        _log.error("unexpected: %s", sys.argv[1:], exc_info=error)
    output.complain(f"pourbell: unexpected {type(error).__name__}: {str(error)[:120]}")
    output.complain(_where(path))


def own_up_for(story: str) -> None:
    """As ``own_up``, for an error that the screen has already told as text."""
    with keeping() as path:
        _log.error("the program stopped\n%s", story)
    output.complain("pourbell: the program stopped because of an unexpected error")
    output.complain(_where(path))


def own_up_for_end(by: str, *, watched: bool) -> None:
    """As ``own_up``, for a program that was killed, or whose interpreter crashed.

    Args:
        by: The name of the signal that ended it.
        watched: Whether a watch goes on ringing.
    """
    with keeping() as path:
        _log.error("the program was ended by %s", by)
    output.complain(f"pourbell: the program was ended by {by}")
    if watched:
        output.complain("Its watch rings on; open pourbell again to answer")
    output.complain(_where(path))


def _where(path: Path) -> str:
    if path.is_file():
        return f"What was marked is in the log of the shop; the details are in {path}"
    return f"What was marked is in the log of the shop; {path} cannot be written"
