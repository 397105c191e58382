"""What a pour teaches: how far the clock of each wait had run at what was seen of it.

Only what was marked, felt or begun by a person counts; nothing here comes from a
forecast. What must not be learned from is kept all the same, with why not: a time that
was given or put right more than 5 min after the fact is one (common practice, no
source). A wait in weather that nobody read teaches how long it is at the constants of
its mix, and nothing about these: the typical day of a shop never varies as a day does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from statistics import fmean

from scheduling.cast import Cast, reads_piece
from scheduling.climate import Measured
from scheduling.covering import CASTING, COVERING, UNCOVERING, cover_changes
from scheduling.laws import CLOSE_SHARE, OPEN_SHARE, fog_credit_minutes
from scheduling.observation import ENERGIES, Lessons, Mark, Observation
from scheduling.pour import PourState, StepRecord
from scheduling.process import Gap, StepKey
from scheduling.thresholds import DEFAULTS, Threshold
from scheduling.touch import Touch
from scheduling.worklessons import WorkLessons

BY_FAMILY = ("recoat opens", "recoat closes", "sealer pot life")
"""Thresholds that depend on the sealer and not on the mix."""

FIRST_POSSIBLE = 0.75
"""Of a piece that was ready when it was first tried, and called the first possible
moment, the share of that time before which it was not ready (estimate)."""

READ_BEFORE = timedelta(hours=2)
"""How long before a wait began a reading may be and still tell its weather (estimate).
"""

_MINUTE = timedelta(minutes=1)
_SAMPLES = 8

Running = Callable[[datetime, datetime], float]
"""Reference minutes of a clock between two instants."""


def lessons(state: PourState) -> Lessons:
    """Returns everything a pour has to say about waits and work.

    Args:
        state: The pour, folded; one without its start on record says nothing.
    """
    if state.job is None or state.begun is None:
        return Lessons()
    teaching = _Teaching(state)
    return Lessons(tuple(teaching.windows()), tuple(teaching.work()))


@dataclass(frozen=True, slots=True)
class _Wait:
    """One threshold of one wait that has begun.

    Attributes:
        gap: The wait.
        threshold: Its opening or its closing.
        since: From when it counts.
        holds: The steps it holds.
        event: Id of the event it counts from.
    """

    gap: Gap
    threshold: Threshold
    since: datetime
    holds: tuple[StepKey, ...]
    event: str


@dataclass(frozen=True, slots=True)
class _Seen:
    """An instant at which a threshold was or was not reached, and who says so."""

    at: datetime
    event: str


class _Teaching(WorkLessons):
    """One pour while its lessons are put together."""

    def __init__(self, state: PourState) -> None:
        super().__init__(state)
        self.climate = Measured(self.setting.climate, state.readings)
        self.book = self.setting.book(self.job, self.climate)

    def windows(self) -> Iterator[Observation]:
        for wait in self.waits():
            felt = dict.fromkeys(
                touch
                for key in wait.holds
                for touch in self.state.touched(wait.gap, key)
                if touch.at > wait.since
            )
            touches = sorted(felt, key=lambda touch: touch.at)
            opening = wait.threshold is wait.gap.opens
            seen = (self.opened if opening else self.closed)(wait, touches)
            if seen != (None, None):
                yield self.observation(wait, *seen)

    def waits(self) -> Iterator[_Wait]:
        """Every threshold to learn from; one that holds several steps, once."""
        found: dict[tuple[StepKey, str], _Wait] = {}
        for step in self.process.steps:
            for gap in step.gaps:
                # A wait without a row of its own repeats the opening of one that has.
                for threshold in (gap.opens if gap.name else None, gap.closes):
                    name = threshold.name if threshold else ""
                    begun = self.begun(gap)
                    if threshold is None or begun is None:
                        continue
                    if name not in DEFAULTS and name not in BY_FAMILY:
                        continue
                    key = gap.after, name
                    known = found.get(key)
                    holds = (*(known.holds if known else ()), step.key)
                    found[key] = _Wait(gap, threshold, begun.at, holds, begun.event)
        yield from found.values()

    def begun(self, gap: Gap) -> _Seen | None:
        """When a wait began, if that was really marked."""
        zone = gap.after.zone
        if gap.after.step == "spray" and zone in self.state.resprayed:
            return _Seen(self.state.resprayed[zone], self.state.resprays[zone])
        record = self.state.record(gap.after)
        if gap.from_start:
            return _start(record)
        if record.finished is None:
            return None
        return _Seen(record.finished, record.finished_event)

    def opened(
        self, wait: _Wait, touches: list[Touch]
    ) -> tuple[_Seen | None, _Seen | None]:
        """The last instant it was not open, and the first at which it was."""
        before = _first(touch for touch in touches if touch.feel != "soft")
        if before is None:
            before = min(self.starts(wait), key=_at, default=None)
        soft = [t for t in touches if t.feel == "soft" and _earlier(t.at, before)]
        after = _first(reversed(soft))
        tried = self.state.demould_tries if wait.gap.name == "cure" else ()
        first = next((one for one in tried if one.at >= wait.since), None)
        if first is not None and first.ready and first.first_possible:
            least = wait.since + FIRST_POSSIBLE * (first.at - wait.since)
            after = _Seen(least, first.event)
        return after, before

    def closed(
        self, wait: _Wait, touches: list[Touch]
    ) -> tuple[_Seen | None, _Seen | None]:
        """The last instant it was not closed, and the first at which it was."""
        gone = _first(touch for touch in touches if touch.feel == "gone")
        held = [_Seen(t.at, t.event) for t in touches if t.feel != "gone"]
        held += self.starts(wait)
        # What was mixed for a step of its own lasted as long as that.
        own = self.state.record(wait.gap.after)
        if wait.gap.after in wait.holds and own.finished is not None:
            held.append(_Seen(own.finished, own.finished_event))
        in_time = [
            one for one in held if wait.since < one.at and _earlier(one.at, gone)
        ]
        return max(in_time, key=_at, default=None), gone

    def starts(self, wait: _Wait) -> list[_Seen]:
        """When the steps that a wait holds were begun since it began."""
        starts = (_start(self.state.record(key)) for key in wait.holds)
        return [one for one in starts if one is not None and one.at > wait.since]

    def observation(
        self, wait: _Wait, after: _Seen | None, before: _Seen | None
    ) -> Observation:
        seen = [one for one in (after, before) if one is not None]
        zone = wait.gap.after.zone
        until = max(one.at for one in seen)
        family = wait.threshold.name in BY_FAMILY
        measured = self.measured(wait.threshold, wait.since, until)
        energies = ENERGIES if measured else (None,) * len(ENERGIES)
        hydration, evaporation = self.clocks(wait, energies)
        share = OPEN_SHARE if wait.threshold is wait.gap.opens else CLOSE_SHARE

        def mark(one: _Seen | None) -> Mark | None:
            if one is None:
                return None
            since, at, size = wait.since, one.at, wait.threshold.size
            runs = {run: run(since, at) / size for run in dict.fromkeys(hydration)}
            low, middle, high = (runs[run] for run in hydration)
            dried = evaporation(since, at) / size if evaporation else 0.0
            if evaporation and not measured:
                low = middle = high = dried = (1 - share) * middle + share * dried
            return Mark(_wall(since, at), (low, middle, high), dried)

        return Observation(
            pour=self.state.pour,
            at=wait.since,
            name=wait.threshold.name,
            mix=self.job.finish.sealer if family else self.job.mix,
            zone=zone,
            after=mark(after),
            before=mark(before),
            temp_c=self.mean_c(wait.threshold, wait.since, until),
            why_not=self.why_not(
                (wait.event, *(one.event for one in seen)),
                (wait.gap.after, *wait.holds),
            ),
            measured=measured,
        )

    def measured(self, threshold: Threshold, since: datetime, until: datetime) -> bool:
        """Whether somebody or something read the weather that a clock ran in."""
        read = [
            reading
            for reading in self.state.readings
            if since - READ_BEFORE <= reading.at <= until
        ]
        field = f"{threshold.place}_c"
        warm = any(r.shop_c is not None or getattr(r, field) is not None for r in read)
        if threshold.clock != "face":
            return warm
        return warm and any(reading.rh_pct is not None for reading in read)

    # -- clocks

    def clocks(
        self, wait: _Wait, energies: Sequence[float | None]
    ) -> tuple[tuple[Running, ...], Running | None]:
        """The clock of a wait at each of some energies, and its evaporation, if any.

        None is the energy of the mix.
        """
        threshold = wait.threshold
        if threshold.clock == "plain":  # days of it, and no weather to ask for
            return (_wall,) * len(energies), None
        if threshold.clock not in ("hydration", "face"):
            run = self.book.clock(threshold.clock, threshold.place).elapsed
            return (run,) * len(energies), None
        cast = self.cast if reads_piece(threshold) else None
        if cast is not None:
            return tuple(cast.at_energy(energy).elapsed for energy in energies), None
        hydration = tuple(
            self.book.clock("hydration", threshold.place, energy=energy).elapsed
            for energy in energies
        )
        if threshold.clock == "hydration":
            return hydration, None
        zone = wait.gap.after.zone
        covers = self.state.covers.get(zone, ())
        drying = self.book.clock("face", threshold.place, 1.0, covers)
        fogs = self.state.fogs.get(zone, ())

        def evaporation(since: datetime, at: datetime) -> float:
            grams = sum(added for when, added in fogs if since <= when <= at)
            return drying.elapsed(since, at) - fog_credit_minutes(grams, 1.0)

        return hydration, evaporation

    @cached_property
    def cast(self) -> Cast | None:
        """The piece under what really lay over it; None before it is cast."""
        screeded = self.state.record(CASTING).finished
        casts = self.setting.casts(
            self.job, self.climate, self.state.readings, self.book
        )
        if casts is None or screeded is None:
            return None
        brought = [
            (done, name)
            for key, name in COVERING
            if (done := self.state.record(key).finished) is not None
        ]
        record = self.state.record(UNCOVERING)
        uncovered = record.started or record.finished
        covers = cover_changes(brought, self.state.piece_covers, uncovered)
        return casts.cast(screeded, covers)

    def mean_c(self, threshold: Threshold, since: datetime, until: datetime) -> float:
        """Mean temperature of the place a clock reads, degC."""
        step = (until - since) / _SAMPLES
        middles = [since + (number + 0.5) * step for number in range(_SAMPLES)]
        if reads_piece(threshold) and self.cast is not None:
            return fmean(map(self.cast.temp_c, middles))
        at, place = self.climate.at, threshold.place
        return fmean(at(place, when).temp_c for when in middles)


def _wall(since: datetime, at: datetime) -> float:
    return (at - since) / _MINUTE


def _start(record: StepRecord) -> _Seen | None:
    if record.started is None or record.skipped is not None:
        return None
    return _Seen(record.started, record.started_event)


def _first(touches: Iterator[Touch]) -> _Seen | None:
    touch = next(touches, None)
    return _Seen(touch.at, touch.event) if touch else None


def _at(seen: _Seen) -> datetime:
    return seen.at


def _earlier(at: datetime, bound: _Seen | None) -> bool:
    return bound is None or at < bound.at
