"""A command of the user's own, run for a ring: a siren, a lamp, a message.

No shell sees it. The alert comes as JSON on its standard input and as ``ALERT_...``
in its environment, cleaned of everything that is no text.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
from collections.abc import Mapping, Sequence

from tui.ending import end
from tui.notify import clean

LONGEST_S = 8.0
"""Seconds after which a command is ended."""

MOST_OUTPUT = 65_536
"""Bytes of its output that are looked at; a command that prints more is ended."""

AT_ONCE = 2
"""How many run at a time; the others wait for their turn."""

_KEPT = (
    *("PATH", "HOME", "USER", "LOGNAME", "LANG", "LC_ALL", "TZ", "TMPDIR"),
    *("DISPLAY", "WAYLAND_DISPLAY", "XDG_RUNTIME_DIR", "DBUS_SESSION_BUS_ADDRESS"),
    *("PULSE_SERVER", "SYSTEMROOT"),
)
"""What a command sees of the environment beside the alert."""


class Hook:
    """Runs one command for every ring."""

    def __init__(self, argv: Sequence[str]) -> None:
        """Prepares.

        Args:
            argv: The program and its arguments, as they are.
        """
        self._argv = tuple(argv)
        self._turn = asyncio.Semaphore(AT_ONCE)

    async def run(self, alert: Mapping[str, object]) -> str | None:
        """Runs the command for an alert; returns what went wrong in words, or None.

        Args:
            alert: The alert, JSON values.
        """
        async with self._turn:
            try:
                process = await asyncio.create_subprocess_exec(
                    *self._argv,
                    stdin=asyncio.subprocess.PIPE,
                    stdout=asyncio.subprocess.PIPE,
                    stderr=asyncio.subprocess.STDOUT,
                    start_new_session=True,
                    env=_environment(alert),
                )
            except (OSError, ValueError) as fault:
                return f"{self._argv[0]} could not be started ({fault})"
            try:
                return await asyncio.wait_for(
                    self._see_through(process, alert), LONGEST_S
                )
            except TimeoutError:
                return f"{self._argv[0]} was still busy after {LONGEST_S:g} s"
            finally:
                await end(process)

    async def _see_through(
        self, process: asyncio.subprocess.Process, alert: Mapping[str, object]
    ) -> str | None:
        assert process.stdin is not None
        assert process.stdout is not None
        with contextlib.suppress(OSError):  # it need not read
            process.stdin.write(json.dumps(alert).encode() + b"\n")
            await process.stdin.drain()
        process.stdin.close()
        output = b""
        while got := await process.stdout.read(MOST_OUTPUT):
            output += got
            if len(output) > MOST_OUTPUT:
                return f"{self._argv[0]} printed more than {MOST_OUTPUT} bytes"
        status = await process.wait()
        if not status:
            return None
        last = clean(output.decode(errors="replace").strip().rpartition("\n")[2], 120)
        return f"{self._argv[0]} ended with exit status {status} {last}".rstrip()


def _environment(alert: Mapping[str, object]) -> dict[str, str]:
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    told = {
        f"ALERT_{key.upper()}": clean("" if value is None else str(value))
        for key, value in alert.items()
    }
    return {**kept, **told}
