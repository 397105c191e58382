"""S5 to S8 and S11 with longer counts.

``PYTHONPATH=.:tests python tests/soak/faults.py``, on the disk of TMPDIR; S6 wants a
user who may mount a file system.
"""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path
from random import Random

from tinydb import TinyDB

from scheduling.disk import Disk
from scheduling.errors import LogFault
from scheduling.event import event_from_document
from scheduling.log import Log
from support.logs import FOLDER, SLAB, TUB, WORKS, Day, event
from support.memorydisk import MemoryDisk

FLIPS = 6000


def told_wrong(log, told):
    """Whether a pour shows anything else than a part of what was written, unsaid."""
    found = log.events(SLAB)
    fault = log.fault(SLAB)
    if any(each not in told for each in found):
        return True
    # A tail that is cut off was torn; in the middle nothing may be missing unsaid.
    return fault is None and found != told[: len(found)]


def cut_and_flipped(folder):
    """S5: a journal at every length, and with one bit flipped."""
    told = [event(number) for number in range(30)]
    log = Log(folder)
    for each in told:
        log.append(each)
    path = folder / "live" / f"{SLAB}.jnl"
    raw = path.read_bytes()
    crashes = wrong = damaged = 0

    def look(content):
        nonlocal crashes, wrong, damaged
        path.write_bytes(content)
        try:
            log = Log(folder)
            wrong += told_wrong(log, told)
            damaged += log.fault(SLAB) is not None
        except Exception:  # noqa: BLE001 - whatever it is, it counts
            crashes += 1

    for length in range(len(raw)):
        look(raw[:length])
    dice = Random(5)
    for _ in range(FLIPS):
        flipped = bytearray(raw)
        flipped[dice.randrange(len(raw))] ^= 1 << dice.randrange(8)
        look(bytes(flipped))
    print(
        f"S5 cut and flipped: {len(raw)} lengths, {FLIPS} flipped bits, {damaged} "
        f"located, {wrong} silently wrong, {crashes} crashes",
        flush=True,
    )
    return wrong + crashes


def full(folder):
    """S6: a tmpfs that runs full and is given room again."""
    folder.mkdir()
    mount = shutil.which("mount")
    command = [mount, "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    if mount is None or subprocess.call(command, stderr=subprocess.DEVNULL):
        print("S6 full disk: skipped, this user may not mount a file system")
        return 0
    try:
        log = Log(folder / "log")
        log.append(event(0))
        (folder / "filler").write_bytes(b"x" * (Disk().free(folder) - 256 * 1024))
        told, words = [event(0)], ""
        while not words:
            try:
                log.append(event(len(told)))
                told.append(event(len(told)))
            except LogFault as fault:
                words = str(fault)
        reserve = any("DISK IS FULL" in note for note in log.notes)
        lost = len(told) - len(Log(folder / "log").events(SLAB))
        (folder / "filler").unlink()
        log.append(event(len(told)))
        went_on = Log(folder / "log").last(SLAB) == event(len(told))
    finally:
        subprocess.run(["umount", str(folder)], check=True)
    print(
        f"S6 full disk: {len(told)} acknowledged, {lost} lost, "
        f"reserve used: {reserve}, said NOT SAVED: {words.startswith('NOT SAVED')}, "
        f"went on: {went_on}",
        flush=True,
    )
    return lost + (not went_on) + (not words.startswith("NOT SAVED"))


def failing():
    """S7: an error at each of the first 40 calls of every kind, in every work."""
    runs = wrong = 0
    calls = ("append", "sync", "truncate", "replace", "sync_folder", "open", "unlink")
    for work in WORKS:
        for call in calls:
            for number in range(1, 41):
                runs += 1
                wrong += _fails(work, call, number)
    print(f"S7 EIO: {runs} runs, {wrong} told falsely or lost", flush=True)
    return wrong


def _fails(work, call, number):
    disk = MemoryDisk()
    day = Day(disk)
    seen = []

    def fail(made, _path):
        seen.extend([made] if made == call else [])
        if made == call and len(seen) == number:
            raise OSError(errno.EIO, "Input/output error")

    disk.before = fail
    # What a day prepares in quiet is not part of it.
    with suppress(LogFault):
        getattr(day, work)()
    disk.before = lambda _call, _path: None
    return any(
        Log(FOLDER, disk).events(pour)[: len(day.told[pour])] != day.told[pour]
        for pour in (SLAB, TUB)
    )


def read_only(folder):
    """S8: a folder of somebody else."""
    Log(folder).append(event(1))
    for each in (folder, *folder.rglob("*")):
        each.chmod(0o555 if each.is_dir() else 0o444)
    folder.parent.chmod(0o755)
    child = os.fork()
    if child == 0:
        os._exit(_reads_only(folder))
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    for each in (folder, *folder.rglob("*")):
        each.chmod(0o755)
    print(f"S8 read-only folder: read, and said NOT SAVED: {status == 0}", flush=True)
    return status


def _reads_only(folder):
    if os.getuid() == 0:
        os.setgid(65534)
        os.setuid(65534)
    log = Log(folder)
    if log.events(SLAB) != [event(1)]:
        return 1
    try:
        log.append(event(2))
    except LogFault as fault:
        return 0 if "NOT SAVED" in str(fault) else 2
    return 3


def sealed(folder):
    """S11: sealed files are opened by TinyDB as it comes."""
    dice, log, wrong = Random(11), Log(folder), 0
    for number in range(200):
        pour = f"pour-{number}.0401"
        events = [event(each, pour=pour) for each in range(dice.randrange(1, 80))]
        log.append(*events)
        log.seal(pour)
        (path,) = folder.glob(f"archive/*/{pour}.json")
        with TinyDB(path) as stock:
            found = [event_from_document(each) for each in stock.table("events").all()]
        wrong += found != events
    print(f"S11 sealed: 200 pours, {wrong} differ in stock TinyDB", flush=True)
    return wrong


def main():
    """Runs them all and prints a line for each."""
    with tempfile.TemporaryDirectory() as path:
        folder = Path(path)
        bad = cut_and_flipped(folder / "s5")
        bad += full(folder / "s6")
        bad += failing()
        bad += read_only(folder / "s8")
        bad += sealed(folder / "s11")
    raise SystemExit(bool(bad))


if __name__ == "__main__":
    main()
