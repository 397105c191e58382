"""A piece from its casting on: how warm it is, and the hydration clock that reads it.

From casting its own heat is reckoned against the shop air under whatever lies over it,
in quarter hours, for OWN_HEAT_H; after that it is what its climate says. Where the piece
was measured it is what was measured: a straight line between two readings up to
BRIDGED_S apart, and reckoned on from any other. Nothing is computed before it is asked.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from math import inf
from statistics import fmean

from scheduling.climate import BRIDGED_S, COLDEST_C, WARMEST_C, Climate, Reading
from scheduling.clocks import Band, Clock, reached
from scheduling.covering import CoverChanges
from scheduling.heat import Air, course
from scheduling.hydration import HydrationHeat
from scheduling.job import Bare, Piece
from scheduling.laws import REFERENCE
from scheduling.maturity import arrhenius_rate
from scheduling.shell import COVERS, CoverName, Shell
from scheduling.shop import Mix
from scheduling.spread import Spread
from scheduling.thresholds import Threshold

OWN_HEAT_H = 72.0
"""How long a thin piece is reckoned to be warmer than the air, h (estimate)."""

STANDING = "piece temperature by a heat balance, indicative"
"""What to say beside an instant that hangs on it."""

THICKEST = 0.3
"""Thickness beyond which a piece is reckoned as one of this, m: no shell any more."""

_GRID_S = 900.0
_AT_ONCE_S = 6 * 3600.0
_TOGETHER_S = 1.0
_KEPT = 8


def reads_piece(threshold: Threshold) -> bool:
    """Whether a threshold is on the clock that a casting is, and not on another."""
    return threshold.place == "piece" and threshold.clock == "hydration"


def shell_of(shape: Piece | Bare, mix: Mix) -> Shell:
    """The flat shell that the heat of a piece is reckoned with.

    It is as thick as the concrete of the top: with a foam core, both skins together.
    """
    thickness = shape.thickness
    if isinstance(shape, Piece) and shape.foam:
        thickness -= shape.foam.thickness
    return Shell(min(thickness, THICKEST), mix.back_density)


class ShopAir:
    """Temperature of the shop air, reckoned once for each quarter hour."""

    def __init__(self, temp_c: Callable[[datetime], float]) -> None:
        """Takes where the temperatures are from, degC at an aware instant."""
        self._temp_c = temp_c
        self._known: dict[float, float] = {}

    @classmethod
    def of(cls, climate: Climate) -> ShopAir:
        """The shop air of a climate."""
        return cls(lambda when: climate.air(when).temp_c)

    def at(self, second: float) -> float:
        """Temperature at a second since 1970, degC."""
        known = self._known.get(second)
        if known is None:
            known = self._temp_c(datetime.fromtimestamp(second, UTC))
            if not second % _GRID_S:
                self._known[second] = known
        return known

    def bent(self, shift: Callable[[datetime], float]) -> ShopAir:
        """The same air warmer by a shift in K, within what a reading may be."""

        def temp_c(when: datetime) -> float:
            there = self.at(when.timestamp()) + shift(when)
            return min(max(there, COLDEST_C), WARMEST_C)

        return ShopAir(temp_c)


@dataclass(slots=True)
class Casts:
    """What the castings of one pour have in common; each is followed only once.

    Attributes:
        shell: The piece.
        air: Of the shop.
        climate: That of the pour, for the mix, and the piece when its heat is gone.
        readings: Of the piece, degC, by the second since 1970; in order of time.
        activation_energy: Of the hydration clock, kJ/mol.
        later: That clock at the piece of the climate, for when its own heat is gone.
    """

    shell: Shell
    air: ShopAir
    climate: Climate
    readings: Mapping[float, float]
    activation_energy: float
    later: Clock
    source: HydrationHeat = field(init=False)
    _casts: dict[tuple[datetime, CoverChanges], Cast] = field(
        init=False, default_factory=dict
    )

    def __post_init__(self) -> None:
        self.source = self.shell.hydration()

    @classmethod
    def of(
        cls,
        shell: Shell,
        climate: Climate,
        readings: Iterable[Reading],
        activation_energy: float,
        later: Clock,
    ) -> Casts:
        """Takes the air and the mix from a climate, and the piece from its readings.

        Args:
            shell: The piece.
            climate: Of the pour, bent to its readings.
            readings: The same; of several of one instant the last counts.
            activation_energy: Of the hydration clock, kJ/mol.
            later: That clock at the piece of the climate.
        """
        ordered = sorted(readings, key=lambda reading: reading.at)
        return cls(
            shell,
            ShopAir.of(climate),
            climate,
            {r.at.timestamp(): r.piece_c for r in ordered if r.piece_c is not None},
            activation_energy,
            later,
        )

    def rate(self, temp_c: float) -> float:
        """Equivalent hours of the hydration clock that pass in an hour."""
        return arrhenius_rate(temp_c, self.activation_energy, REFERENCE.temp_c)

    def source_rate(self, temp_c: float) -> float:
        """Equivalent hours of the heat source that pass in an hour."""
        source = self.source
        return arrhenius_rate(temp_c, source.activation_energy, source.reference_c)

    def in_air(self, air: ShopAir) -> Casts:
        """The same pour in other air."""
        return replace(self, air=air)

    def cast(self, at: datetime, covers: CoverChanges = ()) -> Cast:
        """The piece cast at an instant.

        Args:
            at: Casting: when the screed was done.
            covers: What lies over it from when on; those before casting lie from then.
        """
        known = self._casts.pop((at, covers), None)
        if known is None:
            known = self._begun(at, covers) or Cast(self, at, covers)
        self._casts[at, covers] = known
        while len(self._casts) > _KEPT:
            del self._casts[next(iter(self._casts))]
        return known

    def _begun(self, at: datetime, covers: CoverChanges) -> Cast | None:
        """The piece taken over from one that only lacks the last change."""
        before = self._casts.get((at, covers[:-1])) if covers else None
        if before is None:
            return None
        since, cover = covers[-1]
        return before.under(cover, since)


class Cast:
    """One piece from its casting; the clock that is told the piece's temperature.

    Attributes:
        at: Casting.
        covers: What lies over it from when on.
    """

    def __init__(self, casts: Casts, at: datetime, covers: CoverChanges) -> None:
        """Sets the piece up; ``Casts.cast`` keeps what was reckoned before."""
        self.at = at
        self.covers = covers
        self._casts = casts
        self._start = at.timestamp()
        self._read = sorted(when for when in casts.readings if when >= self._start)
        read_to = self._read[-1] if self._read else self._start
        self._end = max(self._start + OWN_HEAT_H * 3600, read_to)
        self._covers = [(when.timestamp(), name) for when, name in covers]
        start_c = casts.readings.get(self._start)
        self._times = [self._start]
        self._temps = [casts.climate.at("mix", at).temp_c if start_c is None else start_c]
        self._ages = [0.0]
        self._stops = [(1, 0.0)]

    # -- as a clock

    def elapsed(self, start: datetime, end: datetime) -> float:
        """Reference minutes between two instants.

        Before casting the mix is as warm as at casting.

        Raises:
            ValueError: The end is before the start.
        """
        if end < start:
            raise ValueError(f"elapsed from {start} back to {end}")
        later, edge = 0.0, self._edge
        if end > edge:
            later = self._casts.later.elapsed(max(start, edge), end)
        if start >= edge:
            return later
        first, last = start.timestamp(), min(end, edge).timestamp()
        return later + 60 * (self._age(last) - self._age(first))

    def reaches(self, start: datetime, reference_min: float) -> datetime | None:
        """First instant (UTC) at which so many reference minutes have passed.

        Args:
            start: From when they count.
            reference_min: How many, 0 or more.

        Returns:
            The instant, or None if it is as far off as ``Clock.reaches`` looks.

        Raises:
            ValueError: The reference minutes are not 0 or more.
        """
        if not 0 <= reference_min < inf:
            raise ValueError(f"{reference_min} reference min: want 0 or more")
        edge = self._edge
        if start >= edge:
            return self._casts.later.reaches(start, reference_min)
        age = self._age(start.timestamp()) + reference_min / 60
        while self._ages[-1] < age and self._times[-1] < self._end:
            self._grow()
        if age > self._ages[-1]:
            left = 60 * (age - self._ages[-1])
            return self._casts.later.reaches(edge, left)
        found = datetime.fromtimestamp(self._second(age), UTC)
        return max(found, start.astimezone(UTC))

    def quantiles(self, start: datetime, spread: Spread) -> Band | None:
        """When a threshold is reached, as a band; None if its P90 never is."""
        return reached(self.reaches, start, spread)

    # -- as a thermometer

    def temp_c(self, when: datetime) -> float:
        """Temperature of the piece, degC; before casting as at casting."""
        second = when.timestamp()
        if second > self._end:
            return self._casts.climate.at("piece", when).temp_c
        return self._between(self._temps, max(second, self._start))

    def air_c(self, when: datetime) -> float:
        """Temperature of the shop air, degC."""
        return self._casts.air.at(when.timestamp())

    def extremes(self, start: datetime, end: datetime) -> tuple[float, float]:
        """Coldest and warmest of the piece from one instant to another, degC."""
        self.temp_c(end)
        first = bisect_left(self._times, start.timestamp())
        last = bisect_right(self._times, end.timestamp())
        temps = [self.temp_c(start), *self._temps[first:last], self.temp_c(end)]
        quarter = timedelta(seconds=_GRID_S)
        when = max(start, self._edge)
        while when < end:
            temps.append(self.temp_c(when))
            when += quarter
        return min(temps), max(temps)

    def cover(self, when: datetime) -> CoverName:
        """What lies over the piece."""
        return self._cover(when.timestamp())

    @property
    def measured(self) -> tuple[tuple[datetime, float], ...]:
        """The readings of the piece since casting, degC."""
        return tuple(
            (datetime.fromtimestamp(when, UTC), self._casts.readings[when])
            for when in self._read
        )

    def under(self, cover: CoverName, since: datetime) -> Cast:
        """The same piece, but under one cover from an instant on."""
        kept = tuple(change for change in self.covers if change[0] < since)
        other = Cast(self._casts, self.at, (*kept, (since, cover)))
        # What lies before is the same: taken over up to the last stop, reckoned on.
        second = since.timestamp()
        for length, own_age in self._stops:
            if self._times[length - 1] > second:
                break
            other._times = self._times[:length]
            other._temps = self._temps[:length]
            other._ages = self._ages[:length]
            other._stops[-1:] = [(length, own_age)]
        return other

    # -- reckoning

    @property
    def _edge(self) -> datetime:
        return datetime.fromtimestamp(self._end, UTC)

    def _age(self, second: float) -> float:
        """Equivalent age, h at 21 degC, up to the end; under 0 before casting."""
        if second < self._start:
            return self._casts.rate(self._temps[0]) * (second - self._start) / 3600
        return self._between(self._ages, second)

    def _between(self, values: list[float], second: float) -> float:
        while self._times[-1] < second and self._times[-1] < self._end:
            self._grow()
        after = bisect_right(self._times, second)
        if after >= len(values):
            return values[-1]
        left, right = self._times[after - 1], self._times[after]
        share = (second - left) / (right - left)
        return values[after - 1] + (values[after] - values[after - 1]) * share

    def _second(self, age: float) -> float:
        """When an equivalent age that has been reckoned is reached."""
        if age <= 0:
            return self._start + 3600 * age / self._casts.rate(self._temps[0])
        after = bisect_left(self._ages, age)
        before = self._ages[after - 1]
        share = (age - before) / (self._ages[after] - before)
        left = self._times[after - 1]
        return left + (self._times[after] - left) * share

    def _cover(self, second: float) -> CoverName:
        after = bisect_right(self._covers, second, key=lambda change: change[0])
        return self._covers[after - 1][1] if after else "open"

    def _grow(self) -> None:
        """Follows the piece some hours further, or to the next turn in its story."""
        now = self._times[-1]
        until = min(now + _AT_ONCE_S, self._end)
        read = bisect_right(self._read, now)
        next_read = self._read[read] if read < len(self._read) else inf
        if read and next_read - self._read[read - 1] <= BRIDGED_S:
            self._follow_reading(next_read)
            return
        turns = [when for when, _ in self._covers if now < when]
        self._follow_heat(min(until, next_read, *turns))

    def _follow_reading(self, until: float) -> None:
        """Follows the straight line from one reading to the next."""
        casts = self._casts
        start, start_c = self._times[-1], self._temps[-1]
        slope = (casts.readings[until] - start_c) / (until - start)
        own_age = self._stops[-1][1]
        for second in _grid(start, until):
            hours = (second - self._times[-1]) / 3600
            ends = self._temps[-1], start_c + slope * (second - start)
            own_age += hours * fmean(casts.source_rate(temp_c) for temp_c in ends)
            age = self._ages[-1] + hours * fmean(casts.rate(temp_c) for temp_c in ends)
            self._times.append(second)
            self._temps.append(ends[1])
            self._ages.append(age)
        self._stops.append((len(self._times), own_age))

    def _follow_heat(self, until: float) -> None:
        casts = self._casts
        cover = COVERS[self._cover(self._times[-1])]
        own_age = self._stops[-1][1]
        for run in _runs([self._times[-1], *_grid(self._times[-1], until)]):
            step_h = (run[1] - run[0]) / 3600
            found = course(
                casts.shell,
                cover,
                casts.source,
                Air(step_h, tuple(casts.air.at(second) for second in run)),
                self._temps[-1],
                age_h=self._ages[-1],
                source_age_h=own_age,
                activation_energy=casts.activation_energy,
            )
            own_age = found.source_age_h
            self._times.extend(run[1:])
            self._temps.extend(found.temps_c[1:])
            self._ages.extend(found.ages_h[1:])
        read = casts.readings.get(until)
        if read is not None:
            self._temps[-1] = read
        self._stops.append((len(self._times), own_age))


def _grid(start: float, until: float) -> list[float]:
    """The quarter hours after start and before until, and until itself."""
    first = int((start + _TOGETHER_S) // _GRID_S) + 1
    last = -int(-(until - _TOGETHER_S) // _GRID_S)
    return [*(number * _GRID_S for number in range(first, last)), until]


def _runs(seconds: list[float]) -> list[list[float]]:
    """Instants parted into runs of equal steps, each from where the one before ends."""
    whole = [at for at in seconds if not at % _GRID_S]
    runs = [whole] if len(whole) > 1 else []
    if seconds[0] % _GRID_S or len(whole) < 2:
        runs.insert(0, seconds[:2])
    if seconds[-1] % _GRID_S and len(seconds) > 2:
        runs.append(seconds[-2:])
    return runs
