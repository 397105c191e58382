"""The verbs that write to the log: each says so only once it is on the disk."""

from __future__ import annotations

import argparse
from datetime import datetime

from scheduling.alert import Alert, ringing
from scheduling.covering import COVER_NAMES
from scheduling.errors import BadInput, Fault
from scheduling.inforce import undo_target
from scheduling.pourname import SHOP
from scheduling.process import StepKey
from scheduling.readings import say_readings
from scheduling.recipe import ENTRIES
from scheduling.shell import CoverName
from scheduling.touch import FEELS, say_try
from scheduling.units import Units
from scheduling.written import shown
from tui import output
from tui.meant import people_meant, step_meant
from tui.session import Session
from tui.verbs.arguments import (
    MOST_CHARACTERS,
    Parser,
    Verbs,
    add_verb,
    humidity,
    temperature,
    wind,
    words,
)
from tui.verbs.opening import (
    find_job,
    find_pour,
    find_zone,
    happened_at,
    open_session,
)
from tui.verbs.saving import about_pour, add_at, in_full, saved

ZONE_KINDS = ("fogged", "covered", "uncovered", "resprayed")
"""What may happen to a zone, each a verb of its own."""

WHOLE_KINDS = ("covered", "uncovered")
"""Those that may happen to the whole piece too, once it is cast."""

READINGS = {
    "temp": "shop_c",
    "form": "form_c",
    "mix": "mix_c",
    "piece": "piece_c",
    "rh": "rh_pct",
    "wind": "wind_kmh",
}
"""Keys of a reading in the log, by the flag that gives it."""

