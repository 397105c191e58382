"""Moments of an invented day in the sample shop, for pictures of the program.

The clock stands still, the zone is fixed and nothing sounds, so that a moment is
the same picture on every machine.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from scheduling.process import StepKey
from tui.session import Session

TUESDAY = datetime(2030, 4, 2, 8, 0, tzinfo=UTC)
"""A day on which all three people of the sample shop are in."""

_SILENT = "[bells]\nterminal = false\nsound = false\ndesktop = false\n"


def open_shop(path: Path, theme: str = "dark", at: datetime = TUESDAY) -> Session:
    """Opens the sample shop in a folder: zone UTC, silent, its clock standing."""
    folder = ShopFolder(path)
    folder.adopt_samples()
    head, _, _ = folder.shop_file.read_text(encoding="utf-8").partition("[bells]")
    head = head.replace('theme = "dark"', f'theme = "{theme}"')
    folder.shop_file.write_text(f'zone = "UTC"\n{head}{_SILENT}', encoding="utf-8")
    return Session(folder, SimulatedTime(at))


def wait(session: Session, minutes: float) -> None:
    """Lets some minutes pass."""
    clock = session.time
    assert isinstance(clock, SimulatedTime)
    clock.advance_to(clock.now() + timedelta(minutes=minutes))
    session.refresh()


def wait_until(session: Session, instant: datetime) -> None:
    """Lets time pass up to an instant."""
    wait(session, (instant - session.time.now()) / timedelta(minutes=1))


def work(session: Session, name: str, last: StepKey | None = None) -> None:
    """Does the steps in hand, each in its own time, to the end of one or of the day."""
    while (span := session.pour(name).timeline.next_step()) is not None:
        if last is None and span.start > session.time.now() + timedelta(hours=2):
            return
        session.mark(name, "started", span.key)
        session.settle(name)
        wait(session, span.minutes)
        session.mark(name, "finished", span.key)
        session.settle(name)
        if span.key == last:
            return


def touch(session: Session, name: str, feel: str, zone: str) -> None:
    """Touches a zone."""
    session.touch(name, feel, zone)
    session.settle(name)


def hush(session: Session) -> None:
    """Answers whatever rings."""
    for alert in session.ringing(session.time.now()):
        session.acknowledge(alert)
        session.settle(alert.pour)


def rung(session: Session) -> None:
    """Has rung what rings in time, before the program was opened."""
    for alert in session.ringing(session.time.now()):
        session.rang(alert, 0.0)
        session.settle(alert.pour)


def desk_waiting(session: Session) -> str:
    """Pours the two-legged desk until one leg is ready, one soft and the top waits."""
    name = session.start(session.folder.job("two-legged-desk"), entry="weigh-off")
    session.hands(name, ("Ines", "Bo", "Wes"))
    work(session, name, StepKey("spray", "top"))
    work(session, name, StepKey("mix-back-1"))
    touch(session, name, "ready", "left leg")
    touch(session, name, "soft", "right leg")
    wait(session, 1)
    hush(session)
    return name


def three_pours(session: Session) -> str:
    """Puts three pours on the board: one cures, one has open zones, one begins."""
    bench = session.start(session.folder.job("court-bench"), entry="face coat")
    work(session, bench)
    hush(session)
    wait_until(session, TUESDAY + timedelta(days=1))
    desk = desk_waiting(session)
    slab = session.start(session.folder.job("potting-bench-slab"), entry="face coat")
    session.go_on(slab)
    session.settle(slab)
    wait(session, 2)
    hush(session)
    return desk


def bench_curing(session: Session) -> str:
    """The evening after the bench was cast; it lies under plastic."""
    name = session.start(session.folder.job("court-bench"), entry="face coat")
    work(session, name)
    wait_until(session, TUESDAY + timedelta(hours=13))
    hush(session)
    return name


def twelve_slabs(session: Session) -> str:
    """Slabs of twelve weeks on days that differ; of each every touch was written down.

    The forecast of this invented shop is late: its face opens sooner than the default.
    """
    slab = session.folder.job("potting-bench-slab")
    for week in range(12):
        wait_until(session, TUESDAY + timedelta(weeks=week))
        name = session.start(slab, entry="face coat")
        warmth = 15.0 + week * 7 % 11
        session.reading(name, {"shop_c": warmth, "form_c": warmth - 1, "rh_pct": 45.0})
        session.settle(name)
        zone = session.pour(name).timeline.process.zones[-1]
        work(session, name, StepKey("spray", zone))
        forecast = session.pour(name).timeline.wait_for(StepKey("lift-1", zone))
        assert forecast is not None
        assert forecast.opens is not None
        sooner = 0.62 + 0.04 * (week * 5 % 4)
        opens = forecast.start + sooner * (forecast.opens.p50 - forecast.start)
        while session.time.now() < opens:
            wait(session, 3)
            ready = session.time.now() >= opens
            touch(session, name, "ready" if ready else "soft", zone)
        work(session, name)
        session.put_away(name)
        session.settle(name)
    return name


def opens(session: Session) -> str:
    """The alert that a leg of the desk takes its back coat now."""
    name = session.start(session.folder.job("two-legged-desk"), entry="weigh-off")
    work(session, name, StepKey("mix-back-1"))
    hush(session)
    touch(session, name, "ready", "left leg")
    rung(session)
    return name


def closes(session: Session) -> str:
    """The alert that the window of that leg is about to close."""
    name = opens(session)
    hush(session)
    while not any(a.shape == "closes" for a in session.ringing(session.time.now())):
        hush(session)
        wait(session, 1)
    rung(session)
    return name
