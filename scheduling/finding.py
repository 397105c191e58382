"""One thing that a check looked at, and how it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Standing = Literal["ok", "look", "fault"]
"""All right; worth a look; something that was kept cannot be read as it was."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at.

    Attributes:
        part: Which part of the check it belongs to.
        about: What was looked at, in a word or a file's name.
        standing: How it stands.
        found: What was found.
        do: What to do about it, in a line; "" when there is nothing to do.
        values: What was measured, each with its unit in the name.
    """

    part: str
    about: str
    standing: Standing
    found: str
    do: str = ""
    values: Mapping[str, float] = field(default_factory=dict)
