"""The clocks of the trade: a rate law integrated over a climate, and inverted.

A threshold is written in reference minutes; its instant is where the integral of
the rate reaches it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import accumulate, pairwise, takewhile
from math import inf, isfinite
from typing import Protocol

from scheduling.air import Conditions
from scheduling.climate import Climate
from scheduling.laws import ACTIVATION_ENERGY, Law, law
from scheduling.spread import Spread
from scheduling.thresholds import ClockName, Place

COVERED_EXPOSURE = 0.1
"""Evaporation that goes on under plastic held off the face, as a share (estimate)."""

HORIZON_DAYS = 60
"""How far ahead a threshold is looked for, days."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DAY = timedelta(days=1)
_DAY_S = 86400.0

Covers = tuple[tuple[datetime, datetime | None], ...]
"""Stretches of time under plastic; None is not yet uncovered."""


class Cells:
    """A climate cut at its edges, one UTC day at a time; clocks may share it."""

    def __init__(self, climate: Climate) -> None:
        self._climate = climate
        self._bounds: dict[int, list[float]] = {}
        self._conditions: dict[tuple[int, Place], list[Conditions]] = {}

    def bounds(self, day: int) -> list[float]:
        """Where the cells of a day (counted from 1970) meet, s: first 0, last 86400."""
        known = self._bounds.get(day)
        if known is None:
            start = _EPOCH + day * _DAY
            edges = takewhile((start + _DAY).__gt__, self._climate.edges(start))
            inner = [(edge - start).total_seconds() for edge in edges]
            known = self._bounds[day] = [0.0, *inner, _DAY_S]
        return known

    def conditions(self, day: int, place: Place) -> list[Conditions]:
        """Conditions at a place in each cell of a day, taken in the middle of it."""
        known = self._conditions.get((day, place))
        if known is None:
            start = _EPOCH + day * _DAY
            known = self._conditions[day, place] = [
                self._climate.at(place, start + timedelta(seconds=(left + right) / 2))
                for left, right in pairwise(self.bounds(day))
            ]
        return known


@dataclass(frozen=True, slots=True)
class _Table:
    """One clock over one UTC day: its rate in each cell and the minutes so far."""

    bounds: list[float]
    rates: list[float]
    totals: list[float]

    def minutes(self, second: float) -> float:
        """Reference minutes from the start of the day to a second under 86400."""
        cell = bisect_right(self.bounds, second) - 1
        return self.totals[cell] + (second - self.bounds[cell]) * self.rates[cell] / 60

    def second(self, minutes: float) -> float:
        """First second at which so many reference minutes, above 0, have passed."""
        cell = bisect_left(self.totals, minutes) - 1
        return self.bounds[cell] + (minutes - self.totals[cell]) * 60 / self.rates[cell]


@dataclass(frozen=True, slots=True)
class Band:
    """When a threshold is reached: one case in ten by p10, nine in ten by p90."""

    p10: datetime
    p50: datetime
    p90: datetime


class Runs(Protocol):
    """What a threshold is counted on."""

    def elapsed(self, start: datetime, end: datetime) -> float:
        """Reference minutes between two instants."""
        ...

    def reaches(self, start: datetime, reference_min: float) -> datetime | None:
        """First instant at which so many reference minutes have passed."""
        ...

    def quantiles(self, start: datetime, spread: Spread) -> Band | None:
        """When a threshold is reached, as a band; None if its P90 never is."""
        ...


def reached(
    reaches: Callable[[datetime, float], datetime | None],
    start: datetime,
    spread: Spread,
) -> Band | None:
    """When a threshold is reached, as a band; None if its P90 never is.

    Args:
        reaches: Of a clock: when so many reference minutes have passed.
        start: From when it counts.
        spread: Of the threshold, reference minutes.
    """
    p10, p50, p90 = (
        reaches(start, minutes) for minutes in (spread.p10, spread.p50, spread.p90)
    )
    if p10 is None or p50 is None or p90 is None:
        return None
    return Band(p10, p50, p90)


