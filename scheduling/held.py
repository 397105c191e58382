"""One pour as it stands in its files: sealed, journal, or both; read as it grows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from scheduling.archive import SCHEMA, Archive, Document, Sealed, other_schema
from scheduling.disk import Disk, free_name, replace_whole
from scheduling.errors import LogFault
from scheduling.event import Event, event_from_document
from scheduling.journaldb import JournalDB
from scheduling.lines import written
from scheduling.plainjson import Json


class Held:
    """The events of one pour, those of its sealed file before those of its journal.

    An event that stands in both counts once: a pour is sealed by writing the one and
    then taking the other away, and may be met between the two.

    Attributes:
        events: What happened, in the order recorded; as of the last ``look``.
        documents: The same as it is stored.
        known: The same events by id.
    """

    def __init__(
        self,
        pour: str,
        path: Path,
        archive: Archive,
        disk: Disk,
        make_room: Callable[[], bool],
    ) -> None:
        """Names the files; nothing is read.

        Args:
            pour: Its name.
            path: Its journal.
            archive: Where its sealed file lies.
            disk: The file system.
            make_room: Called when the disk is full; whether it freed anything.
        """
        about = {"schema": SCHEMA}
        self._db = JournalDB(path, disk, about=about, make_room=make_room)
        self._pour = pour
        self._archive = archive
        self._disk = disk
        self._base: tuple[Sealed | None, Sealed | None] = (None, None)
        self._loads = -1
        self._start_over()

    def _start_over(self) -> None:
        self._loads = -1  # so that a fault comes again at the next look
        self._taken = 0
        self.documents: list[Document] = []
        self.events: list[Event] = []
        self.known: dict[str, Event] = {}

    @property
    def damage(self) -> str:
        """Where the journal is damaged in its middle; "" when it is not."""
        return self._db.journal.damage

    @property
    def tail(self) -> int:
        """Bytes at the end of the journal that are half a line."""
        return self._db.journal.tail

    @property
    def live(self) -> bool:
        """Whether there is anything in its journal, or the disk failed it."""
        return bool(self._db.tables() or self._db.journal.fault)

    def journal_ids(self) -> set[str]:
        """Ids of the events that stand in its journal."""
        return {str(each["id"]) for each in self._db.table("events")}

    def look(self) -> None:
        """Takes in what has changed in the files.

        Raises:
            LogFault: A file cannot be read at all.
            OSError: The disk refused.
        """
        # The journal before the archive: sealing writes the one before it takes the
        # other away, so that no event can fall between two looks.
        self._db.catch_up()
        base = self._archive.find(self._pour), self._archive.find_first(self._pour)
        if self._loads != self._db.journal.loads or self._base != base:
            self._start_over()
            self._take_base(*base)
            self._base, self._loads = base, self._db.journal.loads
        self._take_journal()

    def _take_base(self, sealed: Sealed | None, first: Sealed | None) -> None:
        for found, read in (
            (sealed, self._archive.read),
            (first, self._archive.read_first),
        ):
            if found is not None:
                where = f"{found.path}: document "
                for key, document in read(found).items():
                    self._take(document, where + key)

    def _take_journal(self) -> None:
        journal = self._db.journal
        tables = journal.read()
        stored = tables.get("events", {})
        if stored and not self._taken:
            schema = tables.get("about", {}).get("1", {}).get("schema")
            if schema != SCHEMA and not (journal.damage and schema is None):
                raise LogFault(other_schema(journal.path, schema, SCHEMA))
        newest_first = reversed(stored.items())
        fresh = [next(newest_first) for _ in range(len(stored) - self._taken)]
        for key, document in reversed(fresh):
            self._take(document, f"{journal.path}: document {key}")
            self._taken += 1

    def _take(self, document: Document, where: str) -> None:
        event = event_from_document(document, where)
        if event.pour != self._pour:
            raise LogFault(
                f"{where} holds an event of {event.pour}; give the file its own name "
                "back, or move it out of the folder"
            )
        if self.known.setdefault(event.id, event) is event:
            self.documents.append(document)
            self.events.append(event)

    # -- writing, under the writers' lock

    def make_ready(self) -> Path | None:
        """Looks again and mends what a power cut left; where a torn tail is kept.

        Raises:
            LogFault: Nothing may be written to its journal.
            OSError: The disk refused.
        """
        aside = self._db.make_ready()
        self.look()
        return aside

    def write(self, documents: Iterable[Mapping[str, Json]]) -> None:
        """Appends events as one line of the journal, after ``make_ready``.

        Raises:
            LogFault: NOT SAVED; the file is as it was.
        """
        self._db.table("events").insert_multiple(documents)
        self._take_journal()

    def set_damage_aside(self) -> Path:
        """Writes what can be read of a damaged journal anew; where the old one is kept.

        Raises:
            OSError: The disk refused.
        """
        path = self._db.journal.path
        aside = free_name(self._disk, path.with_name(f"{path.name}.damaged"))
        replace_whole(self._disk, aside, self._disk.read(path))
        events = self._db.table("events").all()
        numbered = enumerate(map(dict, events), 1)
        ops = [["p", "events", str(number), each] for number, each in numbered]
        about = ["p", "about", "1", {"schema": SCHEMA}]
        replace_whole(self._disk, path, written(0, [about, *ops]))
        return aside
