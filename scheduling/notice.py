"""A word of warning that goes with a timeline."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Notice:
    """Something that speaks against a timeline, or goes with it, and who says so.

    Attributes:
        what: One of ``evaporation``, ``cold``, ``cure``, ``age``, ``dew``,
            ``two-part``, ``recoat``.
        words: One sentence, for people.
        standing: Where it is from, in words.
        warns: Whether it speaks against the timeline; else it only goes with it.
    """

    what: str
    words: str
    standing: str
    warns: bool = True
