"""T6: 72 hours of the real program on virtual time; run by hand, some minutes.

python tests/soak/program_virtual.py [HOURS]
"""

from __future__ import annotations

import asyncio
import logging
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from scheduling.shop import Bells
from scheduling.timeline import Status
from support.terminal import silent_shop
from support.virtual import Machine, VirtualTime, run_on
from tui.app import PourbellApp
from tui.session import Session


async def days(machine, session, hours):
    """Somebody starts a pour each morning and answers every bell after 20 s."""
    app = PourbellApp(session)
    ticks = 0
    tick = app.tick

    def counted():
        nonlocal ticks
        ticks += 1
        tick()

    app.tick = counted
    late = []
    async with app.run_test(size=(80, 24)) as pilot:
        end = machine.mono + hours * 3600
        morning = machine.mono
        while machine.mono < end:
            if machine.mono >= morning:
                morning += 24 * 3600
                job = session.folder.job("bare")
                app._current = session.start(job, entry="face coat")
            await asyncio.sleep(20)
            ring = app.bells.loudest()
            if ring is not None:
                late.append(ring.late_s)
                await pilot.press("enter")
            elif (pour := app.pour) and _is_time(pour, session.time.now()):
                await pilot.press("space")
    return ticks, late


def _is_time(pour, now):
    """Whether the next mark of a pour is due by its own forecast."""
    span = pour.timeline.next_step()
    if span is None:
        return False
    return now >= (span.finish if span.status is Status.RUNNING else span.start)


def main(hours=72.0):
    logging.disable(logging.WARNING)
    machine = Machine()
    with TemporaryDirectory() as path:
        session = Session(silent_shop(Path(path) / "shop"), VirtualTime(machine))
        silent = Bells(terminal=False, sound=False, desktop=False)
        object.__setattr__(session.shop, "bells", silent)
        begun = time.perf_counter()
        ticks, late = run_on(machine, days(machine, session, hours))
        took = time.perf_counter() - begun
    print(
        f"T6: {hours:g} h of the program, {ticks} ticks, {len(late)} bells, "
        f"late {max(late, default=0):.1f} s at most, {took:.0f} s"
    )


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
