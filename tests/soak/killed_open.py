"""A6 in full: the real program killed with three open pours; run by hand, 5 min.

python tests/soak/killed_open.py [ROUNDS]

What rings is told by the shop's own command, which runs at once where the shop wants
no other noise.
"""

from __future__ import annotations

import json
import random
import signal
import sys
import time
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from scheduling.clock import WallTime
from scheduling.process import StepKey
from support.terminal import Program, silent_shop, wait_until
from tui.session import Session

WITHIN_S = 2.0
COMMAND = """[bells]
terminal = false
sound = false
command = ["/bin/sh", "-c", "cat >> {told}"]
"""


def three_pours(shop, chance):
    """Three pours that are sprayed, their bells at different times around now."""
    session = Session(shop, WallTime())
    now = session.time.now()
    for job in ("bare", "potting-bench-slab", "bare"):
        begun = now - timedelta(minutes=chance.uniform(12, 40))
        name = session.start(session.folder.job(job), entry="face coat", at=begun)
        for key in [span.key for span in session.pour(name).timeline.steps()]:
            if key.step in ("mix-face", "flow-check", "spray"):
                for kind in ("started", "finished"):
                    session.mark(name, kind, StepKey(key.step, key.zone), at=begun)
        session.settle(name)
    return session


def told(path):
    lines = path.read_text().splitlines() if path.exists() else []
    alerts = [json.loads(line) for line in lines]
    return {
        (one["pour"], one["kind"], one["zone"], one["due"])
        for one in alerts
        if one["type"] == "alert"
    }


def known(session, alert):
    due = alert.due.astimezone(session.zone).isoformat(timespec="seconds")
    return alert.pour, alert.kind, alert.zone or None, due


def one(folder, number):
    """Kills a program and starts another; returns overdue, missed, wrong, seconds."""
    chance = random.Random(number)
    shop = silent_shop(folder / str(number))
    path = folder / f"told-{number}"
    text = shop.shop_file.read_text()
    text = text[: text.index("[bells]")] + COMMAND.format(told=path)
    shop.shop_file.write_text(text)
    session = three_pours(shop, chance)
    with Program(shop) as first:
        first.up()
        wait_until(lambda: told(path), 10)
        time.sleep(chance.uniform(0, 1))
        first.send(signal.SIGKILL)
        session.load()
        answered = set()
        for alert in session.ringing(session.time.now()):
            if chance.random() < 0.5:
                answered.add(known(session, alert))
                session.acknowledge(alert)
                session.settle(alert.pour)
        path.unlink()
        with Program(shop) as again:
            wait_until(lambda: b"on the board" in again.output, 20)
            up = time.perf_counter()
            session.load()
            overdue = {known(session, a) for a in session.ringing(session.time.now())}
            while not overdue <= told(path) and time.perf_counter() - up < 10:
                time.sleep(0.02)
            took = time.perf_counter() - up
            time.sleep(0.5)
            rung = told(path)
    moved = {one[:3] for one in rung}
    missed = [each for each in overdue if each[:3] not in moved]
    wrong = [each for each in answered if each in rung]
    return len(overdue), len(missed), len(answered), len(wrong), took


def main(rounds=50):
    with TemporaryDirectory() as path:
        each = [one(Path(path), number) for number in range(rounds)]
    overdue, missed, answered, wrong = (sum(row[i] for row in each) for i in range(4))
    print(
        f"A6 killed with three open pours: {rounds} rounds, {overdue} overdue rang "
        f"{overdue - missed}, {answered} answered rang {wrong}, slowest "
        f"{max(row[4] for row in each):.1f} s of {WITHIN_S:g}"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
