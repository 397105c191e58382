"""How what was learned is made and what it is worth, in words."""

from __future__ import annotations

from scheduling.laws import REFERENCE
from scheduling.units import Units

TITLE = "What was learned is worth what the log holds."

_PARTS = (
    (
        "A wait runs faster in the warm and, of a face coat, in dry air and draught: "
        "pours on days that differ are made comparable by that before they are put "
        "together."
    ),
    (
        "A touch test never sees a wait end. It was still soft at one touch and ready "
        "at another, and the truth lies between: both touches count, never the second "
        "alone, which on average comes late. A wait known from one side only counts "
        "as that."
    ),
    (
        "In force is what a pour begun now would run on: what was accepted, else the "
        "shop's own value or the default. Without a pour a wait has the default, with "
        "its spread. Each pour moves it "
        "by as much as it tells, so that a few move it a little; what one mix teaches "
        "moves the others a little too. P10-P90: eight waits in ten of the next pours "
        "lie between."
    ),
    (
        "How strongly the clock answers to temperature, and how much of it is "
        "evaporation, is learned only from pours at temperatures that differ enough, "
        "within the bounds that are published or estimated. Until then it stays as it "
        "is, and is said to."
    ),
    (
        "An entry far from all others counts next to nothing, and is shown as odd: "
        "look whether its times are right, and correct them on the log screen; an "
        "entry corrected more than 5 minutes after the fact is left out. "
        "What could not be used at all is left out with the reason."
    ),
    (
        "The backtest forecasts each wait and each step with only what was known "
        "before it, and so does the plot of forecast and actual: it shows what "
        "learning would have been worth. The weather of the day itself is taken as "
        "known. A wait seen too far apart, soft long before ready, is not judged by."
    ),
    (
        "Steps: the rate of the trade times the factor of this shop. Interrupted and "
        "corrected steps are left out. A trend is told only where it is sure 19 "
        "times in 20; the range beside it is what it is in 8 of 10."
    ),
    (
        "Defects are counted and shown as they were written down. Few cases prove "
        "nothing, and two things that happened together need not be cause and effect."
    ),
    (
        "What you accept counts from the next pour on, for every program on this log, "
        'and shows on its timeline as "learned from 9 pours". It stays in force until '
        'you accept another: "accepted 11.0" runs on 11.0 whatever was learned since, '
        'and "kept 11.0" does with the newer one refused. "Nothing new" are pours that '
        "tell no more than the default does. Pours that are running keep what they "
        "began with. The fingertip decides."
    ),
)


def parts(units: Units) -> tuple[str, ...]:
    """The paragraphs, with the reference in the shop's units."""
    reference = (
        f"Reference minutes are minutes at {units.temperature(REFERENCE.temp_c)}, "
        f"{REFERENCE.rh_pct:.0f} % humidity and in still air."
    )
    return (f"{reference} {_PARTS[0]}", *_PARTS[1:])
