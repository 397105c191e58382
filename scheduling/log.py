"""The log: everything that happened to every pour, one TinyDB file for each.

Events are only ever added. A correction or an undo is an event that names the one
it means; nothing is changed in place and nothing is removed. Any number of
programs may write at once: each commit takes the writer's lock, reads what the
others have added, adds its own events in one replacement of the file, and lets go.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from tinydb import TinyDB

from scheduling.errors import LogFault
from scheduling.event import Event, event_from_document, event_to_document
from scheduling.pourname import check_pour_name, is_pour_name
from scheduling.storage import Draft, WholeFileStorage, sync_folder

Stamp = tuple[int, int, int]
"""Modification time in ns, size in bytes and inode of a pour's file."""

SCHEMA = 1
"""Number of the document layout, in the "about" table of every file."""

LOCK_WAIT_S = 5.0
"""How long a commit waits for another program's commit, s; they take a few ms."""

_LOCK_POLL_S = 0.001  # about one commit: a busy writer must not keep a key press out


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
        return sorted(stem for stem in stems if is_pour_name(stem))

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
        from filelock import FileLock, Timeout  # noqa: PLC0415 - after the first paint

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


def _cannot(do: str, path: Path, error: OSError) -> LogFault:
    prefix = "NOT SAVED: " if do == "write" else ""
    return LogFault(
        f"{prefix}cannot {do} {path} ({error.strerror or error}); "
        f"see that this user may {do} there, then try again"
    )
