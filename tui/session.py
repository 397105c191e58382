"""The one place that turns a wish into an event, and an event into a new snapshot.

`accept` takes an event into memory at once, so that a key can be painted; `settle`
writes it to the log and lays the pour out anew. Nothing here knows a screen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from difflib import get_close_matches

from scheduling.alerts import Alert, derive, ringing, upcoming
from scheduling.climate import Reading
from scheduling.clock import TimeSource
from scheduling.errors import BadInput, Fault, LogFault
from scheduling.folder import ShopFolder
from scheduling.forecast import Forecaster, Setting
from scheduling.job import Job
from scheduling.log import Event, Kind, Log, new_event_id, new_pour_name
from scheduling.pour import READING_KEYS, PourState, fold, undo_target
from scheduling.process import StepKey
from scheduling.recipe import ENTRIES, steps_before
from scheduling.snapshot import job_to_data, shop_to_data
from scheduling.storage import Json
from scheduling.timeline import OVER, Span, Status, Timeline
from scheduling.times import read_time, say
from scheduling.touch import FEELS

FOG_G_M2 = 20.0
"""Water a fogging is taken to add when nobody says, g/m2 (estimate)."""

STALE = timedelta(seconds=20)
"""Age at which a timeline is laid out anew although nothing happened."""

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour as the screens see it: a whole new value after every change.

    Attributes:
        name: Its name in the log.
        state: What has happened.
        timeline: What that means, as of ``timeline.at``.
        alerts: What rings, and when.
        setting: Hours, zone and climate it was started in.
        unsaved: How many of its events are not on the disk yet.
    """

    name: str
    state: PourState
    timeline: Timeline
    alerts: tuple[Alert, ...]
    setting: Setting
    unsaved: int = 0

    @property
    def job(self) -> Job:
        """The job as it was when the pour began."""
        assert self.state.job is not None
        return self.state.job

    @property
    def over(self) -> bool:
        """Whether it no longer belongs on the board."""
        return self.state.sealed is not None or self.timeline.finished


@dataclass(slots=True)
class _Kept:
    """What the session holds of one pour beside its snapshot."""

    events: list[Event]
    unsaved: list[Event]
    forecaster: Forecaster
    stamp: object
    plan: Timeline | None = None


