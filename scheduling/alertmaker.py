"""What every alert is made with: its id, its chain, and when it may ring."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from scheduling.alert import Alert, AlertKind, Shape
from scheduling.hours import ShopHours
from scheduling.pour import PourState
from scheduling.process import StepKey
from scheduling.timeline import Span, Timeline

CLOSING_NOW = 0.85
"""Share of a window that is gone when there is no time left to think."""


@dataclass(frozen=True, slots=True)
class AlertMaker:
    """Makes the alerts of one pour.

    Attributes:
        timeline: The pour as laid out.
        state: What has happened to it.
        hours: When the shop is open.
    """

    timeline: Timeline
    state: PourState
    hours: ShopHours

    def alert(
        self,
        kind: AlertKind,
        shape: Shape,
        due: datetime,
        about: StepKey,
        word: str,
        line: str,
        *,
        chain: str,
        tag: str = "",
    ) -> Alert:
        """Returns an alert; its id says what it is about and never when.

        A clock that is set would move a time, and what was answered would ring anew.

        Args:
            kind: One of AlertKind.
            shape: How it looks and sounds.
            due: When it rings.
            about: The step and zone it is about.
            word: One or two words to read at three metres.
            line: What to do, in one sentence.
            chain: Which alerts it takes the place of, within its zone.
            tag: What tells it from others of its kind and step.
        """
        again = self.state.resprays.get(about.zone)
        mark = f"@{again}" if again and about.zone else ""
        parts = (kind, about.step, about.zone, tag + mark)
        return Alert(
            id="/".join(part.replace(" ", "-") for part in parts if part),
            kind=kind,
            shape=shape,
            due=due,
            pour=self.state.pour,
            step=about.step,
            zone=about.zone,
            word=word,
            line=line,
            chain=f"{chain}/{about.zone}{mark}",
        )

    def felt(self, span: Span) -> str:
        """How many touches a wait was given, to tell its alerts before from after."""
        gap = self.timeline.process.step(span.holds).gap
        return str(len(self.state.touched(gap, span.holds)) or "") if gap else ""

    def in_shop_hours(self, due: datetime) -> datetime:
        """When the shop is open, at the due time or after it."""
        return self.hours.next_open(due)
