"""What a threshold means on the wall, if its wait began at some instant."""

from __future__ import annotations

from datetime import datetime

from scheduling.climate import Climate
from scheduling.clocks import Band, Clock
from scheduling.laws import OPEN_SHARE, law
from scheduling.shop import Timing
from scheduling.thresholds import DEFAULTS, ClockName, Place


def effect(
    timing: Timing, climate: Climate, energy: float, at: datetime
) -> Band | None:
    """Returns when a wait that begins now is over, in the shop's air.

    The piece is taken to be as warm as the air: its own heat is in the timeline of a
    pour, not here.

    Args:
        timing: Reference minutes, and what its clock was learned to answer to.
        climate: Of the shop.
        energy: Activation energy of the mix, kJ/mol, where none was learned.
        at: When the wait begins.

    Returns:
        None where it is not over within what the climate tells.
    """
    known = DEFAULTS.get(timing.name)
    # What the table does not have depends on the family of the sealer.
    clock: ClockName = known.clock if known else "coating"
    place: Place = known.place if known else "shop"
    share = timing.share
    if clock != "face":
        share = None
    elif share is None and timing.name == "face opens":
        share = OPEN_SHARE
    runs = Clock(law(clock, timing.energy or energy, share), climate, place)
    return runs.quantiles(at, timing.spread)
