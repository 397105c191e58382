"""``takeoff``: areas, lengths, masses and hours of one casting of a job."""

from __future__ import annotations

import argparse

from scheduling.batch import Order, lifting_note, order
from scheduling.job import Job
from scheduling.recipe import person_hours
from scheduling.takeoff import Takeoff, take_off
from scheduling.units import Units
from tui import output
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import find_job, open_taught


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(verbs, "takeoff", "areas, lengths, masses and hours of a job")
    parser.add_argument("job", metavar="JOB", help="a job file, or the id of a job")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the takeoff of one casting."""
    session = open_taught(args)
    job = find_job(session, args.job)
    mix = session.setting.mix(job)
    load = session.shop.mixer_load
    taken = take_off(job.shape, mix)
    hours = person_hours(job, mix, mixer_load=load, paces=session.setting.shop.paces)
    if args.json:
        output.as_json(to_json(taken, hours))
    else:
        mixed = order(taken, load, coupon="coupon" in job.optional)
        print_page(job, taken, mixed, hours, Units(session.shop.units))
    return 0


def to_json(taken: Takeoff, hours: float) -> dict[str, object]:
    """Returns the takeoff of one casting as JSON, SI."""
    return {
        "face_area_m2": round(taken.face_m2, 4),
        "upright_area_m2": round(taken.upright_m2, 4),
        "edge_m": round(taken.edge_m, 4),
        "fillet_m": round(taken.fillet_m, 4),
        "corners": taken.corners,
        "volume_l": round(taken.volume_l, 3),
        "face_kg": round(taken.face_kg, 3),
        "back_kg": round(taken.back_kg, 3),
        "piece_kg": round(taken.piece_kg, 3),
        "hands_on_h": round(hours, 2),
    }


def print_page(
    job: Job, taken: Takeoff, mixed: Order, hours: float, units: Units
) -> None:
    """Prints a takeoff for people, in the shop's units."""
    output.line(f"{job.id}: {job.title}")
    if job.castings > 1:
        output.line(f"one of {job.castings} castings from one form")
    rows = (
        ("face", units.area(taken.face_m2)),
        ("  of it upright", units.area(taken.upright_m2)),
        ("form edges", units.edge(taken.edge_m)),
        ("fillets", units.edge(taken.fillet_m)),
        ("corners", str(taken.corners)),
        ("concrete", units.volume(taken.volume_l)),
        ("face coat in the form", units.mass(taken.face_kg)),
        ("back coat in the form", units.mass(taken.back_kg)),
        ("the piece", units.mass(taken.piece_kg)),
        ("hands-on work", f"{hours:.1f} h"),
        ("face coat to mix", _batches(mixed.face_batches, mixed.face_batch_kg, units)),
        ("back coat to mix", _batches(mixed.batches, mixed.batch_kg, units)),
        ("  fibre in each", units.mass(mixed.fibre_kg)),
    )
    wide = max(len(name) for name, _ in rows)
    output.line()
    for name, value in rows:
        output.line(f"{name.ljust(wide)}  {value}")
    output.line()
    output.lines(f"Lifting: {lifting_note(taken.piece_kg, units)}", indent="  ")


def _batches(count: int, each_kg: float, units: Units) -> str:
    total = units.mass(count * each_kg)
    if count == 1:
        return f"{total} in 1 batch"
    return f"{total} in {count} equal batches of {units.mass(each_kg)}"
