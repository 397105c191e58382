"""One face-coat window of a past pour as a shop keeps it on paper.

The paper has the clock times of four touches and one temperature. It says of the two
thresholds of the face coat what a touch test says: not yet at one time, so at another.

It has the first of each only, and so not how long before "gone" a finger last found the
coat workable. Who wrote when it was first gone was testing, though: it was workable a
gap between two tests before (see GAPS).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo

from scheduling.air import Conditions
from scheduling.climate import Reading
from scheduling.laws import (
    ACTIVATION_ENERGY,
    CLOSE_SHARE,
    OPEN_SHARE,
    Face,
    Hydration,
)
from scheduling.observation import ENERGIES, Mark, Observation
from scheduling.touch import TEST_EVERY

TOUCHES = ("last_soft", "first_ready", "first_going_off", "first_gone")
"""What may be known of a window, in the order it happens."""

LONGEST = timedelta(hours=12)
"""Time after the spraying within which a face coat is gone, in any climate."""

GAPS = 2
"""So many gaps between tests before it was first gone it still was not (estimate). One
would do if every gap were alike; two put the closing half a gap early on average."""

SAME_C = 0.05
"""Temperatures closer than this, degC, are one that was converted."""

YEARS = range(2000, 2101)
"""Years of a pour; others are a slip."""

_MINUTE = timedelta(minutes=1)
_EVAPORATION = Face(share=1.0)


@dataclass(frozen=True, slots=True)
class PastWindow:
    """A row of the paper; making one checks it.

    Attributes:
        day: That of the pour, local.
        mix: Of the face coat.
        zone: Of the form, or "".
        temp_c: Of the shop air, degC.
        rh_pct: Relative humidity, percent.
        wind_kmh: Air speed over the form, km/h.
        sprayed: When the zone had been sprayed, aware.
        last_soft: The last touch that found it soft, or None.
        first_ready: The first that found it ready, or None.
        first_going_off: The first that found it going off, or None.
        first_gone: The first that found it gone, or None.
        form_c: Of the form, degC; None is as warm as the air.
        rh_assumed: Whether the humidity is the typical day's and was not on the paper.

    Raises:
        ValueError: A value is out of its range, or the times are out of order.
    """

    day: date
    mix: str
    zone: str
    temp_c: float
    rh_pct: float
    wind_kmh: float
    sprayed: datetime
    last_soft: datetime | None = None
    first_ready: datetime | None = None
    first_going_off: datetime | None = None
    first_gone: datetime | None = None
    form_c: float | None = None
    rh_assumed: bool = False

    def __post_init__(self) -> None:
        touches = self.touches
        times = [self.sprayed, *touches.values()]
        if not touches:
            raise ValueError("want at least one touch")
        if any(at.utcoffset() is None or at.year not in YEARS for at in times):
            raise ValueError("want times with their offset, 2000 to 2100")
        if sorted(times) != times or times[-1] - times[0] > LONGEST:
            raise ValueError("want times in their order, within 12 h")
        Reading(
            at=self.sprayed,
            shop_c=self.temp_c,
            form_c=self.form_c,
            rh_pct=self.rh_pct,
            wind_kmh=self.wind_kmh,
        )

    @property
    def key(self) -> tuple[str, date, str, datetime]:
        """What tells it from every other window."""
        return (self.mix, self.day, self.zone, self.sprayed)

    @property
    def pour(self) -> str:
        """What to call the pour it was a part of."""
        return f"paper {self.day} {self.mix}"

    @property
    def touches(self) -> dict[str, datetime]:
        """The touches that are known, by their name in TOUCHES."""
        known = {name: getattr(self, name) for name in TOUCHES}
        return {name: at for name, at in known.items() if at is not None}

    def observations(self, energy: float = ACTIVATION_ENERGY) -> Iterator[Observation]:
        """What it says of the opening and of the closing of the face coat.

        Args:
            energy: Activation energy of the mix, kJ/mol: that of the marks where how
                much evaporated is not known.
        """
        hard = [at for name, at in self.touches.items() if name != "last_soft"]
        workable = [at for name, at in self.touches.items() if name != "first_gone"]
        first = min(hard, default=None)
        opens, closes = Face(OPEN_SHARE, energy), Face(CLOSE_SHARE, energy)
        yield from self._observed("face opens", opens, self.last_soft, first)
        if self.first_gone is not None:
            workable.append(self.first_gone - GAPS * self._gap)
        yield from self._observed(
            "face closes", closes, max(workable, default=None), self.first_gone
        )

    @property
    def _gap(self) -> timedelta:
        """Between two touch tests: that of the row where it is known."""
        if self.last_soft is None or self.first_ready is None:
            return TEST_EVERY
        return max(self.first_ready - self.last_soft, _MINUTE)

    def _observed(
        self, name: str, own: Face, after: datetime | None, before: datetime | None
    ) -> Iterator[Observation]:
        if after is not None and after <= self.sprayed:
            after = None  # it says nothing
        if before is not None:
            # The paper is written to the minute: what is first known in the minute of
            # the touch before it, or of the spraying, came about within that minute.
            before = max(before, (after or self.sprayed) + _MINUTE)
        if after is None and before is None:
            return
        yield Observation(
            pour=self.pour,
            at=self.sprayed,
            name=name,
            mix=self.mix,
            zone=self.zone,
            after=None if after is None else self._mark(after, own),
            before=None if before is None else self._mark(before, own),
            temp_c=self._form.temp_c,
            measured=not self.rh_assumed,
        )

    @property
    def _form(self) -> Conditions:
        temp_c = self.temp_c if self.form_c is None else self.form_c
        return Conditions(temp_c, self.rh_pct, self.wind_kmh)

    def _mark(self, at: datetime, own: Face) -> Mark:
        minutes = (at - self.sprayed) / _MINUTE
        form, air = self._form, Conditions(self.temp_c, self.rh_pct, self.wind_kmh)
        if self.rh_assumed:
            ran = minutes * own.rate(form, air, 1.0)
            return Mark(minutes, (ran, ran, ran), ran)
        low, middle, high = (
            minutes * Hydration(energy).rate(form, air, 1.0) for energy in ENERGIES
        )
        evaporation = minutes * _EVAPORATION.rate(form, air, 1.0)
        return Mark(minutes, (low, middle, high), evaporation)


def same(one: PastWindow, other: PastWindow) -> bool:
    """Whether two windows of one key say the same of what was on the paper."""
    near = abs(one.temp_c - other.temp_c) < SAME_C
    return one.touches == other.touches and near


def equal(one: PastWindow, other: PastWindow) -> bool:
    """Whether nothing would change if one took the place of the other."""
    return same(one, other) and replace(one, temp_c=other.temp_c) == other


def apart(one: PastWindow, other: PastWindow, zone: tzinfo) -> str:
    """What a window says differently from another of its key."""
    said = []
    for name in TOUCHES:
        at, instead = one.touches.get(name), other.touches.get(name)
        if at != instead:
            said.append(f"{name} {at.astimezone(zone):%H:%M}" if at else f"no {name}")
    if abs(one.temp_c - other.temp_c) >= SAME_C:
        said.append(f"{one.temp_c:.1f} degC")
    return ", ".join(said)
