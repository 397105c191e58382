"""Actual against planned of every pour there ever was, read one pour at a time.

Ten years of pours are more than a second's work and more than should be held in
memory: of a pour that is over its rows are kept and nothing else.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from typing_extensions import override

from scheduling.errors import LogFault
from scheduling.event import Event
from scheduling.folding import fold
from scheduling.forecast import Setting
from scheduling.index import Entry
from scheduling.log import Log
from scheduling.pour import PourState
from scheduling.review import Row, review
from scheduling.steady import on_scale
from tui.pours import Pours

if TYPE_CHECKING:
    from scheduling.defects import Evidence

_Read = TypeVar("_Read")

REST_S = 0.02
"""Pause after each pour read in the program, so that keys and bells come first."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Reviewed:
    """One pour, after the fact."""

    state: PourState
    events: Sequence[Event]
    rows: list[Row]


def reviewed(pours: Pours, name: str) -> Reviewed | None:
    """Reads and reviews one pour, and keeps nothing of it.

    Returns:
        None when its start is not on record.

    Raises:
        LogFault: It cannot be read or laid out.
    """

    def made(state: PourState, events: Sequence[Event]) -> Reviewed | None:
        if state.job is None or state.begun is None:
            return None
        plan = Setting.of(state.shop).plan(
            state.job, state.begun, casting=state.casting
        )
        return Reviewed(state, events, review(state, plan))

    return read_one(pours, name, made, "cannot be laid out")


def examined(pours: Pours, name: str) -> Evidence | None:
    """Reads one pour for its defects, and keeps nothing else of it.

    Returns:
        None when its start is not on record.

    Raises:
        LogFault: It cannot be read or reckoned.
    """
    from scheduling.defects import evidence  # noqa: PLC0415 - for one verb

    return read_one(pours, name, lambda state, _: evidence(state), "cannot be reckoned")


def read_one(
    pours: Pours,
    name: str,
    make: Callable[[PourState, Sequence[Event]], _Read],
    fails: str,
) -> _Read:
    """Reads one pour and makes something of it; nothing else of it is kept.

    Args:
        pours: The shop's.
        name: Of the pour.
        make: What, from its state and its events.
        fails: What to say where that cannot be made.

    Raises:
        LogFault: It cannot be read, or nothing be made of it.
    """
    events = on_scale(pours.log.events(name), pours.time)
    try:
        return make(fold(name, events), events)
    except Exception as error:
        raise LogFault(f"{name} {fails} ({error})") from error


def read_each(
    pours: Pours,
    names: Iterable[str],
    faults: list[str],
    read: Callable[[Pours, str], _Read | None],
) -> Iterator[_Read]:
    """Reads pour after pour; what cannot be read goes among the faults."""
    # Only a journal can be read in part; asking would read a sealed pour once more.
    journals = set(pours.log.open_pours())
    for name in names:
        try:
            found = read(pours, name)
        except LogFault as fault:
            faults.append(str(fault))
            continue
        damage = pours.log.fault(name) if name in journals else None
        if damage is not None:
            faults.append(str(damage))
        if found is not None:
            yield found
        elif damage is None:
            faults.append(f"{name}: its start is not on record")


def oldest_first(log: Log) -> list[str]:
    """Names of all pours as they were begun, those that cannot be read at the end.

    Raises:
        LogFault: The folder of the log cannot be listed.
    """
    entries = sorted(log.index(), key=lambda entry: str(entry["started"]))
    names = [str(entry["pour"]) for entry in entries]
    return [*names, *sorted({*log.pours()}.difference(names))]


class BesideTheKeys:
    """Reads every pour there ever was for a screen that must never wait for it.

    Attributes:
        reading: What is still to be read, in words; "" when all has been.
        version: Changes whenever what was read does.
    """

    def __init__(self, pours: Pours, wanted: Callable[[], bool]) -> None:
        """Reads nothing yet.

        Args:
            pours: The shop's.
            wanted: Whether anybody looks at it just now.
        """
        self.reading = ""
        self.version = 0
        self._pours = pours
        self._wanted = wanted
        self._seen: dict[str, object] = {}
        self._archive: object = None
        self._task: asyncio.Task[None] | None = None

    def look(self) -> None:
        """Begins to read what is not read yet, unless that has begun."""
        if self._task is None or self._task.done():
            self._task = asyncio.create_task(self.read(), name="read the archive")

    async def stop(self) -> None:
        """Reads no more."""
        if self._task is not None:
            self._task.cancel()
            await asyncio.wait({self._task})

    async def take(self, name: str, stamp: object) -> None:
        """Reads one pour that is over, and keeps what is wanted of it.

        Raises:
            LogFault: It cannot be read or laid out.
        """
        raise NotImplementedError

    async def read(self) -> None:
        """Reads what the archive has and memory has not, the newest first."""
        archive = self._archive
        try:
            archive = self._pours.log.archive_stamp()
            if archive != self._archive:
                self.reading = "reading"
                await self._read_on()
        except LogFault as fault:
            self._pours.faults["log"] = str(fault)
        except Exception:  # noqa: BLE001 - what was read is shown all the same
            _log.exception("the archive cannot be reviewed")
        else:
            self._archive = archive if self._wanted() else None
        self.reading = ""

    async def _read_on(self) -> None:
        entries = await asyncio.to_thread(_archived, self._pours.folder.log)
        unread = [each for each in entries if self._is_new(each)]
        for left, entry in zip(range(len(unread), 0, -1), unread, strict=True):
            if not self._wanted():
                return
            self.reading = f"reading: {left} pours to go"
            name = str(entry["pour"])
            try:
                await self.take(name, entry["stamp"])
            except LogFault as fault:
                self._pours.faults[name] = str(fault)
            await asyncio.sleep(REST_S)

    def _is_new(self, entry: Entry) -> bool:
        name = entry["pour"]
        return name not in self._pours.pours and self._seen.get(name) != entry["stamp"]


class Reviewer(BesideTheKeys):
    """The rows of all pours."""

    def __init__(self, pours: Pours, wanted: Callable[[], bool]) -> None:
        super().__init__(pours, wanted)
        self._rows: dict[str, list[Row]] = {}

    def rows(self) -> list[Row]:
        """The rows of all pours that have been read."""
        return [row for rows in self._rows.values() for row in rows]

    @override
    def look(self) -> None:
        """Takes in the pours in memory, and begins to read those that are not."""
        for name, pour in self._pours.pours.items():
            if self._seen.get(name) is not pour.state:
                rows = review(pour.state, self._pours.plan(name))
                self._keep(name, pour.state, rows)
        super().look()

    @override
    async def take(self, name: str, stamp: object) -> None:
        found = reviewed(self._pours, name)
        self._keep(name, stamp, found.rows if found is not None else [])

    def _keep(self, name: str, seen: object, rows: list[Row]) -> None:
        self._seen[name] = seen
        self._rows[name] = rows
        self.version += 1


def _archived(folder: Path) -> list[Entry]:
    """The pours that are over, the newest first; with a log of its own, in a thread."""
    sealed = [entry for entry in Log(folder).index() if entry["sealed"]]
    return sorted(sealed, key=lambda entry: str(entry["started"]), reverse=True)
