"""When the shop is open, and how wall time and instants hang together.

Everything given and taken is an aware instant; wall times appear only where the
shop's hours are read, and are resolved once per local day.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from math import inf
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduling.shop import WEEKDAYS, Hours, Person

if TYPE_CHECKING:
    from dateutil.rrule import rrule, rruleset

HORIZON_DAYS = 400
"""How far ahead an open stretch is looked for, days."""

RULE_START = datetime(2001, 1, 1)  # noqa: DTZ001 - a wall time, as the rule's days are
"""First day, a Monday, of a rule for days off that names no DTSTART."""

_DAY = timedelta(days=1)
_MINUTE = timedelta(minutes=1)
_SECOND = timedelta(seconds=1)
_ZERO = timedelta()

_Stretch = tuple[datetime, datetime]


def local_zone(name: str) -> tzinfo:
    """The time zone of an IANA name, or the machine's own for an empty one.

    Raises:
        ValueError: There is no zone of that name.
    """
    if not name:
        from dateutil.tz import gettz, tzlocal  # noqa: PLC0415 - after the first paint

        return gettz() or tzlocal()
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(f"no time zone is named {name!r}") from error


def wall_instant(wall: datetime, tz: tzinfo) -> datetime:
    """The first instant (UTC) at which clocks on the wall show a time or a later one.

    A time that comes twice in autumn is therefore the first of the two, and one that
    is left out in spring is the instant of the change.

    Args:
        wall: What the clock shows, without a zone.
        tz: Zone of the clock, which changes at most once within a day of it.
    """
    bare = wall.replace(tzinfo=UTC, fold=0)
    early, late = sorted(bare - _offset(bare + side, tz) for side in (-_DAY, _DAY))
    for instant in (early, late):
        if instant + _offset(instant, tz) == bare:
            return instant
    return _change(early.replace(microsecond=0), late.replace(microsecond=0), tz)


def _change(before: datetime, past: datetime, tz: tzinfo) -> datetime:
    """The second at which the offset of the later instant begins."""
    offset = _offset(past, tz)
    while past - before > _SECOND:
        middle = before + (past - before) // (2 * _SECOND) * _SECOND
        if _offset(middle, tz) == offset:
            past = middle
        else:
            before = middle
    return past


def _offset(instant: datetime, tz: tzinfo) -> timedelta:
    return instant.astimezone(tz).utcoffset() or _ZERO


class ShopHours:
    """The shop's calendar: when hands are there to work.

    A stretch is a time between opening, breaks and closing in which nothing
    interrupts the work.
    """

    def __init__(self, hours: Hours, people: Iterable[Person], tz: tzinfo) -> None:
        """Takes the hours as the shop's owner wrote them.

        Args:
            hours: Opening hours and days off.
            people: Everyone who works there.
            tz: Zone in which the hours are meant.

        Raises:
            ValueError: The rule for days off cannot be read, or goes by the hour.
        """
        self._hours = hours
        self._people = tuple(people)
        self._tz = tz
        self._closed = frozenset(hours.closed)
        self._rule = _day_rule(hours.closed_rule) if hours.closed_rule else None
        self._closed_by_year: dict[int, frozenset[date]] = {}
        self._days: dict[date, tuple[_Stretch, ...]] = {}
        self._longest = max(
            (end - start for start, end in self._pieces(RULE_START.date())),
            default=_ZERO,
        )

    def is_open(self, at: datetime) -> bool:
        """Whether the shop is open and not on a break; not any more at the end."""
        return any(start <= at < end for start, end in self._stretches(self._date(at)))

    def next_open(self, at: datetime) -> datetime:
        """The instant itself when open, else the next one that is.

        Raises:
            ValueError: The shop does not open within HORIZON_DAYS.
        """
        start, _ = next(self._ahead(at))
        return start

    def fits(self, start: datetime, minutes: float) -> datetime:
        """Earliest start at which work fits in before the next break or closing.

        Args:
            start: Not before this.
            minutes: Length of the work, 0 or more. Work longer than every stretch
                may be interrupted and starts at the next opening.

        Raises:
            ValueError: As ``next_open``.
        """
        need = _length(minutes)
        if need > self._longest:
            return self.next_open(start)
        return next(begin for begin, end in self._ahead(start) if end - begin >= need)

    def finish(self, start: datetime, minutes: float) -> datetime:
        """End of work that pauses whenever the shop is closed or on a break.

        Args:
            start: Not before this; work of no length ends here.
            minutes: Open time that the work takes, 0 or more.

        Raises:
            ValueError: The shop is not open for long enough within HORIZON_DAYS.
        """
        left = _length(minutes)
        if not left:
            return start.astimezone(UTC)
        for begin, end in self._ahead(start):
            if begin + left <= end:
                return begin + left
            left -= end - begin
        raise self._never(start)

    def day_close(self, at: datetime) -> datetime:
        """Closing of the working day at hand, or of the next one if that is over.

        Raises:
            ValueError: As ``next_open``.
        """
        _, end = next(self._ahead(at))
        return self._stretches(self._date(end - _SECOND))[-1][1]

    def next_day_open(self, at: datetime) -> datetime:
        """The next morning's opening: the first of a working day after the instant.

        Raises:
            ValueError: As ``next_open``.
        """
        for stretches in self._days_ahead(at):
            if stretches and stretches[0][0] > at:
                return stretches[0][0]
        raise self._never(at)

    def working_minutes(self, start: datetime, end: datetime) -> float:
        """Open time between two instants, min.

        Raises:
            ValueError: The end is before the start.
        """
        first, past = start.astimezone(UTC), end.astimezone(UTC)
        if past < first:
            raise ValueError(f"working time from {start} back to {end}")
        total = _ZERO
        day, last = self._date(start), self._date(end)
        while day <= last:
            for opens, closes in self._stretches(day):
                total += max(min(closes, past) - max(opens, first), _ZERO)
            day += _DAY
        return total / _MINUTE

    def hands(self, at: datetime) -> int:
        """How many people are in on the local day of an instant."""
        return len(self.who(at))

    def who(self, at: datetime) -> tuple[str, ...]:
        """Who is in on the local day of an instant; nobody on a day off."""
        day = self._date(at)
        if not self._works(day):
            return ()
        weekday = WEEKDAYS[day.weekday()]
        return tuple(one.name for one in self._people if weekday in one.days)

    def _date(self, at: datetime) -> date:
        return at.astimezone(self._tz).date()

    def _ahead(self, at: datetime) -> Iterator[_Stretch]:
        """What is left of every stretch from an instant on, then an error."""
        first = at.astimezone(UTC)
        for stretches in self._days_ahead(at):
            for start, end in stretches:
                if first < end:
                    yield max(start, first), end
        raise self._never(at)

    def _days_ahead(self, at: datetime) -> Iterator[tuple[_Stretch, ...]]:
        day = self._date(at)
        for ahead in range(HORIZON_DAYS + 1):
            yield self._stretches(day + ahead * _DAY)

    def _never(self, at: datetime) -> ValueError:
        return ValueError(
            f"within {HORIZON_DAYS} days of {self._date(at)} the shop does not open, "
            "or not for long enough"
        )

    def _stretches(self, day: date) -> tuple[_Stretch, ...]:
        known = self._days.get(day)
        if known is None:
            known = tuple(self._pieces(day)) if self._works(day) else ()
            self._days[day] = known
        return known

    def _works(self, day: date) -> bool:
        return (
            WEEKDAYS[day.weekday()] in self._hours.days
            and day not in self._closed
            and day not in self._closed_in(day.year)
        )

    def _pieces(self, day: date) -> Iterator[_Stretch]:
        """The stretches of a working day: opening to closing less the breaks."""
        at = self._instant(day, self._hours.opens)
        closes = self._instant(day, self._hours.closes)
        for pause, back in sorted(self._hours.breaks):
            until = min(self._instant(day, pause), closes)
            if at < until:
                yield at, until
            at = max(at, self._instant(day, back))
        if at < closes:
            yield at, closes

    def _instant(self, day: date, wall: time) -> datetime:
        return wall_instant(datetime.combine(day, wall), self._tz)

    def _closed_in(self, year: int) -> frozenset[date]:
        """The days of a year that the rule takes off."""
        if self._rule is None:
            return frozenset()
        known = self._closed_by_year.get(year)
        if known is None:
            first = datetime(year, 1, 1)  # noqa: DTZ001 - as RULE_START
            days = self._rule.between(
                first, first.replace(year=year + 1) - _SECOND, inc=True
            )
            known = frozenset(day.date() for day in days)
            self._closed_by_year[year] = known
        return known


def _day_rule(text: str) -> rrule | rruleset:
    """Reads a rule for days off.

    Raises:
        ValueError: It is no rule, or recurs more often than daily.
    """
    if any(word in text.upper() for word in ("HOURLY", "MINUTELY", "SECONDLY")):
        raise ValueError(f"rule for days off {text!r}: want days, not hours")
    from dateutil.rrule import rrulestr  # noqa: PLC0415 - after the first paint

    try:
        return rrulestr(text, dtstart=RULE_START, cache=True)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise ValueError(f"rule for days off {text!r}: {error}") from error


def _length(minutes: float) -> timedelta:
    if not 0 <= minutes < inf:
        raise ValueError(f"work of {minutes} min: want 0 or more")
    return timedelta(minutes=minutes)
