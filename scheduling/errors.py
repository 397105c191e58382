"""The errors a user can meet, as one small tree.

PourbellError
+-- BadInput      something a person wrote or typed is wrong (exit status 2)
+-- LogFault      the log cannot be read or written just now
    +-- NameTaken two programs chose one name for a new pour
"""

from __future__ import annotations

from dataclasses import dataclass


class PourbellError(Exception):
    """Base of every error that is shown to a user as a sentence."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in one place.

    Attributes:
        where: The file, flag or prompt.
        key: Path of the key inside it, such as ``piece.legs[0].height``; may be "".
        value: What was written there, as text; "" when something is missing.
        want: What would be right, in words.
    """

    where: str
    key: str
    value: str
    want: str

    def __str__(self) -> str:
        place = f"{self.where}: {self.key}" if self.key else self.where
        if not self.value:
            return f"{place}: {self.want}"
        return f"{place}: {self.value} - {self.want}"


class BadInput(PourbellError):
    """One or more faults in what a person wrote, all reported at once."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


class LogFault(PourbellError):
    """The log could not be read or written; the message says which file and why."""


class NameTaken(LogFault):
    """Another program was quicker with the name of a new pour."""
