"""A defect somebody found: its code, and what an event of the log says of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

from scheduling.event import Event
from scheduling.process import StepKey
from scheduling.timeline import OVER, Timeline

FoundAt = Literal["demould", "hone", "seal", "client"]
FOUND_AT: tuple[FoundAt, ...] = get_args(FoundAt)
"""When a defect comes to light, in the order of the work."""

ACTIONS = ("accept", "hone", "slurry", "patch", "strip-sealer", "recast")
"""What is done about it."""

OTHER = "other"

CODES: dict[str, str] = {
    "ghosting": "lift 1 too soon? face thin? rolled too hard?",
    "craze": "face dried out? lift 1 late? rich face? a fan?",
    "peel": "lift 1 late? cold lap? oily release?",
    "pinholes": "release in puddles? corners not brushed? dust?",
    "soft-spot": "sugar of bare wood? edge unsealed? retarder?",
    "curl": "dried from one side? flat on a bench? thin polymer?",
    "slump": "mix wet? pads thick? no wait before lift 2?",
    "chipped-arris": "demoulded early? no fillet? corner without fibre?",
    "blotch": "plastic wrinkled? water uneven? batches mixed?",
    "haze": "sealed damp? dew? next coat too soon?",
    "film-peel": "ground dry? recoat window missed? silicone?",
    "efflorescence": "wetted before it was dry? free lime? no pozzolan?",
    "out-of-size": "form spread? template mirrored? shrink forgotten?",
    OTHER: "say in the line what it is",
}
"""What to look at first, by the code of the defect: common practice, no source. It is
where to begin to look, and not what it was."""

MOST_EXTRA_MIN = 60_000.0
"""Person-minutes above which the extra work of a defect is a slip: a thousand hours."""


@dataclass(frozen=True, slots=True)
class Defect:
    """One defect of one pour, as somebody wrote it down.

    Attributes:
        event: Id of the event that says so.
        at: When it was found.
        code: One of CODES; OTHER for what this program has no code for.
        zone: Of the form, or "" where nobody said.
        step: Id of the step that is suspected, or "".
        place: Where on the piece, in words or on a grid, or "".
        size: In words, or "".
        found_at: One of FOUND_AT, or "" where nobody said.
        action: One of ACTIONS, or "" where nobody said.
        extra_min: Extra work, person-minutes, or None where nobody said.
        material: Extra material in words, or "".
        text: Whatever else was written.
        change_default: Whether somebody wants a default changed for it.
    """

    event: str
    at: datetime
    code: str
    zone: str = ""
    step: str = ""
    place: str = ""
    size: str = ""
    found_at: str = ""
    action: str = ""
    extra_min: float | None = None
    material: str = ""
    text: str = ""
    change_default: bool = False


def defect_of(event: Event) -> Defect:
    """Reads a defect from its event; what makes no sense in it is left out."""
    data = event.data
    code = _text(data, "defect")
    found, action = _text(data, "found_at"), _text(data, "action")
    return Defect(
        event=event.id,
        at=event.at,
        code=code if code in CODES else OTHER,
        zone=event.zone,
        step=event.step,
        place=_text(data, "place"),
        size=_text(data, "size"),
        found_at=found if found in FOUND_AT else "",
        action=action if action in ACTIONS else "",
        extra_min=_minutes(data.get("extra_min")),
        material=_text(data, "material"),
        text=_text(data, "text"),
        change_default=data.get("change_default") is True,
    )


def _text(data: Mapping[str, object], key: str) -> str:
    value = data.get(key)
    return value if isinstance(value, str) else ""


def _minutes(value: object) -> float | None:
    if type(value) not in (int, float):  # true and false are no numbers here
        return None
    minutes = float(value)  # type: ignore[arg-type] # a number, as just seen
    return minutes if 0 <= minutes <= MOST_EXTRA_MIN else None


def say_code(code: str) -> str:
    """Says a code, or an action, as people say it."""
    return code.replace("-", " ")


def say_defect(found: Defect) -> str:
    """Says a defect in one line, without what is written beside it."""
    parts = (
        say_code(found.code),
        found.zone,
        found.place,
        found.size,
        f"found at {found.found_at}" if found.found_at else "",
        say_code(found.action),
    )
    return ", ".join(part for part in parts if part)


def found_about_now(timeline: Timeline, *, put_away: bool) -> FoundAt:
    """Guesses at which stage a defect is found from the step in hand.

    Args:
        timeline: Of the pour.
        put_away: Whether nothing more will be done on it.
    """
    span = timeline.next_step()
    demould = timeline.span(StepKey("demould"))
    if put_away or span is None:
        return "client"
    if span.phase == "seal":
        return "seal"
    if demould is not None and demould.status not in OVER:
        return "demould"
    hard = span.phase in ("slurry", "sand") or span.key.step.startswith("hone")
    return "hone" if hard else "demould"


def zone_meant(zone: str, zones: Sequence[str]) -> str:
    """The zone that was named, or the only one there is; else ""."""
    return zone or (zones[0] if len(zones) == 1 else "")


@dataclass(frozen=True, slots=True)
class Where:
    """Where a defect is and how large, as typed in one line; "" for what was not."""

    zone: str
    place: str
    size: str


def read_where(text: str, zones: Sequence[str]) -> Where:
    """Reads ``ZONE: PLACE, SIZE``; the zone and the size may be left out.

    Args:
        text: What was typed; the zone is its name or its number from 1.
        zones: Of the pour. What stands before a colon and is none of them is part of
            the place.
    """
    known = {zone.casefold(): zone for zone in zones}
    known |= {str(number): zone for number, zone in enumerate(zones, 1)}
    head, colon, rest = text.partition(":")
    zone = known.get(head.strip().casefold(), "") if colon else ""
    place, _, size = (rest if zone else text).partition(",")
    return Where(zone, place.strip(), size.strip())
