"""Follows the shop's probes while the program is open: asks them in turn, keeps news.

Files are read in a thread and commands run beside the loop, so that no probe, however
slow, can hold up a key.
"""

from __future__ import annotations

import asyncio
import os
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from scheduling.clock import SimulatedTime
from scheduling.plainjson import Json
from scheduling.probe import LONGEST_TEXT, ProbeFault, read_probe, worth_keeping
from scheduling.process import StepKey
from scheduling.shop import Probe
from scheduling.timeline import OVER
from tui.ending import end
from tui.inmemory import Pour

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tui.app import PourbellApp

LONGEST_WAIT_S = 10.0
"""How long a file or command may take to answer, s."""


class Probes:
    """The probes of one program."""

    def __init__(self, app: PourbellApp) -> None:
        self._app = app
        self._failing: set[Probe] = set()

    def start(self) -> None:
        """Begins to ask; a simulated pour has no real temperatures."""
        session = self._app.session
        if isinstance(session.time, SimulatedTime):
            return
        for number, probe in enumerate(session.shop.probes):
            name = f"probe-{number}"
            self._app.bells.every(probe.every_min * 60, partial(self.ask, probe), name)

    async def ask(self, probe: Probe) -> None:
        """Asks one probe once; says when it begins to fail, and when no longer."""
        session = self._app.session
        try:
            text, written = await source_text(probe, session.folder.path)
            now = session.time.now()
            temp_c = read_probe(probe, text, written=written, now=now, tz=session.zone)
        except ProbeFault as fault:
            if probe not in self._failing:
                self._failing.add(probe)
                self._app.say(f"{probe.words}: {fault}", bad=True)
            return
        if probe in self._failing:
            self._failing.discard(probe)
            said = self._app.units.temperature(temp_c)
            self._app.say(f"{probe.words}: reads again, {said}")
        for pour in takers(probe, session.open_pours()):
            self.keep(probe, pour, now, temp_c)

    def keep(self, probe: Probe, pour: Pour, now: datetime, temp_c: float) -> None:
        """Writes a reading into the log of a pour, if it says something new."""
        key = f"{probe.place}_c"
        kept = next(
            (
                (one.at, value)
                for one in reversed(pour.state.readings)
                if (value := getattr(one, key)) is not None
            ),
            None,
        )
        if worth_keeping(kept, now, temp_c):
            session = self._app.session
            data: dict[str, Json] = {key: round(temp_c, 2), "probe": probe.words}
            session.accept(session.event(pour.name, "reading", data=data, at=now))
            self._app.call_after_refresh(self._app.settle, pour.name)


def takers(probe: Probe, pours: Sequence[Pour]) -> list[Pour]:
    """Returns the pours that a probe's temperature belongs to.

    The air of the shop is that of all. A probe sticks in one piece: of those cast and
    still in their form the last one cast; a form or mix is that of the pour begun last
    and not cast yet.
    """
    if probe.place == "shop":
        return list(pours)
    cast = StepKey("screed")
    if probe.place == "piece":
        curing = [pour for pour in pours if pour.timeline.curing()]
        return sorted(curing, key=lambda pour: _finish(pour, cast))[-1:]
    return [pour for pour in pours if not _is_over(pour, cast)][-1:]


def _finish(pour: Pour, key: StepKey) -> datetime:
    span = pour.timeline.span(key)
    return span.finish if span else pour.timeline.start


def _is_over(pour: Pour, key: StepKey) -> bool:
    span = pour.timeline.span(key)
    return span is not None and span.status in OVER


async def source_text(probe: Probe, folder: Path) -> tuple[str, datetime | None]:
    """Returns what a source says now, and when a file was last written to.

    Args:
        probe: The source.
        folder: Where a file that names no folder lies, and a command runs.

    Raises:
        ProbeFault: It says nothing, or takes too long.
    """
    if probe.command:
        return await _printed(probe.command, folder), None
    reading = asyncio.to_thread(_tail, folder, probe.file or probe.sensor)
    try:
        text, written = await asyncio.wait_for(reading, LONGEST_WAIT_S)
    except TimeoutError:
        raise ProbeFault(f"no answer in {LONGEST_WAIT_S:g} s") from None
    except OSError as error:
        raise ProbeFault(f"cannot be read ({error.strerror or error})") from error
    return text, written if probe.file else None


def _tail(folder: Path, name: str) -> tuple[str, datetime]:
    path = folder / Path(name).expanduser()
    if not path.is_file():  # a pipe would keep its reader for ever
        raise ProbeFault("there is no such file")
    with path.open("rb") as file:
        about = os.fstat(file.fileno())
        file.seek(max(0, about.st_size - LONGEST_TEXT))
        raw = file.read(LONGEST_TEXT)
    return raw.decode("utf-8", "replace"), datetime.fromtimestamp(about.st_mtime, UTC)


async def _printed(command: tuple[str, ...], folder: Path) -> str:
    """What a command prints; what does not end in time is ended with its children."""
    try:
        process = await asyncio.create_subprocess_exec(
            *command,
            cwd=folder,
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            start_new_session=True,
        )
    except (OSError, ValueError) as error:
        raise ProbeFault(f"cannot be run ({error})") from error
    assert process.stdout is not None
    try:
        async with asyncio.timeout(LONGEST_WAIT_S):
            raw = await _read_all(process.stdout)
            code = await process.wait()
    except BaseException as error:
        await end(process)
        if isinstance(error, TimeoutError):
            raise ProbeFault(f"no answer in {LONGEST_WAIT_S:g} s") from None
        raise
    if code:
        raise ProbeFault(f"ended with status {code}")
    return raw.decode("utf-8", "replace")


async def _read_all(stream: asyncio.StreamReader) -> bytes:
    raw = b""
    while part := await stream.read(LONGEST_TEXT):
        raw += part
        if len(raw) > LONGEST_TEXT:
            raise ProbeFault("prints more than a number")
    return raw
