"""What the installed command runs: a small process that waits for the program.

The program puts the terminal into modes that only it can leave; one that is killed, or
whose interpreter crashes, leaves them on. So it runs in a child of this process, which
is still there to put the terminal in order and to say what happened. The child is made
before anything is read in: this process stays small and costs no time.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress

RESET = (
    "\x1b[?2026l\x1b[?1049l\x1b[?25h\x1b[?1000;1003;1006;1015l\x1b[?1004l\x1b[?2004l"
    "\x1b[?2048l\x1b[<u\x1b[?7h\x1b[0m"
)
"""Leaves every mode that Textual may have switched on in a terminal."""

_TAKES_A_WORD = ("--shop", "--by")


def main() -> int:
    """Does what the command line says and returns the exit status."""
    if opens_program(sys.argv[1:]) and os.name == "posix" and os.isatty(0):
        return _guarded()
    return _command()


def opens_program(words: Sequence[str]) -> bool:
    """Whether the program itself is asked for, and not only a verb."""
    named = names_verb(words)
    return not named or (named == "rehearse" and "--headless" not in words)


def names_verb(words: Sequence[str]) -> str:
    """Returns the first word that is more than what opens the program, or ""."""
    left = iter(words)
    for word in left:
        if word in _TAKES_A_WORD:
            next(left, None)
        elif not word.startswith(tuple(f"{each}=" for each in _TAKES_A_WORD)):
            return word
    return ""


def _command() -> int:
    from tui.cli import main as command  # noqa: PLC0415 - slow, and only for the child

    return command()


def _guarded() -> int:
    """Runs the program in a child and returns its exit status, as shells count it."""
    import termios  # noqa: PLC0415 - only where there are terminals of this kind

    before = termios.tcgetattr(0)
    held, holding = os.pipe()
    child = os.fork()
    if not child:
        os.close(holding)
        return _program(held)
    os.close(held)
    # A terminal tells the child itself; what is sent to this process is passed on.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, lambda number, _frame: _pass_on(child, number))
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        return os.waitstatus_to_exitcode(status)
    ended_by = os.WTERMSIG(status)
    with suppress(OSError, termios.error):  # the terminal may be gone
        os.write(2, RESET.encode())
        termios.tcflush(0, termios.TCIFLUSH)
        termios.tcsetattr(0, termios.TCSANOW, before)
    if ended_by not in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
        _own_up(ended_by)
    return 128 + ended_by


def _pass_on(child: int, number: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(child, number)


def _own_up(ended_by: int) -> None:
    from tui.verbs import trouble  # noqa: PLC0415 - rarely wanted

    watched = not names_verb(sys.argv[1:])
    trouble.own_up_for_end(signal.Signals(ended_by).name, watched=watched)


def _program(held: int) -> int:
    """Runs the program in the child; it ends tidily when the parent has gone.

    Args:
        held: The end of a pipe whose other end the parent alone holds.
    """
    import threading  # noqa: PLC0415 - the parent does without

    def follow() -> None:
        os.read(held, 1)
        os.kill(os.getpid(), signal.SIGHUP)

    threading.Thread(target=follow, daemon=True).start()
    # Nothing that is read in at the start is garbage, and looking for it takes a
    # tenth of the start; the program switches it on when its first screen is up.
    gc.disable()
    return _command()
