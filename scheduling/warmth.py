"""How warm a piece is from its casting on, followed only as far as anybody asks.

Its own heat is reckoned against the shop air under whatever lies over it, in quarter
hours, for OWN_HEAT_H. Where it was measured it is what was measured: a straight line
between two readings up to BRIDGED_S apart, and reckoned on from any other. Instants are
seconds since 1970 here, ages hours at 21 degC.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from statistics import fmean

from scheduling.climate import BRIDGED_S
from scheduling.heat import Air, course
from scheduling.hydration import HydrationHeat
from scheduling.laws import REFERENCE
from scheduling.maturity import arrhenius_rate
from scheduling.night import GRID_S, ShopAir
from scheduling.shell import COVERS, CoverName, Shell

OWN_HEAT_H = 72.0
"""How long a thin piece is reckoned to be warmer than the air, h (estimate)."""

_AT_ONCE_S = 6 * 3600.0
_TOGETHER_S = 1.0

Turns = tuple[tuple[float, CoverName], ...]
"""What lies over a piece from a second on, in order of time; ``open`` before all."""


@dataclass(frozen=True, slots=True)
class Body:
    """What warms and cools a piece, the same for every casting of a pour.

    Attributes:
        shell: The piece.
        source: Of its own heat.
        air: Of the shop.
        readings: Of the piece, degC, by the second; in order of time.
        activation_energy: Of the hydration clock, kJ/mol.
    """

    shell: Shell
    source: HydrationHeat
    air: ShopAir
    readings: Mapping[float, float]
    activation_energy: float

    def rate(self, temp_c: float, energy: float | None = None) -> float:
        """Equivalent hours of a hydration clock that pass in an hour.

        Args:
            temp_c: Of the piece, degC.
            energy: Activation energy of that clock, kJ/mol; None is the body's.
        """
        own = self.activation_energy if energy is None else energy
        return arrhenius_rate(temp_c, own, REFERENCE.temp_c)

    def source_rate(self, temp_c: float) -> float:
        """Equivalent hours of the heat source that pass in an hour."""
        source = self.source
        return arrhenius_rate(temp_c, source.activation_energy, source.reference_c)


class Warmth:
    """Temperature and equivalent age of one piece, from its casting to ``end``.

    Attributes:
        start: Casting.
        end: From when on its own heat is gone and nobody measured it.
        read: When it was measured since its casting.
    """

    def __init__(self, body: Body, start: float, start_c: float, turns: Turns) -> None:
        """Sets the piece up.

        Args:
            body: What warms and cools it.
            start: Casting.
            start_c: Temperature of the mix then, degC, unless the piece was measured.
            turns: What lies over it.
        """
        self.start = start
        self.read = sorted(when for when in body.readings if when >= start)
        self.end = max([start + OWN_HEAT_H * 3600, *self.read[-1:]])
        self._body = body
        self._turns = turns
        self._times = [start]
        self._temps = [body.readings.get(start, start_c)]
        self._ages = [0.0]
        self._stops = [(1, 0.0)]  # how many instants were known, and the source's age
        self._unread: dict[int, float] = {}  # what was reckoned where a reading differs
        self._others: dict[float, list[float]] = {}  # ages at other energies

    def take_over(self, other: Warmth, until: float) -> None:
        """Takes what was reckoned of the same piece, up to its last stop by then."""
        known = [stop for stop in other._stops if other._times[stop[0] - 1] <= until]
        if not known:
            return
        length, _ = known[-1]
        self._stops = known
        self._times = other._times[:length]
        self._temps = other._temps[:length]
        self._ages = other._ages[:length]
        self._unread = dict(other._unread)

    def at(self, second: float, energy: float | None = None) -> tuple[float, float]:
        """Temperature, degC, and equivalent age at a second not after the end.

        Before casting the age is under 0 and the temperature that at casting.

        Args:
            second: The instant.
            energy: Activation energy of the age, kJ/mol; None is the body's.
        """
        times, temps = self._times, self._temps
        while times[-1] < second and times[-1] < self.end:
            self._grow()
        ages = self._aged(energy)
        after = bisect_right(times, second)
        if not after:
            rate = self._body.rate(temps[0], energy)
            return temps[0], rate * (second - self.start) / 3600
        if after == len(times):
            return temps[-1], ages[-1]
        left = times[after - 1]
        share = (second - left) / (times[after] - left)
        temp_c, age = temps[after - 1], ages[after - 1]
        return (
            temp_c + (temps[after] - temp_c) * share,
            age + (ages[after] - age) * share,
        )

    def reached(self, age: float, energy: float | None = None) -> float | None:
        """The second of an equivalent age; None if it is not reached by the end.

        Args:
            age: In hours.
            energy: Activation energy of the age, kJ/mol; None is the body's.
        """
        if age <= 0:
            return self.start + 3600 * age / self._body.rate(self._temps[0], energy)
        ages = self._aged(energy)
        while ages[-1] < age and self._times[-1] < self.end:
            self._grow()
            ages = self._aged(energy)
        if ages[-1] < age:
            return None
        after = bisect_left(ages, age)
        before = ages[after - 1]
        share = (age - before) / (ages[after] - before)
        left = self._times[after - 1]
        return left + (self._times[after] - left) * share

    def _aged(self, energy: float | None) -> list[float]:
        """Ages at an activation energy, as far as the temperature is known."""
        if energy is None:
            return self._ages
        ages = self._others.setdefault(energy, [0.0])
        times, temps, rate = self._times, self._temps, self._body.rate
        known = len(ages)
        first = rate(temps[known - 1], energy) if known < len(times) else 0.0
        for after in range(known, len(times)):
            then = rate(temps[after], energy)
            reckoned = self._unread.get(after)
            last = then if reckoned is None else rate(reckoned, energy)
            hours = (times[after] - times[after - 1]) / 3600
            ages.append(ages[-1] + hours * (first + last) / 2)
            first = then
        return ages

    def temps(self, first: float, last: float) -> list[float]:
        """Every temperature reckoned between two seconds, those included, degC."""
        ends = [self.at(min(at, self.end))[0] for at in (first, last)]
        inner = slice(bisect_left(self._times, first), bisect_right(self._times, last))
        return [ends[0], *self._temps[inner], ends[1]]

    def cover(self, second: float) -> CoverName:
        """What lies over it."""
        after = bisect_right(self._turns, second, key=lambda turn: turn[0])
        return self._turns[after - 1][1] if after else "open"

    def _grow(self) -> None:
        """Follows the piece some hours further, or to the next turn in its story."""
        now = self._times[-1]
        read = bisect_right(self.read, now)
        next_read = self.read[read] if read < len(self.read) else inf
        if read and next_read - self.read[read - 1] <= BRIDGED_S:
            self._follow_line(next_read)
            return
        turns = [when for when, _ in self._turns if now < when]
        self._follow_heat(min(now + _AT_ONCE_S, self.end, next_read, *turns))

    def _follow_line(self, until: float) -> None:
        """Follows the straight line from one reading to the next."""
        body = self._body
        start, start_c = self._times[-1], self._temps[-1]
        slope = (body.readings[until] - start_c) / (until - start)
        own_age = self._stops[-1][1]
        for second in _grid(start, until):
            hours = (second - self._times[-1]) / 3600
            ends = self._temps[-1], start_c + slope * (second - start)
            own_age += hours * fmean(map(body.source_rate, ends))
            self._ages.append(self._ages[-1] + hours * fmean(map(body.rate, ends)))
            self._temps.append(ends[1])
            self._times.append(second)
        self._stops.append((len(self._times), own_age))

    def _follow_heat(self, until: float) -> None:
        """Follows the heat balance under one cover."""
        body = self._body
        cover = COVERS[self.cover(self._times[-1])]
        own_age = self._stops[-1][1]
        for run in _runs([self._times[-1], *_grid(self._times[-1], until)]):
            found = course(
                body.shell,
                cover,
                body.source,
                Air((run[1] - run[0]) / 3600, tuple(map(body.air.at, run))),
                self._temps[-1],
                age_h=self._ages[-1],
                source_age_h=own_age,
                activation_energy=body.activation_energy,
            )
            own_age = found.source_age_h
            self._ages.extend(found.ages_h[1:])
            self._temps.extend(found.temps_c[1:])
            self._times.extend(run[1:])
        if until in body.readings:
            self._unread[len(self._times) - 1] = self._temps[-1]
            self._temps[-1] = body.readings[until]
        self._stops.append((len(self._times), own_age))


def _grid(start: float, until: float) -> list[float]:
    """The quarter hours after start and before until, and until itself."""
    first = int((start + _TOGETHER_S) // GRID_S) + 1
    last = -int(-(until - _TOGETHER_S) // GRID_S)
    return [*(number * GRID_S for number in range(first, last)), until]


def _runs(seconds: list[float]) -> list[list[float]]:
    """Instants parted into runs of equal steps, each from where the one before ends."""
    whole = [at for at in seconds if not at % GRID_S]
    runs = [whole] if len(whole) > 1 else []
    if seconds[0] % GRID_S or len(whole) < 2:
        runs.insert(0, seconds[:2])
    if seconds[-1] % GRID_S and len(seconds) > 2:
        runs.append(seconds[-2:])
    return runs
