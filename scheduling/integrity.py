"""Looking a whole shop folder over: what is right, what is worth a look, what is not.

Nothing is changed but the index, which is derived.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from scheduling.archive import INDEX
from scheduling.disk import Disk
from scheduling.errors import BadInput, LogFault
from scheduling.finding import Finding, Standing
from scheduling.folder import ShopFolder
from scheduling.jobfile import read_job
from scheduling.log import Log
from scheduling.pourname import SHOP, is_pour_name
from scheduling.shop import Shop


def shop_files(folder: ShopFolder) -> Iterator[Finding]:
    """Reads the shop file and every job."""
    shop: Shop | None = None
    name = folder.shop_file.name
    try:
        shop = folder.shop()
    except (BadInput, OSError) as bad:
        yield _unread(name, bad)
    else:
        people = ", ".join(person.name for person in shop.people)
        there = "" if folder.shop_file.exists() else "there is none, so the built-in: "
        found = f"{there}{shop.name}, {people}; mixes {', '.join(sorted(shop.mixes))}"
        yield _files(name, "ok", found)
    read = 0
    for path in folder.job_files():
        about = f"jobs/{path.name}"
        try:
            job = read_job(path)
            if shop is not None:
                folder.check_mix(job, shop)
        except (BadInput, OSError) as bad:
            yield _unread(about, bad)
        else:
            read += 1
    yield _files("jobs", "ok", f"{read} can be read")


def _files(about: str, standing: Standing, found: str, do: str = "") -> Finding:
    return Finding("files", about, standing, found, do)


def _unread(about: str, bad: BadInput | OSError) -> Finding:
    do = 'put right what it names; "pourbell new" writes a copy that is right'
    return _files(about, "fault", str(bad), do)


def log_files(folder: ShopFolder, disk: Disk) -> Iterator[Finding]:
    """Verifies every line and every checksum of the log, and what lies beside it."""
    if disk.stamp(folder.log) is None:
        yield _log("log", "ok", "no pour has been marked yet")
        return
    log = Log(folder.log, disk)
    try:
        pours, still_open = log.pours(), set(log.open_pours())
    except LogFault as fault:
        yield _unreadable("log", fault)
        return
    read = events = 0
    for pour in pours:
        count, findings = _pour(log, pour, still_open=pour in still_open)
        yield from findings
        read += count is not None
        events += count or 0
    found = f"{read} of {len(pours)} can be read; events, each verified: {events}"
    yield _log("pours", "ok", found)
    if pours:
        yield _index(log, folder.log / INDEX, disk)
    yield from _book(log)
    yield from _beside(folder.log, disk)


def _log(about: str, standing: Standing, found: str, do: str = "") -> Finding:
    return Finding("log", about, standing, found, do)


def _pour(log: Log, pour: str, *, still_open: bool) -> tuple[int | None, list[Finding]]:
    """How many events of a pour can be read, and what is wrong with it."""
    try:
        events = log.events(pour)
        findings = list(_journal(log, pour)) if still_open else []
    except LogFault as fault:
        return None, [_unreadable(pour, fault)]
    if not any(event.kind == "started" and not event.step for event in events):
        found = f"its start is not on record, only {len(events)} other events"
        do = "put a good copy of its file in place; the program cannot show it"
        findings.append(_log(pour, "look", found, do))
    return len(events), findings


def _journal(log: Log, name: str) -> Iterator[Finding]:
    """What is wrong with a journal that can be read."""
    damage = log.fault(name)
    if damage is not None:
        yield _unreadable(name, damage)
    elif torn := log.torn(name):
        found = f"half a line of {torn} bytes at its end, that nobody was told is saved"
        yield _log(name, "look", found, "nothing: the next mark sets it aside")


def _book(log: Log) -> Iterator[Finding]:
    """What there is of the shop's own events; nothing where there are none."""
    try:
        events = log.events(SHOP)
        found = list(_journal(log, SHOP))
    except LogFault as fault:
        yield _unreadable(SHOP, fault)
        return
    yield from found
    if events and not found:
        words = f"what it accepted and took from paper; events verified: {len(events)}"
        yield _log(SHOP, "ok", words)


def _unreadable(about: str, fault: LogFault) -> Finding:
    """What a fault says, and after its last stop or semicolon what to do."""
    words = str(fault)
    found, stop, do = words.rpartition(". ")
    if not stop:
        found, stop, do = words.rpartition("; ")
    if not stop:
        found, do = words, "put a good copy of the file in its place"
    return _log(about, "fault", found, f"{do[:1].lower()}{do[1:]}")


def _index(log: Log, path: Path, disk: Disk) -> Finding:
    there = disk.stamp(path) is not None
    try:
        log.index()  # takes in what has happened since it was written
        right = log.mend_index()
    except LogFault as fault:
        return _unreadable(INDEX, fault)
    if not there:
        return _log(INDEX, "ok", "was not there; derived from the pours anew")
    if not right:
        return _log(INDEX, "ok", "was not right; derived from the pours anew")
    return _log(INDEX, "ok", "agrees with the pours")


def _beside(log: Path, disk: Disk) -> Iterator[Finding]:
    """What lies in the folders of the log and is no journal and no sealed file."""
    years = [log / "archive" / year for year in disk.names(log / "archive")]
    endings = {log / "live": ".jnl", **dict.fromkeys(years, ".json")}
    scraps = [log / name for name in disk.names(log) if name.endswith(".tmp")]
    for folder, ending in endings.items():
        for name in disk.names(folder):
            path = folder / name
            if name.endswith(".tmp"):
                scraps.append(path)
            elif ".jnl.torn-" in name:
                found = "half a line that a power cut or a kill left, set aside"
                yield _kept(path, found)
            elif ".jnl.damaged" in name:
                yield _kept(path, "a damaged journal, kept whole when it was set aside")
            elif not name.endswith(ending) or not is_pour_name(path.stem):
                found = "is no pour's file and is not read"
                yield _log(name, "look", found, f"move it away: {path}")
    if scraps:
        found = f"{len(scraps)} files that a killed program left half-written"
        do = f"delete them while no program is open: {scraps[0]}"
        yield _log("scraps", "look", found, do)
    first = [
        name
        for name in disk.names(log)
        if name.endswith(".json") and name != INDEX and is_pour_name(name[:-5])
    ]
    if first:
        found = f"{len(first)} pours of the first version, read where they lie"
        yield _log("first version", "ok", f"{found}; the next mark carries them over")
    kept = len(disk.names(log / "before-journal"))
    if kept:
        found = f"{kept} files of the first version were carried over and are kept"
        yield _log("first version", "ok", f"{found} in {log / 'before-journal'}")


def _kept(path: Path, found: str) -> Finding:
    do = f"look into it, then delete it when you need it no more: {path}"
    return _log(path.name, "look", found, do)
