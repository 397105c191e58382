"""The pours of a shop folder as snapshots, and the way of an event into the log.

`accept` takes an event into memory at once, so that a key can be painted; `settle`
writes it to the log and lays the pour out anew. Nothing here knows a screen.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta, tzinfo
from difflib import get_close_matches
from functools import cached_property
from typing import TYPE_CHECKING

from scheduling.alert import Alert, next_calls, ringing, upcoming
from scheduling.clock import TimeSource
from scheduling.errors import BadInput, Fault, LogFault, NameTaken
from scheduling.event import Event, Kind, new_event_id
from scheduling.folder import ShopFolder
from scheduling.folding import fold
from scheduling.forecast import Setting
from scheduling.plainjson import Json
from scheduling.pourname import SHOP, next_pour_name
from scheduling.process import StepKey
from scheduling.shop import Shop
from scheduling.shopbook import NOTHING, fold_book, taught
from scheduling.steady import newest
from scheduling.timeline import Timeline
from tui.inmemory import Kept, Pour

if TYPE_CHECKING:
    from scheduling.log import Log

NOT_SAVED = "NOT SAVED"
"""The fault of events that the disk did not take."""

UNSURE = "CLOCK UNSURE, check the time: "
"""Begins the line of an alert that rings because nobody can know whether it is due."""

STALE = timedelta(seconds=20)
"""Age at which a timeline is laid out anew although nothing happened."""

_MINUTE = timedelta(minutes=1)
_log = logging.getLogger(__name__)


class Pours:
    """The pours of one shop folder: read, folded, laid out, written.

    Attributes:
        pours: The newest snapshot of each, by name.
        faults: What is wrong with a pour, or with the log, in words.
        renamed: New pours whose name another program took, with the one they got.
        shop: The shop as its file has it.
        book: What the shop has accepted, as last read.
        setting: What the shop brings to a new pour, with what it has accepted.
    """

    def __init__(
        self,
        folder: ShopFolder,
        time: TimeSource,
        by: str = "",
        *,
        writes: bool = True,
    ) -> None:
        """Opens the folder; call ``load`` before asking for pours.

        Args:
            folder: The shop folder.
            time: Where the time comes from.
            by: Who marks things in this program.
            writes: Whether it may put pours that are over into the archive.

        Raises:
            BadInput: The shop file is wrong.
        """
        self.folder = folder
        self.time = time
        self.by = by
        self.book = NOTHING
        self.use_shop(folder.shop())
        self._book_stamp: object = None
        self.pours: dict[str, Pour] = {}
        self.faults: dict[str, str] = {}
        self.renamed: dict[str, str] = {}
        self._kept: dict[str, Kept] = {}
        self._archive: object = None
        self._unsure: set[tuple[str, str]] = set()
        self._clock_known = False
        self._writes = writes

    @cached_property
    def log(self) -> Log:
        """The log; it is opened with the first question, after the first paint."""
        from scheduling.log import Log  # noqa: PLC0415 - after the first paint

        return Log(self.folder.log)

    @property
    def zone(self) -> tzinfo:
        """The shop's time zone."""
        return self.setting.zone

    def reload_shop(self) -> None:
        """Reads the shop file again.

        Raises:
            BadInput: It is wrong.
        """
        self.use_shop(self.folder.shop())

    def use_shop(self, shop: Shop) -> None:
        """Takes a shop instead of the file's; what was accepted still counts."""
        self.shop = shop
        self.book = replace(self.book, mixes=shop.mixes)
        self.setting = Setting.of(taught(shop, self.book))

    # -- reading the log

    def load(self) -> list[str]:
        """Reads what other programs or an earlier run wrote; returns what changed.

        Pours that are in the archive are not read, unless they were before. A pour
        whose file cannot be read is named in ``faults`` and keeps its last snapshot;
        the others are not affected.
        """
        try:
            names = set(self.log.open_pours())
            archive = self.log.archive_stamp()
        except LogFault as fault:
            self.faults["log"] = str(fault)
            return []
        self.faults.pop("log", None)
        self.read_book()
        if archive == self._archive:
            names.update(pour.name for pour in self.pours.values() if not pour.over)
        else:
            names.update(self._kept)
        self._archive = archive
        changed = [name for name in sorted(names) if self._read(name)]
        if not self._clock_known:
            self.look_at_clock(moved=False)
        return changed

    def read_book(self) -> None:
        """Reads what the shop has accepted, if that has changed since it was read.

        A book that cannot be read is named in ``faults``; the last one goes on.
        """
        try:
            stamp = self.log.stamp(SHOP)
            if stamp == self._book_stamp:
                return
            events = self.log.events(SHOP)
            damage = self.log.fault(SHOP)
        except LogFault as fault:
            self.faults[SHOP] = str(fault)
            self._book_stamp = ()  # so that it is read again as soon as it can be
            return
        self._book_stamp = stamp
        self.faults.pop(SHOP, None)
        if damage is not None:
            self.faults[SHOP] = str(damage)
        self.book = fold_book(events)
        self.use_shop(self.shop)

    def load_one(self, name: str) -> None:
        """Reads one pour, be it in the archive, and no other."""
        self._read(name)

    def put_by(self, name: str) -> None:
        """Puts a pour into the archive if it is over, and keeps nothing of it here."""
        self._read(name)
        self.pours.pop(name, None)
        self._kept.pop(name, None)

    def logged(self) -> list[str]:
        """Returns the names of all pours in the log, none where it cannot be read."""
        try:
            return self.log.pours()
        except LogFault as fault:
            self.faults["log"] = str(fault)
            return []

    def _read(self, name: str) -> bool:
        kept = self._kept.get(name)
        try:
            stamp = self.log.stamp(name)
            if kept is not None and kept.stamp == stamp:
                return False
            events = self.log.events(name)
        except LogFault as fault:
            new = self.faults.get(name) != str(fault)
            self.faults[name] = str(fault)
            return new
        if kept is not None and kept.is_another(events):
            self._rename(name)
            kept = None
        if kept is not None and (gone := kept.gone(events)):
            words = (
                f"{name}: {gone} marks that were on record are gone from its file; "
                "put a good copy in its place"
            )
            new = self.faults.get(name) != words
            self.faults[name] = words
            return new
        self.faults.pop(name, None)
        if kept is None:
            kept = self._kept[name] = Kept(stamp)
        kept.take_read(events, stamp)
        self.lay_out(name)
        damage = self.log.fault(name)
        if damage is not None:
            self.faults[name] = str(damage)
        elif not kept.unsaved:
            self._put_by(name)
        return True

    def _put_by(self, name: str) -> None:
        """Puts a pour that is over into the archive; it is safe where it is as well."""
        pour = self.pours.get(name)
        if pour is not None and pour.over and self._writes:
            try:
                self.log.seal(name)
            except LogFault as fault:
                _log.warning("pour %s is not in the archive yet: %s", name, fault)

    def lay_out(self, name: str) -> None:
        """Folds a pour and lays it out as of now.

        A pour whose events lead where no clock can follow keeps its last snapshot
        and is named in ``faults``: one odd entry must not take the others down.
        """
        kept = self._kept[name]
        try:
            pour = kept.snapshot(name, self.time)
        except Exception as error:  # noqa: BLE001 - the others must go on
            _log.exception("pour %s cannot be laid out", name)
            self.faults[name] = f"cannot be laid out ({error}); undo the newest mark"
            return
        if pour is None:
            self.pours.pop(name, None)
        else:
            self.pours[name] = pour

    def refresh(self, name: str | None = None) -> None:
        """Lays out anew the pours whose forecast has grown old, or the named one."""
        now = self.time.now()
        for pour in list(self.pours.values()):
            if pour.name == name or (name is None and self._is_stale(pour, now)):
                self.lay_out(pour.name)

    def _is_stale(self, pour: Pour, now: datetime) -> bool:
        at = pour.timeline.at
        if at is None or pour.over:
            return False
        passed = any(at < alert.due <= now for alert in pour.alerts)
        return passed or now - at >= STALE

    def open_pours(self) -> list[Pour]:
        """Returns the pours that still have something to do, the oldest first."""
        return sorted(
            (pour for pour in self.pours.values() if not pour.over),
            key=lambda pour: (pour.state.begun or self.time.now(), pour.name),
        )

    def pour(self, name: str) -> Pour:
        """Returns a pour by its name.

        Raises:
            BadInput: There is none such.
            LogFault: It cannot be read.
        """
        found = self.pours.get(name)
        if found is None and name in self.faults:
            raise LogFault(self.faults[name])
        if found is None:
            near = get_close_matches(name, self.pours, n=1)
            want = f'did you mean "{near[0]}"?' if near else "the name of a pour"
            raise BadInput(Fault("POUR", "", name, f"no such pour; {want}"))
        return found

    def plan(self, name: str) -> Timeline:
        """Returns a pour's timeline as planned before anything happened.

        Raises:
            BadInput: There is no such pour.
        """
        state = self.pour(name).state
        return self._kept[name].plan(state)

    def events(self, name: str) -> Sequence[Event]:
        """Returns a pour's events in the order they were recorded."""
        return self._kept[name].events

    # -- events

    def event(
        self,
        pour: str,
        kind: Kind,
        key: StepKey | None = None,
        data: Mapping[str, Json] | None = None,
        *,
        at: datetime | None = None,
    ) -> Event:
        """Makes an event that happened now, or at another time that somebody gave."""
        now = self.time.now()
        happened = at or now
        local = happened.astimezone(self.zone)
        offset = local.utcoffset() or timedelta(0)
        key = key or StepKey("")
        return Event(
            id=new_event_id(now),
            at=happened,
            recorded_at=now,
            boot=self.time.boot(),
            zone_name=getattr(self.zone, "key", "") or str(local.tzname()),
            offset_min=round(offset / _MINUTE),
            pour=pour,
            kind=kind,
            step=key.step,
            zone=key.zone,
            by=self.by,
            data=dict(data or {}),
        )

    def open(self, name: str) -> None:
        """Makes room for the events of a new pour."""
        self._kept[name] = Kept()

    def accept(self, event: Event) -> Event:
        """Takes an event into memory; it is on the disk only after ``settle``."""
        kept = self._kept[event.pour]
        kept.take(event)
        pour = self.pours.get(event.pour)
        if pour is not None:
            self.pours[event.pour] = replace(pour, unsaved=len(kept.unsaved))
        return event

    def settle(self, name: str) -> str:
        """Lays a pour out anew and writes its new events to the log.

        Returns:
            The name it has: another one where a new pour's was taken meanwhile.

        Raises:
            LogFault: NOT SAVED; the events stay in memory and are tried again with
                the next ``settle``.
        """
        kept = self._kept[name]
        self.lay_out(name)
        if not kept.unsaved:
            return name
        kept.add_forecasts(self.pours.get(name))
        try:
            self.log.append(*kept.unsaved, new=kept.stamp is None)
        except NameTaken:
            return self.settle(self._rename(name))
        except LogFault as fault:
            self.faults[NOT_SAVED] = str(fault)
            raise
        kept.unsaved.clear()
        if not any(other.unsaved for other in self._kept.values()):
            self.faults.pop(NOT_SAVED, None)
        self._written(name, kept)
        return name

    def _rename(self, name: str) -> str:
        """Gives a pour that is not on the disk yet the next free name."""
        fresh = next_pour_name(name, {name, *self._kept, *self.logged()})
        kept = self._kept.pop(name)
        kept.rename(fresh, self.pours.pop(name))
        self._kept[fresh] = kept
        self.renamed[name] = fresh
        self.lay_out(fresh)
        return fresh

    def _written(self, name: str, kept: Kept) -> None:
        """Takes over what was just written; lays out anew only if others wrote too."""
        stamp = self.log.stamp(name)
        events = self.log.events(name)
        if [event.id for event in events] != [event.id for event in kept.events]:
            self._read(name)
            return
        kept.events, kept.stamp = events, stamp
        pour = self.pours.get(name)
        if pour is not None:
            # The state is folded again: what was written carries its forecasts.
            self.pours[name] = replace(pour, state=fold(name, events), unsaved=0)
        self._put_by(name)

    # -- the clock

    def look_at_clock(self, *, moved: bool = True) -> None:
        """Lays every open pour out anew when the clock was set.

        A clock behind the log cannot be right: time goes on from the newest entry,
        and of every wait the next call is due now, for somebody to look.

        Args:
            moved: Whether the clock was set; False is a look at the start.
        """
        self._clock_known = True
        self._unsure.clear()
        pours = self.open_pours()
        last = newest(e for p in pours for e in self._kept[p.name].placed(self.time))
        unsure = last is not None and self.time.not_before(last)
        if moved or unsure:
            for pour in pours:
                self.lay_out(pour.name)
        if unsure:
            now = self.time.now()
            for pour in self.open_pours():
                calls = next_calls(pour.alerts, pour.state, now)
                self._unsure.update((pour.name, alert.id) for alert in calls)

    @property
    def clock_unsure(self) -> bool:
        """Whether somebody must still look at the clock."""
        return any(
            pour in self.pours and alert not in self.pours[pour].state.answered
            for pour, alert in self._unsure
        )

    # -- who is in

    def who(self, when: datetime) -> tuple[str, ...]:
        """Returns who is in: as last recorded that day, or else by the shop's hours."""
        day = when.astimezone(self.zone).date()
        recorded = [
            pour.state.hands
            for pour in self.open_pours()
            if pour.state.hands is not None
            and pour.state.hands[0].astimezone(self.zone).date() == day
        ]
        if recorded:
            return max(recorded)[1]
        return self.setting.hours.who(when)

    def hands_in(self, when: datetime) -> int:
        """Returns how many hands are in at an instant, at least one."""
        return max(1, len(self.who(when)))

    # -- alerts

    def ringing(self, now: datetime) -> list[Alert]:
        """Returns every alert of every open pour that rings at an instant."""
        self.refresh()
        return [
            alert for pour in self.open_pours() for alert in self.ringing_of(pour, now)
        ]

    def ringing_of(self, pour: Pour, now: datetime) -> list[Alert]:
        """Returns what rings of one pour as it was last laid out."""
        due = ringing(pour.alerts, pour.state, now)
        chains = {alert.chain for alert in due}
        early = [
            replace(alert, line=f"{UNSURE}{alert.line}")
            for alert in upcoming(pour.alerts, now)
            if (pour.name, alert.id) in self._unsure
            and alert.id not in pour.state.answered
            and alert.chain not in chains
        ]
        return [*due, *early]

    def silent_until(self, now: datetime) -> datetime | None:
        """Returns until when the bells are silenced, None when they may sound."""
        said = [p.state.silenced for p in self.open_pours() if p.state.silenced]
        begun, until = max(said, default=(now, now))
        return until if begun <= now < until else None

    def bell_was_heard(self, machine: str, now: datetime) -> bool:
        """Whether somebody has heard the test bell of a machine today."""
        today = now.astimezone(self.zone).date()
        heard = [p.state.tested.get(machine) for p in self.pours.values()]
        return any(at and at.astimezone(self.zone).date() == today for at in heard)

    def next_due(self, now: datetime) -> datetime | None:
        """Returns when the next alert of any open pour comes due, or None."""
        coming = [
            alert.due
            for pour in self.open_pours()
            for alert in upcoming(pour.alerts, now)
            if alert.id not in pour.state.answered
        ]
        return min(coming, default=None)
