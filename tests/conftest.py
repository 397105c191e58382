"""What many tests share: a steady shop, its jobs, events, pours, sessions.

Nothing here reads the machine's clock or writes outside a test's own folder.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.alert import ringing
from scheduling.alerts import derive
from scheduling.clock import SimulatedTime
from scheduling.event import Event
from scheduling.folder import BARE, SAMPLE_SHOP, ShopFolder, sample_jobs, samples
from scheduling.folding import fold
from scheduling.forecast import Forecaster
from scheduling.jobfile import read_job
from scheduling.process import StepKey
from scheduling.shop import TypicalDay
from scheduling.shopfile import read_shop
from scheduling.snapshot import job_to_data, shop_to_data
from tui.session import Session

MONDAY = datetime(2030, 4, 1, 7, 30, tzinfo=UTC)
"""The opening of the first day of a working week."""


@pytest.fixture(scope="session")
def monday():
    return MONDAY


@pytest.fixture(scope="session")
def shop():
    """The sample shop in UTC, always at the reference climate."""
    sample = read_shop(samples() / SAMPLE_SHOP)
    return replace(sample, zone="UTC", climate=TypicalDay())


@pytest.fixture(scope="session")
def jobs():
    """The five sample jobs and the bare pour, by id."""
    read = [read_job(path) for path in sample_jobs()]
    return {job.id: job for job in (*read, BARE)}


@pytest.fixture(scope="session")
def event():
    return make_event


def make_event(number, kind, at, key=None, data=None):
    """An event of one pour; the number makes its id."""
    return Event(
        id=f"{number:012x}-0000",
        at=at,
        recorded_at=at,
        boot=(number, ""),
        zone_name="UTC",
        offset_min=0,
        pour="bare.0401",
        kind=kind,
        step=key.step if key else "",
        zone=key.zone if key else "",
        data=data or {},
    )


class Scripted:
    """One pour written down event by event; times are minutes since it began."""

    def __init__(self, job, shop, begun=MONDAY):
        self.begun = begun
        self.events = []
        self.forecaster = Forecaster()
        self.add("started", 0, job=job_to_data(job), shop=shop_to_data(shop))

    def at(self, minutes):
        return self.begun + timedelta(minutes=minutes)

    def add(self, kind, minutes, step="", zone="", **data):
        key = StepKey(step, zone)
        made = make_event(len(self.events), kind, self.at(minutes), key, data)
        self.events.append(made)
        return made

    def step(self, step, start, finish, zone=""):
        """Marks the start of a step, and its end unless that is None."""
        self.add("started", start, step, zone)
        if finish is not None:
            self.add("finished", finish, step, zone)

    def touch(self, feel, minutes, zone="field"):
        return self.add("touch", minutes, "lift-1", zone, feel=feel)

    @property
    def state(self):
        return fold("bare.0401", self.events)

    def timeline(self, minutes):
        return self.forecaster.timeline(self.state, self.at(minutes))

    def window(self, minutes, zone="field"):
        """The wait for lift 1 in a zone, as seen at a minute."""
        return self.timeline(minutes).wait_for(StepKey("lift-1", zone))

    def alerts(self, minutes):
        state = self.state
        hours = self.forecaster.setting(state).hours
        return derive(self.timeline(minutes), state, hours)

    def ringing(self, minutes):
        alerts = self.alerts(minutes)
        return ringing(alerts, self.state, self.at(minutes))

    def minutes(self, when):
        return (when - self.begun) / timedelta(minutes=1)


@pytest.fixture(scope="session")
def scripted(jobs, shop):
    """Makes a scripted pour: of the bare job in the steady shop if nothing is said."""

    def make(job=None, **options):
        return Scripted(job or jobs["bare"], options.pop("shop", shop), **options)

    return make


@pytest.fixture(scope="session")
def sprayed(scripted):
    """Makes a bare pour whose one zone was sprayed, ended 15 minutes after it began."""

    def make(job=None, **options):
        pour = scripted(job, **options)
        pour.step("mix-face", 0, 7)
        pour.step("flow-check", 7, 9.5)
        pour.step("spray", 10, 15, "field")
        return pour

    return make


@pytest.fixture
def folder(tmp_path, shop):
    """A shop folder with the samples, its shop in UTC and always at 21 degC."""
    made = ShopFolder(tmp_path / "shop")
    made.adopt_samples()
    text = made.shop_file.read_text()
    steady = text.replace('"17 C"', '"21 C"').replace('"22 C"', '"21 C"')
    made.shop_file.write_text('zone = "UTC"\n' + steady)
    assert made.shop() == shop
    return made


@pytest.fixture(scope="session")
def open_session():
    """Opens a session on a folder, at a simulated instant that stands still."""

    def opened(folder, at=MONDAY, **options):
        session = Session(folder, SimulatedTime(at), **options)
        session.load()
        return session

    return opened
