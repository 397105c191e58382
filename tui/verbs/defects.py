"""``defects``: in how many pours what was found, and what is on record of each."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import datetime

from scheduling.clocks import Band
from scheduling.defect import CODES, Defect, say_code, say_defect
from scheduling.defectcounts import SHOWN_AT, Counts, at_window, counts
from scheduling.defects import SHARES, Case, Evidence, ZoneTimes
from scheduling.units import Units
from tui import output
from tui.reviewing import examined, oldest_first, read_each
from tui.session import Session
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import open_session
from tui.verbs.saving import in_full

_HEADINGS = ("defect", "pour", "zone", "found", "min", "opens", "closes")
_WIDTHS = (13, 21, 11, 7, 5, 5, 6)
"""Columns of the table of cases; with two blanks between them they fill 80."""

_NOTHING = "-"


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(verbs, "defects", "the defects of all pours, counted and each")
    parser.add_argument(
        "--code",
        metavar="CODE",
        choices=tuple(CODES),
        help="one kind of defect, each case in full",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the defects; 1 when a pour in the log cannot be read."""
    session = open_session(args)
    faults: list[str] = []
    names = oldest_first(session.log)
    found = [
        _only(one, args.code) for one in read_each(session, names, faults, examined)
    ]
    if args.json:
        _print_json(session, found, args.code)
    else:
        _print(session, found, args.code)
    for fault in faults:
        output.complain(fault)
    return 1 if faults else 0


def _only(found: Evidence, code: str | None) -> Evidence:
    """What a pour has to say of one code alone."""
    kept = (case for case in found.cases if code in (None, case.defect.code))
    return replace(found, cases=tuple(kept))


def _codes(name: str, code: str | None) -> tuple[str, ...]:
    """Which defects are looked for beside a threshold."""
    return SHOWN_AT[name] if code is None else (code,)


# -- for programs


def _print_json(session: Session, found: Sequence[Evidence], code: str | None) -> None:
    number = counts(found)
    output.as_json(
        {
            "pours": number.pours,
            "codes": number.codes,
            "found_at": {
                stage or "not said": n for stage, n in number.found_at.items()
            },
            "lift_1_reference_min": {
                name: {
                    "codes": _codes(name, code),
                    **asdict(at_window(found, name, _codes(name, code))),
                }
                for name in SHARES
            },
            "cases": [_case(session, case) for one in found for case in one.cases],
        }
    )


def _case(session: Session, case: Case) -> dict[str, object]:
    defect = case.defect
    return {
        "pour": case.pour,
        "event": defect.event,
        "at": output.iso(defect.at, session.zone),
        "defect": defect.code,
        "zone": defect.zone or None,
        "step": defect.step or None,
        "place": defect.place or None,
        "size": defect.size or None,
        "found_at": defect.found_at or None,
        "action": defect.action or None,
        "extra_min": defect.extra_min,
        "material": defect.material or None,
        "text": defect.text or None,
        "change_default": defect.change_default,
        "zones": [_zone(session, times) for times in case.zones],
    }


def _zone(session: Session, times: ZoneTimes) -> dict[str, object]:
    reached = {name: round(minutes, 2) for name, minutes in times.reached.items()}
    return {
        "zone": times.zone,
        "sprayed": output.iso(times.sprayed, session.zone),
        "form_c": round(times.form_c, 1),
        "shop_c": round(times.shop_c, 1),
        "rh_pct": round(times.rh_pct, 1),
        "wind_kmh": round(times.wind_kmh, 1),
        "measured": times.measured,
        "opens": output.band(times.opens, session.zone),
        "closes": output.band(times.closes, session.zone),
        "touches": [
            {"at": output.iso(touch.at, session.zone), "feel": touch.feel}
            for touch in times.touches
        ],
        "lift_1": None
        if times.lift_1 is None
        else output.iso(times.lift_1, session.zone),
        "wall_min": None if times.wall_min is None else round(times.wall_min, 2),
        "reference_min": reached,
    }


# -- for people


def _print(session: Session, found: Sequence[Evidence], code: str | None) -> None:
    number = counts(found)
    cases = [case for one in found for case in one.cases]
    if not cases:
        what = say_code(code) if code else "defect"
        output.line(f"no {what} on record in {_pours(number.pours)}")
        return
    _print_counts(number)
    for name in SHARES:
        _print_window(found, name, _codes(name, code))
    output.line()
    output.lines(
        "Lift 1 was begun so many minutes after the spraying; opens and closes: the "
        "same in reference minutes of the two clocks of the face."
    )
    output.table(_HEADINGS, [_row(case) for case in cases], left=4)
    if code is not None:
        for case in cases:
            output.line()
            _print_case(session, case)


