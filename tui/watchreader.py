"""What the log says is due, read beside the ringing and never written.

A slow disk must not keep the watch from ringing, so the log is read in a thread.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Sequence
from pathlib import Path

from scheduling.clock import TimeSource
from scheduling.folder import ShopFolder
from scheduling.pourname import SHOP
from scheduling.ringlock import WATCH, RingLock
from tui import output
from tui.pours import Pours
from tui.watch import Due

EVERY_S = 0.5
"""How often the log is looked at, seconds."""

_log = logging.getLogger(__name__)


def pending(pours: Pours) -> list[Due]:
    """Returns every alert that is not answered yet, for the watch."""
    now = pours.time.now()
    moment = pours.time.boot()[0] / 1000
    rows: list[Due] = []
    for pour in pours.open_pours():
        ringing = {alert.id for alert in pours.ringing_of(pour, now)}
        for alert in pour.alerts:
            coming = alert.due > now and alert.id not in pour.state.answered
            if coming or alert.id in ringing:
                wait = (alert.due - now).total_seconds()
                # One that rings before its time, for want of a clock, is due now.
                at_s = moment + (min(wait, 0.0) if alert.id in ringing else wait)
                due_s = round(at_s, 1)
                about = {**output.about(alert, pours.zone), "line": alert.line}
                rows.append(
                    Due(pour.name, alert.id, alert.chain, due_s, alert.shape, about)
                )
    return rows


class Reader:
    """The log's word on what is due, and who else rings.

    Attributes:
        due: What is not answered yet; None as long as the log has not been read.
        silent_s: Until when the bells are silenced, on the boot clock.
    """

    def __init__(self, folder: str, time: TimeSource) -> None:
        """Begins to read.

        Args:
            folder: The shop folder.
            time: Where the time comes from.
        """
        self.due: Sequence[Due] | None = None
        self.silent_s = 0.0
        self._shop = ShopFolder(Path(folder))
        self._time = time
        self._ringer = RingLock(self._shop.log)
        self._watch = RingLock(self._shop.log, WATCH)
        self._taken_s: float | None = None
        threading.Thread(target=self._read, daemon=True).start()

    def somebody_rings(self, patience_s: float) -> bool:
        """Whether a program rings for this log, and has for so many seconds."""
        now_s = self._now_s()
        if self._ringer.is_free():
            self._taken_s = None
            return False
        if self._taken_s is None:
            self._taken_s = now_s
        return now_s - self._taken_s >= patience_s

    def is_not_needed(self, patience_s: float) -> bool:
        """Whether a program, or the watch of another, rings from here on."""
        return not self._watch.take() or self.somebody_rings(patience_s)

    def _now_s(self) -> float:
        return self._time.boot()[0] / 1000

    def _read(self) -> None:
        """Reads again and again; what cannot be read leaves the last word standing."""
        wait = threading.Event()
        pours: Pours | None = None
        while True:
            try:
                pours = pours or Pours(self._shop, self._time, writes=False)
                pours.load()
                pours.refresh()
                now = self._time.now()
                until = pours.silent_until(now) or now
                self.silent_s = self._now_s() + (until - now).total_seconds()
                if all(name in pours.pours for name in pours.faults.keys() - {SHOP}):
                    self.due = pending(pours)
            except Exception:  # noqa: BLE001 - ringing goes on with what is known
                _log.exception("the log cannot be read")
            wait.wait(EVERY_S)
