"""The log of a shop that has worked for years."""

from __future__ import annotations

from datetime import timedelta

from scheduling.archive import Archive
from scheduling.disk import Disk
from scheduling.event import event_to_document
from scheduling.log import Log
from support.logs import AT, event


class Quick(Disk):
    """Waits for no disk, for making much to measure."""

    def sync(self, handle):
        """Does nothing."""

    def sync_folder(self, folder):
        """Does nothing."""


def make_years(folder, *, pours, readings, still_open=3):
    """Makes that many pours, 60 events and some readings each; the last ones open.

    Returns:
        How many events there are.
    """
    disk = Quick()
    archive = Archive(folder, disk)
    log = Log(folder, disk)
    every = timedelta(days=3650) / pours
    for number in range(pours):
        pour = f"pour-{number}.0401"
        events = list(_pour(pour, AT + number * every, readings))
        if number < pours - still_open:
            archive.write(pour, [event_to_document(each) for each in events])
        else:
            for each in events:
                log.append(each)
    log.index()
    return pours * (60 + readings)


def _pour(pour, begun, readings):
    for number in range(60 + readings):
        at = begun + timedelta(minutes=5 * number)
        kind, data = "reading", {"shop_c": 20.0 + number % 7, "rh_pct": 45.5}
        if number == 0:
            kind, data = "started", {"job": {"id": f"job-{len(pour)}"}, "shop": {}}
        elif number < 60:
            kind, data = "finished", {"forecast": {"minutes": 12.5, "waits": {}}}
        yield event(
            number,
            pour=pour,
            at=at,
            recorded_at=at,
            kind=kind,
            data=data,
            step="roll" if number else "",
        )