def _print_counts(number: Counts) -> None:
    of = f"of {_pours(number.pours)}"
    for code, pours in number.codes.items():
        output.line(f"{say_code(code):<15}{pours} {of}")
    for stage, pours in number.found_at.items():
        where = f"found at {stage}" if stage else "found where nobody said"
        output.line(f"{where}: {pours} {of}")


def _pours(number: int) -> str:
    return "1 pour" if number == 1 else f"{number} pours"


def _print_window(found: Sequence[Evidence], name: str, codes: Sequence[str]) -> None:
    at = at_window(found, name, codes)
    if at.showing:
        what = " or ".join(map(say_code, codes))
        output.lines(
            f"{name}, reference min at lift 1: {_range(at.showing)} with {what}, "
            f"{_range(at.others)} with none on record",
            indent="  ",
        )


def _range(minutes: Sequence[float]) -> str:
    if not minutes:
        return "no zone"
    if len(minutes) == 1:
        return f"{minutes[0]:.0f} in 1 zone"
    return f"{minutes[0]:.0f} to {minutes[-1]:.0f} in {len(minutes)} zones"


def _row(case: Case) -> tuple[str, ...]:
    defect = case.defect
    times = case.zones[0] if len(case.zones) == 1 else None
    reached = times.reached if times is not None else {}
    cells = (
        say_code(defect.code),
        case.pour,
        defect.zone or _NOTHING,
        defect.found_at or _NOTHING,
        _minutes(times.wall_min if times is not None else None),
        *(_minutes(reached.get(name)) for name in SHARES),
    )
    return tuple(cell[:width] for cell, width in zip(cells, _WIDTHS, strict=True))


def _minutes(minutes: float | None) -> str:
    return _NOTHING if minutes is None else f"{minutes:.0f}"


def _print_case(session: Session, case: Case) -> None:
    defect = case.defect
    output.lines(f"{case.pour}: {say_defect(defect)}", indent="  ")
    output.line(f"  found {in_full(session, defect.at)}")
    for words in _beside(defect):
        output.lines(f"  {words}", indent="    ")
    for times in case.zones:
        for words in _zone_words(session, times):
            output.lines(f"  {words}", indent="    ")


def _beside(defect: Defect) -> list[str]:
    """What else somebody wrote down."""
    extra = None if defect.extra_min is None else output.length(defect.extra_min)
    return [
        line
        for line, there in (
            (f"suspected: {defect.step}", defect.step),
            (f"extra work: {extra}", extra),
            (f"extra material: {defect.material}", defect.material),
            (defect.text, defect.text),
            ("a default is to be looked at again", defect.change_default),
        )
        if there
    ]


def _zone_words(session: Session, times: ZoneTimes) -> list[str]:
    """What is on record of a zone, line by line."""
    units = Units(session.shop.units)
    how = "" if times.measured else ", by the shop's typical day"
    air = (
        f"form {units.temperature(times.form_c)}, "
        f"shop {units.temperature(times.shop_c)}, {times.rh_pct:.0f} % RH, "
        f"air {units.speed(times.wind_kmh)}{how}"
    )
    opens, closes = _band(session, times.opens), _band(session, times.closes)
    words = [
        f"{times.zone}: sprayed {in_full(session, times.sprayed)}; {air}",
        f"forecast then: opens {opens}, closes {closes}",
    ]
    if times.touches:
        felt = (f"{one.feel} {_clock(session, one.at)}" for one in times.touches)
        words.append(f"touched: {', '.join(felt)}")
    if times.lift_1 is None:
        words.append("lift 1 is not on record")
    else:
        words.append(
            f"lift 1 begun {_clock(session, times.lift_1)}, "
            f"{_minutes(times.wall_min)} min after the spraying"
        )
    return words


def _band(session: Session, band: Band | None) -> str:
    if band is None:
        return "never"
    p10, p50, p90 = (_clock(session, at) for at in (band.p10, band.p50, band.p90))
    return f"{p50} ({p10}-{p90})"


def _clock(session: Session, at: datetime) -> str:
    return f"{at.astimezone(session.zone):%H:%M}"
