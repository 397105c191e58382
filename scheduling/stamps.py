"""Times as loggers write them: ISO, or day and month with slashes and dots, or elapsed.

Times that carry no offset are those of a clock on the wall in a given zone.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import Literal

from scheduling.csvtable import CellError
from scheduling.hours import wall_instant

YEARS = (2000, 2100)
"""First and last year of a time stamp; others are those of a clock that was not set."""

_WANT = "a time such as 2030-04-01 07:30, between 2000 and 2100"

_CLOCK = r"(?:[ T,]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?(?: ?([ap])\.?m\.?)?)?"
_YEAR_FIRST = re.compile(
    rf"(\d{{4}})([-/.])(\d{{1,2}})\2(\d{{1,2}}){_CLOCK}", re.ASCII | re.IGNORECASE
)
_YEAR_LAST = re.compile(
    rf"(\d{{1,2}})([-/.])(\d{{1,2}})\2(\d{{4}}|\d{{2}}){_CLOCK}",
    re.ASCII | re.IGNORECASE,
)
_ELAPSED = re.compile(r"(\d{1,6}):(\d{2})(?::(\d{2}(?:\.\d+)?))?", re.ASCII)

_ZERO = timedelta()

DayOrder = Literal["day/month/year", "month/day/year"]


def local_instant(stamp: datetime, tz: tzinfo, after: datetime | None) -> datetime:
    """The instant (UTC) of a time stamp in a file whose rows run on.

    In the hour that comes twice in autumn the second one is meant when the first would
    go back. A time that spring leaves out is the instant of the change.

    Args:
        stamp: The time; with an offset it is its own.
        tz: Zone of one without.
        after: The instant of the row before, if any.
    """
    if stamp.tzinfo is not None:
        return stamp.astimezone(UTC)
    first = wall_instant(stamp, tz)
    if after is None or first > after:
        return first
    return max(first, stamp.replace(tzinfo=tz, fold=1).astimezone(UTC))


@dataclass(frozen=True, slots=True)
class Stamped:
    """The time stamps of one file, read.

    Attributes:
        instants: Of each row, s since 1970 (UTC), or why there is none.
        order: How dates with slashes were read; None where the file has none.
        local: Whether some stamp carried no offset.
        kept: The offset that was kept throughout, of a logger whose clock was seen not
            to follow the zone's change; None else.
        backwards: Whether the file runs newest first.
    """

    instants: list[float | CellError]
    order: DayOrder | None
    local: bool
    kept: tzinfo | None
    backwards: bool


def read_stamps(texts: Sequence[str], tz: tzinfo) -> Stamped:
    """Reads the time stamps of a file whose rows run on, or back.

    Of "04/05/2030" the whole file tells whether it is day or month first: a number
    above 12 anywhere does, else the order that makes the file the shorter one, else
    the day is first. With dots the day is first.

    Many loggers keep the offset they were set to. A time that the zone leaves out in
    spring, or an hour that it has twice in autumn and the file once, tells such a one.

    Args:
        texts: The stamps, in the order of the file.
        tz: Zone of those that name none.
    """
    order = _order(texts)
    walls = [_wall(text, month_first=order == "month/day/year") for text in texts]
    known = [wall for wall in walls if isinstance(wall, datetime)]
    backwards = bool(known) and _bare(known[-1]) < _bare(known[0])
    onward = walls[::-1] if backwards else walls
    clock = _Clock(tz)
    instants = clock.instants(onward)
    kept = None
    if clock.stood:
        begun = known[-1] if backwards else known[0]
        kept = timezone(begun.replace(tzinfo=begun.tzinfo or tz).utcoffset() or _ZERO)
        instants = _Clock(kept).instants(onward)
    local = any(wall.tzinfo is None for wall in known)
    if backwards:
        instants.reverse()
    return Stamped(instants, order, local, kept, backwards)


class _Clock:
    """A logger's clock that goes by a zone.

    Attributes:
        passes: Whether a time in an hour that comes twice was the first or the second.
        left_out: Whether it showed a time that does not exist.
    """

    def __init__(self, tz: tzinfo) -> None:
        self.passes: set[bool] = set()
        self.left_out = False
        self._tz = tz
        self._offsets: dict[int, timedelta | None] = {}

    @property
    def stood(self) -> bool:
        """Whether the clock cannot have followed the zone's changes."""
        return self.left_out or self.passes == {False}

    def instants(
        self, walls: Sequence[datetime | CellError]
    ) -> list[float | CellError]:
        found: list[float | CellError] = []
        before: datetime | None = None
        for wall in walls:
            if isinstance(wall, CellError):
                found.append(wall)
                continue
            before = self._instant(wall, before)
            found.append(before.timestamp())
        return found

    def _instant(self, wall: datetime, before: datetime | None) -> datetime:
        if wall.tzinfo is not None:
            return wall.astimezone(UTC)
        offset = self._offset_all_day(wall)
        if offset is not None:
            return wall.replace(tzinfo=UTC) - offset
        instant = local_instant(wall, self._tz, before)
        early, late = (self._offset(wall.replace(fold=fold)) for fold in (0, 1))
        if early < late:
            self.left_out = True
        elif early > late:
            self.passes.add(wall.replace(tzinfo=UTC) - instant == late)
        return instant

    def _offset_all_day(self, wall: datetime) -> timedelta | None:
        """The offset of a day, unless a clock is changed on it or next to it."""
        day = wall.toordinal()
        if day not in self._offsets:
            noon = wall.replace(hour=12, minute=0, second=0, microsecond=0)
            around = {self._offset(noon + timedelta(days=days)) for days in (-2, 0, 2)}
            self._offsets[day] = around.pop() if len(around) == 1 else None
        return self._offsets[day]

    def _offset(self, wall: datetime) -> timedelta:
        return wall.replace(tzinfo=self._tz).utcoffset() or _ZERO


