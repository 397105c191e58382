"""Rules for days off that come back, such as every last Friday of the month.

They are written as an RFC 5545 RRULE. A rule must be about whole days and must come
to pass, so that whoever walks it never walks for ever.
"""

from __future__ import annotations

import re
from datetime import date, datetime

from scheduling.hours import RULE_START

WANT = (
    "wants a rule for whole days, such as FREQ=MONTHLY;BYDAY=-1FR "
    "for every last Friday of the month"
)
"""What a right rule looks like."""

_WHOLE = re.compile(r"(?:DTSTART:(20[0-9]{6})T000000 )?(?:RRULE:)?([A-Z0-9=;,+-]+)")
_PART = re.compile(
    r"FREQ=(?:DAILY|WEEKLY|MONTHLY|YEARLY)"
    r"|(?:INTERVAL|COUNT)=[1-9][0-9]{0,2}"
    r"|UNTIL=[0-9]{8}(?:T[0-9]{6})?"
    r"|(?:BYDAY|BYMONTH|BYMONTHDAY|BYWEEKNO|BYYEARDAY|BYSETPOS|WKST)=[A-Z0-9,+-]+"
)
_TRIAL_START = datetime(9988, 1, 1)  # noqa: DTZ001 - as RULE_START
"""First day of the trial of a rule. dateutil looks for a next day up to the year 9999,
which takes seconds from today, so a trial from today would be as slow as the fault."""


def check_closed_rule(rule: str) -> None:
    """Refuses a rule that is not about days off that come back.

    Args:
        rule: Its parts, such as ``FREQ=WEEKLY;BYDAY=FR``. What counts or skips must
            say from when: ``DTSTART:20300104T000000 RRULE:FREQ=WEEKLY;INTERVAL=2``.

    Raises:
        ValueError: With what would be right.
    """
    from dateutil.rrule import rrulestr  # noqa: PLC0415 - after the first paint

    found = _WHOLE.fullmatch(rule)
    parts = found[2].split(";") if found else []
    names = [part.partition("=")[0] for part in parts]
    known = all(_PART.fullmatch(part) for part in parts)
    if not found or not known or "FREQ" not in names or len(set(names)) < len(names):
        raise ValueError(WANT)
    if found[1] is None and {"COUNT", "INTERVAL"} & set(names):
        raise ValueError(
            "wants a first day before COUNT or INTERVAL, such as "
            "DTSTART:20300104T000000 RRULE:FREQ=WEEKLY;INTERVAL=2"
        )
    # Neither a last day nor a count matters to whether the rule can come to pass.
    endless = [part for part in parts if not part.startswith(("COUNT", "UNTIL"))]
    try:
        if found[1]:
            date.fromisoformat(found[1])
        rrulestr(rule, dtstart=RULE_START)
        days = rrulestr(";".join(endless), dtstart=_TRIAL_START)
        comes = next(iter(days), None) is not None
    # What dateutil raises for a part it does not expect is not of one kind.
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError):
        raise ValueError(WANT) from None
    if not comes:
        raise ValueError(f"never comes to pass; {WANT}")
