"""Times as a person types them, read strictly, and said back in full.

A time that could be meant in two ways is refused with the ways it could be meant;
the one doubt that comes back as two answers is the hour that happens twice when
the clocks go back, because only the person who was there knows which it was.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Literal

from scheduling.errors import BadInput, Fault
from scheduling.shop import WEEKDAYS

Lean = Literal["near", "past", "future"]
"""Which day is meant when none is named: the nearest, or only past or future ones."""

REACH = timedelta(hours=18)
"""How far from now a time without a date may lie."""

MOST_CHARACTERS = 25
YEARS = range(2020, 2101)

_TIE = timedelta(hours=1)  # two days this nearly as near are one as likely as the other
_FORMS = (
    "write 7:30, tomorrow 7:30, Tue 7:30, 2030-04-01 7:30, now, +20, -5, +1h30 "
    "or in 20 min"
)
_MINUTES = re.compile(r"([+-][0-9]{1,4})|in +([0-9]{1,4}) +min")
_HOURS_MINUTES = re.compile(r"\+([0-9]{1,2})h([0-5][0-9])")
_CLOCK = r"([0-9]{1,2})[:.]([0-9]{2})"
_BARE = re.compile(_CLOCK)
_DAY_FIRST = re.compile(rf"([a-z]+) +{_CLOCK}")
_DAY_LAST = re.compile(rf"{_CLOCK} +(tomorrow)")
_DATED = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2}) +([0-9]{1,2}):([0-9]{2})")
_ISO = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})T([0-9]{2}):([0-9]{2})(?::([0-9]{2}))?"
    r"(Z|[+-][0-9]{2}:[0-9]{2})?"
)
_NEAR_DAYS = {"yesterday": -1, "today": 0, "tomorrow": 1}
_LONG_WEEKDAYS = (
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
)
_WEEKDAY_NUMBERS = {
    name.lower(): number
    for names in (WEEKDAYS, _LONG_WEEKDAYS)
    for number, name in enumerate(names)
}
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True, slots=True)
class Typed:
    """What a typed time means.

    Attributes:
        text: As typed.
        instants: One instant in UTC; two when that wall time happens twice, and
            then the person has to be asked. Nearest to now first.
        dated: Whether a day or date was named.
    """

    text: str
    instants: tuple[datetime, ...]
    dated: bool


def read_time(text: str, now: datetime, zone: tzinfo, *, lean: Lean = "near") -> Typed:
    """Reads a typed time.

    Read are ``now``, ``+20``, ``-5``, ``+1h30``, ``in 20 min``, ``7:30``, ``7.30``,
    the last two after today, tomorrow, yesterday or a weekday or before tomorrow,
    ``2030-04-01 7:30``, and for scripts ISO 8601 with or without an offset. 24:00 is
    the midnight that ends the day.

    Args:
        text: ASCII, at most 25 characters.
        now: Aware.
        zone: The shop's, for every time without an offset of its own.
        lean: Which day is meant by a bare 7:30 or a weekday: the nearest, or the
            nearest of those behind or ahead (the running minute is both).

    Raises:
        BadInput: Not one of these forms, outside the years 2020 to 2100, more than
            18 hours away without a date, skipped when the clocks go forward, or
            about as near on two days.
        ValueError: now is naive.
    """
    if now.tzinfo is None:
        raise ValueError("now must be aware")
    if now.year not in YEARS:
        raise _refused(text, f"the clock of this machine says the year {now.year}")
    return _Reader(text, now.astimezone(UTC), zone, lean).read()


def say(instant: datetime, zone: tzinfo, now: datetime) -> str:
    """Says an instant in full, for a person to check before it is saved.

    Example:
        ``Mon 1 April 2030 07:30 Europe/Oslo (UTC+02:00), in 2 h 10``

    Args:
        instant: Aware.
        zone: To say it in.
        now: Aware; the distance is to the nearest minute, hours up to two days.
    """
    local = instant.astimezone(zone)
    name = getattr(zone, "key", None) or local.tzname()
    day = f"{WEEKDAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]}"
    offset = f"{local:%z}"
    return (
        f"{day} {local.year} {local:%H:%M} {name} "
        f"(UTC{offset[:3]}:{offset[3:5]}), {_distance(instant - now)}"
    )


@dataclass(frozen=True, slots=True)
class _Reader:
    """One typed time and what it is read against; now is in UTC."""

    text: str
    now: datetime
    zone: tzinfo
    lean: Lean

    def read(self) -> Typed:
        if len(self.text) > MOST_CHARACTERS or not self.text.isascii():
            raise self._refused(f"at most {MOST_CHARACTERS} plain letters and digits")
        words = self.text.strip(" ")
        if (minutes := self._minutes(words.lower())) is not None:
            return self._typed([self.now + minutes], dated=False)
        if found := _ISO.fullmatch(words):
            return self._iso(*found.groups())
        if found := _DATED.fullmatch(words):
            day, hour, minute = found.groups()
            return self._on(self._wall(self._date(day), hour, minute))
        return self._day_and_clock(words.lower())

    def _minutes(self, words: str) -> timedelta | None:
        if words == "now":
            return timedelta()
        if found := _MINUTES.fullmatch(words):
            away = timedelta(minutes=int(found[1] or found[2]))
        elif found := _HOURS_MINUTES.fullmatch(words):
            away = timedelta(hours=int(found[1]), minutes=int(found[2]))
        else:
            return None
        if abs(away) > REACH:
            raise self._refused("more than 18 h away; name the day: tomorrow 7:30")
        return away

    def _day_and_clock(self, words: str) -> Typed:
        if found := _BARE.fullmatch(words):
            walls = self._walls((-1, 0, 1), found[1], found[2])
            return self._typed(self._nearest(walls, REACH), dated=False)
        if found := _DAY_LAST.fullmatch(words):
            hour, minute, word = found.groups()
        elif found := _DAY_FIRST.fullmatch(words):
            word, hour, minute = found.groups()
        elif words.isdecimal():
            raise self._refused(f"a bare number could be hours or minutes; {_FORMS}")
        else:
            raise self._refused(_FORMS)
        if word in _NEAR_DAYS:
            return self._on(*self._walls((_NEAR_DAYS[word],), hour, minute))
        if word not in _WEEKDAY_NUMBERS:
            raise self._refused(f"'{word}' is no day; {_FORMS}")
        ahead = (_WEEKDAY_NUMBERS[word] - self._today().weekday()) % 7
        walls = self._walls((ahead - 7, ahead, ahead + 7), hour, minute)
        return self._typed(self._nearest(walls, timedelta(days=8)), dated=True)

    def _iso(
        self, day: str, hour: str, minute: str, second: str | None, offset: str | None
    ) -> Typed:
        wall = self._wall(self._date(day), hour, minute)
        if second is not None:
            if int(second) > 59 or (hour == "24" and int(second)):
                raise self._refused("seconds are 00 to 59, and 24:00:00 ends a day")
            wall += timedelta(seconds=int(second))
        if offset is None:
            return self._on(wall)
        fixed = wall.replace(tzinfo=self._fixed_zone(offset))
        return self._typed([fixed.astimezone(UTC)], dated=True)

    def _fixed_zone(self, offset: str) -> timezone:
        if offset == "Z":
            return UTC
        ahead = timedelta(hours=int(offset[1:3]), minutes=int(offset[4:]))
        if int(offset[4:]) > 59 or ahead > timedelta(hours=14):
            raise self._refused("an offset is -14:00 to +14:00")
        return timezone(-ahead if offset[0] == "-" else ahead)

    def _date(self, day: str) -> date:
        try:
            found = date.fromisoformat(day)
        except ValueError as error:
            raise self._refused("there is no such date") from error
        if found.year not in YEARS:
            raise self._refused(f"years {YEARS[0]} to {YEARS[-1]}")
        return found

    def _today(self) -> date:
        return self.now.astimezone(self.zone).date()

    def _wall(self, day: date, hour: str, minute: str) -> datetime:
        hours, minutes = int(hour), int(minute)
        if minutes > 59 or hours > 24 or (hours == 24 and minutes):
            raise self._refused("a clock time is 0:00 to 23:59, or 24:00")
        return datetime.combine(day, time()) + timedelta(hours=hours, minutes=minutes)

    def _walls(self, days: Iterable[int], hour: str, minute: str) -> list[datetime]:
        today = self._today()
        return [self._wall(today + timedelta(days=day), hour, minute) for day in days]

    def _on(self, wall: datetime) -> Typed:
        return self._typed(self._instants(wall), dated=True)

    def _nearest(self, walls: Iterable[datetime], reach: timedelta) -> list[datetime]:
        """The instants of the wall time nearest to now that the lean allows."""
        ranked = []
        for wall in walls:
            # One that the clocks skip takes part too: it may be the one meant, and
            # then that has to be said.
            instants = shown_as(wall, self.zone) or [_utc(wall, self.zone, fold=0)]
            if fitting := self._fitting(instants, reach):
                ranked.append((min(map(self._away, fitting)), wall))
        ranked.sort()
        match ranked:
            case []:
                where = {"past": "behind", "future": "ahead"}.get(self.lean, "near")
                raise self._refused(f"too far {where}; name the day: tomorrow 7:30")
            case [(first, one), (second, other), *_] if second - first < _TIE:
                raise self._refused(
                    f"about as near on two days; write {_dated(one)} or {_dated(other)}"
                )
        return self._fitting(self._instants(ranked[0][1]), reach)

    def _fitting(
        self, instants: Iterable[datetime], reach: timedelta
    ) -> list[datetime]:
        # The running minute is behind and ahead: 7:30 typed at 7:30:20 is now.
        this_minute = self.now.replace(second=0, microsecond=0)
        return [
            instant
            for instant in instants
            if self._away(instant) <= reach
            and (self.lean != "past" or instant <= self.now)
            and (self.lean != "future" or instant >= this_minute)
        ]

    def _away(self, instant: datetime) -> timedelta:
        return abs(instant - self.now)

    def _instants(self, wall: datetime) -> list[datetime]:
        if instants := shown_as(wall, self.zone):
            return instants
        raise self._refused(left_out(wall, self.zone))

    def _typed(self, instants: Iterable[datetime], *, dated: bool) -> Typed:
        ordered = tuple(sorted(instants, key=self._away))
        for instant in ordered:
            if instant.astimezone(self.zone).year not in YEARS:
                raise self._refused(f"years {YEARS[0]} to {YEARS[-1]}")
        return Typed(self.text, ordered, dated)

    def _refused(self, want: str) -> BadInput:
        return _refused(self.text, want)


def _refused(text: str, want: str) -> BadInput:
    return BadInput(Fault("time", "", ascii(text[:MOST_CHARACTERS]), want))


def _utc(wall: datetime, zone: tzinfo, *, fold: int) -> datetime:
    return wall.replace(tzinfo=zone, fold=fold).astimezone(UTC)


def shown_as(wall: datetime, zone: tzinfo) -> list[datetime]:
    """The instants at which a clock in the zone shows this: none, one or two."""
    both = {_utc(wall, zone, fold=fold) for fold in (0, 1)}
    return sorted(
        instant
        for instant in both
        if instant.astimezone(zone).replace(tzinfo=None) == wall
    )


def left_out(wall: datetime, zone: tzinfo) -> str:
    """Says that clocks in a zone never show this, and what may be meant."""
    later, earlier = (_utc(wall, zone, fold=fold).astimezone(zone) for fold in (0, 1))
    return (
        "the clocks go forward over that time and it does not exist; "
        f"write {_dated(earlier)} or {_dated(later)}"
    )


def _dated(wall: datetime) -> str:
    return f"{wall:%Y-%m-%d} {wall.hour}:{wall:%M}"


def _distance(away: timedelta) -> str:
    minutes = round(abs(away) / timedelta(minutes=1))
    hours = minutes // 60
    if not minutes:
        return "now"
    if not hours:
        length = f"{minutes} min"
    elif hours < 48:
        length = f"{hours} h {minutes % 60:02d}"
    else:
        length = f"{hours // 24} d {hours % 24} h"
    return f"{length} ago" if away < timedelta() else f"in {length}"
