"""Time of a cure forecast for ten pours, all of them cast and under cover.

Run it: python tests/bench/cure.py. Time of the processor, whatever else it does.
"warm" asks again for what is there, "fresh" follows every piece anew, "laid out" makes
its timeline and all its clocks anew before, as after a reading, and "what if" lays it
out in another night and under another cover.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from shops import SAMPLES, sample_shop, spread

from scheduling.clock import SimulatedTime
from scheduling.cure import Cure
from scheduling.cureforecast import cure_of
from scheduling.forecast import Forecaster
from scheduling.night import ShopAir
from scheduling.process import StepKey
from scheduling.timeline import OVER
from tui.inmemory import Pour
from tui.session import Session

NOW = datetime(2030, 4, 1, 8, 0, tzinfo=UTC)
POURS = 10
TIMES = 15


def cured(session: Session, number: int) -> str:
    """A pour that was cast and covered, with two readings of its piece."""
    job = session.folder.job(SAMPLES[number % len(SAMPLES)])
    name = session.start(job, entry="face coat")
    clock = session.time
    assert isinstance(clock, SimulatedTime)
    steps = session.pour(name).timeline.steps()
    for key in [span.key for span in steps if span.status not in OVER]:
        session.mark(name, "started", key)
        session.mark(name, "finished", key)
        if key == StepKey("cover"):
            break
    for minutes in (20, 40):
        clock.advance_to(clock.now() + timedelta(minutes=minutes))
        session.reading(name, {"piece_c": 24.0, "shop_c": 19.0})
    session.settle(name)
    return name


def timed(work: Callable[[Pour], object], pours: list[Pour]) -> str:
    """Does some work for every pour, again and again, and says how long it took."""
    values = []
    for _ in range(TIMES):
        began = time.process_time()
        for pour in pours:
            work(pour)
        values.append((time.process_time() - began) * 1000)
    return spread(values)


def main() -> None:
    """Measures and prints."""
    with tempfile.TemporaryDirectory(prefix="pourbell-bench-") as path:
        session = Session(sample_shop(Path(path), "UTC"), SimulatedTime(NOW), "bench")
        names = [cured(session, number) for number in range(POURS)]
        now = session.time.now()
        session.refresh()
        pours = [session.pour(name) for name in names]

        def fresh(pour: Pour) -> Cure:
            cast = pour.timeline.cast
            assert cast is not None
            casts = cast.casts.in_air(ShopAir.of(cast.casts.climate))
            again = replace(pour.timeline, cast=casts.cast(cast.at, cast.covers))
            return cure_of(pour.state, again, pour.setting, at=now)

        def laid_out(pour: Pour) -> Cure:
            timeline = Forecaster().timeline(pour.state, now)
            return cure_of(pour.state, timeline, pour.setting, at=now)

        def warm(pour: Pour) -> Cure:
            return cure_of(pour.state, pour.timeline, pour.setting, at=now)

        def what_if(pour: Pour) -> Cure:
            return cure_of(
                pour.state,
                pour.timeline,
                pour.setting,
                at=now,
                low_c=8.0,
                cover="blanket",
            )

        print(f"{POURS} pours, {len(warm(pours[0]).points)} points each")
        print(f"warm      {timed(warm, pours)}")
        print(f"fresh     {timed(fresh, pours)}")
        print(f"laid out  {timed(laid_out, pours)}")
        print(f"what if   {timed(what_if, pours)}")


if __name__ == "__main__":
    main()
