"""What is in force of a wait or step, and how that stands to what its log says by now.

In force is what a pour begun now would run on: the value accepted last, else the shop's
own, else the default.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import tzinfo
from math import isclose

from scheduling.learned import Learned, LearnedPace
from scheduling.shop import Pace, Timing
from scheduling.shopbook import TIMING, Decision, Key, ShopBook, key_of
from scheduling.spread import Spread
from tui.timings import words

_SAME = 0.01
"""Share by which two figures may differ and are the same still."""


def in_force(book: ShopBook, key: Key, default: Spread) -> Timing | Pace:
    """Returns what new pours run on.

    Args:
        book: What the shop accepted.
        key: Of the wait or step.
        default: The shop's own value, else that of the trade.
    """
    decision = book.accepted.get(key)
    if decision is not None:
        return decision.value
    what, name, mix = key
    return Timing(name, mix, default, 0) if what == TIMING else Pace(name, default, 0)


def last_decision(book: ShopBook, key: Key) -> Decision | None:
    """What was decided last: accepting clears what was refused before it."""
    return book.refused.get(key) or book.accepted.get(key)


@dataclass(frozen=True, slots=True)
class Standing:
    """How one wait or step stands.

    Attributes:
        found: What its log says by now.
        in_force: What new pours run on.
        accepted: The decision that is in force, or None.
        refused: That by which a value learned since was refused, or None.
    """

    found: Learned | LearnedPace
    in_force: Timing | Pace
    accepted: Decision | None
    refused: Decision | None

    @classmethod
    def of(cls, book: ShopBook, found: Learned | LearnedPace) -> Standing:
        """How something learned stands in the shop's book."""
        key = key_of(value_of(found))
        return cls(
            found,
            in_force(book, key, found.default),
            book.accepted.get(key),
            book.refused.get(key),
        )

    @property
    def is_refused(self) -> bool:
        """Whether what is learned by now is refused: more pours offer it again."""
        said = self.refused
        return said is not None and learned_from(self.found) <= said.learned_from

    @property
    def tells(self) -> bool:
        """Whether the log says anything that could be decided about."""
        if isinstance(self.found, Learned):
            return self.found.tells
        return self.found.castings > 0

    @property
    def word(self) -> str:
        """``default``, ``learned``, ``refused``, ``accepted``, or ``kept``.

        Kept is a value accepted earlier while the newer one is refused.
        """
        if self.accepted is not None:
            return "kept" if self.is_refused else "accepted"
        if self.is_refused:
            return "refused"
        return "learned" if self.tells else "default"

    @property
    def short(self) -> str:
        """The word for a table, with the value in force where that is not the learned.

        ``accepted 11.0`` beside 13.3; ``nothing new`` of pours that tell no more than
        the default does.
        """
        word = self.word
        if word == "default" and learned_from(self.found):
            return "nothing new"
        if word == "kept":
            return f"kept {self.figure}"
        if word == "accepted" and self.figure != self._figure(value_of(self.found)):
            return f"accepted {self.figure}"
        return word

    @property
    def figure(self) -> str:
        """The value in force as a table has it."""
        return self._figure(self.in_force)

    def _figure(self, value: Timing | Pace) -> str:
        if isinstance(value, Pace):
            return f"x{value.factor.p50:.2f}"
        return words.figure(value.spread.p50, words.Scale.of(self.found.default.p50))

    def decisions(self, zone: tzinfo) -> list[str]:
        """Who accepted or refused a value, when, and from what; the newest first."""
        count, said = learned_from(self.found), []
        if self.refused is not None:
            kept = f"accepted {self.figure}, newer " * (self.word == "kept")
            said.append(kept + words.decided("refused", self.refused, zone, count))
        if self.accepted is not None:
            said.append(words.decided("accepted", self.accepted, zone, count))
        return said

    @property
    def nothing(self) -> str:
        """Why there is nothing to decide; "" where there is."""
        if self.tells:
            return ""
        found = self.found
        if isinstance(found, LearnedPace):
            return "nothing learned yet, so nothing to decide"
        return (
            f"the log says no more than the default yet: {found.bracketed} of "
            f"{words.count(len(found.seen), 'wait')} known from both sides"
        )


def value_of(found: Learned | LearnedPace) -> Timing | Pace:
    """What there is to accept."""
    return found.timing if isinstance(found, Learned) else found.pace


def learned_from(found: Learned | LearnedPace) -> int:
    """From how many pours or castings something was learned."""
    return found.pours if isinstance(found, Learned) else found.castings


def alike(one: Timing | Pace, other: Timing | Pace) -> bool:
    """Whether two values of one wait or step are the same for whoever decides.

    What was learned bit by bit differs in its last digits from that learned at once.
    """
    if isinstance(one, Timing) and isinstance(other, Timing):
        constants = _near(one.energy, other.energy) and _near(one.share, other.share)
        return constants and one.pours == other.pours and _bands(one, other)
    if isinstance(one, Pace) and isinstance(other, Pace):
        return one.castings == other.castings and _bands(one, other)
    return False


def _bands(one: Timing | Pace, other: Timing | Pace) -> bool:
    a, b = spread_of(one), spread_of(other)
    return all(map(_near, (a.p10, a.p50, a.p90), (b.p10, b.p50, b.p90)))


def _near(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return isclose(one, other, rel_tol=_SAME)


def spread_of(value: Timing | Pace) -> Spread:
    """Reference minutes, or the factor on the rate of the trade."""
    return value.spread if isinstance(value, Timing) else value.factor
