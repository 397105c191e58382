"""The state of a pour, folded from its events and from nothing else."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from scheduling.climate import Reading
from scheduling.covering import COVER_NAMES, Change, CoverChanges
from scheduling.defect import Defect, defect_of
from scheduling.errors import BadInput, LogFault
from scheduling.event import Event
from scheduling.job import Job
from scheduling.process import Gap, StepKey
from scheduling.shop import Shop
from scheduling.snapshot import job_from_data, shop_from_data
from scheduling.touch import FEELS, DemouldTry, Touch
from scheduling.trace import trace

UNDOABLE = (
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
    "defect",
    "corrected",
    "sealed",
)
"""Kinds a person records and may take back; ringing and answering a bell is not."""

MOST_FOG = 10_000.0
"""Water, g/m2, above which an event is a slip and no fogging: a centimetre of it."""

MOST_SILENT = timedelta(minutes=10)
"""Longest time for which the bells can be silenced."""

LATE = timedelta(minutes=5)
"""How long after the fact a time is still known well: common practice, no source."""

READING_KEYS = ("shop_c", "form_c", "mix_c", "piece_c", "rh_pct", "wind_kmh")
"""What a reading event may carry, in the units the name says."""


@dataclass(frozen=True, slots=True)
class StepRecord:
    """What is known of one step.

    Attributes:
        started: When it began, or None.
        finished: When it ended, or None.
        skipped: When it was passed over, or None.
        by: Who marked it last.
        forecast: What was forecast for it at the moment it started.
        started_event: Id of the event that started it, for corrections.
        finished_event: Id of the event that finished or skipped it.
    """

    started: datetime | None = None
    finished: datetime | None = None
    skipped: datetime | None = None
    by: str = ""
    forecast: Mapping[str, Any] = field(default_factory=dict)
    started_event: str = ""
    finished_event: str = ""

    @property
    def running(self) -> bool:
        """Whether it has begun and not ended."""
        return self.started is not None and self.ended is None

    @property
    def ended(self) -> datetime | None:
        """When it was finished or skipped, or None."""
        return self.finished or self.skipped


@dataclass(frozen=True, slots=True)
class Note:
    """A line somebody wrote.

    Attributes:
        at: When.
        text: What.
        step: Where it belongs, or "" for the whole pour.
        zone: The same of the form.
        learn: False where nothing is to be learned from what it is about.
    """

    at: datetime
    text: str
    step: str
    zone: str
    learn: bool = True


@dataclass(frozen=True, slots=True)
class PourState:
    """Everything that is known of one pour.

    Attributes:
        pour: Its name.
        job: The job as it was when the pour began; None if no start is recorded.
        shop: The shop as it was then.
        casting: Which casting of the job, from 1.
        begun: When the pour was started.
        steps: What is known of each step.
        touches: Touch tests by zone since it was last sprayed.
        demould_tries: Whether the piece could be demoulded, in time order.
        felt: Touch tests of other waits, by the step that the wait holds; of a pot
            life, by the step that mixed it. In order of time.
        readings: All readings in time order.
        piece_event: Id of the last of them that measured the piece, or "".
        covers: Intervals under plastic by zone; an open one ends in None.
        piece_covers: What people said lies over the whole piece, from when on; in order
            of time.
        fogs: Water added by zone since it was last sprayed, g/m2 with its instant.
        resprayed: When a zone was last sprayed anew.
        resprays: Id of the event that says so, by zone.
        hands: Who is in, as last recorded, with the instant; None if never.
        notes: Everything written.
        defects: Everything found wrong with the piece, in the order it was recorded.
        rang: Alerts that rang, by id, with the first instant.
        answered: Alerts acknowledged, by id.
        silenced: When the bells were last silenced, and until when; None if never.
        tested: When the test bell was last heard, by machine.
        sealed: When the pour was put away, or None.
        last_event: When the newest event happened.
        late: Ids of the events that were written down, or put right, when it was too
            late to know their time well.
    """

    pour: str
    job: Job | None = None
    shop: Shop = field(default_factory=Shop)
    casting: int = 1
    begun: datetime | None = None
    steps: Mapping[StepKey, StepRecord] = field(default_factory=dict)
    touches: Mapping[str, tuple[Touch, ...]] = field(default_factory=dict)
    demould_tries: tuple[DemouldTry, ...] = ()
    felt: Mapping[StepKey, tuple[Touch, ...]] = field(default_factory=dict)
    readings: tuple[Reading, ...] = ()
    piece_event: str = ""
    covers: Mapping[str, tuple[tuple[datetime, datetime | None], ...]] = field(
        default_factory=dict
    )
    piece_covers: CoverChanges = ()
    fogs: Mapping[str, tuple[tuple[datetime, float], ...]] = field(default_factory=dict)
    resprayed: Mapping[str, datetime] = field(default_factory=dict)
    resprays: Mapping[str, str] = field(default_factory=dict)
    hands: tuple[datetime, tuple[str, ...]] | None = None
    notes: tuple[Note, ...] = ()
    defects: tuple[Defect, ...] = ()
    rang: Mapping[str, datetime] = field(default_factory=dict)
    answered: Mapping[str, datetime] = field(default_factory=dict)
    silenced: tuple[datetime, datetime] | None = None
    tested: Mapping[str, datetime] = field(default_factory=dict)
    sealed: datetime | None = None
    last_event: datetime | None = None
    late: frozenset[str] = frozenset()

    def record(self, key: StepKey) -> StepRecord:
        """Returns what is known of a step; an empty record when nothing is."""
        return self.steps.get(key, StepRecord())

    def touched(self, gap: Gap, holds: StepKey) -> tuple[Touch, ...]:
        """Returns what was felt of a wait, in order of time.

        Args:
            gap: The wait.
            holds: The step it holds.
        """
        if gap.name == "cure":
            return tuple(tried.touch for tried in self.demould_tries)
        if gap.after.step == "spray":
            return self.touches.get(gap.after.zone, ())
        if gap.opens is None:
            return self.felt.get(gap.after, ()) if gap.is_pot_life else ()
        begun = self.record(holds).started
        # What is felt of a coat once it is being put on is about its pot.
        return tuple(
            touch
            for touch in self.felt.get(holds, ())
            if begun is None or touch.at < begun
        )


def active(events: Iterable[Event]) -> list[Event]:
    """Returns the events in force: undone ones left out, corrected ones at their time.

    A corrected event counts as written down when it was corrected.
    An undo can itself be undone. A correction or an undo of something unknown is
    nothing.
    """
    cancelled: set[str] = set()
    kept: list[Event] = []
    for event in reversed(list(events)):
        if event.id in cancelled:
            continue
        if event.kind == "undone":
            cancelled.add(str(event.data.get("event", "")))
        else:
            kept.append(event)
    kept.reverse()
    moved: dict[str, tuple[datetime, datetime]] = {}
    for event in kept:
        if event.kind == "corrected":
            at = _instant(event.data.get("at"))
            if at is not None:
                moved[str(event.data.get("event", ""))] = at, event.recorded_at
    return [
        _moved(event, *moved[event.id]) if event.id in moved else event
        for event in kept
        if event.kind != "corrected"
    ]


def undo_target(events: Sequence[Event]) -> Event | None:
    """Returns the newest event that a person could take back, or None.

    Steps passed over because the pour was joined later (they carry a ``why``) belong
    to its start, which only putting the pour away takes back. What a ``probe`` wrote
    down nobody did; a file of a logger goes as a whole.
    """
    cancelled: set[str] = set()
    for event in reversed(events):
        if event.id in cancelled:
            continue
        if event.kind == "undone":
            cancelled.add(str(event.data.get("event", "")))
        elif event.kind in UNDOABLE and not {"why", "probe"} & event.data.keys():
            return event
    return None


def fold(pour: str, events: Iterable[Event]) -> PourState:
    """Returns the state that a pour's events, in the order recorded, lead to.

    Any sequence of events folds: what makes no sense (a touch in an unknown zone, an
    end without a beginning) is kept as far as it says something and never an error.
    """
    folding = _Folding()
    for event in active(events):
        folding.take(event)
    return folding.state(pour)


def _instant(value: object) -> datetime | None:
    try:
        at = datetime.fromisoformat(str(value))
    except ValueError:
        return None
    return at if at.tzinfo else None


def _moved(event: Event, at: datetime, recorded_at: datetime) -> Event:
    """The event at another time; unmoved by a time that no event can have."""
    try:
        return replace(event, at=at, recorded_at=recorded_at)
    except LogFault:
        return event


def _measured(at: datetime, key: str, value: object) -> float | None:
    """A value of a reading, or None for what no thermometer could have shown."""
    if type(value) not in (int, float):  # true and false are no numbers here
        return None
    number = float(value)  # type: ignore[arg-type] # a number, as just seen
    try:
        Reading(at=at, **{key: number})
    except ValueError:
        return None
    return number


def _start_forecast(record: StepRecord) -> dict[str, Any]:
    """What was forecast at the start of a step, which its end does not replace."""
    return {key: record.forecast[key] for key in _AT_START if key in record.forecast}


_AT_START = ("minutes", "temp_c")


# A pour is folded at every mark, and most pours of a log were begun in the same shop.
@lru_cache(maxsize=32)
def _job(text: str) -> Job:
    return job_from_data(json.loads(text))


@lru_cache(maxsize=32)
def _shop(text: str) -> Shop:
    return shop_from_data(json.loads(text))


class _Folding:
    """The state while it is being folded; one method for each kind of event."""

    def __init__(self) -> None:
        self.job: Job | None = None
        self.shop = Shop()
        self.casting = 1
        self.begun: datetime | None = None
        self.steps: dict[StepKey, StepRecord] = {}
        self.touches: dict[str, list[Touch]] = {}
        self.tries: list[DemouldTry] = []
        self.felt: dict[StepKey, list[Touch]] = {}
        self.late: set[str] = set()
        self.readings: list[Reading] = []
        self.pieces: list[tuple[datetime, str]] = []
        self.covers: dict[str, list[tuple[datetime, datetime | None]]] = {}
        self.piece_covers: list[Change] = []
        self.fogs: dict[str, list[tuple[datetime, float]]] = {}
        self.resprayed: dict[str, datetime] = {}
        self.resprays: dict[str, str] = {}
        self.hands: tuple[datetime, tuple[str, ...]] | None = None
        self.notes: list[Note] = []
        self.defects: list[Defect] = []
        self.rang: dict[str, datetime] = {}
        self.answered: dict[str, datetime] = {}
        self.silenced: tuple[datetime, datetime] | None = None
        self.tested: dict[str, datetime] = {}
        self.sealed: datetime | None = None
        self.last: datetime | None = None

    def take(self, event: Event) -> None:
        self.last = max(self.last or event.at, event.at)
        # What is copied from paper was written down there when it happened.
        if event.recorded_at - event.at > LATE and not event.data.get("imported"):
            self.late.add(event.id)
        method = getattr(self, f"on_{event.kind}", None)
        if method is not None:
            method(event)

    def state(self, pour: str) -> PourState:
        def in_time(touches: list[Touch]) -> tuple[Touch, ...]:
            return tuple(sorted(touches, key=lambda touch: touch.at))

        return PourState(
            pour=pour,
            job=self.job,
            shop=self.shop,
            casting=self.casting,
            begun=self.begun,
            steps=self.steps,
            touches={zone: in_time(felt) for zone, felt in self.touches.items()},
            demould_tries=tuple(sorted(self.tries, key=lambda tried: tried.at)),
            felt={key: in_time(felt) for key, felt in self.felt.items()},
            readings=tuple(sorted(self.readings, key=lambda reading: reading.at)),
            piece_event=max(self.pieces, default=(None, ""))[1],
            covers={zone: tuple(spans) for zone, spans in self.covers.items()},
            piece_covers=tuple(sorted(self.piece_covers, key=lambda one: one[0])),
            fogs={zone: tuple(fogs) for zone, fogs in self.fogs.items()},
            resprayed=self.resprayed,
            resprays=self.resprays,
            hands=self.hands,
            notes=tuple(self.notes),
            defects=tuple(self.defects),
            rang=self.rang,
            answered=self.answered,
            silenced=self.silenced,
            tested=self.tested,
            sealed=self.sealed,
            last_event=self.last,
            late=frozenset(self.late),
        )

    def on_started(self, event: Event) -> None:
        if not event.step:
            self.on_begun(event)
            return
        forecast = event.data.get("forecast")
        self.steps[StepKey(event.step, event.zone)] = StepRecord(
            started=event.at,
            by=event.by,
            forecast=forecast if isinstance(forecast, Mapping) else {},
            started_event=event.id,
        )

    def on_begun(self, event: Event) -> None:
        try:
            job = _job(json.dumps(event.data["job"]))
            shop = _shop(json.dumps(event.data["shop"]))
        except (BadInput, KeyError):
            return
        casting = event.data.get("casting", 1)
        self.job, self.shop, self.begun = job, shop, event.at
        self.casting = casting if isinstance(casting, int) and casting > 0 else 1

    def on_finished(self, event: Event) -> None:
        key = StepKey(event.step, event.zone)
        record = self.steps.get(key, StepRecord())
        forecast = event.data.get("forecast")
        known = forecast if isinstance(forecast, Mapping) else {}
        self.steps[key] = replace(
            record,
            forecast={**record.forecast, **known, **_start_forecast(record)},
            finished=max(event.at, record.started or event.at),
            skipped=None,
            by=event.by,
            finished_event=event.id,
        )

    def on_skipped(self, event: Event) -> None:
        self.steps[StepKey(event.step, event.zone)] = StepRecord(
            skipped=event.at, by=event.by, finished_event=event.id
        )

    def on_touch(self, event: Event) -> None:
        feel = event.data.get("feel")
        if event.step == "demould":
            first = event.data.get("first_possible")
            if feel in ("soft", "ready"):
                known = first if isinstance(first, bool) else None
                ready = feel == "ready"
                self.tries.append(DemouldTry(event.at, ready, known, event.id))
        elif feel in FEELS:
            touch = Touch(event.at, feel, event.id)
            if event.step in ("", "lift-1"):
                self.touches.setdefault(event.zone, []).append(touch)
            else:
                key = StepKey(event.step, event.zone)
                self.felt.setdefault(key, []).append(touch)

    def on_reading(self, event: Event) -> None:
        if "rows" in event.data:
            self.readings.extend(trace(event))
            return
        values = {
            key: value
            for key in READING_KEYS
            if (value := _measured(event.at, key, event.data.get(key))) is not None
        }
        if values:
            self.readings.append(Reading(at=event.at, **values))
        if "piece_c" in values:
            self.pieces.append((event.at, event.id))

    def on_covered(self, event: Event) -> None:
        if not event.zone:
            name = event.data.get("with", "plastic")
            if name in COVER_NAMES:
                self.piece_covers.append((event.at, name))
            return
        spans = self.covers.setdefault(event.zone, [])
        if not spans or spans[-1][1] is not None:
            spans.append((event.at, None))

    def on_uncovered(self, event: Event) -> None:
        if not event.zone:
            self.piece_covers.append((event.at, "open"))
            return
        spans = self.covers.get(event.zone)
        if spans and spans[-1][1] is None:
            spans[-1] = (spans[-1][0], max(event.at, spans[-1][0]))

    def on_fogged(self, event: Event) -> None:
        grams = event.data.get("grams_per_m2")
        if isinstance(grams, int | float) and 0 < grams <= MOST_FOG:
            self.fogs.setdefault(event.zone, []).append((event.at, float(grams)))

    def on_resprayed(self, event: Event) -> None:
        self.resprayed[event.zone] = event.at
        self.resprays[event.zone] = event.id
        self.touches.pop(event.zone, None)
        self.fogs.pop(event.zone, None)
        self.covers.pop(event.zone, None)

    def on_hands(self, event: Event) -> None:
        names = event.data.get("in")
        if isinstance(names, list | tuple):
            self.hands = (event.at, tuple(str(name) for name in names))

    def on_note(self, event: Event) -> None:
        text = str(event.data.get("text", ""))
        learn = event.data.get("learn") is not False
        self.notes.append(Note(event.at, text, event.step, event.zone, learn))

    def on_defect(self, event: Event) -> None:
        self.defects.append(defect_of(event))

    def on_rang(self, event: Event) -> None:
        self.rang.setdefault(str(event.data.get("alert", "")), event.at)

    def on_acknowledged(self, event: Event) -> None:
        self.answered.setdefault(str(event.data.get("alert", "")), event.at)

    def on_silenced(self, event: Event) -> None:
        seconds = event.data.get("for_s")
        most = MOST_SILENT.total_seconds()
        if type(seconds) in (int, float) and 0 <= seconds <= most:  # type: ignore[operator] # a number
            until = event.at + timedelta(seconds=seconds)  # type: ignore[arg-type] # a number
            self.silenced = (event.at, until)

    def on_tested(self, event: Event) -> None:
        if event.data.get("heard") is True:
            self.tested[str(event.data.get("machine", ""))] = event.at

    def on_sealed(self, event: Event) -> None:
        self.sealed = event.at
