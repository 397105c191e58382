"""A pour's events folded into its state, and nothing else read for it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from scheduling.climate import Reading
from scheduling.covering import COVER_NAMES, Change
from scheduling.defect import Defect, defect_of
from scheduling.errors import BadInput
from scheduling.event import Event
from scheduling.inforce import active
from scheduling.job import Job
from scheduling.pour import Note, PourState, StepRecord
from scheduling.process import StepKey
from scheduling.shop import Shop
from scheduling.snapshot import job_from_data, shop_from_data
from scheduling.touch import FEELS, DemouldTry, Touch
from scheduling.trace import trace

MOST_FOG = 10_000.0
"""Water, g/m2, above which an event is a slip and no fogging: a centimetre of it."""

MOST_SILENT = timedelta(minutes=10)
"""Longest time for which the bells can be silenced."""

LATE = timedelta(minutes=5)
"""How long after the fact a time is still known well: common practice, no source."""

READING_KEYS = ("shop_c", "form_c", "mix_c", "piece_c", "rh_pct", "wind_kmh")
"""What a reading event may carry, in the units the name says."""


def fold(pour: str, events: Iterable[Event]) -> PourState:
    """Returns the state that a pour's events, in the order recorded, lead to.

    Any sequence of events folds: what makes no sense (a touch in an unknown zone, an
    end without a beginning) is kept as far as it says something and never an error.
    """
    folding = _Folding()
    for event in active(events):
        folding.take(event)
    return folding.state(pour)


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
