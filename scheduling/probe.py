"""What a followed source says: one temperature out of a text, or why there is none.

The usual faults of a probe are refused here and never come further: cut off (-127),
just reset (85), a check sum that fails, no number, a logger that stopped writing.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta, tzinfo

from scheduling.climate import COLDEST_C, WARMEST_C
from scheduling.csvtable import PROBE_FAULTS_C
from scheduling.errors import PourbellError
from scheduling.hours import wall_instant
from scheduling.shop import Probe

MOVED_C = 0.5
KEPT_EVERY = timedelta(minutes=30)
"""A reading is kept when it moved so far, degC, from the one kept before, or so long
after it (estimate): enough for every clock, and little enough for the log."""

STALE = timedelta(minutes=30)
"""Age at which what a file says is no longer taken for now (estimate); three turns of
the probe where those take longer."""

LONGEST_TEXT = 4096
"""Characters at the end of a file, or of what a command prints, that are looked at."""

_NUMBER = re.compile(r"[-+]?[0-9]{1,6}(\.[0-9]{1,9})?", re.ASCII)
_WIRE = re.compile(r"\bt=(-?[0-9]{1,6})\s*\Z", re.ASCII)


class ProbeFault(PourbellError):
    """A probe gave no temperature; the message says why."""


def read_probe(
    probe: Probe, text: str, *, written: datetime | None, now: datetime, tz: tzinfo
) -> float:
    """Reads what a source gave.

    A file: its last whole line, a number in degC, or a time, a comma and a number. A
    command: a number in degC. A sensor: the text of a 1-wire probe, with its check, or
    thousandths of a degC.

    Args:
        probe: Where it is from.
        text: What it gave, or the end of it.
        written: When a file was last written to, or None.
        now: The instant, for the age of a file.
        tz: Zone of a time that names none.

    Returns:
        degC, COLDEST_C to WARMEST_C.

    Raises:
        ProbeFault: There is no temperature in it, or it is too old.
    """
    if probe.sensor:
        return _plausible(_sensor(text))
    if probe.command:
        return _plausible(_number(text.strip()))
    number, stamp = _last_line(text, tz)
    _check_age(probe, stamp or written, now)
    return _plausible(number)


def worth_keeping(
    kept: tuple[datetime, float] | None, now: datetime, temp_c: float
) -> bool:
    """Whether a reading says more than the one kept before; the first always does."""
    if kept is None:
        return True
    before, was_c = kept
    return abs(temp_c - was_c) >= MOVED_C or now - before >= KEPT_EVERY


def _number(text: str) -> float:
    if _NUMBER.fullmatch(text) is None:
        raise ProbeFault(f"{_shown(text)} is no temperature such as 21.5")
    return float(text)


def _sensor(text: str) -> float:
    if "t=" not in text:
        return _number(text.strip()) / 1000
    wire = _WIRE.search(text)
    if wire is None or "YES" not in text.partition("\n")[0]:
        raise ProbeFault("its check sum fails: look at the wire")
    return int(wire[1]) / 1000


def _last_line(text: str, tz: tzinfo) -> tuple[float, datetime | None]:
    lines = text.splitlines(keepends=True)
    if len(lines) > 1 and not lines[-1].endswith("\n"):
        lines.pop()  # still being written
    last = next((line.strip() for line in reversed(lines) if line.strip()), "")
    if not last:
        raise ProbeFault("nothing is written in it yet")
    cells = [cell.strip() for cell in re.split(r"[,;\t]", last)]
    if len(cells) == 1:
        return _number(last), None
    if len(cells) != 2:
        raise ProbeFault(f"{_shown(last)} is neither a number nor time,number")
    return _number(cells[1]), _stamp(cells[0], tz)


def _stamp(text: str, tz: tzinfo) -> datetime:
    try:
        stamp = datetime.fromisoformat(text)
        return stamp if stamp.tzinfo else wall_instant(stamp, tz)
    except (ValueError, OverflowError):
        want = f"{_shown(text)} is no time such as 2030-04-01 07:30"
        raise ProbeFault(want) from None


def _check_age(probe: Probe, at: datetime | None, now: datetime) -> None:
    oldest = max(STALE, timedelta(minutes=3 * probe.every_min))
    if at is not None and not -STALE <= now - at <= oldest:
        when = "in the future" if at > now else f"{(now - at) // _MINUTE} min old"
        raise ProbeFault(f"its last line is {when}")


def _plausible(temp_c: float) -> float:
    if temp_c in PROBE_FAULTS_C:
        raise ProbeFault(
            f"{temp_c:g} degC is what a probe sends when {PROBE_FAULTS_C[temp_c]}"
        )
    if not COLDEST_C <= temp_c <= WARMEST_C:
        want = f"{COLDEST_C:g} to {WARMEST_C:g} degC"
        raise ProbeFault(f"{temp_c:g} degC is no temperature of a shop, {want}")
    return temp_c


def _shown(text: str) -> str:
    return ascii(text[:40])


_MINUTE = timedelta(minutes=1)
