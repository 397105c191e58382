"""Opening the shop folder for a verb, and finding the job or pour it is about."""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import datetime, timedelta
from difflib import get_close_matches
from pathlib import Path

from scheduling.errors import BadInput, Fault
from scheduling.folder import ShopFolder, default_folder
from scheduling.job import Job
from scheduling.log import Log
from scheduling.pourname import SHOP
from scheduling.times import Lean, read_time
from scheduling.written import shown
from tui import output
from tui.meant import nearest
from tui.session import Session

_SECOND = timedelta(seconds=1)


def shop_folder(args: argparse.Namespace) -> ShopFolder:
    """Returns the shop folder that was named, or the usual one; it may not exist.

    Raises:
        BadInput: There is something else in its place.
    """
    path = Path(args.shop) if args.shop else default_folder()
    where = "--shop" if args.shop else "POURBELL_SHOP"
    try:
        wrong = path.exists() and not path.is_dir()
    except OSError as error:
        raise BadInput(
            Fault(where, "", shown(str(path)), str(error.strerror))
        ) from None
    if wrong:
        raise BadInput(Fault(where, "", str(path), "a folder, and this is a file"))
    return ShopFolder(path)


def open_session(args: argparse.Namespace) -> Session:
    """Opens the shop folder; its log is not read yet.

    Raises:
        BadInput: The folder or its shop file is wrong.
    """
    return Session(shop_folder(args), args.time, args.by or "")


def open_taught(args: argparse.Namespace) -> Session:
    """Opens the shop folder with the values it has accepted; no pour is read.

    Raises:
        BadInput: The folder or its shop file is wrong.
    """
    session = open_session(args)
    session.read_book()
    for fault in session.faults.values():
        output.complain(fault)
    return session


def find_job(session: Session, name: str) -> Job:
    """Returns a job by its path or id, with a mix that the shop has.

    Raises:
        BadInput: There is none such, its file is wrong, or its mix is unknown.
    """
    try:
        job = session.folder.job(name)
    except (OSError, ValueError) as error:
        want = "a path or the id of a job"
        raise BadInput(Fault("JOB", "", shown(name), want)) from error
    session.folder.check_mix(job, session.shop)
    return job


def find_pour(session: Session, text: str) -> str:
    """Reads the one pour whose name is given, or begins so, and returns its name.

    Raises:
        BadInput: No pour, or several.
        LogFault: It cannot be read.
    """
    name = pour_name(session.log, text)
    session.load_one(name)
    return session.pour(name).name


def pour_name(log: Log, text: str) -> str:
    """Returns the name of the one pour whose name is given, or begins so.

    Raises:
        BadInput: No pour, or several.
        LogFault: The log cannot be listed.
    """
    names = log.pours()
    fits = [name for name in names if name.startswith(text)]
    if text in names:
        fits = [text]
    if len(fits) > 1:
        want = f"it could be {', '.join(fits[:8])}: write more of it"
        raise BadInput(Fault("POUR", "", shown(text), want))
    if not fits:
        near = get_close_matches(text, names, n=1)
        want = f'did you mean "{near[0]}"?' if near else 'see "pourbell log"'
        raise BadInput(Fault("POUR", "", shown(text), f"no such pour; {want}"))
    return fits[0]


def journal_name(log: Log, text: str) -> str:
    """As ``pour_name``; SHOP is the name of the shop's own events."""
    return SHOP if text == SHOP else pour_name(log, text)


def find_zone(session: Session, pour: str, zone: str) -> str:
    """Returns a zone of a pour as it is spelt there.

    Raises:
        BadInput: The pour has no such zone.
    """
    zones = session.pour(pour).timeline.process.zones
    if zone not in zones:
        raise BadInput(Fault("ZONE", "", shown(zone), nearest(zone, zones)))
    return zone


def first_opening(session: Session) -> datetime:
    """Returns now when the shop is open, else when it next opens.

    Raises:
        BadInput: It never does.
    """
    try:
        return session.setting.hours.next_open(session.time.now())
    except ValueError as error:
        raise BadInput(Fault("shop.toml", "hours", "", str(error))) from error


def next_morning(session: Session) -> datetime:
    """Returns when the shop next opens for a whole day.

    Raises:
        BadInput: It never does.
    """
    try:
        # A second before, so that the very opening is still this morning's.
        return session.setting.hours.next_day_open(session.time.now() - _SECOND)
    except ValueError as error:
        raise BadInput(Fault("shop.toml", "hours", "", str(error))) from error


def happened_at(session: Session, text: str | None) -> datetime | None:
    """Reads ``--at``: when something happened; None when it was just now.

    What it is taken to mean is said before anything is saved, beside the output.

    Raises:
        BadInput: It cannot be read.
    """
    if text is None:
        return None
    try:
        at = session.read_time(text)
    except BadInput as bad:
        raise _named(bad, "--at") from bad
    output.complain(f"--at {text}: {session.say_time(at)}")
    return at


def start_at(session: Session, text: str | None, *, lean: Lean = "future") -> datetime:
    """Reads ``--start``: when a pour would begin; the shop's next opening without it.

    Raises:
        BadInput: It cannot be read, or comes twice that day.
    """
    if text is None:
        return first_opening(session)
    zone = session.zone
    try:
        typed = read_time(text, session.time.now(), zone, lean=lean)
    except BadInput as bad:
        raise _named(bad, "--start") from bad
    if len(typed.instants) > 1:
        both = " or ".join(
            one.astimezone(zone).isoformat(timespec="minutes") for one in typed.instants
        )
        want = f"comes twice that day: write {both}"
        raise BadInput(Fault("--start", "", text, want))
    return typed.instants[0]


def _named(bad: BadInput, flag: str) -> BadInput:
    return BadInput(*(replace(fault, where=flag) for fault in bad.faults))
