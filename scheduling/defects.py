"""The defects of all pours beside what is on record of their zones: facts and counts.

Nothing here says what a defect came from. It puts side by side what was found and when
the zone was sprayed, covered with lift 1, and in what weather.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduling.climate import BRIDGED_S, Climate, Measured
from scheduling.clocks import Band, Clock, ClockBook, Covers
from scheduling.defect import Defect
from scheduling.forecast import Setting
from scheduling.job import Job
from scheduling.laws import CLOSE_SHARE, OPEN_SHARE, fog_credit_minutes
from scheduling.observation import ENERGIES, Mark
from scheduling.pour import PourState
from scheduling.process import Gap, Process, StepKey
from scheduling.thresholds import Threshold
from scheduling.touch import Touch

SHARES = {"face opens": OPEN_SHARE, "face closes": CLOSE_SHARE}
"""The two thresholds of the face, and how much evaporation counts in each."""

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class ZoneTimes:
    """What is on record of one zone of one pour that was sprayed.

    Attributes:
        zone: Its name.
        sprayed: End of its spraying, of the last if it was sprayed anew.
        form_c: Surface of the form then, degC.
        shop_c: Air then, degC.
        rh_pct: Humidity then, percent.
        wind_kmh: Air speed then, km/h.
        measured: Whether the form or the air was read within BRIDGED_S of then; where
            not, the four values are the shop's typical day.
        opens: When it was forecast to open, as known at the spraying, or None.
        closes: When it was forecast to close, or None.
        touches: What was felt since, up to the beginning of lift 1.
        lift_1: When lift 1 was begun, or None while it was not.
        reached: Reference minutes from the spraying to the beginning of lift 1, less
            what fogging gave back, by the name of the threshold whose clock counts, as
            that pour's timeline reckoned; empty while it was not begun.
        marks: The same as parts, for a clock as it was learned since.
    """

    zone: str
    sprayed: datetime
    form_c: float
    shop_c: float
    rh_pct: float
    wind_kmh: float
    measured: bool
    opens: Band | None
    closes: Band | None
    touches: tuple[Touch, ...]
    lift_1: datetime | None
    reached: dict[str, float]
    marks: dict[str, Mark]

    @property
    def wall_min(self) -> float | None:
        """Minutes on the wall from the spraying to the beginning of lift 1, or None."""
        if self.lift_1 is None:
            return None
        return (self.lift_1 - self.sprayed) / _MINUTE


@dataclass(frozen=True, slots=True)
class Case:
    """One defect, and the zones it may concern: its own, or all where none is named."""

    pour: str
    defect: Defect
    zones: tuple[ZoneTimes, ...]


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one pour has to say.

    Attributes:
        pour: Its name.
        mix: Of its job.
        begun: When it began.
        cast: Whether a zone was sprayed or a defect is on record.
        seen: Whether its face has been out of the form, so that a defect could show.
        zones: Those that were sprayed, in the order of the process.
        cases: Its defects, in the order they were recorded.
    """

    pour: str
    mix: str
    begun: datetime
    cast: bool
    seen: bool
    zones: tuple[ZoneTimes, ...]
    cases: tuple[Case, ...]


def evidence(state: PourState) -> Evidence | None:
    """Returns what a pour has to say, None where its start is not on record."""
    if state.job is None or state.begun is None:
        return None
    zones = _Zones.of(state, state.job, state.begun).sprayed()
    return Evidence(
        pour=state.pour,
        mix=state.job.mix,
        begun=state.begun,
        cast=bool(zones or state.defects),
        seen=state.record(StepKey("demould")).finished is not None,
        zones=zones,
        cases=tuple(
            Case(state.pour, defect, _of(defect, zones)) for defect in state.defects
        ),
    )


def cases(state: PourState) -> list[Case]:
    """Returns each defect of a pour with what is on record of its zones."""
    found = evidence(state)
    return list(found.cases) if found is not None else []


def _of(defect: Defect, zones: Sequence[ZoneTimes]) -> tuple[ZoneTimes, ...]:
    return tuple(one for one in zones if defect.zone in ("", one.zone))