def elapsed_hours(text: str) -> float | None:
    """Reads time elapsed as ``h:mm`` or ``h:mm:ss``, h; None where it is not so."""
    found = _ELAPSED.fullmatch(text)
    if found is None:
        return None
    hours, minutes, seconds = found.groups(default="0")
    return int(hours) + int(minutes) / 60 + float(seconds) / 3600


def _bare(wall: datetime) -> datetime:
    return wall.replace(tzinfo=None)


def _wall(text: str, *, month_first: bool) -> datetime | CellError:
    """What the clock showed."""
    try:
        wall = datetime.fromisoformat(text)
    except ValueError:
        try:
            wall = _written(text, month_first=month_first)
        except ValueError:
            return CellError(text, _WANT)
    if not YEARS[0] <= wall.year <= YEARS[1]:
        return CellError(text, _WANT)
    return wall


def _written(text: str, *, month_first: bool) -> datetime:
    """A stamp that is not quite ISO, without a zone."""
    found = _YEAR_FIRST.fullmatch(text)
    if found is not None:
        year, _, month, day, *clock = found.groups()
    else:
        found = _YEAR_LAST.fullmatch(text)
        if found is None:
            raise ValueError(text)
        day, sign, month, year, *clock = found.groups()
        if month_first and sign != ".":
            day, month = month, day
        if len(year) == 2:
            year = f"20{year}"
    hour, minute, second = (int(part or 0) for part in clock[:3])
    if half := clock[3]:
        if not 1 <= hour <= 12:
            raise ValueError(text)
        hour = hour % 12 + (12 if half in "pP" else 0)
    return datetime(int(year), int(month), int(day), hour, minute, second)  # noqa: DTZ001 - a clock on the wall


def _order(texts: Sequence[str]) -> DayOrder | None:
    found = [one for text in texts if (one := _YEAR_LAST.match(text)) and one[2] != "."]
    if not found:
        return None
    dates = {(int(one[1]), int(one[3]), int(one[4])) for one in found}
    if any(first > 12 for first, _, _ in dates):
        return "day/month/year"
    if any(second > 12 for _, second, _ in dates):
        return "month/day/year"
    by_day = [(year, month, day) for day, month, year in dates]
    by_month = [(year, month, day) for month, day, year in dates]
    shorter = _days(by_month) < _days(by_day)
    return "month/day/year" if shorter else "day/month/year"


def _days(dates: Sequence[tuple[int, int, int]]) -> int:
    """About how many days lie between the first and the last."""
    numbers = [372 * year + 31 * month + day for year, month, day in dates]
    return max(numbers) - min(numbers)
