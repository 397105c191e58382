"""The log: everything that happened to every pour, one TinyDB file for each.

Events are only ever added. A correction or an undo is an event that names the one
it means; nothing is changed in place and nothing is removed. Any number of
programs may write at once: each commit takes the writer's lock, reads what the
others have added, adds its own events in one replacement of the file, and lets go.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, fields
from datetime import UTC, date, datetime
from pathlib import Path
from secrets import token_hex
from typing import Literal, TypeVar, cast, get_args

from filelock import FileLock, Timeout
from tinydb import TinyDB

from scheduling.errors import BadInput, Fault, LogFault
from scheduling.storage import Draft, Json, WholeFileStorage, plain_json, sync_folder

Kind = Literal[
    "started",
    "finished",
    "skipped",
    "touch",
    "reading",
    "weighed",
    "fogged",
    "covered",
    "uncovered",
    "resprayed",
    "hands",
    "note",
    "rang",
    "acknowledged",
    "corrected",
    "undone",
    "accepted",
    "sealed",
]
KINDS: tuple[Kind, ...] = get_args(Kind)

Stamp = tuple[int, int, int]
"""Modification time in ns, size in bytes and inode of a pour's file."""

SCHEMA = 1
"""Number of the document layout, in the "about" table of every file."""

LOCK_WAIT_S = 5.0
"""How long a commit waits for another program's commit, s; they take a few ms."""

_LOCK_POLL_S = 0.001  # about one commit: a busy writer must not keep a key press out

