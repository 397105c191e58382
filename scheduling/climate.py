"""The climate of the shop over time: a typical day, bent to what was measured.

A climate answers two questions: what are the conditions at a place at an instant,
and at which instants may they change. Between two such instants they are treated
as constant, at their value in the middle.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from heapq import merge
from math import cos, exp, pi
from typing import Protocol

from scheduling.air import Conditions
from scheduling.shop import TypicalDay
from scheduling.thresholds import Place

COLDEST_C = -30.0
WARMEST_C = 60.0
"""Temperatures outside these, degC, are taken for a slip or a broken probe."""

BRIDGED_S = 2 * 3600.0
"""Longest time between two readings of the shop that a straight line may bridge, s
(estimate): across a night left out, the typical day knows more than a line."""

_DAY_S = 86400
_QUARTER = timedelta(minutes=15)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Climate(Protocol):
    """Conditions at every place and instant, past and to come."""

    def at(self, place: Place, when: datetime) -> Conditions:
        """Conditions at a place at an aware instant."""
        ...

    def air(self, when: datetime) -> Conditions:
        """Conditions of the shop air: those at the place ``shop``."""
        ...

    def edges(self, start: datetime) -> Iterator[datetime]:
        """Instants after start, increasing, between which nothing changes.

        Ends when nothing changes any more; a constant climate has no edges.
        """
        ...


def _check(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise ValueError(f"{what} {value:g} {unit}: want {low:g} to {high:g} {unit}")


def _check_temp(what: str, value: float) -> None:
    _check(what, value, COLDEST_C, WARMEST_C, "degC")


def _check_air(rh_pct: float, wind_kmh: float) -> None:
    _check("humidity", rh_pct, 0, 100, "%")
    _check("wind", wind_kmh, 0, 200, "km/h")


def _quarter_hours(start: datetime) -> Iterator[datetime]:
    """Quarter hours of the absolute grid after start, without end."""
    at = _EPOCH + (start - _EPOCH) // _QUARTER * _QUARTER
    while True:
        at += _QUARTER
        yield at


class Constant:
    """The same conditions at every place, always."""

    def __init__(
        self, temp_c: float, rh_pct: float = 50.0, wind_kmh: float = 0.0
    ) -> None:
        _check_temp("temperature", temp_c)
        _check_air(rh_pct, wind_kmh)
        self._conditions = Conditions(temp_c, rh_pct, wind_kmh)

    def at(self, place: Place, when: datetime) -> Conditions:  # noqa: ARG002 - alike everywhere, always
        """The one set of conditions."""
        return self._conditions

    def air(self, when: datetime) -> Conditions:
        """The one set of conditions."""
        return self.at("shop", when)

    def edges(self, start: datetime) -> Iterator[datetime]:  # noqa: ARG002 - never changes
        """No edges."""
        return iter(())


class DailyCycle:
    """The shop's typical day, over and over: half a cosine up, half a cosine down.

    The low and the high come at their local wall times, at every place alike.
    The shape is common practice, no source.
    """

    def __init__(self, day: TypicalDay, tz: tzinfo) -> None:
        """Takes the typical day as the shop's owner wrote it.

        Args:
            day: The day; its low is not above its high.
            tz: Zone in which its times are meant.

        Raises:
            ValueError: A value is outside its range, or low and high do not fit.
        """
        _check_temp("typical day's low", day.low_c)
        _check_temp("typical day's high", day.high_c)
        _check_air(day.rh_pct, day.wind_kmh)
        self._flat = day.low_c == day.high_c
        if day.low_c > day.high_c:
            raise ValueError(
                f"typical day: low {day.low_c:g} degC is above high {day.high_c:g} degC"
            )
        if day.low_at == day.high_at and not self._flat:
            raise ValueError(f"typical day: low and high are both at {day.low_at}")
        self._day = day
        self._tz = tz
        self._low_s = _seconds(day.low_at)
        self._rise_s = (_seconds(day.high_at) - self._low_s) % _DAY_S
        self._known: dict[int, Conditions] = {}

    def at(self, place: Place, when: datetime) -> Conditions:  # noqa: ARG002 - every place alike
        """Conditions at the local time of day of the instant, to the second."""
        return self.air(when)

    def air(self, when: datetime) -> Conditions:
        """Conditions of the shop air."""
        # What time it is in the shop costs more than all the rest.
        second = 0 if self._flat else _seconds(when.astimezone(self._tz))
        found = self._known.get(second)
        if found is None:
            found = Conditions(
                self._temp_c(second), self._day.rh_pct, self._day.wind_kmh
            )
            self._known[second] = found
        return found

    def edges(self, start: datetime) -> Iterator[datetime]:
        """The quarter hours; none when low and high are the same."""
        return iter(()) if self._flat else _quarter_hours(start)

    def _temp_c(self, second: int) -> float:
        if self._flat:
            return self._day.low_c
        since_low = (second - self._low_s) % _DAY_S
        if since_low < self._rise_s:
            turn = pi * since_low / self._rise_s
        else:
            turn = pi + pi * (since_low - self._rise_s) / (_DAY_S - self._rise_s)
        share = (1 - cos(turn)) / 2
        return self._day.low_c + (self._day.high_c - self._day.low_c) * share


def _seconds(at: time | datetime) -> int:
    return (at.hour * 60 + at.minute) * 60 + at.second


@dataclass(frozen=True, slots=True)
class Reading:
    """What was measured at one instant; None where nothing was.

    Attributes:
        at: When, aware.
        shop_c: Air of the shop, degC.
        form_c: Surface of the form, degC.
        mix_c: The mix, degC.
        piece_c: The piece, degC.
        rh_pct: Relative humidity of the air, percent.
        wind_kmh: Air speed over the form, km/h.

    Raises:
        ValueError: The instant is naive or a value is outside its range.
    """

    at: datetime
    shop_c: float | None = None
    form_c: float | None = None
    mix_c: float | None = None
    piece_c: float | None = None
    rh_pct: float | None = None
    wind_kmh: float | None = None

    def __post_init__(self) -> None:
        if self.at.tzinfo is None:
            raise ValueError(f"reading at {self.at}: want a time with its zone")
        for name in ("shop_c", "form_c", "mix_c", "piece_c"):
            value = getattr(self, name)
            if value is not None:
                _check_temp(name.removesuffix("_c"), value)
        _check_air(self.rh_pct or 0, self.wind_kmh or 0)


SHOP_FADE_S = 6 * 3600.0
"""How fast a shop off its typical day returns to it, time constant in s (estimate)."""

PLACE_FADE_S: dict[Place, float] = {
    "form": 3 * 3600.0,
    "mix": 67 * 60.0,
    "piece": 135 * 60.0,
}
"""How fast each place comes to the shop air, time constants in s: form an estimate;
mix a 22 mm shell open to air and piece the same under plastic and blanket, both
derived from the heat balance of a shell of one temperature."""


@dataclass(frozen=True, slots=True)
class _Series:
    """Values at increasing instants (s since 1970); equal instants keep the last."""

    times: tuple[float, ...]
    values: tuple[float, ...]

    @classmethod
    def of(cls, pairs: Iterable[tuple[float, float | None]]) -> _Series:
        known = {at: value for at, value in pairs if value is not None}
        return cls(tuple(known), tuple(known.values()))

    def held(self, at: float) -> float | None:
        """The last value up to an instant, None before the first."""
        after = bisect_right(self.times, at)
        return self.values[after - 1] if after else None

    def between(self, at: float, longest_s: float) -> float | None:
        """The value on the line between two instants.

        None outside them all, and where the two are further apart than ``longest_s``.
        """
        after = bisect_right(self.times, at)
        if not 0 < after < len(self.times):
            return None
        if self.times[after] - self.times[after - 1] > longest_s:
            return None
        return self._line(at, after)

    def fading(self, at: float, time_constant: float) -> float:
        """As ``between``, and outside the end value dying away in both directions."""
        times = self.times
        if not times:
            return 0.0
        if times[0] <= at < times[-1]:
            return self._line(at, bisect_right(times, at))
        end = -1 if at >= times[-1] else 0
        return self.values[end] * exp(-abs(at - times[end]) / time_constant)

    def _line(self, at: float, after: int) -> float:
        left, right = self.times[after - 1], self.times[after]
        start, end = self.values[after - 1], self.values[after]
        return start + (end - start) * (at - left) / (right - left)


class Measured:
    """A climate bent to readings; away from them it returns to the one beneath.

    Between two readings of the shop up to BRIDGED_S apart the air follows the straight
    line; further apart it is the climate beneath, shifted to meet them both; outside
    them all it is shifted to meet the nearest, the shift dying away. Form, mix and
    piece are offsets to the shop air, straight between their own readings and dying
    away outside them; without a reading they equal the shop air. Humidity and wind hold
    from each reading to the next. A shift or offset carried into far colder or warmer
    hours stops at COLDEST_C or WARMEST_C, as a reading would.
    """

    def __init__(self, base: Climate, readings: Iterable[Reading]) -> None:
        """Lays readings over a climate.

        Args:
            base: The climate where nothing was measured.
            readings: In any order; of several at one instant the last one given counts.
        """
        self._base = base
        ordered = sorted(readings, key=lambda reading: reading.at)
        stamped = [(reading.at.timestamp(), reading) for reading in ordered]
        self._shop = _Series.of((at, one.shop_c) for at, one in stamped)
        self._rh = _Series.of((at, one.rh_pct) for at, one in stamped)
        self._wind = _Series.of((at, one.wind_kmh) for at, one in stamped)
        self._shift = _Series.of(
            (at, one.shop_c - base.air(one.at).temp_c)
            for at, one in stamped
            if one.shop_c is not None
        )
        self._offsets: dict[Place, _Series] = {
            "form": self._offset_of((at, one.form_c) for at, one in stamped),
            "mix": self._offset_of((at, one.mix_c) for at, one in stamped),
            "piece": self._offset_of((at, one.piece_c) for at, one in stamped),
        }
        self._instants = [
            datetime.fromtimestamp(at, UTC) for at in dict.fromkeys(dict(stamped))
        ]
        # Of those nothing changes but on the quarter hours, which are edges anyway.
        self._own_edges = not isinstance(base, Constant | DailyCycle)

    def at(self, place: Place, when: datetime) -> Conditions:
        """Conditions at a place at an aware instant."""
        at = when.timestamp()
        base = self._base.air(when)
        temp_c = self._shop_c(at, base.temp_c)
        if place != "shop":
            temp_c += self._offsets[place].fading(at, PLACE_FADE_S[place])
        rh_pct = self._rh.held(at)
        wind_kmh = self._wind.held(at)
        if not COLDEST_C <= temp_c <= WARMEST_C:
            temp_c = min(max(temp_c, COLDEST_C), WARMEST_C)
        return Conditions(
            temp_c,
            base.rh_pct if rh_pct is None else rh_pct,
            base.wind_kmh if wind_kmh is None else wind_kmh,
        )

    def air(self, when: datetime) -> Conditions:
        """Conditions of the shop air."""
        return self.at("shop", when)

    def edges(self, start: datetime) -> Iterator[datetime]:
        """The quarter hours, the readings, and the edges of the climate beneath."""
        rest = self._instants[bisect_right(self._instants, start) :]
        beneath = self._base.edges(start) if self._own_edges else ()
        if not rest and not beneath:
            yield from _quarter_hours(start)
        last = None
        for edge in merge(_quarter_hours(start), beneath, rest):
            if edge != last:
                yield edge
            last = edge

    def _shop_c(self, at: float, base_c: float) -> float:
        inside = self._shop.between(at, BRIDGED_S)
        if inside is not None:
            return inside
        return base_c + self._shift.fading(at, SHOP_FADE_S)

    def _offset_of(self, pairs: Iterable[tuple[float, float | None]]) -> _Series:
        return _Series.of(
            (at, value - self._air_c(at)) for at, value in pairs if value is not None
        )

    def _air_c(self, at: float) -> float:
        base = self._base.air(datetime.fromtimestamp(at, UTC))
        return self._shop_c(at, base.temp_c)
