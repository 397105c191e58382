"""The shop's book: what the shop accepted and refused of what its log teaches it.

It is folded from the shop's own events and from nothing else, as a pour is from its.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import isfinite
from operator import attrgetter

from scheduling.errors import BadInput
from scheduling.event import Event
from scheduling.inforce import active
from scheduling.observation import Observation
from scheduling.pastwindow import PastWindow
from scheduling.plainjson import Json
from scheduling.shop import Mix, Pace, Shop, Timing
from scheduling.snapshot import from_data, to_data
from scheduling.spread import Spread

Key = tuple[str, str, str]
"""What a value is for: TIMING, its name and mix, or PACE, a step and ""."""

TIMING = "timing"
PACE = "pace"

LONGEST_MIN = 1e6
"""Reference minutes above which a threshold is no wait of this trade: two years."""

WIDEST = 3.0
"""Sigma above which a spread says nothing: P90 is two thousand times P10."""

FASTEST, SLOWEST = 0.01, 100.0
"""Factors beyond which a pace is a slip."""


def key_of(value: Timing | Pace) -> Key:
    """What a value is for."""
    if isinstance(value, Timing):
        return (TIMING, value.name, value.mix)
    return (PACE, value.step, "")


@dataclass(frozen=True, slots=True)
class Decision:
    """A value that somebody accepted or refused.

    Attributes:
        value: What it is about.
        was: What it was to replace.
        temp_range_c: Coldest and warmest mean temperature it was learned at, degC; None
            where temperature is no part of it.
        event: Who, when, and its id for taking it back.
    """

    value: Timing | Pace
    was: Spread
    temp_range_c: tuple[float, float] | None
    event: Event

    @property
    def learned_from(self) -> int:
        """How many pours or castings the value was learned from."""
        value = self.value
        return value.pours if isinstance(value, Timing) else value.castings


@dataclass(frozen=True)
class ShopBook:
    """What the shop's own events say.

    Attributes:
        accepted: In force, by what it is for.
        refused: Refused since it was last accepted, by what it is for.
        windows: Of past pours, from paper, each once, as it was written down last.
        standing: Events that may be taken back by their id, the newest last.
        mixes: Those of the shop, whose constants stand in for what is not known.
    """

    accepted: dict[Key, Decision]
    refused: dict[Key, Decision]
    windows: tuple[PastWindow, ...] = ()
    standing: dict[str, Event] = field(default_factory=dict)
    mixes: Mapping[str, Mix] = field(default_factory=dict, compare=False)

    @property
    def timings(self) -> tuple[Timing, ...]:
        """The thresholds in force."""
        values = (one.value for one in self.accepted.values())
        return tuple(value for value in values if isinstance(value, Timing))

    @property
    def paces(self) -> tuple[Pace, ...]:
        """The paces in force."""
        values = (one.value for one in self.accepted.values())
        return tuple(value for value in values if isinstance(value, Pace))

    @cached_property
    def past(self) -> tuple[Observation, ...]:
        """What the windows from paper say."""
        return tuple(
            said
            for one in self.windows
            for said in one.observations(
                self.mixes.get(one.mix, Mix(one.mix)).activation_energy
            )
        )

    @property
    def newest(self) -> Event | None:
        """What was written down last and may be taken back."""
        return next(reversed(self.standing.values()), None)

    def offers(self, value: Timing | Pace) -> bool:
        """Whether a value is to be offered: not while it was refused.

        What was refused is offered again when more pours speak for it.
        """
        said = self.refused.get(key_of(value))
        if said is None:
            return True
        now = value.pours if isinstance(value, Timing) else value.castings
        return now > said.learned_from


NOTHING = ShopBook({}, {})
"""The book of a shop that has accepted nothing."""


def taught(shop: Shop, book: ShopBook) -> Shop:
    """The shop with the values it has accepted."""
    return replace(shop, timings=book.timings, paces=book.paces)


def fold_book(events: Iterable[Event]) -> ShopBook:
    """Returns what the shop's own events lead to.

    What was recorded last counts, also where an exported book came in later. Any
    sequence of events folds: what makes no sense is left alone and never an error.
    """
    accepted: dict[Key, Decision] = {}
    refused: dict[Key, Decision] = {}
    windows: dict[object, PastWindow] = {}
    standing: dict[str, Event] = {}
    for event in sorted(active(events), key=attrgetter("recorded_at")):
        if event.kind not in ("accepted", "refused", "past"):
            continue
        standing[event.id] = event
        if event.kind == "past":
            window = past_window(event)
            if window is not None:
                windows[window.key] = window
        elif (said := decision(event)) is not None:
            key = key_of(said.value)
            if event.kind == "refused":
                refused[key] = said
            else:
                accepted[key] = said
                refused.pop(key, None)
    return ShopBook(accepted, refused, tuple(windows.values()), standing)


# -- as data


def decision_data(
    value: Timing | Pace, was: Spread, temp_range_c: tuple[float, float] | None
) -> dict[str, Json]:
    """The data of an event that accepts or refuses a value."""
    what = TIMING if isinstance(value, Timing) else PACE
    # Plain values all, though the checker cannot see it.
    return {
        "what": what,
        what: to_data(value),  # type: ignore[dict-item]
        "was": to_data(was),  # type: ignore[dict-item]
        "temp_range_c": None if temp_range_c is None else list(temp_range_c),
    }


def decision(event: Event) -> Decision | None:
    """What such an event says, or None where it makes no sense."""
    data = event.data
    try:
        value = _value(data)
        was = from_data(Spread, data.get("was"), "was")
    except BadInput:
        return None
    if value is None or not _spread(was, LONGEST_MIN):
        return None
    return Decision(value, was, _range(data.get("temp_range_c")), event)


def window_data(window: PastWindow) -> dict[str, Json]:
    """The data of an event that holds a window of a past pour."""
    return {"window": to_data(window)}  # type: ignore[dict-item] # plain values all


def past_window(event: Event) -> PastWindow | None:
    """The window such an event holds, or None where it makes no sense."""
    try:
        return from_data(PastWindow, event.data.get("window"), "window")
    except BadInput:
        return None


def _value(data: object) -> Timing | Pace | None:
    """The timing or pace in some data, if it is one that can be worked with."""
    match data:
        case {"what": "timing", "timing": told}:
            timing = from_data(Timing, told, "timing")
            energy, share = timing.energy, timing.share
            sane = (
                _spread(timing.spread, LONGEST_MIN)
                and timing.pours >= 0
                and (energy is None or 0 < energy <= 100)
                and (share is None or 0 <= share <= 1)
            )
            return timing if sane else None
        case {"what": "pace", "pace": told}:
            pace = from_data(Pace, told, "pace")
            sane = _spread(pace.factor, SLOWEST) and pace.factor.p50 >= FASTEST
            return pace if sane and pace.castings >= 0 else None
    return None


def _spread(spread: Spread, most: float) -> bool:
    return 0 < spread.p50 <= most and 0 <= spread.sigma <= WIDEST


def _range(value: object) -> tuple[float, float] | None:
    match value:
        case [int() | float() as low, int() | float() as high] if low <= high:
            return (float(low), float(high)) if isfinite(high - low) else None
    return None
