"""Time to lay a pour out, to fold its events and to derive its alerts.

Run it: python tests/bench/timeline.py. "fresh" makes the clocks anew, as after a
reading; "warm" keeps them, as after any other mark.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from shops import SAMPLES, add_notes, sample_shop, spread

from scheduling.alerts import derive
from scheduling.clock import SimulatedTime
from scheduling.folding import fold
from scheduling.forecast import Forecaster
from scheduling.pour import PourState
from tui.session import Session

NOW = datetime(2030, 4, 1, 9, 0, tzinfo=UTC)
READINGS = 50
TIMES = 25


def timed(work: Callable[[], object]) -> str:
    """Does some work again and again and says how long it took."""
    values = []
    for _ in range(TIMES):
        began = time.perf_counter()
        work()
        values.append((time.perf_counter() - began) * 1000)
    return spread(values)


def begun(session: Session, job: str) -> str:
    """Starts a pour of a sample job and marks its first steps."""
    name = session.start(session.folder.job(job), entry="face coat")
    for _ in range(6):
        session.go_on(name)
        session.settle(name)
    return name


def read_often(session: Session, name: str) -> None:
    """Adds readings of the hours before, each a little different."""
    for number in range(READINGS):
        at = session.time.now() - timedelta(minutes=10 * number)
        values = {"shop_c": 17 + number % 5, "rh_pct": 45 + number % 7}
        session.reading(name, values, at=at)
    session.settle(name)


def show(words: str, state: PourState, at: datetime) -> None:
    """Prints what laying out a state takes, fresh and warm."""
    kept = Forecaster()
    spans = kept.timeline(state, at).spans
    print(f"{words:<32} {len(spans):>3} spans", end="")
    print(f"   fresh {timed(lambda: Forecaster().timeline(state, at))}")
    print(f"{'':>44}warm  {timed(lambda: kept.timeline(state, at))}")


def main() -> None:
    """Measures and prints."""
    with tempfile.TemporaryDirectory(prefix="pourbell-bench-") as path:
        session = Session(sample_shop(Path(path), "UTC"), SimulatedTime(NOW), "bench")
        for job in SAMPLES:
            name = begun(session, job)
            show(f"{job}, typical day", session.pour(name).state, NOW)
            read_often(session, name)
            show(
                f"{'':>{len(job)}}  {READINGS} readings", session.pour(name).state, NOW
            )
        name = begun(session, "two-legged-desk")
        pour = session.pour(name)
        hours = pour.setting.hours
        alerts = list(derive(pour.timeline, pour.state, hours))
        took = timed(lambda: list(derive(pour.timeline, pour.state, hours)))
        print(f"{'alerts of the desk':<32} {len(alerts):>3} alerts        {took}")
        add_notes(session, name, 500)
        events = session.events(name)
        took = timed(lambda: fold(name, events))
        print(f"{'fold':<32} {len(events):>3} events        {took}")


if __name__ == "__main__":
    main()
