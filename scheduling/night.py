"""The shop air quarter hour by quarter hour, and a night bent to another low."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from math import cos, pi

from scheduling.climate import COLDEST_C, WARMEST_C, Climate
from scheduling.hours import wall_instant
from scheduling.shop import TypicalDay

GRID_S = 900.0
"""Time between two instants at which the air is reckoned only once, s."""

_HOUR = timedelta(hours=1)
_SOON = _HOUR
_AFTER = 12 * _HOUR


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
            if not second % GRID_S:
                self._known[second] = known
        return known


@dataclass(frozen=True, slots=True)
class Night:
    """The coming night of a shop.

    Attributes:
        since: From when on it may be another than forecast.
        low_at: When it is coldest.
    """

    since: datetime
    low_at: datetime

    @classmethod
    def after(cls, since: datetime, day: TypicalDay, zone: tzinfo) -> Night:
        """The first night whose coldest hour is an hour or more away.

        Args:
            since: An aware instant.
            day: Says when a night is coldest.
            zone: Of the shop.
        """
        date = since.astimezone(zone).date()
        while True:
            low_at = wall_instant(datetime.combine(date, day.low_at), zone)
            if low_at >= since + _SOON:
                return cls(since, low_at)
            date += timedelta(days=1)

    def bend(self, air: ShopAir, low_c: float) -> ShopAir:
        """The air with another low: bent towards it, and twelve hours back from it.

        Args:
            air: As forecast.
            low_c: What it is to be at ``low_at``, degC.
        """
        shift = low_c - air.at(self.low_at.timestamp())

        def temp_c(when: datetime) -> float:
            bent = air.at(when.timestamp()) + shift * self._share(when)
            return min(max(bent, COLDEST_C), WARMEST_C)

        return ShopAir(temp_c)

    def _share(self, when: datetime) -> float:
        """How much of the shift there is, 0 to 1, without a corner anywhere."""
        length = self.low_at - self.since if when < self.low_at else _AFTER
        away = abs(when - self.low_at) / length
        return (1 + cos(pi * away)) / 2 if away < 1 else 0.0