DEMOULD = "demould"
NOT_READY = "not-ready"
"""Words of a try of the demould."""


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verbs."""
    _add_start(verbs)
    _add_mark(verbs)
    _add_touch(verbs)
    _add_reading(verbs)
    for kind in ZONE_KINDS:
        what = f"a zone was {kind.replace('resprayed', 'sprayed anew')}"
        parser = about_pour(verbs, kind, what)
        whole = kind in WHOLE_KINDS
        parser.add_argument(
            "zone",
            metavar="ZONE",
            nargs="?" if whole else None,
            help="of the face coat; else the whole piece" if whole else None,
        )
        if kind == "covered":
            parser.add_argument(
                "--with",
                dest="cover",
                metavar="COVER",
                choices=COVER_NAMES[1:],
                help=f"over the whole piece: {', '.join(COVER_NAMES[1:])}",
            )
        parser.set_defaults(run=run_zone, kind=kind, cover=None)
    parser = about_pour(verbs, "hands", "who is in today")
    parser.add_argument(
        "names", metavar="NAME", nargs="+", help="names of the shop, or a number"
    )
    parser.set_defaults(run=run_hands)
    parser = about_pour(verbs, "ack", "answer what is ringing on a pour")
    parser.add_argument(
        "alert", metavar="ALERT", nargs="?", help="one alert or kind; else all of them"
    )
    parser.set_defaults(run=run_ack)
    parser = about_pour(verbs, "note", "write a line into the log of a pour")
    parser.add_argument("text", metavar="TEXT", nargs="+")
    parser.add_argument(
        "--no-learning",
        action="store_true",
        help="nothing is to be learned from this pour: a trial, a new kind of form",
    )
    parser.set_defaults(run=run_note)
    what = f"take back the newest mark of a pour, or entry of the {SHOP}'s book"
    parser = about_pour(verbs, "undo", what, or_shop=True)
    parser.set_defaults(run=run_undo)


def _add_start(verbs: Verbs[Parser]) -> None:
    parser = add_verb(
        verbs,
        "start",
        "start the clock of a pour",
        json='print {"pour"} once it is safely written',
    )
    parser.add_argument(
        "job", metavar="JOB", help='a job file, the id of a job, or "bare"'
    )
    parser.add_argument(
        "--from",
        dest="entry",
        metavar="STEP",
        choices=ENTRIES,
        default="form",
        help=f"where it is joined: {', '.join(ENTRIES)}",
    )
    add_at(parser)
    parser.set_defaults(run=run_start)


def _add_mark(verbs: Verbs[Parser]) -> None:
    parser = about_pour(verbs, "mark", "a step was started, finished or skipped")
    parser.add_argument("step", metavar="STEP")
    parser.add_argument(
        "state", metavar="STATE", choices=("started", "finished", "skipped")
    )
    parser.add_argument("--zone", metavar="Z", help="else the first that is not done")
    add_at(parser)
    parser.set_defaults(run=run_mark)


def _add_touch(verbs: Verbs[Parser]) -> None:
    what = "what a fingertip says of a zone or a wait, or a try of the demould"
    parser = about_pour(verbs, "touch", what)
    parser.add_argument(
        "zone", metavar="ZONE", help=f'a zone, a step that waits, or "{DEMOULD}"'
    )
    parser.add_argument(
        "feel",
        metavar="FEEL",
        choices=(*FEELS, NOT_READY),
        help=f"one of {', '.join(FEELS)}; of the demould, {NOT_READY} or ready",
    )
    parser.add_argument(
        "--waited",
        action="store_true",
        help="the demould could have been ready sooner: it waited for the shop",
    )
    add_at(parser)
    parser.set_defaults(run=run_touch)


def _add_reading(verbs: Verbs[Parser]) -> None:
    parser = about_pour(verbs, "reading", "temperatures and air, as measured")
    for flag, what in (
        ("temp", "the shop"),
        ("form", "the surface of the form"),
        ("mix", "the mix"),
        ("piece", "the piece"),
    ):
        parser.add_argument(
            f"--{flag}",
            metavar="C",
            type=temperature(f"--{flag}"),
            help=f"temperature of {what}, degC",
        )
    parser.add_argument("--rh", metavar="P", type=humidity(), help="percent")
    parser.add_argument("--wind", metavar="KMH", type=wind(), help="km/h")
    add_at(parser)
    parser.set_defaults(run=run_reading)


# -- doing it


def run_start(args: argparse.Namespace) -> int:
    """Starts a pour."""
    session = open_session(args)
    job = find_job(session, args.job)
    at = happened_at(session, args.at)
    try:
        name = session.start(job, entry=args.entry, at=at)
    except ValueError as error:  # the shop's calendar has no day for it
        raise BadInput(Fault("shop.toml", "hours", "", str(error))) from error
    if args.json:
        output.as_json({"pour": name})
        return 0
    begun = session.pour(name).timeline.start
    output.line(f"{name}: started from the {args.entry}, {in_full(session, begun)}")
    return 0


def run_mark(args: argparse.Namespace) -> int:
    """Marks a step."""
    session = open_session(args)
    pour = find_pour(session, args.pour)
    key = step_meant(session.pour(pour).timeline, args.step, args.zone)
    at = happened_at(session, args.at)
    event = session.mark(pour, args.state, key, at=at)
    return saved(args, session, event, f"{key} {args.state}")


def run_touch(args: argparse.Namespace) -> int:
    """Writes down a touch test."""
    session = open_session(args)
    pour = find_pour(session, args.pour)
    at = happened_at(session, args.at)
    zones = session.pour(pour).timeline.process.zones
    if args.zone == DEMOULD and DEMOULD not in zones:
        return _try_demould(args, session, pour, at)
    if args.waited or args.feel == NOT_READY:
        wrong = "--waited" if args.waited else NOT_READY
        raise BadInput(Fault("touch", "", wrong, f"only of the {DEMOULD}"))
    event = session.touch(pour, args.feel, args.zone, at=at)
    felt = StepKey(event.step, event.zone)
    about = event.zone if event.step == "lift-1" else str(felt)
    return saved(args, session, event, f"{about} {args.feel}")


def _try_demould(
    args: argparse.Namespace, session: Session, pour: str, at: datetime | None
) -> int:
    """Writes down a try of the demould."""
    ready = args.feel == "ready"
    if args.feel not in (NOT_READY, "soft", "ready"):
        want = f"{NOT_READY} or ready"
        raise BadInput(Fault(DEMOULD, "", args.feel, want))
    if args.waited and not ready:
        raise BadInput(Fault("--waited", "", "", "only with ready"))
    first = not args.waited
    event = session.try_demould(pour, ready=ready, first_possible=first, at=at)
    said = say_try(ready=ready, first_possible=first)
    return saved(args, session, event, f"{DEMOULD} {said}")


def run_reading(args: argparse.Namespace) -> int:
    """Writes down a reading."""
    values = {
        key: value
        for flag, key in READINGS.items()
        if (value := getattr(args, flag)) is not None
    }
    if not values:
        flags = ", ".join(f"--{flag}" for flag in READINGS)
        raise BadInput(Fault("reading", "", "", f"at least one of {flags}"))
    session = open_session(args)
    pour = find_pour(session, args.pour)
    event = session.reading(pour, values, at=happened_at(session, args.at))
    said = say_readings(values, Units(session.shop.units))
    return saved(args, session, event, said)


def run_zone(args: argparse.Namespace) -> int:
    """Writes down what happened to a zone, or to the whole piece."""
    if args.zone is not None and args.cover is not None:
        want = f"left out with --with: a {args.cover} lies over the whole piece"
        raise BadInput(Fault("ZONE", "", shown(args.zone), want))
    session = open_session(args)
    pour = find_pour(session, args.pour)
    if args.zone is None:
        if args.kind == "uncovered":
            event = session.piece_cover(pour, "open")
            return saved(args, session, event, "piece uncovered")
        cover: CoverName = args.cover or "plastic"
        event = session.piece_cover(pour, cover)
        return saved(args, session, event, f"piece under {cover}")
    zone = find_zone(session, pour, args.zone)
    event = session.zone_event(pour, args.kind, zone)
    return saved(args, session, event, f"{zone} {args.kind}")


def run_hands(args: argparse.Namespace) -> int:
    """Writes down who is in."""
    session = open_session(args)
    pour = find_pour(session, args.pour)
    names = people_meant(",".join(args.names), session.shop.people)
    event = session.hands(pour, names)
    return saved(args, session, event, f"in: {', '.join(names)}")


def run_note(args: argparse.Namespace) -> int:
    """Writes a line down."""
    text = words("TEXT", MOST_CHARACTERS)(" ".join(args.text))
    session = open_session(args)
    pour = find_pour(session, args.pour)
    event = session.note(pour, text, learn=not args.no_learning)
    said = "note, nothing is learned from this pour" if args.no_learning else "note"
    return saved(args, session, event, said)


def run_undo(args: argparse.Namespace) -> int:
    """Takes back the newest mark."""
    if args.pour == SHOP:
        from tui.verbs import undoshop  # noqa: PLC0415 - brings in what no mark needs

        return undoshop.run(args)
    session = open_session(args)
    pour = find_pour(session, args.pour)
    target = undo_target(session.events(pour))
    event = session.undo(pour)
    about = f"{target.kind} {target.step} {target.zone}".strip() if target else ""
    return saved(args, session, event, f"taken back: {about}")


def run_ack(args: argparse.Namespace) -> int:
    """Answers what rings; 1 when nothing does."""
    session = open_session(args)
    pour = session.pour(find_pour(session, args.pour))
    now = session.time.now()
    heard = [] if pour.over else ringing(pour.alerts, pour.state, now)
    if args.alert is not None:
        heard = _chosen(heard, list(pour.alerts), args.alert)
    if not heard:
        what = args.alert or "nothing"
        verb = "is not ringing" if args.alert else "rings"
        output.complain(f"{pour.name}: {what} {verb} now")
        return 1
    events = [session.acknowledge(alert) for alert in heard]
    session.settle(pour.name)
    if args.json:
        shown: dict[str, object] = {"event": events[0].id}
        if len(events) > 1:
            shown["events"] = [event.id for event in events]
        output.as_json(shown)
        return 0
    for alert in heard:
        output.line(
            f"{pour.name}: heard: {alert.line} - saved, {in_full(session, now)}"
        )
    return 0


def _chosen(heard: list[Alert], known: list[Alert], text: str) -> list[Alert]:
    """The ringing alerts that are meant, by id or by kind.

    Raises:
        BadInput: The pour has no alert of that name at all.
    """
    if not any(text in (alert.id, alert.kind) for alert in known):
        names = sorted({alert.id for alert in heard} or {a.kind for a in known})
        want = f"one of {', '.join(names[:8])}" if names else "this pour has no alerts"
        raise BadInput(Fault("ALERT", "", shown(text), want))
    return [alert for alert in heard if text in (alert.id, alert.kind)]
