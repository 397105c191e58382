"""A shop folder whose pours were worked on a simulated clock, for what they teach."""

from __future__ import annotations

from datetime import timedelta

from scheduling.folder import BARE
from scheduling.process import StepKey
from tui.session import Session

MINUTE = timedelta(minutes=1)
ZONE = "field"


READ = {"shop_c": 21.0, "rh_pct": 50.0}
"""What the shop reads each morning; {} for a shop without a thermometer."""


def work_pours(
    folder, time, pours, *, opens=(13, 14, 12), paces=(0.7, 0.8, 0.75), read=READ
):
    """Works pours of the bare slab one after the other, ten days apart.

    Args:
        folder: The shop folder.
        time: A simulated clock; it is moved.
        pours: How many.
        opens: Minutes after the spraying at which the face coat opens, in turn.
        paces: Factors on the rate of every step, in turn.
        read: The one reading of each pour; none if it is empty.

    Returns:
        Their names.
    """
    names = []
    for number in range(pours):
        session = Session(folder, time, ("Ines", "Otto")[number % 3 == 2])
        session.load()
        name = session.start(BARE, entry="face coat")
        if read:
            session.reading(name, read)
        hands = _Hands(session, time, name, paces[number % len(paces)])
        for step in ("mix-face", "flow-check"):
            hands.work(step)
        hands.work("spray", ZONE)
        hands.touch_until(opens[number % len(opens)])
        hands.work("lift-1", ZONE)
        hands.work("roll-1", ZONE)
        session.put_away(name)
        session.settle(name)
        names.append(name)
        time.advance_to(time.now() + timedelta(days=10) - timedelta(hours=2))
    return names


class _Hands:
    def __init__(self, session, time, name, pace):
        self.session, self.time, self.name, self.pace = session, time, name, pace

    def wait(self, minutes):
        self.time.advance_to(self.time.now() + minutes * MINUTE)

    def work(self, step, zone=""):
        key = StepKey(step, zone)
        known = self.session.setting.process(BARE, on=self.time.now()).step(key)
        self.session.mark(self.name, "started", key)
        self.session.settle(self.name)
        self.wait(known.minutes * self.pace)
        self.session.mark(self.name, "finished", key)
        self.session.settle(self.name)

    def touch_until(self, opens):
        felt = 0
        while felt < opens:
            self.wait(3)
            felt += 3
            feel = "ready" if felt >= opens else "soft"
            self.session.touch(self.name, feel, ZONE)
            self.session.settle(self.name)
