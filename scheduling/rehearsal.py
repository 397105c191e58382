"""The simulated shop of a rehearsal: hands that mark steps and touch the face coat.

Only the clock and the hands of a rehearsal differ from a real pour. The hands know
the truth of their shop (drawn once from the same bands the forecast uses) and act on
what the timeline and the bells tell them, a little late, as people are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Literal

from scheduling.alert import Alert
from scheduling.pour import PourState
from scheduling.process import StepKey
from scheduling.timeline import OVER, Span, Status, Timeline
from scheduling.touch import Feel
from scheduling.work import HANDS_ON

ANSWER = timedelta(seconds=20)
"""How long the hands take to hear a bell, walk over and answer."""

TRUTH_SPREAD = 0.5
"""Share of the forecast's own spread that the simulated shop's truth is drawn from,
so that a rehearsal shows soft touches without running for hours."""


@dataclass(frozen=True, slots=True)
class Act:
    """One thing the hands do.

    Attributes:
        at: When.
        kind: ``started``, ``finished``, ``touch`` or ``acknowledged``.
        key: The step, or the zone's lift 1 for a touch.
        feel: What a touch feels.
        alert: The alert that is acknowledged.
    """

    at: datetime
    kind: Literal["started", "finished", "touch", "acknowledged"]
    key: StepKey
    feel: Feel | None = None
    alert: Alert | None = None


class Hands:
    """One simulated crew for one pour."""

    def __init__(self, seed: int) -> None:
        """Hires the crew.

        Args:
            seed: The same one makes the same rehearsal.
        """
        self._seed = seed

    def next_act(
        self,
        timeline: Timeline,
        state: PourState,
        alerts: Sequence[Alert],
        now: datetime,
    ) -> Act | None:
        """Returns the next thing the hands do, at or after now; None when all is done.

        Args:
            timeline: The pour as of now.
            state: What has happened.
            alerts: Those still to come or ringing, not answered.
            now: The simulated instant.
        """
        acts = [
            *self._answers(timeline, alerts, now),
            *self._ends(timeline, state, now),
            *self._starts(timeline, alerts, now),
        ]
        return min(acts, key=lambda act: act.at, default=None)

    def _answers(
        self, timeline: Timeline, alerts: Sequence[Alert], now: datetime
    ) -> list[Act]:
        acts: list[Act] = []
        for alert in alerts:
            at = max(alert.due + ANSWER, now)
            key = StepKey(alert.step, alert.zone)
            wait = timeline.wait_for(key)
            asks = alert.kind == "touch-test" or alert.kind.startswith("window-")
            felt = wait.window if wait else None
            if asks and wait is not None and felt is not None and not felt.ready_at:
                feel: Feel = "ready" if at >= self._opening(wait) else "soft"
                acts.append(Act(at, "touch", key, feel=feel))
            else:
                acts.append(Act(at, "acknowledged", key, alert=alert))
        return acts

    def _ends(self, timeline: Timeline, state: PourState, now: datetime) -> list[Act]:
        acts: list[Act] = []
        for span in timeline.steps():
            record = state.record(span.key)
            if record.running and record.started is not None:
                took = timedelta(minutes=span.minutes * self._pace(span.key))
                acts.append(Act(max(record.started + took, now), "finished", span.key))
        return acts

    def _starts(
        self, timeline: Timeline, alerts: Sequence[Alert], now: datetime
    ) -> list[Act]:
        """Starts a step when its forecast start comes and everything before is done.

        A step that a bell calls for starts when the bell has been heard.
        """
        done = {s.key for s in timeline.steps() if s.status in OVER}
        heard = {
            StepKey(alert.step, alert.zone): alert.due + ANSWER
            for alert in alerts
            if alert.shape == "opens"
        }
        acts: list[Act] = []
        for span in timeline.steps():
            if span.status in OVER or span.status is Status.RUNNING:
                continue
            step = timeline.process.step(span.key)
            wait = timeline.wait_for(span.key)
            ready = wait is None or wait.window is None or wait.window.ready_at
            if all(key in done for key in step.after) and ready:
                at = max(span.start, now, heard.get(span.key, now))
                acts.append(Act(at, "started", span.key))
        return acts

    def _opening(self, wait: Span) -> datetime:
        """When the face coat really opens: the untouched forecast times the truth."""
        found = wait.window
        forecast = (found.untouched or found.opens) if found else wait.opens
        if forecast is None:
            return wait.finish
        width = (forecast.p90 - forecast.p10) / 2.563
        drawn = self._random("opens", wait.key.zone).gauss(0.0, 1.0)
        drawn = max(-1.5, min(1.5, drawn))
        return forecast.p50 + TRUTH_SPREAD * drawn * width

    def _pace(self, key: StepKey) -> float:
        """How long this crew takes for a step, as a share of the usual time."""
        return self._random("pace", str(key)).lognormvariate(0.0, HANDS_ON.sigma / 2)

    def _random(self, *what: str) -> Random:
        return Random(f"{self._seed}/{'/'.join(what)}")  # noqa: S311 - a play, not a secret
