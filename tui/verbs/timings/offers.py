"""Which of the learned waits and steps somebody means by the words they typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from scheduling.errors import BadInput, Fault
from scheduling.learned import Learned, LearnedPace
from scheduling.shopbook import PACE, TIMING, Key
from scheduling.written import shown
from tui.timings.teaching import Taught


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was typed.

    Attributes:
        name: Of a threshold, or of a step without its number; None is all.
        mix: Only waits of this mix or sealer; None is all, and work.
        work: Only work.
    """

    name: str | None = None
    mix: str | None = None
    work: bool = False

    def fits(self, key: Key) -> bool:
        """Whether something is among what was meant."""
        what, name, mix = key
        if self.name is not None and name != self.name:
            return False
        if what == PACE:
            return self.mix is None
        return not self.work and self.mix in (None, mix)

    def among(self, taught: Taught) -> Taught:
        """What was learned of what was meant."""
        return Taught(
            tuple(one for one in taught.windows if self.fits(_of_wait(one))),
            tuple(one for one in taught.work if self.fits((PACE, one.step, ""))),
        )

    def one(self, known: Sequence[Key]) -> Key:
        """The one key that was meant, of those there are.

        Raises:
            BadInput: None, or several: then it says how to tell them apart.
        """
        fits = [key for key in known if self.fits(key)]
        if not fits:
            raise self.unknown(known)
        if len(fits) > 1:
            ways = " or ".join(_told_apart(key) for key in fits)
            want = f"there are several: add {ways}"
            raise BadInput(Fault("NAME", "", shown(self.name or ""), want))
        return fits[0]

    def unknown(self, known: Sequence[Key]) -> BadInput:
        """Refuses what is not among the keys there are, with the nearest that is."""
        alike = [key for key in known if self.name in (None, key[1])]
        if alike:
            ways = dict.fromkeys(_told_apart(key) for key in alike)
            flag, value = ("--mix", shown(self.mix)) if self.mix else ("--work", "")
            want = f"nothing of that; there is {' or '.join(ways)}"
            return BadInput(Fault(flag, "", value, want))
        name = self.name or ""
        near = get_close_matches(name, [key[1] for key in known], n=1)
        want = f'did you mean "{near[0]}"?' if near else "nothing of that name"
        return BadInput(Fault("NAME", "", shown(name), want))


def keys(taught: Taught) -> list[Key]:
    """Everything there is to decide about."""
    waits = [_of_wait(one) for one in taught.windows]
    return [*waits, *((PACE, one.step, "") for one in taught.work)]


def find(taught: Taught, key: Key) -> Learned | LearnedPace:
    """What was learned of a key that ``keys`` gave."""
    what, name, mix = key
    if what == PACE:
        return next(one for one in taught.work if one.step == name)
    return next(one for one in taught.windows if (one.name, one.mix) == (name, mix))


def _of_wait(one: Learned) -> Key:
    return (TIMING, one.name, one.mix)


def _told_apart(key: Key) -> str:
    what, _, mix = key
    return "--work" if what == PACE else f"--mix {shown(mix)}"
