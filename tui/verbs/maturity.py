"""``maturity``: equivalent ages of a logged temperature; constants from tests."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from scheduling.errors import BadInput, Fault
from scheduling.laws import ACTIVATION_ENERGY
from scheduling.maturity import (
    METHODS,
    STANDARD_C,
    Matured,
    Method,
    arrhenius,
    en_1992_1_1,
    freiesleben_hansen_pedersen,
    nurse_saul,
)
from scheduling.units import Units
from tui import output
from tui.session import Session
from tui.verbs import maturityfit
from tui.verbs.arguments import Parser, Verbs, add_verb, number, words
from tui.verbs.opening import open_session

if TYPE_CHECKING:  # these bring numpy in, which no other verb waits for
    from scheduling.history import Gap, History
    from scheduling.loggercsv import Channel, Recording

DATUM_C = 0.0
"""Datum of Nurse-Saul unless told, degC."""

_OWNERS = {
    "activation_energy": "arrhenius",
    "reference": "arrhenius",
    "datum": "nurse-saul",
}
"""Flags that belong to one method."""

_HISTORY_ONLY = ("method", *_OWNERS, "gap", "channel")
_MOST_GAPS = 8


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs, "maturity", "equivalent age of a logged temperature, by every method"
    )
    parser.add_argument(
        "file",
        metavar="FILE.csv",
        help="what a logger recorded: time and temperature, found by their headings; "
        "one column each probe",
    )
    parser.add_argument(
        "--fit",
        action="store_true",
        help="FILE.csv holds strength tests (age, strength, curing temperature): find "
        "the mix's activation energy and datum; without temperatures its curve",
    )
    parser.add_argument(
        "--method",
        metavar="NAME",
        choices=METHODS,
        action="append",
        help=f"only this one, may be given again: {', '.join(METHODS)}",
    )
    parser.add_argument(
        "--activation-energy",
        metavar="KJ",
        type=number("--activation-energy", 1, 100, "kJ/mol"),
        help=f"for arrhenius, kJ/mol; else {ACTIVATION_ENERGY:g}",
    )
    parser.add_argument(
        "--reference",
        metavar="C",
        type=number("--reference", -30, 60, "degC"),
        help=f"for arrhenius, degC; else {STANDARD_C:g}",
    )
    parser.add_argument(
        "--datum",
        metavar="C",
        type=number("--datum", -30, 60, "degC"),
        help=f"for nurse-saul, degC; else {DATUM_C:g}. Its age is at 20 degC",
    )
    parser.add_argument(
        "--gap",
        metavar="H",
        type=number("--gap", 0.01, 1000, "h"),
        help="longest time between readings that counts, h; else 2",
    )
    parser.add_argument(
        "--channel",
        metavar="NAME",
        type=words("--channel", 200),
        help="only the probe whose heading is this, or begins so",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the maturity of a file by each method, or what its tests tell."""
    path = Path(args.file)
    if args.fit:
        _refuse_with_fit(args)
        return maturityfit.run(path, open_session(args).shop.units, json=args.json)
    from scheduling.loggercsv import read_recording  # noqa: PLC0415 - brings numpy in

    methods = chosen_methods(args)
    session = open_session(args)
    limit = {} if args.gap is None else {"limit_h": args.gap}
    recording = read_recording(path, session.zone, only=args.channel, **limit)
    if args.json:
        output.as_json(to_json(recording, methods, session.zone))
    else:
        _Page(session, path, methods).print(recording)
    return 0


def chosen_methods(args: argparse.Namespace) -> list[Method]:
    """Returns the methods that the flags ask for, all of them without ``--method``.

    Raises:
        BadInput: A flag belongs to a method that is not asked for.
    """
    names = args.method or METHODS
    for flag, owner in _OWNERS.items():
        value = getattr(args, flag)
        if value is not None and owner not in names:
            want = f"belongs to {owner}, and only {', '.join(names)} is asked for"
            raise BadInput(Fault(_spelt(flag), "", f"{value:g}", want))
    energy = args.activation_energy
    made = (
        nurse_saul(DATUM_C if args.datum is None else args.datum),
        arrhenius(
            ACTIVATION_ENERGY if energy is None else energy,
            STANDARD_C if args.reference is None else args.reference,
        ),
        freiesleben_hansen_pedersen(),
        en_1992_1_1(),
    )
    return [method for method in made if method.name in names]


def _refuse_with_fit(args: argparse.Namespace) -> None:
    for flag in _HISTORY_ONLY:
        if getattr(args, flag) is not None:
            want = "has no meaning with --fit: leave one of them out"
            raise BadInput(Fault(_spelt(flag), "", "", want))


def _spelt(flag: str) -> str:
    return f"--{flag.replace('_', '-')}"


# -- for programs