class Clock:
    """One law at one place of one climate.

    The rate is constant in each cell of the climate, so that any split of a time adds
    up to the whole, and asking again costs next to nothing.
    """

    def __init__(
        self, law: Law, climate: Climate | Cells, place: Place, covers: Covers = ()
    ) -> None:
        """Sets up the clock; nothing is computed before it is asked.

        Args:
            law: How fast it runs.
            climate: The climate, or its cells where several clocks share them.
            place: Whose temperature it reads.
            covers: When the face was under plastic; stretches may overlap.

        Raises:
            ValueError: A cover ends before it begins.
        """
        for start, end in covers:
            if end is not None and end < start:
                raise ValueError(f"covered from {start} back to {end}")
        self._law = law
        self._cells = climate if isinstance(climate, Cells) else Cells(climate)
        self._place: Place = place
        self._covers = [
            (_since_epoch(start), inf if end is None else _since_epoch(end))
            for start, end in covers
        ]
        self._tables: dict[int, _Table] = {}

    def elapsed(self, start: datetime, end: datetime) -> float:
        """Reference minutes between two instants.

        Raises:
            ValueError: The end is before the start.
        """
        first, last = _split(start), _split(end)
        if last < first:
            raise ValueError(f"elapsed from {start} back to {end}")
        whole = sum(self._table(day).totals[-1] for day in range(first[0], last[0]))
        before = self._table(first[0]).minutes(first[1])
        return whole + self._table(last[0]).minutes(last[1]) - before

    def reaches(self, start: datetime, reference_min: float) -> datetime | None:
        """First instant (UTC) at which so many reference minutes have passed.

        Args:
            start: From when they count.
            reference_min: How many, 0 or more.

        Returns:
            The instant, or None if that takes more than HORIZON_DAYS.

        Raises:
            ValueError: The reference minutes are not 0 or more.
        """
        if not 0 <= reference_min < inf:
            raise ValueError(f"{reference_min} reference min: want 0 or more")
        begin = start.astimezone(UTC)
        if not reference_min:
            return begin
        first, second = _split(begin)
        left = reference_min + self._table(first).minutes(second)
        for day in range(first, first + HORIZON_DAYS + 1):
            table = self._table(day)
            if left <= table.totals[-1]:
                seconds = table.second(left)
                at = max(_EPOCH + timedelta(days=day, seconds=seconds), begin)
                return at if at - begin <= HORIZON_DAYS * _DAY else None
            left -= table.totals[-1]
        return None

    def quantiles(self, start: datetime, spread: Spread) -> Band | None:
        """When a threshold is reached, as a band; None if its P90 never is.

        Args:
            start: From when it counts.
            spread: Of the threshold, reference minutes.
        """
        return reached(self.reaches, start, spread)

    def by(self, law: Law) -> Clock:
        """The clock of another law at the same place, which heeds no covers."""
        return Clock(law, self._cells, self._place)

    def _table(self, day: int) -> _Table:
        known = self._tables.get(day)
        if known is None:
            known = self._tables[day] = self._built(day)
        return known

    def _built(self, day: int) -> _Table:
        bounds = self._cells.bounds(day)
        places = self._cells.conditions(day, self._place)
        airs = self._cells.conditions(day, "shop") if self._law.reads_air else places
        rate = self._law.rate
        rates = [rate(place, air, 1.0) for place, air in zip(places, airs, strict=True)]
        covers = self._covers_on(day)
        if covers:
            shut = [
                rate(place, air, COVERED_EXPOSURE)
                for place, air in zip(places, airs, strict=True)
            ]
            bounds, rates = _covered(bounds, rates, shut, covers)
        gains = (
            (right - left) * speed / 60
            for (left, right), speed in zip(pairwise(bounds), rates, strict=True)
        )
        totals = list(accumulate(gains, initial=0.0))
        if not isfinite(totals[-1]):
            raise ValueError(f"the {self._law.name} clock has no finite rate")
        return _Table(bounds, rates, totals)

    def _covers_on(self, day: int) -> list[tuple[float, float]]:
        """Covered seconds of a day."""
        start = day * _DAY_S
        return [
            (max(begin - start, 0.0), min(end - start, _DAY_S))
            for begin, end in self._covers
            if begin < start + _DAY_S and end > start
        ]


def _covered(
    bounds: list[float],
    open_rates: list[float],
    shut_rates: list[float],
    covers: Iterable[tuple[float, float]],
) -> tuple[list[float], list[float]]:
    """Cuts cells further where plastic comes on or off, and takes the rate of each.

    The conditions stay those of the whole cell: plastic does not change the weather.
    """
    covers = list(covers)
    cuts = sorted({*bounds, *(cut for cover in covers for cut in cover)})
    rates = []
    for left, right in pairwise(cuts):
        cell = bisect_right(bounds, left) - 1
        shut = any(begin <= left and right <= end for begin, end in covers)
        rates.append(shut_rates[cell] if shut else open_rates[cell])
    return cuts, rates


def _since_epoch(at: datetime) -> float:
    return (at - _EPOCH).total_seconds()


def _split(at: datetime) -> tuple[int, float]:
    """The UTC day counted from 1970, and the seconds in it, of an aware instant."""
    since = at - _EPOCH
    return since.days, since.seconds + since.microseconds / 1e6


class ClockBook:
    """All clocks of one climate, made once each and sharing its cells."""

    def __init__(
        self, climate: Climate, activation_energy: float = ACTIVATION_ENERGY
    ) -> None:
        """Opens the book.

        Args:
            climate: Which every clock runs in.
            activation_energy: Of hydration in the mix at hand, kJ/mol.
        """
        self._cells = Cells(climate)
        self._activation_energy = activation_energy
        self._clocks: dict[
            tuple[ClockName, Place, float | None, Covers, float], Clock
        ] = {}

    def clock(
        self,
        name: ClockName,
        place: Place,
        share: float | None = None,
        covers: Covers = (),
        energy: float | None = None,
    ) -> Clock:
        """The clock of a name at a place.

        Args:
            name: Of the law.
            place: Whose temperature it reads.
            share: Of evaporation, for ``face`` only; None is CLOSE_SHARE.
            covers: When the face was under plastic; other clocks do not heed it.
            energy: Activation energy of hydration, kJ/mol; None is the book's.

        Raises:
            ValueError: As ``law`` and ``Clock``.
        """
        heeded = covers if name == "face" else ()
        own = self._activation_energy if energy is None else energy
        key = (name, place, share, heeded, own)
        known = self._clocks.get(key)
        if known is None:
            made = law(name, own, share)
            known = self._clocks[key] = Clock(made, self._cells, place, heeded)
        return known
