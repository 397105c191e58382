"""What happened to a pour: one event, and the JSON document it is stored as."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime
from typing import Any, Literal, get_args

from scheduling.errors import BadInput, LogFault
from scheduling.plainjson import Json, plain_json
from scheduling.pourname import check_pour_name

Kind = Literal[
    "started",
    "finished",
    "skipped",
    "touch",
    "reading",
    "weighed",
    "fogged",
    "covered",
    "uncovered",
    "resprayed",
    "hands",
    "note",
    "rang",
    "acknowledged",
    "corrected",
    "undone",
    "accepted",
    "sealed",
    "clock",
    "silenced",
    "tested",
    "refused",
    "past",
    "defect",
]
KINDS: tuple[Kind, ...] = get_args(Kind)

_MINUTES_A_DAY = 24 * 60
_YEARS = range(1970, 2101)  # 1970: a machine that lost its clock can still write


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened to one pour.

    Making one checks it, so that whatever exists can be stored and read back the
    same: times become UTC, ``data`` becomes a private copy with lists for tuples.

    Attributes:
        id: Unique across all writers; see ``new_event_id``.
        at: When it happened, aware.
        recorded_at: When it was written down, aware.
        boot: Boot-clock milliseconds and the first 8 characters of the boot id.
        zone_name: Local time zone of the writer, IANA name.
        offset_min: That zone's offset from UTC at the time, minutes.
        pour: Name of the pour.
        kind: What sort of thing happened.
        step: The step it is about, "" when none.
        zone: The zone of the form it is about, "" when none.
        by: Who said so, "" when nobody did.
        data: Whatever else belongs to the kind; JSON values.

    Raises:
        LogFault: A value that cannot be stored, named by its key.
        BadInput: A pour name that cannot be a file name.
    """

    id: str
    at: datetime
    recorded_at: datetime
    boot: tuple[int, str]
    zone_name: str
    offset_min: int
    pour: str
    kind: Kind
    step: str = ""
    zone: str = ""
    by: str = ""
    data: Mapping[str, Json] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        check_pour_name(self.pour)
        plain_json(self.id, "id")
        plain_json(self.zone_name, "zone_name")
        plain_json(self.step, "step")
        plain_json(self.zone, "zone")
        plain_json(self.by, "by")
        plain_json(self.boot[0], "boot[0]")
        plain_json(self.boot[1], "boot[1]")
        if not self.id:
            raise _refused("id", self.id, "an event needs an id")
        if self.kind not in KINDS:
            raise _refused("kind", self.kind, f"one of {', '.join(KINDS)}")
        if self.boot[0] < 0:
            raise _refused("boot", self.boot[0], "milliseconds, 0 or more")
        if not -_MINUTES_A_DAY < self.offset_min < _MINUTES_A_DAY:
            raise _refused("offset_min", self.offset_min, "less than a day")
        # A frozen value is settled here, once, while it is being made.
        settle = object.__setattr__
        settle(self, "at", _utc(self.at, "at"))
        settle(self, "recorded_at", _utc(self.recorded_at, "recorded_at"))
        settle(self, "data", plain_json(self.data, "data"))


_KEYS = tuple(each.name for each in fields(Event))
_STORED = [str, str, str, list, str, int, str, str, str, str, str, dict]
"""What a document holds under each of the keys."""


def new_event_id(recorded_at: datetime) -> str:
    """Makes an id that sorts by time of writing and that no other writer makes.

    Args:
        recorded_at: Aware time of writing, 1970 or later.
    """
    return f"{int(recorded_at.timestamp() * 1000):012x}-{os.urandom(4).hex()}"


def event_to_document(event: Event) -> dict[str, Json]:
    """The event as the JSON document that is stored; times are ISO 8601 in UTC."""
    document: dict[str, Json] = {key: getattr(event, key) for key in _KEYS}
    document["at"] = event.at.isoformat()
    document["recorded_at"] = event.recorded_at.isoformat()
    document["boot"] = list(event.boot)
    document["data"] = plain_json(event.data, "data")
    return document


def event_from_document(document: Mapping[str, object], where: str = "event") -> Event:
    """Reads an event back exactly; keys it does not know are left alone.

    Args:
        document: As ``event_to_document`` makes it.
        where: What to call the document in a fault.

    Raises:
        LogFault: A key is missing or holds something else than it should.
    """
    try:
        return _from_values([document.get(key) for key in _KEYS])
    except (ValueError, BadInput, LogFault) as error:
        raise LogFault(f"{where} is not an event: {error}") from error


def _from_values(values: list[Any]) -> Event:
    # All types at once: ten years are a million events. A bool is no number here.
    if list(map(type, values)) != _STORED:
        for key, value, want in zip(_KEYS, values, _STORED, strict=True):
            if type(value) is not want:
                raise _refused(key, value, f"should be {want.__name__}")
    id_, at, recorded_at, boot, zone_name, offset, pour, kind, step, zone, by, data = (
        values
    )
    return Event(
        id_,
        datetime.fromisoformat(at),
        datetime.fromisoformat(recorded_at),
        _boot(boot),
        zone_name,
        offset,
        pour,
        kind,
        step,
        zone,
        by,
        data,
    )


def _utc(moment: datetime, key: str) -> datetime:
    if moment.tzinfo is UTC and moment.year in _YEARS:  # nearly always
        return moment
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise _refused(key, moment, "a time with its offset from UTC")
    if moment.year in _YEARS and (utc := moment.astimezone(UTC)).year in _YEARS:
        return utc
    raise _refused(key, moment, f"years {_YEARS[0]} to {_YEARS[-1]}")


def _boot(value: list[Any]) -> tuple[int, str]:
    if list(map(type, value)) != [int, str]:
        raise _refused("boot", value, "should be milliseconds and a boot id")
    return value[0], value[1]


def _refused(key: str, value: object, want: str) -> LogFault:
    nested = isinstance(value, list | dict)  # may be too deep to print
    shown = type(value).__name__ if nested else ascii(value)[:80]
    return LogFault(f"{key}: {shown} - {want}")
