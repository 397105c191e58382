"""The one place that turns a wish into an event; a new snapshot follows from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from scheduling.alert import Alert
from scheduling.climate import Reading
from scheduling.covering import CASTING, COVERING
from scheduling.defect import CODES, found_about_now, zone_meant
from scheduling.errors import BadInput, Fault
from scheduling.event import Event, Kind
from scheduling.folding import MOST_SILENT, READING_KEYS, fold
from scheduling.inforce import undo_target
from scheduling.job import Job
from scheduling.plainjson import Json
from scheduling.pourname import new_pour_name, pours_of
from scheduling.process import StepKey
from scheduling.shop import Bells
from scheduling.snapshot import job_to_data, shop_to_data
from scheduling.timeline import OVER, Status
from scheduling.times import read_time, say
from tui.meant import nearest, step_meant, touch_meant
from tui.pours import Pours

if TYPE_CHECKING:
    from scheduling.cure import Cure
    from scheduling.shell import CoverName

FOG_G_M2 = 20.0
"""Water a fogging is taken to add when nobody says, g/m2 (estimate)."""


LONGEST_AGO = timedelta(days=60)
"""How far back a mark can be put; what is older is a slip of the finger."""

_MINUTE = timedelta(minutes=1)


class Session(Pours):
    """What a person can wish for, whether by a key, a verb or a rehearsal's hands."""

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
            LogFault: Not saved.
        """
        return self.settle(self.begin(job, entry=entry, at=at))

    def begin(
        self, job: Job, *, entry: str = "form", at: datetime | None = None
    ) -> str:
        """Starts a pour in memory and returns its name; ``settle`` writes it down.

        The clock of a pour runs even where the log cannot be read or written.

        Args:
            job: What is to be made.
            entry: As in ``start``.
            at: When it began, if not now.

        Raises:
            BadInput: The shop does not have the job's mix, or no such entry.
        """
        from scheduling.recipe import ENTRIES, steps_before  # noqa: PLC0415 - after the first paint

        if entry not in ENTRIES:
            raise BadInput(Fault("--from", "", entry, f"one of {', '.join(ENTRIES)}"))
        self.folder.check_mix(job, self.shop)
        self.load()
        began = at or self.time.now()
        taken = {*self.pours, *self.logged()}
        name = new_pour_name(job.id, taken, began.astimezone(self.zone).date())
        casting = min(len(pours_of(job.id, taken)) + 1, job.castings)
        data: dict[str, Json] = {
            "job": job_to_data(job),  # type: ignore[dict-item]
            # Neither its bells, whose command may hold a password, nor its probes are
            # any part of a pour; what the shop has accepted is.
            "shop": shop_to_data(replace(self.setting.shop, bells=Bells(), probes=())),  # type: ignore[dict-item]
            "casting": casting,
        }
        self.open(name)
        self.accept(self.event(name, "started", data=data, at=began))
        process = self.setting.process(job, on=began, casting=casting)
        for key in steps_before(process, entry):
            self.accept(self.event(name, "skipped", key, {"why": entry}, at=began))
        self.lay_out(name)
        return name

    def mark(
        self, pour: str, kind: Kind, key: StepKey, *, at: datetime | None = None
    ) -> Event:
        """Takes in that a step was started, finished or skipped.

        Raises:
            BadInput: It is so already, or it would end before it began.
        """
        record = fold(pour, self.events(pour)).record(key)
        when = at or self.time.now()
        if record.ended is not None:
            done = "skipped" if record.skipped else "finished"
            want = f"is {done} {self._said(record.ended)}; undo that or fix its time"
            raise BadInput(Fault(str(key), "", "", want))
        if kind == "started" and record.started is not None:
            want = f"is at work since {self._said(record.started)}"
            raise BadInput(Fault(str(key), "", "", want))
        if record.started is not None and when < record.started:
            want = f"began at {self._said(record.started)}; its end must be after that"
            raise BadInput(Fault(str(key), "", self._said(when), want))
        return self.accept(self.event(pour, kind, key, at=at))

    def _said(self, instant: datetime) -> str:
        return f"{instant.astimezone(self.zone):%a %H:%M}"

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
        where: str | StepKey | None = None,
        *,
        at: datetime | None = None,
    ) -> Event:
        """Takes in a touch test.

        Args:
            pour: The pour.
            feel: One of FEELS.
            where: A zone; or the step that a running wait holds, or that mixed a batch
                in hand. None is the zone that has waited longest for an answer.
            at: When, if not now.

        Raises:
            BadInput: No such feel, or nothing of that name is waiting.
        """
        key = touch_meant(self.pour(pour).timeline, feel, where)
        return self.accept(self.event(pour, "touch", key, {"feel": feel}, at=at))

    def try_demould(
        self,
        pour: str,
        *,
        ready: bool,
        first_possible: bool | None = None,
        at: datetime | None = None,
    ) -> Event:
        """Takes in that somebody tried whether the piece may leave its form.

        Args:
            pour: The pour.
            ready: Whether it could.
            first_possible: Of a ready one, whether it could not have been known sooner;
                false when it waited for the shop.
            at: When, if not now.

        Raises:
            BadInput: The piece is not cast yet, or out of its form.
        """
        if not self.pour(pour).timeline.curing():
            raise BadInput(Fault("demould", "", "", "no cast piece is in its form"))
        data: dict[str, Json] = {"feel": "ready" if ready else "soft"}
        if ready and first_possible is not None:
            data["first_possible"] = first_possible
        return self.accept(self.event(pour, "touch", StepKey("demould"), data, at=at))

    def zone_event(
        self, pour: str, kind: Kind, zone: str, data: Mapping[str, Json] | None = None
    ) -> Event:
        """Takes in that a zone was fogged, covered, uncovered or sprayed anew.

        Raises:
            BadInput: There is no such zone, or it is not sprayed yet.
        """
        self._check_zone(pour, zone)
        if not self.pour(pour).timeline.is_sprayed(zone):
            raise BadInput(Fault("ZONE", "", zone, "is not sprayed yet"))
        if kind == "fogged":
            data = {"grams_per_m2": FOG_G_M2, **(data or {})}
        return self.accept(self.event(pour, kind, StepKey("spray", zone), data))

    def piece_cover(self, pour: str, name: CoverName) -> Event:
        """Takes in what lies over the whole piece from now on; ``open`` is nothing.

        Raises:
            BadInput: The piece is not cast yet.
        """
        span = self.pour(pour).timeline.span(CASTING)
        if span is None or span.status not in OVER:
            want = "of the face coat, as the piece is not cast yet"
            raise BadInput(Fault("ZONE", "", "", want))
        key = COVERING[0][0]
        if name == "open":
            return self.accept(self.event(pour, "uncovered", key))
        return self.accept(self.event(pour, "covered", key, {"with": name}))

    def _check_zone(self, pour: str, zone: str) -> None:
        zones = list(self.pour(pour).timeline.process.zones)
        if zone not in zones:
            raise BadInput(Fault("ZONE", "", zone, nearest(zone, zones)))

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
        """Takes in who is in today, for every pour on the board.

        Raises:
            LogFault: Another pour's event is not saved.
        """
        for other in self.open_pours():
            if other.name != pour:
                self.accept(self.event(other.name, "hands", data={"in": list(names)}))
                self.settle(other.name)
        return self.accept(self.event(pour, "hands", data={"in": list(names)}))

    def note(self, pour: str, text: str, *, learn: bool = True) -> Event:
        """Takes in a line of text, where the work is now.

        Args:
            pour: The pour.
            text: The line.
            learn: False where nothing is to be learned from the whole pour.
        """
        if not learn:
            data: dict[str, Json] = {"text": text, "learn": False}
            return self.accept(self.event(pour, "note", data=data))
        span = self.pour(pour).timeline.next_step()
        key = span.key if span else None
        return self.accept(self.event(pour, "note", key, {"text": text}))

    def defect(
        self,
        pour: str,
        code: str,
        details: Mapping[str, Json],
        *,
        zone: str = "",
        step: str = "",
        at: datetime | None = None,
    ) -> Event:
        """Takes in that something is wrong with the piece; a sealed pour takes it too.

        Args:
            pour: The pour.
            code: One of CODES.
            details: What else is known, by the keys of ``scheduling.defect``; where it
                was found is guessed from the step in hand unless it says so.
            zone: Of the form; "" is the only one, or none where there are several.
            step: The step that is suspected, or "".
            at: When it was found, if not now.

        Raises:
            BadInput: There is no such code, zone or step.
        """
        if code not in CODES:
            raise BadInput(Fault("CODE", "", code, nearest(code, list(CODES))))
        known = self.pour(pour)
        zones = list(known.timeline.process.zones)
        if zone and zone not in zones:
            raise BadInput(Fault("--zone", "", zone, nearest(zone, zones)))
        if step:
            step = step_meant(known.timeline, step).step
        put_away = known.state.sealed is not None
        data: dict[str, Json] = {
            "defect": code,
            "found_at": found_about_now(known.timeline, put_away=put_away),
            **details,
        }
        key = StepKey(step, zone_meant(zone, zones))
        return self.accept(self.event(pour, "defect", key, data, at=at))

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
        """Takes in that an event happened at another time.

        Raises:
            BadInput: A step would end before it began.
        """
        for event in self.events(pour):
            if event.id != event_id or not event.step:
                continue
            state = fold(pour, self.events(pour))
            record = state.record(StepKey(event.step, event.zone))
            late_start = event.kind == "started" and record.finished is not None
            if late_start and record.finished is not None and at > record.finished:
                want = f"it ended at {self._said(record.finished)}; before that"
                raise BadInput(Fault("time", "", self._said(at), want))
            early_end = event.kind == "finished" and record.started is not None
            if early_end and record.started is not None and at < record.started:
                want = f"it began at {self._said(record.started)}; after that"
                raise BadInput(Fault("time", "", self._said(at), want))
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

    def silence(self, minutes: int) -> Event:
        """Takes in that every bell is to be silent for some minutes, 0 no longer.

        It is about all pours, and stands with the oldest that is open.

        Raises:
            BadInput: No pour is open, or that is too long.
        """
        most = MOST_SILENT // _MINUTE
        if not 0 <= minutes <= most:
            raise BadInput(Fault("silence", "", str(minutes), f"0 to {most} min"))
        data: dict[str, Json] = {"for_s": minutes * 60}
        return self.accept(self.event(self._oldest(), "silenced", data=data))

    def bell_tested(self, machine: str, *, heard: bool) -> Event:
        """Takes in whether the test bell of a machine was heard.

        Raises:
            BadInput: No pour is open.
        """
        data: dict[str, Json] = {"machine": machine, "heard": heard}
        return self.accept(self.event(self._oldest(), "tested", data=data))

    def _oldest(self) -> str:
        pours = self.open_pours()
        if not pours:
            raise BadInput(Fault("bells", "", "", "no pour is running: nothing rings"))
        return pours[0].name

    def clock_was_set(self, seconds: float) -> None:
        """Takes in that the machine's clock was set, into every open pour.

        From the event on the log tells how the instants before it are to be read.
        """
        self.look_at_clock()
        for pour in self.open_pours():
            data: dict[str, Json] = {"moved_s": round(seconds, 1)}
            self.accept(self.event(pour.name, "clock", data=data))

    def put_away(self, pour: str) -> Event:
        """Takes in that nothing more will be done on a pour."""
        return self.accept(self.event(pour, "sealed"))

    # -- the cure

    def cure(
        self, name: str, *, low_c: float | None = None, cover: CoverName | None = None
    ) -> Cure:
        """Returns the cure of a pour as of now; writes nothing down.

        Args:
            name: The pour.
            low_c: Tonight's low to suppose, degC; None takes the forecast's.
            cover: What to suppose over the piece; None takes what is recorded.

        Raises:
            BadInput: There is no such pour.
            LogFault: It cannot be read.
        """
        from scheduling.cureforecast import cure_of  # noqa: PLC0415 - after the first paint

        pour = self.pour(name)
        return cure_of(
            pour.state,
            pour.timeline,
            pour.setting,
            at=self.time.now(),
            low_c=low_c,
            cover=cover,
        )

    # -- what is typed

    def read_time(self, text: str) -> datetime:
        """Reads a typed time of something that has happened.

        Raises:
            BadInput: It cannot be read, or means two instants: then it says both, as
                they can be typed.
        """
        instants = self.read_times(text)
        if len(instants) > 1:
            local = (one.astimezone(self.zone) for one in instants)
            both = " or ".join(one.isoformat(timespec="minutes") for one in local)
            raise BadInput(
                Fault("time", "", text, f"comes twice that day: write {both}")
            )
        return instants[0]

    def read_times(self, text: str) -> tuple[datetime, ...]:
        """Reads a typed time; both instants where the clock shows it twice that day.

        Raises:
            BadInput: It cannot be read, or is no time that has passed lately.
        """
        now = self.time.now()
        instants = read_time(text, now, self.zone, lean="past").instants
        if not all(now - LONGEST_AGO <= one <= now + _MINUTE for one in instants):
            want = f"a time that has passed, at most {LONGEST_AGO.days} days ago"
            raise BadInput(Fault("time", "", text, want))
        return instants

    def say_time(self, at: datetime) -> str:
        """Says an instant in full, for a person to check before it is saved."""
        return say(at, self.zone, self.time.now())
