"""The clocks of the trade: six rate laws, and how to integrate and invert them.

A clock runs at a rate that depends on the conditions and is 1 at the reference: 21
degC, 50 % RH, still air. A threshold is written in reference minutes; its instant is
where the integral of the rate reaches it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import accumulate, pairwise, takewhile
from math import inf, isfinite
from typing import ClassVar, Protocol

from scheduling.climate import (
    MIST_FLOOR_C,
    Climate,
    Conditions,
    evaporation,
    saturation_pressure,
)
from scheduling.maturity import arrhenius_rate
from scheduling.spread import Spread
from scheduling.thresholds import ClockName, Place

REFERENCE = Conditions(temp_c=21.0, rh_pct=50.0, wind_kmh=0.0)
"""Conditions in which every clock runs at a rate of exactly 1."""

ACTIVATION_ENERGY = 42.0
"""Of hydration, kJ/mol; the range to choose from is 35 to 50 (estimate)."""

OPEN_SHARE = 0.4
CLOSE_SHARE = 0.5
"""Share of evaporation in the race that opens and closes the face coat (estimate)."""

COVERED_EXPOSURE = 0.1
"""Evaporation that goes on under plastic held off the face, as a share (estimate)."""

HORIZON_DAYS = 60
"""How far ahead a threshold is looked for, days."""

_REFERENCE_EVAPORATION = evaporation(
    REFERENCE.temp_c, REFERENCE.temp_c, REFERENCE.rh_pct, REFERENCE.wind_kmh
)
"""0.0949864 kg/m2h."""


class Law(Protocol):
    """How fast a clock runs in given conditions."""

    name: ClassVar[ClockName]
    reads_air: ClassVar[bool]
    """Whether the rate needs the shop air beside the place."""

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:
        """Reference minutes that pass in a minute, 0 or more.

        Args:
            place: Conditions at the place whose temperature the clock reads.
            air: Conditions of the shop air; those of the place will do where
                ``reads_air`` is false.
            exposure: Share of evaporation that is let through: 1 open, 0.1 covered.
        """
        ...


@dataclass(frozen=True, slots=True)
class Hydration:
    """Chemistry of the cement, on the temperature of the place alone.

    k = exp(-(Ea / R) (1 / T - 1 / 294.15 K)). Below 10 degC the curve is not to be
    trusted: the polymer may not film. Standing: estimate. Shape: ASTM C1074 (from
    memory).

    Attributes:
        activation_energy: Ea, kJ/mol, above 0 to 100.
    """

    name: ClassVar[ClockName] = "hydration"
    reads_air: ClassVar[bool] = False
    activation_energy: float = ACTIVATION_ENERGY

    def __post_init__(self) -> None:
        _check_energy(self.activation_energy)

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return arrhenius_rate(place.temp_c, self.activation_energy, REFERENCE.temp_c)


@dataclass(frozen=True, slots=True)
class Face:
    """The face coat: hydration and drying race each other.

    (1 - share) k + share x exposure x E / Eref, with k that of ``Hydration``, E the
    evaporation from a surface as warm as the place into the shop air, not under 0
    (condensation does not set the clock back), and Eref its value at the reference.
    Below -18 degC nothing evaporates. Standing: estimate. Shape: E after Uno 1998
    (published, second hand); the race itself has no source.

    Attributes:
        share: Of evaporation, 0 to 1: OPEN_SHARE or CLOSE_SHARE.
        activation_energy: Of hydration, kJ/mol, above 0 to 100.
    """

    name: ClassVar[ClockName] = "face"
    reads_air: ClassVar[bool] = True
    share: float = CLOSE_SHARE
    activation_energy: float = ACTIVATION_ENERGY

    def __post_init__(self) -> None:
        _check_share(self.share)
        _check_energy(self.activation_energy)

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:
        """Reference minutes that pass in a minute."""
        lost = evaporation(
            max(place.temp_c, MIST_FLOOR_C),
            max(air.temp_c, MIST_FLOOR_C),
            air.rh_pct,
            air.wind_kmh,
        )
        k = arrhenius_rate(place.temp_c, self.activation_energy, REFERENCE.temp_c)
        drying = exposure * max(lost, 0.0) / _REFERENCE_EVAPORATION
        return (1 - self.share) * k + self.share * drying


@dataclass(frozen=True, slots=True)
class Drying:
    """Water leaving a hard piece, on how far the air is from saturated.

    VPD / VPD at the reference (1.24 kPa), where VPD is the saturation pressure at the
    place less the vapour pressure of the air; the time of a threshold is limited to
    0.6 to 4 times its reference. Standing: estimate, among the weakest of the models.
    Shape: common practice, no source.
    """

    name: ClassVar[ClockName] = "drying"
    reads_air: ClassVar[bool] = True

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return min(max(_deficit(place, air) / _REFERENCE_DEFICIT, 1 / 4), 1 / 0.6)


@dataclass(frozen=True, slots=True)
class Silicone:
    """A caulk fillet curing on the water vapour that diffuses into it.

    Vapour pressure of the air at the place / the same at the reference (1.24 kPa), so
    in dry air it stands all but still. Standing: estimate. Shape: diffusion, depth
    growing with the square root of time; 3 to 6 mm in 24 h is published for one-part
    silicone. The label of the cartridge wins.
    """

    name: ClassVar[ClockName] = "silicone"
    reads_air: ClassVar[bool] = True

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return _vapour(place.temp_c, air.rh_pct) / _REFERENCE_VAPOUR


@dataclass(frozen=True, slots=True)
class Coating:
    """Chemistry of sealers and other two-part coatings.

    2^((T - 21) / 10), T of the place in degC. Standing: common practice, no source;
    what humidity does is on the label only.
    """

    name: ClassVar[ClockName] = "coating"
    reads_air: ClassVar[bool] = False

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute."""
        return float(2 ** ((place.temp_c - REFERENCE.temp_c) / 10))


