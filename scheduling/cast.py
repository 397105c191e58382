"""A piece from its casting on: the hydration clock that knows how warm the piece is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from math import inf
from threading import RLock

from scheduling.climate import Climate, Reading
from scheduling.clocks import Band, Clock, reached
from scheduling.covering import CoverChanges
from scheduling.job import Bare, Piece
from scheduling.laws import Hydration
from scheduling.night import GRID_S, ShopAir
from scheduling.shell import CoverName, Shell
from scheduling.shop import Mix
from scheduling.spread import Spread
from scheduling.thresholds import Threshold
from scheduling.warmth import Body, Warmth

STANDING = "piece temperature by a heat balance, indicative"
"""What to say beside an instant that hangs on it."""

THICKEST = 0.3
"""Thickness beyond which a piece is reckoned as one of this, m: no shell any more."""

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


@dataclass(slots=True)
class Casts:
    """The castings of one pour, forecast or done; each is followed only once.

    Attributes:
        body: What warms and cools the piece.
        climate: That of the pour, for the mix, and the piece when its heat is gone.
        later: The hydration clock at the piece of that climate.
        lock: Held while a casting is followed: screens ask from threads of their own.
    """

    body: Body
    climate: Climate
    later: Clock
    lock: RLock = field(init=False, default_factory=RLock)
    _casts: dict[tuple[datetime, CoverChanges], Cast] = field(
        init=False, default_factory=dict
    )

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
        pieces = {r.at.timestamp(): r.piece_c for r in ordered if r.piece_c is not None}
        air = ShopAir.of(climate)
        body = Body(shell, shell.hydration(), air, pieces, activation_energy)
        return cls(body, climate, later)

    def in_air(self, air: ShopAir) -> Casts:
        """The same pour in other air."""
        return Casts(replace(self.body, air=air), self.climate, self.later)

    def cast(self, at: datetime, covers: CoverChanges = ()) -> Cast:
        """The piece cast at an instant.

        Args:
            at: Casting: when the screed was done.
            covers: What lies over it from when on; those before casting lie from then.
        """
        with self.lock:
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


class PieceClock:
    """The hydration clock of one piece: it runs as warm as the piece is."""

    def __init__(
        self, warmth: Warmth, later: Clock, lock: RLock, energy: float | None = None
    ) -> None:
        """Sets the clock up.

        Args:
            warmth: The piece.
            later: The same clock when the piece is no longer followed.
            lock: Held while the piece is followed.
            energy: Activation energy, kJ/mol; None is that of the mix.
        """
        self._warmth = warmth
        self._later = later
        self._lock = lock
        self._energy = energy
        self._end = datetime.fromtimestamp(warmth.end, UTC)

    def elapsed(self, start: datetime, end: datetime) -> float:
        """Reference minutes between two instants.

        Raises:
            ValueError: The end is before the start.
        """
        if end < start:
            raise ValueError(f"elapsed from {start} back to {end}")
        later = 0.0
        if end > self._end:
            later = self._later.elapsed(max(start, self._end), end)
        if start >= self._end:
            return later
        with self._lock:
            _, first = self._aged(start)
            _, last = self._aged(min(end, self._end))
        return later + 60 * (last - first)

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
        if start >= self._end:
            return self._later.reaches(start, reference_min)
        with self._lock:
            age = self._aged(start)[1] + reference_min / 60
            second = self._warmth.reached(age, self._energy)
            if second is None:
                last = self._warmth.at(self._warmth.end, self._energy)[1]
                left = 60 * (age - last)
                return self._later.reaches(self._end, left)
        return max(datetime.fromtimestamp(second, UTC), start.astimezone(UTC))

    def quantiles(self, start: datetime, spread: Spread) -> Band | None:
        """When a threshold is reached, as a band; None if its P90 never is."""
        return reached(self.reaches, start, spread)

    def _aged(self, when: datetime) -> tuple[float, float]:
        return self._warmth.at(when.timestamp(), self._energy)


class Cast(PieceClock):
    """One piece from its casting; as a clock it runs as warm as the piece is.

    Attributes:
        casts: The castings it belongs to.
        at: Casting.
        covers: What lies over it from when on.
    """

    def __init__(self, casts: Casts, at: datetime, covers: CoverChanges) -> None:
        """Sets the piece up; ``Casts.cast`` keeps what was reckoned before."""
        self.casts = casts
        self.at = at
        self.covers = covers
        turns = tuple((when.timestamp(), name) for when, name in covers)
        mix_c = casts.climate.at("mix", at).temp_c
        warmth = Warmth(casts.body, at.timestamp(), mix_c, turns)
        super().__init__(warmth, casts.later, casts.lock)
        self._others: dict[float, PieceClock] = {}

    def at_energy(self, energy: float | None) -> PieceClock:
        """The clock of the same piece at another activation energy, kJ/mol.

        None is that of the mix.
        """
        if energy is None:
            return self
        known = self._others.get(energy)
        if known is None:
            later = self._later.by(Hydration(energy))
            known = PieceClock(self._warmth, later, self._lock, energy)
            self._others[energy] = known
        return known

    # -- as a thermometer

    def fares(self, when: datetime) -> tuple[float, float]:
        """Temperature, degC, and equivalent age since casting, h at 21 degC.

        Before casting the age is under 0 and the temperature that at casting.
        """
        with self.casts.lock:
            temp_c, age_h = self._warmth.at(min(when, self._end).timestamp())
        if when > self._end:
            temp_c = self.casts.climate.at("piece", when).temp_c
            age_h += self.casts.later.elapsed(self._end, when) / 60
        return temp_c, age_h

    def temp_c(self, when: datetime) -> float:
        """Temperature of the piece, degC; before casting as at casting."""
        return self.fares(when)[0]

    def air_c(self, when: datetime) -> float:
        """Temperature of the shop air, degC."""
        return self.casts.body.air.at(when.timestamp())

    def extremes(self, start: datetime, end: datetime) -> tuple[float, float]:
        """Coldest and warmest of the piece from one instant to another, degC."""
        with self.casts.lock:
            temps = self._warmth.temps(start.timestamp(), end.timestamp())
        when = max(start, self._end)
        while when < end:
            when = min(when + timedelta(seconds=GRID_S), end)
            temps.append(self.temp_c(when))
        return min(temps), max(temps)

    def cover(self, when: datetime) -> CoverName:
        """What lies over the piece."""
        return self._warmth.cover(when.timestamp())

    @property
    def measured(self) -> tuple[tuple[datetime, float], ...]:
        """The readings of the piece since casting, degC."""
        readings = self.casts.body.readings
        return tuple(
            (datetime.fromtimestamp(when, UTC), readings[when])
            for when in self._warmth.read
        )

    def under(self, cover: CoverName, since: datetime) -> Cast:
        """The same piece, but under one cover from an instant on."""
        kept = tuple(change for change in self.covers if change[0] < since)
        other = Cast(self.casts, self.at, (*kept, (since, cover)))
        with self.casts.lock:
            other._warmth.take_over(self._warmth, since.timestamp())
        return other
