"""Opening the program itself; the only place that brings the screens in."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

from scheduling.errors import BadInput, Fault
from scheduling.job import Job
from tui.verbs import trouble
from tui.verbs.opening import open_session

if TYPE_CHECKING:
    import asyncio

    from tui.app import PourbellApp
    from tui.session import Session


ENDED = (128 + 15, 128 + 1)
"""Exit statuses after SIGTERM and SIGHUP, as shells count them."""


def run(args: argparse.Namespace) -> int:
    """Opens the program; a rehearsal asked for in it is run, then it opens again."""
    check_terminal()
    while True:
        code, job = show(open_session(args), watched=True)
        if code or job is None:
            return code
        from tui.verbs.rehearse import Wish, in_program  # noqa: PLC0415 - it opens this

        code = in_program(args, Wish(job))
        if code:
            return code


def check_terminal() -> None:
    """Refuses to open the program where nobody could see it.

    Raises:
        BadInput: There is no terminal.
    """
    if not (is_terminal(sys.__stdin__) and is_terminal(sys.__stderr__)):
        want = "the program wants a terminal; for scripts see pourbell --help"
        raise BadInput(Fault("pourbell", "", "", want))


def is_terminal(stream: object) -> bool:
    """Whether a stream is there and a terminal."""
    asked = getattr(stream, "isatty", None)
    return bool(asked and asked())


def show(
    session: Session,
    *,
    mark: str = "",
    first: str | None = None,
    play: Callable[[PourbellApp], asyncio.Task[None]] | None = None,
    watched: bool = False,
) -> tuple[int, Job | None]:
    """Runs the program until it is left.

    Args:
        session: The shop's pours.
        mark: A word for the head line.
        first: A pour to open on its clock at once.
        play: Starts the hands of a rehearsal.
        watched: Whether a process of its own watches over the bells.

    Returns:
        The exit status, and the job that is to be rehearsed next, if any.
    """
    from rich.console import Console  # noqa: PLC0415 - only with the screens

    from tui.app import PourbellApp  # noqa: PLC0415 - only with the screens
    from tui.screens.picker import Picked  # noqa: PLC0415 - only with the screens

    with trouble.keeping() as log_file:
        app = PourbellApp(
            session,
            mark=mark,
            first=first,
            play=play,
            log_file=str(log_file),
            watched=watched,
        )
        story = io.StringIO()
        app.error_console = Console(file=story, width=100)
        # Without the mouse the terminal's own select and copy goes on working.
        left = app.run(mouse=False)
    if app.return_code in ENDED:
        return app.return_code or 0, None
    if app.return_code:
        trouble.own_up_for(story.getvalue())
        return 1, None
    if isinstance(left, Picked) and left.wish == "rehearse":
        return 0, left.job
    return 0, None
