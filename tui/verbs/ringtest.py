"""``ring --test``: one ring through every channel, and which of them worked."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from tui import output
from tui.belltest import LINE
from tui.hook import Hook
from tui.notify import Notifier
from tui.session import Session

_LOOK_S = 0.05


async def try_out(
    session: Session, notifier: Notifier, command: Sequence[str], *, as_json: bool
) -> int:
    """Rings once; returns 1 when no channel worked, else 0.

    Args:
        session: The shop's pours.
        notifier: Makes the noise.
        command: The user's own command, empty for none.
        as_json: Whether a program reads it.
    """
    at = output.iso(session.time.now(), session.zone)
    told = {"type": "test", "kind": "test", "at": at, "line": LINE}
    await notifier.start("opens", "TEST", LINE)
    trouble = await Hook(command).run(told) if command else None
    while notifier.ringing:  # noqa: ASYNC110 - the ring itself is the one to ask
        await asyncio.sleep(_LOOK_S)
    failures = [*notifier.failures, *filter(None, [trouble])]
    worked = {
        "terminal": notifier.beeped,
        "sound": bool(notifier.player),
        "command": bool(command) and trouble is None,
    }
    if as_json:
        output.as_json(
            {**worked, "player": notifier.player or None, "failures": failures}
        )
    else:
        _say(worked, notifier.player, failures)
    return 0 if any(worked.values()) else 1


def _say(worked: dict[str, bool], player: str, failures: list[str]) -> None:
    words = {
        "terminal": "the bell was sent to the terminal",
        "sound": f"the sound was played by {player}",
        "command": "the command ran",
    }
    for channel, done in worked.items():
        output.line(f"{channel:<10}{words[channel] if done else 'no'}")
    for failure in failures:
        output.complain(failure)
    output.line('Not heard? Turn it up; "pourbell check" says more.')