@dataclass(frozen=True, slots=True)
class _Zones:
    """Reads what is on record of the zones of one pour.

    Attributes:
        state: The pour.
        process: Its steps.
        usual: The shop's typical climate.
        energy: Activation energy of the mix, kJ/mol.
        climate: The typical climate bent to all readings.
        book: The clocks of the job in that climate.
    """

    state: PourState
    process: Process
    usual: Climate
    energy: float
    climate: Climate
    book: ClockBook

    @classmethod
    def of(cls, state: PourState, job: Job, begun: datetime) -> _Zones:
        setting = Setting.of(state.shop)
        climate = Measured(setting.climate, state.readings)
        return cls(
            state,
            setting.process(job, on=begun, casting=state.casting),
            setting.climate,
            setting.mix(job).activation_energy,
            climate,
            setting.book(job, climate),
        )

    def sprayed(self) -> tuple[ZoneTimes, ...]:
        """What is on record of each zone whose spraying has ended."""
        return tuple(
            self.times(zone, since, gap)
            for zone in self.process.zones
            if (gap := self.gap(zone)) is not None
            and (since := self.since(zone)) is not None
        )

    def gap(self, zone: str) -> Gap | None:
        key = StepKey("lift-1", zone)
        return self.process.step(key).gap if key in self.process else None

    def since(self, zone: str) -> datetime | None:
        known = self.state.record(StepKey("spray", zone)).finished
        return self.state.resprayed.get(zone, known)

    def times(self, zone: str, since: datetime, gap: Gap) -> ZoneTimes:
        form, air = self.climate.at("form", since), self.climate.air(since)
        record = self.state.record(StepKey("lift-1", zone))
        lift_1 = record.started or record.finished
        if lift_1 is not None and lift_1 < since:  # of the face that came off again
            lift_1 = None
        both = zip(SHARES, (gap.opens, gap.closes), strict=True)
        bounds = {name: bound for name, bound in both if bound is not None}
        return ZoneTimes(
            zone=zone,
            sprayed=since,
            form_c=form.temp_c,
            shop_c=air.temp_c,
            rh_pct=air.rh_pct,
            wind_kmh=air.wind_kmh,
            measured=self.measured(since),
            opens=self.forecast("face opens", gap.opens, since),
            closes=self.forecast("face closes", gap.closes, since),
            touches=tuple(
                touch
                for touch in self.state.touches.get(zone, ())
                if since <= touch.at and (lift_1 is None or touch.at <= lift_1)
            ),
            lift_1=lift_1,
            reached={
                name: self.reached(name, bound, zone, since, lift_1)
                for name, bound in bounds.items()
                if lift_1 is not None
            },
            marks={
                name: self.mark(bound, zone, since, lift_1)
                for name, bound in bounds.items()
                if lift_1 is not None
            },
        )

    def measured(self, since: datetime) -> bool:
        return any(
            abs((one.at - since).total_seconds()) <= BRIDGED_S
            for one in self.state.readings
            if one.shop_c is not None or one.form_c is not None
        )

    def forecast(
        self, name: str, bound: Threshold | None, since: datetime
    ) -> Band | None:
        """When a threshold was to be reached, as known at the end of the spraying."""
        if bound is None:
            return None
        known = [one for one in self.state.readings if one.at <= since]
        clock = self.clock(
            ClockBook(Measured(self.usual, known), self.energy), name, bound
        )
        return clock.quantiles(since, bound.spread)

    def reached(
        self, name: str, bound: Threshold, zone: str, since: datetime, until: datetime
    ) -> float:
        """How far a threshold's clock had run in a zone, as the timeline reckons it."""
        covers = self.state.covers.get(zone, ())
        credit = self.credit(zone, since, until, _share(name, bound))
        clock = self.clock(self.book, name, bound, covers)
        return max(0.0, clock.elapsed(since, until) - credit)

    def mark(
        self, bound: Threshold, zone: str, since: datetime, until: datetime
    ) -> Mark:
        """How far the parts of a clock of the face had run, at each of ENERGIES."""
        low, middle, high = (
            self.book.clock("hydration", bound.place, energy=energy).elapsed(
                since, until
            )
            for energy in ENERGIES
        )
        covers = self.state.covers.get(zone, ())
        dried = self.book.clock("face", bound.place, 1.0, covers).elapsed(since, until)
        dried -= self.credit(zone, since, until, 1.0)
        return Mark((until - since) / _MINUTE, (low, middle, high), dried)

    def credit(
        self, zone: str, since: datetime, until: datetime, share: float
    ) -> float:
        """Reference minutes that fogging gave back."""
        fogs = self.state.fogs.get(zone, ())
        grams = sum(grams for at, grams in fogs if since <= at <= until)
        return fog_credit_minutes(grams, share)

    def clock(
        self, book: ClockBook, name: str, bound: Threshold, covers: Covers = ()
    ) -> Clock:
        share = _share(name, bound)
        return book.clock(bound.clock, bound.place, share, covers, bound.energy)


def _share(name: str, bound: Threshold) -> float:
    return SHARES[name] if bound.share is None else bound.share