class Session:
    """The shop's pours over one shop folder, for the program and for the verbs."""

    def __init__(self, folder: ShopFolder, time: TimeSource, by: str = "") -> None:
        """Opens the folder; call ``load`` before asking for pours.

        Args:
            folder: The shop folder.
            time: Where the time comes from.
            by: Who marks things in this program.

        Raises:
            BadInput: The shop file is wrong.
        """
        self.folder = folder
        self.time = time
        self.by = by
        self.shop = folder.shop()
        self.setting = Setting.of(self.shop)
        self.log = Log(folder.log)
        self.pours: dict[str, Pour] = {}
        self.faults: dict[str, str] = {}
        self._kept: dict[str, _Kept] = {}

    @property
    def zone(self) -> tzinfo:
        """The shop's time zone."""
        return self.setting.zone

    def reload_shop(self) -> None:
        """Reads the shop file again.

        Raises:
            BadInput: It is wrong.
        """
        self.shop = self.folder.shop()
        self.setting = Setting.of(self.shop)

    def names(self, text: str) -> list[str]:
        """Reads who is in: names of the shop's people, or how many hands.

        Raises:
            BadInput: A name the shop file does not have, or a number out of range.
        """
        people = {person.name.lower(): person.name for person in self.shop.people}
        parts = [part.strip() for part in text.split(",") if part.strip()]
        if len(parts) == 1 and parts[0].isascii() and parts[0].isdigit():
            count = int(parts[0])
            if not 1 <= count <= 9:
                raise BadInput(Fault("hands", "", text, "1 to 9 hands, or names"))
            return [f"hand {number}" for number in range(1, count + 1)]
        unknown = [part for part in parts if part.lower() not in people]
        if unknown or not parts:
            want = _nearest(unknown[0] if unknown else "", list(people.values()))
            raise BadInput(Fault("hands", "", ", ".join(unknown), want))
        return [people[part.lower()] for part in parts]

    def read_time(self, text: str) -> datetime:
        """Reads a typed time of something that has happened.

        Raises:
            BadInput: It cannot be read, or means two instants: then it says both, as
                they can be typed.
        """
        typed = read_time(text, self.time.now(), self.zone, lean="past")
        if len(typed.instants) > 1:
            local = (one.astimezone(self.zone) for one in typed.instants)
            both = " or ".join(f"{one:%Y-%m-%dT%H:%M%z}" for one in local)
            raise BadInput(
                Fault("time", "", text, f"comes twice that day: write {both}")
            )
        return typed.instants[0]

    def say_time(self, text: str) -> str:
        """Says what a typed time means; raises as ``read_time`` does."""
        return say(self.read_time(text), self.zone, self.time.now())

    # -- reading the log

    def load(self) -> list[str]:
        """Reads what other programs or an earlier run wrote; returns pours that changed.

        A pour whose file cannot be read is named in ``faults`` and keeps its last
        snapshot; the others are not affected.
        """
        try:
            names = self.log.pours()
        except LogFault as fault:
            self.faults["log"] = str(fault)
            return []
        self.faults.pop("log", None)
        return [name for name in names if self._read(name)]

    def load_one(self, name: str) -> None:
        """Reads one pour and no other, for a program that is about to end."""
        self._read(name)

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
        self.faults.pop(name, None)
        if kept is None:
            kept = self._kept[name] = _Kept([], [], Forecaster(), stamp)
        known = {event.id for event in events}
        kept.unsaved = [event for event in kept.unsaved if event.id not in known]
        kept.events = [*events, *kept.unsaved]
        kept.stamp = stamp
        self._lay_out(name)
        return True

    def _lay_out(self, name: str) -> None:
        """Folds a pour and lays it out as of now."""
        kept = self._kept[name]
        state = fold(name, kept.events)
        if state.job is None:
            self.pours.pop(name, None)
            return
        timeline = kept.forecaster.timeline(state, self.time.now())
        setting = kept.forecaster.setting(state)
        alerts = tuple(derive(timeline, state, setting.hours))
        self.pours[name] = Pour(
            name, state, timeline, alerts, setting, len(kept.unsaved)
        )

    def refresh(self, name: str | None = None) -> None:
        """Lays out anew the pours whose forecast has grown old, or the named one."""
        now = self.time.now()
        for pour in list(self.pours.values()):
            if pour.name == name or (name is None and self._is_stale(pour, now)):
                self._lay_out(pour.name)

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
        """
        if name in self.faults:
            raise LogFault(self.faults[name])
        found = self.pours.get(name)
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
        assert state.job is not None
        assert state.begun is not None
        kept = self._kept[name]
        if kept.plan is None:
            setting = kept.forecaster.setting(state)
            casting = state.casting
            kept.plan = setting.plan(state.job, state.begun, casting=casting)
        return kept.plan

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

    def accept(self, event: Event) -> Event:
        """Takes an event into memory; it is on the disk only after ``settle``."""
        kept = self._kept[event.pour]
        kept.events.append(event)
        kept.unsaved.append(event)
        pour = self.pours.get(event.pour)
        if pour is not None:
            self.pours[event.pour] = replace(pour, unsaved=len(kept.unsaved))
        return event

    def settle(self, name: str) -> None:
        """Lays a pour out anew and writes its new events to the log.

        Raises:
            LogFault: NOT SAVED; the events stay in memory and are tried again with
                the next ``settle``.
        """
        kept = self._kept[name]
        self._lay_out(name)
        if not kept.unsaved:
            return
        unsaved = [self._with_forecast(name, event) for event in kept.unsaved]
        kept.events[-len(unsaved) :] = unsaved
        try:
            self.log.append(*unsaved)
        except LogFault as fault:
            self.faults["NOT SAVED"] = str(fault)
            raise
        self.faults.pop("NOT SAVED", None)
        kept.unsaved.clear()
        self._read(name)

    def _with_forecast(self, name: str, event: Event) -> Event:
        """Adds to a mark what was forecast at that moment, for the review later."""
        pour = self.pours.get(name)
        if pour is None or event.kind not in ("started", "finished") or not event.step:
            return event
        key = StepKey(event.step, event.zone)
        span = pour.timeline.span(key)
        if span is None:
            return event
        waits: dict[str, Json] = {
            f"{wait.key.step}/{wait.key.zone}": round(wait.minutes, 2)
            for wait in pour.timeline.spans
            if wait.kind == "wait" and _counts_from(pour.timeline, wait, key, event)
        }
        climate = self._kept[name].forecaster.climate(pour.state)
        forecast: dict[str, Json] = {
            "minutes": round(span.minutes, 2),
            "waits": waits,
            "temp_c": round(climate.air(event.at).temp_c, 1),
        }
        return replace(event, data={**event.data, "forecast": forecast})

    # -- wishes

    def start(
        self, job: Job, *, entry: str = "form", at: datetime | None = None
    ) -> str:
        """Starts a pour and returns its name; it is on the disk when this returns.

        Args:
            job: What is to be made.
            entry: One of ENTRIES: where the pour is joined; what lies before is
                recorded as skipped.
            at: When it began, if not now.

        Raises:
            BadInput: The shop does not have the job's mix, or no such entry.
            LogFault: Not saved; the pour is on the screen all the same.
        """
        if entry not in ENTRIES:
            raise BadInput(Fault("--from", "", entry, f"one of {', '.join(ENTRIES)}"))
        self.folder.check_mix(job, self.shop)
        self.load()
        began = at or self.time.now()
        taken = {*self.pours, *self.log.pours()}
        name = new_pour_name(job.id, taken, began.astimezone(self.zone).date())
        before = [p for p in self.pours.values() if p.job.id == job.id]
        casting = len(before) + 1 if job.castings > 1 else 1
        casting = min(casting, job.castings)
        data: dict[str, Json] = {
            "job": job_to_data(job),  # type: ignore[dict-item]
            "shop": shop_to_data(self.shop),  # type: ignore[dict-item]
            "casting": casting,
        }
        self._kept[name] = _Kept([], [], Forecaster(), None)
        self.accept(self.event(name, "started", data=data, at=began))
        process = self.setting.process(job, on=began, casting=casting)
        for key in steps_before(process, entry):
            self.accept(self.event(name, "skipped", key, {"why": entry}, at=began))
        self.settle(name)
        return name

    def key(self, pour: str, step: str, zone: str | None = None) -> StepKey:
        """Returns the step somebody means by its id and, where it has one, its zone.

        Without a zone it is the first zone of that step that is not done.

        Raises:
            BadInput: The pour has no such step or zone, with the nearest there is.
        """
        spans = [s for s in self.pour(pour).timeline.steps() if s.key.step == step]
        if not spans:
            steps = list({s.key.step: 0 for s in self.pour(pour).timeline.steps()})
            raise BadInput(Fault("STEP", "", step, _nearest(step, steps)))
        if zone is not None:
            for span in spans:
                if span.key.zone == zone:
                    return span.key
            zones = [span.key.zone for span in spans]
            raise BadInput(Fault("--zone", "", zone, _nearest(zone, zones)))
        todo = [span for span in spans if span.status not in OVER]
        return (todo or spans)[0].key

    def mark(
        self, pour: str, kind: Kind, key: StepKey, *, at: datetime | None = None
    ) -> Event:
        """Takes in that a step was started, finished or skipped."""
        return self.accept(self.event(pour, kind, key, at=at))

    def go_on(self, pour: str) -> Event | None:
        """Takes in the next mark of the step in hand: its end, or the next's start."""
        span = self.pour(pour).timeline.next_step()
        if span is None:
            return None
        kind: Kind = "finished" if span.status is Status.RUNNING else "started"
        return self.mark(pour, kind, span.key)

    def touch(
        self,
        pour: str,
        feel: str,
        zone: str | None = None,
        *,
        at: datetime | None = None,
    ) -> Event:
        """Takes in a touch test.

        Args:
            pour: The pour.
            feel: One of FEELS.
            zone: The zone; None is the one that has waited longest for an answer.
            at: When, if not now.

        Raises:
            BadInput: No such feel or zone, or no zone is waiting.
        """
        if feel not in FEELS:
            raise BadInput(Fault("touch", "", feel, f"one of {', '.join(FEELS)}"))
        timeline = self.pour(pour).timeline
        waiting = timeline.zones_to_touch()
        if zone is None:
            if not waiting:
                raise BadInput(
                    Fault("touch", "", "", "no sprayed zone is waiting for lift 1")
                )
            zone = waiting[0]
        elif zone not in timeline.process.zones:
            zones = list(timeline.process.zones)
            raise BadInput(Fault("ZONE", "", zone, _nearest(zone, zones)))
        key = StepKey("lift-1", zone)
        return self.accept(self.event(pour, "touch", key, {"feel": feel}, at=at))

    def zone_event(
        self, pour: str, kind: Kind, zone: str, data: Mapping[str, Json] | None = None
    ) -> Event:
        """Takes in that a zone was fogged, covered, uncovered or sprayed anew."""
        if kind == "fogged":
            data = {"grams_per_m2": FOG_G_M2, **(data or {})}
        return self.accept(self.event(pour, kind, StepKey("spray", zone), data))

    def reading(
        self, pour: str, values: Mapping[str, float], *, at: datetime | None = None
    ) -> Event:
        """Takes in a reading: any of READING_KEYS, degC, percent and km/h.

        Raises:
            BadInput: Nothing was read, or a value is out of range.
        """
        kept: dict[str, Json] = {k: v for k, v in values.items() if k in READING_KEYS}
        if not kept:
            raise BadInput(Fault("reading", "", "", "at least one value"))
        try:
            Reading(at=at or self.time.now(), **{k: values[k] for k in kept})
        except ValueError as error:
            raise BadInput(Fault("reading", "", "", str(error))) from error
        return self.accept(self.event(pour, "reading", data=kept, at=at))

    def hands(self, pour: str, names: Sequence[str]) -> Event:
        """Takes in who is in today."""
        return self.accept(self.event(pour, "hands", data={"in": list(names)}))

    def note(self, pour: str, text: str) -> Event:
        """Takes in a line of text, where the work is now."""
        span = self.pour(pour).timeline.next_step()
        key = span.key if span else None
        return self.accept(self.event(pour, "note", key, {"text": text}))

    def undo(self, pour: str) -> Event:
        """Takes back the newest mark.

        Raises:
            BadInput: There is nothing to take back.
        """
        target = undo_target(self.events(pour))
        if target is None or (target.kind == "started" and not target.step):
            raise BadInput(Fault("undo", "", "", "nothing to take back"))
        key = StepKey(target.step, target.zone)
        return self.accept(self.event(pour, "undone", key, {"event": target.id}))

    def correct(self, pour: str, event_id: str, at: datetime) -> Event:
        """Takes in that an event happened at another time."""
        data: dict[str, Json] = {"event": event_id, "at": at.isoformat()}
        return self.accept(self.event(pour, "corrected", data=data))

    def acknowledge(self, alert: Alert) -> Event:
        """Takes in that an alert was heard; it does not say the work is done."""
        key = StepKey(alert.step, alert.zone)
        data: dict[str, Json] = {"alert": alert.id}
        return self.accept(self.event(alert.pour, "acknowledged", key, data))

    def rang(self, alert: Alert, late_s: float) -> Event:
        """Takes in that an alert rang."""
        key = StepKey(alert.step, alert.zone)
        data: dict[str, Json] = {
            "alert": alert.id,
            "kind": alert.kind,
            "due": alert.due.isoformat(),
            "late_s": round(late_s, 1),
        }
        return self.accept(self.event(alert.pour, "rang", key, data))

    def put_away(self, pour: str) -> Event:
        """Takes in that nothing more will be done on a pour."""
        return self.accept(self.event(pour, "sealed"))

    # -- alerts

    def ringing(self, now: datetime) -> list[Alert]:
        """Returns every alert of every open pour that rings at an instant."""
        self.refresh()
        return [
            alert
            for pour in self.open_pours()
            for alert in ringing(pour.alerts, pour.state, now)
        ]

    def next_due(self, now: datetime) -> datetime | None:
        """Returns when the next alert of any open pour comes due, or None."""
        coming = [
            alert.due
            for pour in self.open_pours()
            for alert in upcoming(pour.alerts, now)
            if alert.id not in pour.state.answered
        ]
        return min(coming, default=None)


def _counts_from(timeline: Timeline, wait: Span, key: StepKey, event: Event) -> bool:
    """Whether a wait is counted from what an event marks."""
    gap = timeline.process.step(wait.holds).gap
    return (
        gap is not None
        and gap.after == key
        and gap.from_start == (event.kind == "started")
    )


def _nearest(text: str, known: Sequence[str]) -> str:
    near = get_close_matches(text, known, n=1)
    return f'did you mean "{near[0]}"?' if near else f"one of {', '.join(known)}"
