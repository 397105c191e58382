"""What a table of the timings screen is made from, and what it has to say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import ClassVar, Protocol

from scheduling.climate import Climate
from scheduling.shop import Pace, Shop, Timing
from scheduling.shopbook import Key, ShopBook
from scheduling.spread import Spread
from scheduling.units import Units
from tui.timings.learner import Known
from tui.widgets.chart import Chart

_ODD = 3
"""Entries far from all others that are told, at most; the log screen has all."""


@dataclass(frozen=True, slots=True)
class Offer:
    """What there is to accept or refuse.

    Attributes:
        value: The value itself.
        was: What it replaces: what is in force.
        temp_range_c: Coldest and warmest it was learned at, degC, where that matters.
        words: What it is called.
    """

    value: Timing | Pace
    was: Spread
    temp_range_c: tuple[float, float] | None
    words: str


@dataclass(frozen=True)
class Basis:
    """Everything the tables are made from.

    Attributes:
        known: What the log teaches.
        book: What of it was accepted or refused.
        shop: As its file has it.
        climate: Of the shop.
        units: In which quantities are shown.
        zone: Of the shop.
        now: The instant.
    """

    known: Known
    book: ShopBook
    shop: Shop
    climate: Climate
    units: Units
    zone: tzinfo
    now: datetime

    def differs(self, other: Basis) -> bool:
        """Whether anything may look different; what is long is not compared inside."""
        return (
            self.known is not other.known
            or self.book is not other.book
            or self.shop is not other.shop
            or self.now != other.now
        )


class View(Protocol):
    """One table, and what is told of its rows."""

    NAME: ClassVar[str]
    HEADINGS: ClassVar[tuple[str, ...]]
    PLOTS: ClassVar[tuple[str, ...]]
    EMPTY: ClassVar[str]
    """What will appear here, and after how many pours."""

    def rows(self) -> dict[Key, tuple[str, ...]]:
        """The cells of each row, by what it is about."""
        ...

    def detail(self, key: Key) -> list[str]:
        """The chosen row in lines, the most important first."""
        ...

    def chart(self, key: Key, plot: str, width: int) -> Chart | str:
        """The plot of the chosen row, or why there is none."""
        ...

    def offer(self, key: Key) -> Offer | str:
        """What there is to accept of a row, or why there is nothing."""
        ...


def odd(said: Sequence[str]) -> list[str]:
    """How many entries counted next to nothing, and the newest of them."""
    if not said:
        return []
    newest = list(reversed(said[-_ODD:]))
    return [f"odd {len(said)}: {newest[0]}", *newest[1:]]
