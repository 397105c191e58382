"""Shop folders for the benches: the sample shop with some pours under way."""

from __future__ import annotations

import os
from datetime import datetime, timedelta
from pathlib import Path

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from scheduling.process import StepKey
from tui.session import Session

SAMPLES = (
    "potting-bench-slab",
    "trough-vanity",
    "stair-hall-panels",
    "two-legged-desk",
    "court-bench",
)

_SILENT = "[bells]\nterminal = false\nsound = false\ndesktop = false\n"


def sample_shop(path: Path, zone: str) -> ShopFolder:
    """Brings the sample shop into a folder, silent; zone "" is the machine's own."""
    folder = ShopFolder(path)
    folder.adopt_samples()
    text = folder.shop_file.read_text(encoding="utf-8")
    head, _, _ = text.partition("[bells]")
    folder.shop_file.write_text(f'zone = "{zone}"\n{head}{_SILENT}', encoding="utf-8")
    return folder


def shop_of_pours(
    path: Path, now: datetime, pours: int, *, zone: str = "UTC"
) -> Session:
    """Starts pours of all sample jobs, sprayed a few minutes apart, the newest now.

    The session that is returned has a clock that stands still at ``now``.
    """
    folder = sample_shop(path, zone)
    clock = SimulatedTime(now - timedelta(minutes=pours))
    session = Session(folder, clock, "bench")
    for number in range(pours):
        job = folder.job(SAMPLES[number % len(SAMPLES)])
        name = session.start(job, entry="face coat")
        for key in [span.key for span in session.pour(name).timeline.steps()]:
            if key.step in ("mix-face", "flow-check", "spray"):
                session.mark(name, "started", key)
                session.mark(name, "finished", key)
        session.settle(name)
        clock.advance_to(clock.now() + timedelta(minutes=1))
    session.refresh()
    return session


def mark_everything(session: Session, name: str, most: int) -> None:
    """Works a pour step by step until it has a number of events or is over."""
    clock = session.time
    assert isinstance(clock, SimulatedTime)
    while len(session.events(name)) < most and not session.pour(name).over:
        if session.go_on(name) is None:
            return
        session.settle(name)
        clock.advance_to(clock.now() + timedelta(minutes=1))


def add_notes(session: Session, name: str, events: int) -> None:
    """Fills a pour's log with notes and touches of its step up to a number."""
    zone = session.pour(name).timeline.process.zones[0]
    lift = StepKey("lift-1", zone)
    while (count := len(session.events(name))) < events:
        if count % 2:
            event = session.event(name, "touch", lift, {"feel": "soft"})
        else:
            event = session.event(name, "note", lift, {"text": f"line {count}"})
        session.accept(event)
    session.settle(name)


def plain_environment(home: Path) -> dict[str, str]:
    """The environment of a terminal program that touches nothing of the user's."""
    keep = {k: v for k, v in os.environ.items() if k in ("PATH", "LANG", "LC_ALL")}
    return {
        **keep,
        "TERM": "xterm-256color",
        "COLORTERM": "truecolor",
        "HOME": str(home),
        "XDG_STATE_HOME": str(home / "state"),
        "XDG_CACHE_HOME": str(home / "cache"),
        "XDG_DATA_HOME": str(home / "data"),
    }


def spread(values: list[float]) -> str:
    """Says the middle, the 95th percentile and the most of some milliseconds."""
    ordered = sorted(values)
    middle = ordered[len(ordered) // 2]
    high = ordered[min(len(ordered) - 1, int(len(ordered) * 0.95))]
    return f"p50 {middle:6.1f}  p95 {high:6.1f}  most {ordered[-1]:6.1f} ms"