_T = TypeVar("_T")
_POUR_NAME = re.compile(r"[a-z0-9][a-z0-9.-]{0,79}")
_POUR_NAME_WANT = (
    "a pour's name is 1 to 80 of a-z, 0-9, '.' and '-', a letter or digit first"
)
_MINUTES_A_DAY = 24 * 60
_YEARS = range(1970, 2101)  # 1970: a machine that lost its clock can still write


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened to one pour.

    Making one checks it, so that whatever exists can be stored and read back the
    same: times become UTC, ``data`` becomes a private copy with lists for tuples.

    Attributes:
        id: Unique across all writers; see ``new_event_id``.
        at: When it happened, aware.
        recorded_at: When it was written down, aware.
        boot: Boot-clock milliseconds and the first 8 characters of the boot id.
        zone_name: Local time zone of the writer, IANA name.
        offset_min: That zone's offset from UTC at the time, minutes.
        pour: Name of the pour.
        kind: What sort of thing happened.
        step: The step it is about, "" when none.
        zone: The zone of the form it is about, "" when none.
        by: Who said so, "" when nobody did.
        data: Whatever else belongs to the kind; JSON values.

    Raises:
        LogFault: A value that cannot be stored, named by its key.
        BadInput: A pour name that cannot be a file name.
    """

    id: str
    at: datetime
    recorded_at: datetime
    boot: tuple[int, str]
    zone_name: str
    offset_min: int
    pour: str
    kind: Kind
    step: str = ""
    zone: str = ""
    by: str = ""
    data: Mapping[str, Json] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        check_pour_name(self.pour)
        for key in ("id", "zone_name", "step", "zone", "by"):
            plain_json(getattr(self, key), key)
        plain_json(self.boot, "boot")
        if not self.id:
            raise _refused("id", self.id, "an event needs an id")
        if self.kind not in KINDS:
            raise _refused("kind", self.kind, f"one of {', '.join(KINDS)}")
        if self.boot[0] < 0:
            raise _refused("boot", self.boot[0], "milliseconds, 0 or more")
        if not -_MINUTES_A_DAY < self.offset_min < _MINUTES_A_DAY:
            raise _refused("offset_min", self.offset_min, "less than a day")
        # A frozen value is settled here, once, while it is being made.
        settle = object.__setattr__
        settle(self, "at", _utc(self.at, "at"))
        settle(self, "recorded_at", _utc(self.recorded_at, "recorded_at"))
        settle(self, "data", plain_json(self.data, "data"))


_TEXT_KEYS = ("id", "zone_name", "pour", "kind", "step", "zone", "by")
_KEYS = tuple(each.name for each in fields(Event))


def new_event_id(recorded_at: datetime) -> str:
    """Makes an id that sorts by time of writing and that no other writer makes.

    Args:
        recorded_at: Aware time of writing, 1970 or later.
    """
    return f"{int(recorded_at.timestamp() * 1000):012x}-{token_hex(4)}"


def new_pour_name(job_id: str, existing: Collection[str], local_date: date) -> str:
    """Names a pour after its job and day: ``bench.0401``, the next ``bench.0401-2``.

    Args:
        job_id: Letters, digits and hyphens; long ones are cut.
        existing: Names already taken, of any year.
        local_date: The day the pour starts, local.
    """
    job = re.sub(r"[^a-z0-9]+", "-", job_id.lower()).strip("-")[:64] or "pour"
    name = f"{job}.{local_date:%m%d}"
    number = 1
    while (numbered := name if number == 1 else f"{name}-{number}") in existing:
        number += 1
    return numbered


def check_pour_name(pour: str) -> None:
    """Refuses a name that is not one plain file name on every system.

    Raises:
        BadInput: With what a name may be.
    """
    if not _POUR_NAME.fullmatch(pour):
        raise BadInput(Fault("pour", "", ascii(pour[:90]), _POUR_NAME_WANT))


def event_to_document(event: Event) -> dict[str, Json]:
    """The event as the JSON document that is stored; times are ISO 8601 in UTC."""
    document: dict[str, Json] = {key: getattr(event, key) for key in _KEYS}
    document["at"] = event.at.isoformat()
    document["recorded_at"] = event.recorded_at.isoformat()
    document["boot"] = list(event.boot)
    document["data"] = plain_json(event.data, "data")
    return document


def event_from_document(document: Mapping[str, object], where: str = "event") -> Event:
    """Reads an event back exactly; keys it does not know are left alone.

    Args:
        document: As ``event_to_document`` makes it.
        where: What to call the document in a fault.

    Raises:
        LogFault: A key is missing or holds something else than it should.
    """
    try:
        texts = {key: _typed(document, key, str) for key in _TEXT_KEYS}
        return Event(
            id=texts["id"],
            at=datetime.fromisoformat(_typed(document, "at", str)),
            recorded_at=datetime.fromisoformat(_typed(document, "recorded_at", str)),
            boot=_boot(document),
            zone_name=texts["zone_name"],
            offset_min=_typed(document, "offset_min", int),
            pour=texts["pour"],
            kind=cast("Kind", texts["kind"]),  # the event itself checks the word
            step=texts["step"],
            zone=texts["zone"],
            by=texts["by"],
            data=_typed(document, "data", dict),
        )
    except (ValueError, BadInput, LogFault) as error:
        raise LogFault(f"{where} is not an event: {error}") from error


class Log:
    """The events of all pours in one folder."""

    def __init__(self, folder: Path) -> None:
        """Opens the log; the folder appears with the first event.

        Args:
            folder: Holds one file for each pour, and the writers' lock.
        """
        self._folder = folder
        self._kept: dict[str, tuple[Stamp | None, tuple[Event, ...]]] = {}

    def pours(self) -> list[str]:
        """Names of all pours, sorted, the unreadable ones too.

        Raises:
            LogFault: The folder cannot be listed.
        """
        try:
            names = [path.name for path in self._folder.iterdir()]
        except FileNotFoundError:
            return []
        except OSError as error:
            raise _cannot("read", self._folder, error) from error
        stems = (name[:-5] for name in names if name.endswith(".json"))
        return sorted(stem for stem in stems if _POUR_NAME.fullmatch(stem))

    def events(self, pour: str) -> list[Event]:
        """All events of a pour in the order they were recorded; none if unknown.

        Raises:
            LogFault: The file of this pour is damaged or cannot be read.
            BadInput: Not a pour's name.
        """
        return list(self._events(pour))

    def last(self, pour: str) -> Event | None:
        """The event recorded last, or None; raises as ``events`` does."""
        events = self._events(pour)
        return events[-1] if events else None

    def stamp(self, pour: str) -> Stamp | None:
        """Something that differs whenever the pour's file does, at the cost of a stat.

        Returns:
            None while the pour has no file.

        Raises:
            LogFault: The folder cannot be read.
            BadInput: Not a pour's name.
        """
        path = self._path(pour)
        try:
            found = path.stat()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise _cannot("read", path, error) from error
        return found.st_mtime_ns, found.st_size, found.st_ino

    def faults(self) -> dict[str, LogFault]:
        """The pours that cannot be read, each with its reason."""
        faults: dict[str, LogFault] = {}
        for pour in self.pours():
            try:
                self._events(pour)
            except LogFault as fault:
                faults[pour] = fault
        return faults

    def append(self, *events: Event) -> None:
        """Adds events of one pour, all or none, on the disk when this returns.

        An event that is in the log already is not added again, so that a caller
        who was told NOT SAVED may simply try the same events once more.

        Raises:
            LogFault: Not saved, with the reason; the file is as it was.
            ValueError: Events of several pours.
        """
        if not events:
            return
        pour = events[0].pour
        if any(event.pour != pour for event in events):
            raise ValueError("one commit is about one pour")
        with self._alone():
            self._commit(pour, events)

    def _path(self, pour: str) -> Path:
        check_pour_name(pour)
        return self._folder / f"{pour}.json"

    def _events(self, pour: str) -> tuple[Event, ...]:
        stamp = self.stamp(pour)
        kept = self._kept.get(pour)
        if kept is None or kept[0] != stamp:
            # The stamp is older than what is read, so a change in between only
            # makes the next call read once more.
            path = self._path(pour)
            kept = stamp, _stored_events(Draft(WholeFileStorage(path)), path, pour)
            self._kept[pour] = kept
        return kept[1]

    @contextmanager
    def _alone(self) -> Iterator[None]:
        # A lock of its own for each commit: two threads of one program exclude
        # each other as two programs do.
        lock = FileLock(self._folder / ".writer.lock")
        try:
            if not self._folder.is_dir():
                self._folder.mkdir(parents=True, exist_ok=True)
                sync_folder(self._folder.parent)
            lock.acquire(timeout=LOCK_WAIT_S, poll_interval=_LOCK_POLL_S)
        except Timeout as error:
            raise LogFault(
                f"NOT SAVED: another program has been writing to {self._folder} for "
                f"{LOCK_WAIT_S:g} s; try again, or end that program"
            ) from error
        except OSError as error:
            raise _cannot("write", self._folder, error) from error
        try:
            yield
        finally:
            lock.release()

    def _commit(self, pour: str, events: Sequence[Event]) -> None:
        try:
            before = self._events(pour)
            draft = Draft(WholeFileStorage(self._path(pour)))
        except LogFault as fault:
            raise LogFault(f"NOT SAVED: {fault}") from fault
        fresh = _not_in(before, events)  # none: the file is made durable once more
        tables = _opened(draft)
        about = tables.table("about")
        if not len(about):
            about.insert({"schema": SCHEMA})
        tables.table("events").insert_multiple(map(event_to_document, fresh))
        draft.commit()
        with suppress(LogFault):  # saved all the same
            self._kept[pour] = self.stamp(pour), (*before, *fresh)


def _opened(draft: Draft) -> TinyDB:
    return TinyDB(storage=lambda: draft)


def _stored_events(draft: Draft, path: Path, pour: str) -> tuple[Event, ...]:
    tables = _opened(draft)
    documents = tables.table("events").all()
    about = tables.table("about").all()
    if not documents and not about:
        return ()
    schema = about[0].get("schema") if about else None
    if schema != SCHEMA:
        raise LogFault(
            f"{path} has schema {schema!a} and this program reads {SCHEMA}; "
            "use the version that wrote it, or a newer one"
        )
    documents.sort(key=lambda document: document.doc_id)
    events = tuple(
        event_from_document(document, f"{path}: document {document.doc_id}")
        for document in documents
    )
    for event in events:
        if event.pour != pour:
            raise LogFault(
                f"{path} holds an event of {event.pour}: give the file its own name "
                "back, or move it out of the folder"
            )
    return events


def _not_in(before: Sequence[Event], events: Sequence[Event]) -> list[Event]:
    known = {event.id: event for event in before}
    fresh: list[Event] = []
    for event in events:
        same = known.get(event.id)
        if same is None:
            known[event.id] = event
            fresh.append(event)
        elif same != event:
            raise LogFault(
                f"NOT SAVED: {event.pour}: two different events have the id {event.id}"
            )
    return fresh


def _utc(moment: datetime, key: str) -> datetime:
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise _refused(key, moment, "a time with its offset from UTC")
    if moment.year in _YEARS and (utc := moment.astimezone(UTC)).year in _YEARS:
        return utc
    raise _refused(key, moment, f"years {_YEARS[0]} to {_YEARS[-1]}")


def _typed(document: Mapping[str, object], key: str, want: type[_T]) -> _T:
    value = document.get(key)
    if type(value) is not want:  # a bool is no number here
        raise _refused(key, value, f"should be {want.__name__}")
    return value


def _boot(document: Mapping[str, object]) -> tuple[int, str]:
    match document.get("boot"):
        case [int(moment), str(name)] if not isinstance(moment, bool):
            return moment, name
        case other:
            raise _refused("boot", other, "should be milliseconds and a boot id")


def _refused(key: str, value: object, want: str) -> LogFault:
    nested = isinstance(value, list | dict)  # may be too deep to print
    shown = type(value).__name__ if nested else ascii(value)[:80]
    return LogFault(f"{key}: {shown} - {want}")


def _cannot(do: str, path: Path, error: OSError) -> LogFault:
    prefix = "NOT SAVED: " if do == "write" else ""
    return LogFault(
        f"{prefix}cannot {do} {path} ({error.strerror or error}); "
        f"see that this user may {do} there, then try again"
    )
