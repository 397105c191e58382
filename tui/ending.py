"""Ends a command that was begun beside the program, whatever it is still doing."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal

ENDING_S = 1.0
"""How long the end of a command is waited for once it was killed, seconds."""

_AT_ONCE = 65_536


async def end(process: asyncio.subprocess.Process) -> None:
    """Ends what still runs of a command: its whole session where the system has one.

    Args:
        process: Begun in a session of its own, with its output in a pipe.
    """
    with contextlib.suppress(OSError):
        if os.name == "posix":
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
    # Something it sent off into a session of its own may hold its output open.
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(_drained(process), ENDING_S)


async def _drained(process: asyncio.subprocess.Process) -> None:
    """Reads the rest away: with output waiting a process is never seen to end."""
    assert process.stdout is not None
    while await process.stdout.read(_AT_ONCE):
        pass
    await process.wait()