@dataclass(frozen=True, slots=True)
class Plain:
    """Time as it passes, whatever the conditions: a rate of 1."""

    name: ClassVar[ClockName] = "plain"
    reads_air: ClassVar[bool] = False

    def rate(self, place: Conditions, air: Conditions, exposure: float) -> float:  # noqa: ARG002 - one interface for all laws
        """Reference minutes that pass in a minute: 1."""
        return 1.0


def _vapour(temp_c: float, rh_pct: float) -> float:
    return rh_pct / 100 * saturation_pressure(temp_c)


def _deficit(place: Conditions, air: Conditions) -> float:
    return saturation_pressure(place.temp_c) - _vapour(air.temp_c, air.rh_pct)


_REFERENCE_VAPOUR = _vapour(REFERENCE.temp_c, REFERENCE.rh_pct)
_REFERENCE_DEFICIT = _deficit(REFERENCE, REFERENCE)


def _check_energy(activation_energy: float) -> None:
    if not 0 < activation_energy <= 100:
        raise ValueError(
            f"activation energy {activation_energy} kJ/mol: want above 0 to 100 kJ/mol"
        )


def _check_share(share: float) -> None:
    if not 0 <= share <= 1:
        raise ValueError(f"share of evaporation {share}: want 0 to 1")


def law(
    name: ClockName,
    activation_energy: float = ACTIVATION_ENERGY,
    share: float | None = None,
) -> Law:
    """The law of a clock's name.

    Args:
        name: Of the clock.
        activation_energy: Of hydration, kJ/mol; only ``hydration`` and ``face`` use it.
        share: Of evaporation, for ``face`` only; None is CLOSE_SHARE.

    Raises:
        ValueError: A value is outside its range, or a share is given to another clock.
    """
    if name == "face":
        return Face(CLOSE_SHARE if share is None else share, activation_energy)
    if share is not None:
        raise ValueError(f"share of evaporation {share}: only the face clock has one")
    if name == "hydration":
        return Hydration(activation_energy)
    others: dict[ClockName, Law] = {
        "drying": Drying(),
        "silicone": Silicone(),
        "coating": Coating(),
        "plain": Plain(),
    }
    return others[name]


def drying_thickness_factor(thickness_mm: float) -> float:
    """How much more drying a thick piece needs than one of up to 25 mm.

    (mm / 25)^1.3 above 25 mm, 1 up to it. Standing: estimate.

    Raises:
        ValueError: The thickness is not above 0.
    """
    if not 0 < thickness_mm < inf:
        raise ValueError(f"thickness {thickness_mm} mm: want above 0")
    return float(max(thickness_mm / 25, 1.0) ** 1.3)


def silicone_cure_minutes(fillet_radius_m: float) -> float:
    """Reference minutes until the silicone of a tooled fillet has cured through.

    The deepest point of a concave fillet lies 0.414 r under its face; 27.1 h x
    (depth / 3.5 mm)^2, at least 1 h. Standing: estimate; 3.5 mm in a day is near the
    cautious end of the 3 to 6 mm that are published.

    Args:
        fillet_radius_m: Radius r, m, above 0 to 0.05.

    Raises:
        ValueError: The radius is outside its range.
    """
    if not 0 < fillet_radius_m <= 0.05:
        raise ValueError(f"fillet radius {fillet_radius_m} m: want above 0 to 0.05 m")
    depth_m = 0.414 * fillet_radius_m
    return 60 * max(27.1 * (depth_m / 0.0035) ** 2, 1.0)


def fog_credit_minutes(grams_per_m2: float, share: float) -> float:
    """Reference minutes that fogging adds to a threshold of the face clock.

    The water added has to evaporate again before the clock is where it was: share x
    water / Eref. Standing: estimate.

    Args:
        grams_per_m2: Water fogged on, g/m2, 0 or more.
        share: Of evaporation in that threshold's clock, 0 to 1.

    Raises:
        ValueError: A value is outside its range.
    """
    if not 0 <= grams_per_m2 < inf:
        raise ValueError(f"fog of {grams_per_m2} g/m2: want 0 or more")
    _check_share(share)
    return share * grams_per_m2 / 1000 / _REFERENCE_EVAPORATION * 60


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
        p10, p50, p90 = (
            self.reaches(start, minutes)
            for minutes in (spread.p10, spread.p50, spread.p90)
        )
        if p10 is None or p50 is None or p90 is None:
            return None
        return Band(p10, p50, p90)

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
        self._clocks: dict[tuple[ClockName, Place, float | None, Covers], Clock] = {}

    def clock(
        self,
        name: ClockName,
        place: Place,
        share: float | None = None,
        covers: Covers = (),
    ) -> Clock:
        """The clock of a name at a place.

        Args:
            name: Of the law.
            place: Whose temperature it reads.
            share: Of evaporation, for ``face`` only; None is CLOSE_SHARE.
            covers: When the face was under plastic; other clocks do not heed it.

        Raises:
            ValueError: As ``law`` and ``Clock``.
        """
        heeded = covers if name == "face" else ()
        key = (name, place, share, heeded)
        known = self._clocks.get(key)
        if known is None:
            made = law(name, self._activation_energy, share)
            known = self._clocks[key] = Clock(made, self._cells, place, heeded)
        return known