def to_json(
    recording: Recording, methods: Sequence[Method], zone: tzinfo
) -> dict[str, object]:
    """Returns the maturity of the first probe as JSON, and of all where there are more.

    ``hours`` is the time from the first reading to the last, gaps included.
    """
    blocks = [_channel(channel, methods, zone) for channel in recording.channels]
    found = {key: blocks[0][key] for key in ("hours", "readings", "gaps", "methods")}
    if len(blocks) > 1:
        found["channels"] = blocks
    if recording.notes:
        found["notes"] = list(recording.notes)
    return found


def _channel(
    channel: Channel, methods: Sequence[Method], zone: tzinfo
) -> dict[str, object]:
    history = channel.history
    return {
        "name": channel.name,
        "hours": round(history.hours, 6),
        "readings": history.readings,
        "gaps": [_gap(history, gap, zone) for gap in history.gaps],
        "methods": [_matured(found) for found in history.matured(methods)],
    }


def _gap(history: History, gap: Gap, zone: tzinfo) -> dict[str, object]:
    start, finish = (
        None if instant is None else output.iso(instant, zone)
        for instant in (
            history.instant(gap.after_h),
            history.instant(gap.after_h + gap.hours),
        )
    )
    return {
        "start": start,
        "finish": finish,
        "start_h": round(gap.after_h, 6),
        "hours": round(gap.hours, 6),
    }


def _matured(found: Matured) -> dict[str, object]:
    return {
        "method": found.method.name,
        "temperature_time_factor_ch": _rounded(found.factor_ch),
        "equivalent_age_h": _rounded(found.age_h),
        **found.method.constants,
        "outside_range_h": round(found.outside_h, 6),
        "standing": found.method.standing,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)


# -- for people


class _Page:
    """The maturity of a file on its way to a terminal."""

    def __init__(self, session: Session, path: Path, methods: Sequence[Method]) -> None:
        self.zone = session.zone
        self.zone_name = session.shop.zone or "the machine's own"
        self.units = Units(session.shop.units)
        self.path = path
        self.methods = methods

    def print(self, recording: Recording) -> None:
        output.line(self.path.name)
        for channel in recording.channels:
            output.line()
            self.block(channel)
        notes = list(recording.notes)
        if recording.local:
            zone = f"the shop's zone ({self.zone_name})"
            notes.append(f"times without an offset are taken in {zone}")
        if notes:
            output.line()
        for note in notes:
            output.lines(f"Note: {note}.", indent="  ")

    def block(self, channel: Channel) -> None:
        history = channel.history
        begun = "" if history.start is None else f" from {self.at(history, 0)}"
        output.lines(
            f"{channel.name}: {history.readings} readings over {history.hours:.1f} h"
            f"{begun}",
            indent="  ",
        )
        self.gaps(history)
        found = history.matured(self.methods)
        output.table(
            ("method", f"factor {self.units.temperature_unit} h", "age h", "at", ""),
            [self.row(one) for one in found],
        )
        for one in found:
            if one.outside_h:
                low, high = map(self.units.temperature, one.method.range_c)
                output.lines(
                    f"{one.method.name}: {one.outside_h:.1f} h outside {low} to {high} "
                    "count nothing.",
                    indent="  ",
                )

    def row(self, found: Matured) -> tuple[str, ...]:
        constants = found.method.constants
        factor = found.factor_ch
        with_what = ""
        if "datum_c" in constants:
            with_what = f"datum {self.units.temperature(constants['datum_c'])}"
        elif "activation_energy_kj_mol" in constants:
            with_what = f"{constants['activation_energy_kj_mol']:g} kJ/mol"
        if factor is not None and self.units.system == "us":
            factor *= 1.8
        return (
            found.method.name,
            "-" if factor is None else f"{factor:.1f}",
            "-" if found.age_h is None else f"{found.age_h:.1f}",
            self.units.temperature(constants["reference_c"]),
            with_what,
        )

    def gaps(self, history: History) -> None:
        gaps = history.gaps
        for gap in gaps[:_MOST_GAPS]:
            length = output.length(gap.hours * 60)
            output.line(f"! gap after {self.at(history, gap.after_h)}, {length}")
        if len(gaps) > _MOST_GAPS:
            output.line(f"! and {len(gaps) - _MOST_GAPS} more gaps")
        if gaps:
            output.lines(
                f"! Readings more than {history.limit_h:g} h apart: that time counts "
                f"nothing, {history.counted_h:.1f} h count.",
                indent="  ",
            )

    def at(self, history: History, hours: float) -> str:
        instant = history.instant(hours)
        if instant is None:
            return f"{hours:.1f} h"
        local = instant.astimezone(self.zone)
        return f"{local:%a} {local.day} {local:%B %Y %H:%M}"
