"""The log of a shop that has worked for years."""

from __future__ import annotations

from datetime import timedelta

from scheduling.archive import Archive
from scheduling.disk import Disk
from scheduling.event import event_to_document
from scheduling.folder import sample_jobs
from scheduling.forecast import Setting
from scheduling.jobfile import read_job
from scheduling.log import Log
from scheduling.process import StepKey
from scheduling.shop import Shop
from scheduling.snapshot import job_to_data, shop_to_data
from support.logs import AT, event


class Quick(Disk):
    """Waits for no disk, for making much to measure."""

    def sync(self, handle):
        """Does nothing."""

    def sync_folder(self, folder):
        """Does nothing."""


def make_years(folder, *, pours, readings, still_open=3):
    """Makes that many pours of the sample jobs, worked from end to end; the last open.

    Each has 60 events, of a start and of steps begun and finished, and some readings.

    Returns:
        How many events there are.
    """
    disk = Quick()
    archive = Archive(folder, disk)
    log = Log(folder, disk)
    every = timedelta(days=3650) / pours
    marks = [_marks(read_job(path)) for path in sample_jobs()]
    for number in range(pours):
        begun = AT + number * every
        pour = f"pour-{number}.{begun:%m%d}"
        events = list(_pour(pour, begun, readings, marks[number % len(marks)]))
        if number < pours - still_open:
            archive.write(pour, [event_to_document(each) for each in events])
        else:
            log.append(*events)
    log.index()
    return pours * (60 + readings)


def _marks(job):
    """The kind, step and data of the first 60 events of a pour."""
    setting = Setting.of(Shop())
    data = {"job": job_to_data(job), "shop": shop_to_data(Shop())}
    keys = [step.key for step in setting.process(job, on=AT).steps]
    forecast = {"forecast": {"minutes": 12.5, "waits": {}, "temp_c": 20.5}}
    steps = [(kind, key, forecast) for key in keys for kind in ("started", "finished")]
    return [("started", StepKey(""), data), *steps][:60]


def _pour(pour, begun, readings, marks):
    for number in range(60 + readings):
        at = begun + timedelta(minutes=5 * number)
        kind, key = "reading", StepKey("")
        data = {"shop_c": 20.0 + number % 7, "rh_pct": 45.5}
        if number < len(marks):
            kind, key, data = marks[number]
        yield event(
            number,
            pour=pour,
            at=at,
            recorded_at=at,
            boot=(300_000 * number, "0f1e2d3c"),
            kind=kind,
            data=data,
            step=key.step,
            zone=key.zone,
        )
