"""The log: everything that happened to every pour, and nothing acknowledged is lost.

Events are only ever added. A correction or an undo is an event that names the one
it means; nothing is changed in place and nothing is removed. A pour that is open has
a journal (``journal.py``), one that is over a sealed file (``archive.py``). Any number
of programs may write at once: each commit takes the writers' lock, reads what the
others have added, appends its own events as one line, and lets go.

What is about the shop and no pour, such as a timing it accepted, lies in a journal of
its own under the name SHOP. It is written and verified like any other, is no pour, and
is never sealed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import RLock

from scheduling.archive import INDEX, Archive
from scheduling.disk import Ballast, Disk, Stamp, durable_folder
from scheduling.errors import LogFault, NameTaken
from scheduling.event import Event, event_to_document
from scheduling.held import Held
from scheduling.index import Entry, Index, describe
from scheduling.journal import damaged_journal
from scheduling.plainjson import Json
from scheduling.pourname import SHOP, check_pour_name, is_pour_name

_SUFFIX = ".jnl"


class Log:
    """The events of all pours in one folder.

    Attributes:
        notes: What was put right, or will soon go wrong, in words for the user.
    """

    def __init__(self, folder: Path, disk: Disk | None = None) -> None:
        """Opens the log; the folder appears with the first event.

        Args:
            folder: Holds the journals, the archive and the index.
            disk: The file system.
        """
        self.notes: list[str] = []
        self._folder = folder
        self._live = folder / "live"
        self._disk = disk or Disk()
        self._archive = Archive(folder, self._disk)
        self._index = Index(folder / INDEX, self._disk)
        self._ballast = Ballast(self._disk, folder)
        self._held: dict[str, Held] = {}
        self._threads = RLock()
        self._prepared = False

    # -- which pours there are

    def pours(self) -> list[str]:
        """Names of all pours, sorted, the unreadable ones too.

        Raises:
            LogFault: The folder cannot be listed.
        """
        with self._looking(self._folder):
            return sorted({*self._open_pours(), *self._archive.names()} - {SHOP})

    def open_pours(self) -> list[str]:
        """Names of the pours that are not in the archive alone, sorted.

        Raises:
            LogFault: The folder cannot be listed.
        """
        with self._looking(self._folder):
            return sorted(self._open_pours())

    def archive_stamp(self) -> Stamp:
        """Something that differs whenever a pour was sealed, or sealed again.

        Raises:
            LogFault: The folder cannot be listed.
        """
        with self._looking(self._folder):
            return self._archive.stamp()

    def index(self) -> list[Entry]:
        """An entry for each readable pour, by name; see ``index.describe``.

        It is written anew whenever a pour has changed: nothing for a key to wait for.

        Raises:
            LogFault: The folder cannot be listed.
        """
        with self._threads, self._looking(self._folder):
            return self._index.entries(self._stamps(), self._describe)

    def mend_index(self) -> bool:
        """Derives the index anew from every pour; whether it was right.

        Raises:
            LogFault: The folder cannot be listed.
        """
        with self._threads, self._looking(self._folder):
            return self._index.mend(self._stamps(), self._describe)

    def _stamps(self) -> dict[str, Stamp]:
        stamps = {pour: one.stamp for pour, one in self._archive.pours().items()}
        stamps.pop(SHOP, None)
        for pour in self._open_pours():
            stamps[pour] = self.stamp(pour) or ()
        return stamps

    def _open_pours(self) -> set[str]:
        return self._journals() - {SHOP}

    def _journals(self) -> set[str]:
        """Everything that is written to, the shop's book too if there is one."""
        names = self._disk.names(self._live)
        stems = (name[: -len(_SUFFIX)] for name in names if name.endswith(_SUFFIX))
        return {*filter(is_pour_name, stems), *self._archive.first_pours()}

    # -- what happened

    def events(self, pour: str) -> list[Event]:
        """All events of a pour in the order they were recorded; none if unknown.

        Of a journal that is damaged in its middle this is what can be read; ``fault``
        names the place.

        Raises:
            LogFault: A file of this pour cannot be read at all.
            BadInput: Not a pour's name.
        """
        with self._threads:
            return list(self._look(pour).events)

    def last(self, pour: str) -> Event | None:
        """The event recorded last, or None; raises as ``events`` does."""
        with self._threads:
            events = self._look(pour).events
            return events[-1] if events else None

    def stamp(self, pour: str) -> Stamp | None:
        """Something that differs whenever a file of the pour does, for a few stats.

        Returns:
            None while the pour has no file.

        Raises:
            LogFault: The folder cannot be read.
            BadInput: Not a pour's name.
        """
        path = self._path(pour)
        with self._looking(path):
            live = self._disk.stamp(path)
            based = self._archive.find(pour), self._archive.find_first(pour)
        stamps = [each.stamp for each in based if each is not None]
        return sum(stamps, live or ()) or None

    def faults(self) -> dict[str, LogFault]:
        """What cannot be read, or not all of it, by pour; SHOP is the shop's book."""
        found = {pour: self.fault(pour) for pour in [*self.pours(), SHOP]}
        return {pour: fault for pour, fault in found.items() if fault is not None}

    def fault(self, pour: str) -> LogFault | None:
        """Why a pour cannot be read, or not all of it; None when nothing is wrong."""
        try:
            with self._threads:
                damage = self._look(pour).damage
        except LogFault as fault:
            return fault
        return LogFault(damaged_journal(self._path(pour), damage)) if damage else None

    def torn(self, pour: str) -> int:
        """Bytes at the end of a journal that are half a line; raises as ``events``."""
        with self._threads:
            return self._look(pour).tail

    def _path(self, pour: str) -> Path:
        check_pour_name(pour)
        return self._live / f"{pour}{_SUFFIX}"

    def _look(self, pour: str) -> Held:
        path = self._path(pour)
        held = self._held.pop(pour, None)
        if held is None:
            held = Held(pour, path, self._archive, self._disk, self._make_room)
        with self._looking(path):
            try:
                held.look()
            finally:
                # Ten years of pours that are over are not kept in memory.
                if held.live:
                    self._held[pour] = held
        return held

    def _describe(self, pour: str) -> dict[str, Json]:
        sealed = self._archive.find(pour)
        if sealed is None or pour in self._open_pours():
            return describe(pour, self._look(pour).documents, None)
        documents, checksum = self._archive.read_summed(sealed)
        return describe(pour, list(documents.values()), checksum)

    # -- writing

    def append(self, *events: Event, new: bool = False) -> None:
        """Adds events of one pour, all or none, on the disk when this returns.

        An event that is in the log already is not added again, so that a caller
        who was told NOT SAVED may simply try the same events once more.

        Args:
            events: What happened.
            new: Whether the pour begins with them, and its name must be free.

        Raises:
            NameTaken: Another pour of that name was begun a moment ago.
            LogFault: Not saved, with the reason; the file is as it was.
            ValueError: Events of several pours.
        """
        if not events:
            return
        pour = events[0].pour
        if any(event.pour != pour for event in events):
            raise ValueError("one commit is about one pour")
        with self._alone():
            try:
                held = self._ready(pour)
            except LogFault as fault:
                raise LogFault(f"NOT SAVED: {fault}") from fault
            if new and held.events and held.events[0].id != events[0].id:
                raise NameTaken(f"NOT SAVED: another pour has the name {pour}")
            fresh = _not_in(held.known, events)
            if fresh:
                held.write(map(event_to_document, fresh))
            self._ballast.keep()

    def seal(self, pour: str) -> None:
        """Puts a pour into the archive: one plain file instead of a journal.

        It may be broken off anywhere and called again. Whatever is appended later
        goes into a new journal, until the pour is sealed once more.

        Raises:
            LogFault: It stays as it is, with the reason; no event is lost.
        """
        if pour not in self.open_pours():
            return
        with self._alone():
            self._seal(pour)

    def set_aside(self, pour: str) -> Path | None:
        """Goes on without what cannot be read of a damaged journal, which is kept.

        Returns:
            Where the damaged file is kept; None when the journal is not damaged.

        Raises:
            LogFault: The disk refused, or the pour cannot be read at all.
        """
        with self._alone():
            held = self._look(pour)
            return held.set_damage_aside() if held.damage else None

    # -- under the lock

    @contextmanager
    def _alone(self) -> Iterator[None]:
        with self._threads:
            try:
                if not self._prepared:
                    self._refuse_network()
                if not self._prepared or self._disk.stamp(self._live) is None:
                    durable_folder(self._disk, self._folder)
                    durable_folder(self._disk, self._live)
                with self._disk.alone(self._folder):
                    self._prepare()
                    yield
            except OSError as error:
                raise _cannot("write", self._folder, error) from error

    def _refuse_network(self) -> None:
        kind = self._disk.network(self._folder)
        if kind:
            from scheduling.mounts import on_network  # noqa: PLC0415 - after the first paint

            raise LogFault(f"NOT SAVED: {on_network(self._folder, kind)}")

    def _prepare(self) -> None:
        """What is done once: mends torn tails, carries over the first version's."""
        if self._prepared:
            return
        for pour in self._journals():
            with suppress(LogFault):  # it stays as it is, and ``fault`` names it
                held = self._ready(pour)
                if self._archive.find_first(pour) and held.events:
                    self._carry_over(pour)
        self._prepared = True

    def _ready(self, pour: str) -> Held:
        held = self._look(pour)
        self._held[pour] = held
        aside = held.make_ready()
        if aside is not None:
            self.notes.append(f"{pour}: half a line was set aside in {aside}")
        return held

    def _carry_over(self, pour: str) -> None:
        """Moves what a file of the first version holds into the journal."""
        held = self._held[pour]
        sealed = self._archive.find(pour)
        archived = self._archive.read(sealed).values() if sealed else ()
        known = {str(each["id"]) for each in archived}.union(held.journal_ids())
        documents = [each for each in held.documents if each["id"] not in known]
        if documents:
            held.write(documents)
        self._archive.put_by(pour)
        self.notes.append(f"{pour}: carried over from the first version")

    def _seal(self, pour: str) -> None:
        documents = self._ready(pour).documents
        if not documents:
            return
        self._archive.write(pour, documents)
        self._disk.unlink(self._path(pour))
        self._disk.sync_folder(self._live)
        if self._archive.find_first(pour):
            self._archive.put_by(pour)
        self._held.pop(pour)

    def _make_room(self) -> bool:
        made = self._ballast.give_up()
        if made:
            self.notes.append(
                "THE DISK IS FULL: there is room for some hundred marks; make more now"
            )
        return made

    @contextmanager
    def _looking(self, path: Path) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise _cannot("read", path, error) from error


def _not_in(before: dict[str, Event], events: Sequence[Event]) -> list[Event]:
    known: dict[str, Event] = {}
    fresh: list[Event] = []
    for event in events:
        same = before.get(event.id) or known.get(event.id)
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
