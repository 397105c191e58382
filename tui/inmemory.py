"""One pour in memory: its events, those not on the disk yet, and its snapshot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from scheduling.alert import Alert
from scheduling.alerts import derive
from scheduling.clock import TimeSource
from scheduling.event import Event
from scheduling.folding import fold
from scheduling.forecast import Forecaster, Setting
from scheduling.job import Job
from scheduling.plainjson import Json
from scheduling.pour import PourState
from scheduling.process import StepKey
from scheduling.steady import on_scale
from scheduling.timeline import Span, Timeline


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour as the screens see it: a whole new value after every change.

    Attributes:
        name: Its name in the log.
        state: What has happened.
        timeline: What that means, as of ``timeline.at``.
        alerts: What rings, and when.
        setting: Hours, zone and climate it was started in.
        unsaved: How many of its events are not on the disk yet.
    """

    name: str
    state: PourState
    timeline: Timeline
    alerts: tuple[Alert, ...]
    setting: Setting
    unsaved: int = 0

    @property
    def job(self) -> Job:
        """The job as it was when the pour began."""
        assert self.state.job is not None
        return self.state.job

    @property
    def over(self) -> bool:
        """Whether it no longer belongs on the board."""
        return self.state.sealed is not None or self.timeline.finished


@dataclass(slots=True)
class Kept:
    """What a program holds of one pour beside its snapshot.

    Attributes:
        stamp: Of its files as they were last read; None where it has none yet.
        events: In the order they were recorded.
        unsaved: The newest of them, which are not on the disk yet.
    """

    stamp: object = None
    events: list[Event] = field(default_factory=list)
    unsaved: list[Event] = field(default_factory=list)
    _forecaster: Forecaster = field(default_factory=Forecaster)
    _plan: Timeline | None = None

    def placed(self, time: TimeSource) -> list[Event]:
        """Returns the events where they lie on a clock that may have been set."""
        return on_scale(self.events, time)

    def snapshot(self, name: str, time: TimeSource) -> Pour | None:
        """Folds the events and lays the pour out as of now; None without a start."""
        state = fold(name, self.placed(time))
        if state.job is None:
            return None
        timeline = self._forecaster.timeline(state, time.now())
        setting = self._forecaster.setting(state)
        alerts = tuple(derive(timeline, state, setting.hours))
        return Pour(name, state, timeline, alerts, setting, len(self.unsaved))

    def plan(self, state: PourState) -> Timeline:
        """Returns the timeline as planned before anything happened."""
        if self._plan is None:
            assert state.job is not None
            assert state.begun is not None
            setting = self._forecaster.setting(state)
            casting = state.casting
            self._plan = setting.plan(state.job, state.begun, casting=casting)
        return self._plan

    def take(self, event: Event) -> None:
        """Takes in an event that is not on the disk yet."""
        self.events.append(event)
        self.unsaved.append(event)

    def take_read(self, events: Sequence[Event], stamp: object) -> None:
        """Takes in what is on the disk; what is not stays behind it."""
        known = {event.id for event in events}
        self.unsaved = [event for event in self.unsaved if event.id not in known]
        self.events = [*events, *self.unsaved]
        self.stamp = stamp

    def gone(self, events: Sequence[Event]) -> int:
        """Returns how many that were on the disk are not among those read from it."""
        there = {event.id for event in (*events, *self.unsaved)}
        return sum(event.id not in there for event in self.events)

    def is_another(self, events: Sequence[Event]) -> bool:
        """Whether another program has just begun another pour under the same name."""
        begun = bool(self.events and events) and self.stamp is None
        return begun and events[0].id != self.events[0].id

    def rename(self, name: str, pour: Pour) -> None:
        """Gives a pour that is not on the disk yet another name.

        Args:
            name: The new one.
            pour: Its snapshot under the old one.
        """
        self.events = [replace(event, pour=name) for event in self.events]
        # The other pour of that name is one more casting of the same job.
        casting = min(pour.state.casting + 1, pour.job.castings)
        first = self.events[0]
        self.events[0] = replace(first, data={**first.data, "casting": casting})
        self.unsaved = list(self.events)

    def add_forecasts(self, pour: Pour | None) -> None:
        """Adds to unsaved marks what was forecast just now, for the review later.

        Kept as they are written: a second try must be with the very same events.
        """
        if pour is None or not self.unsaved:
            return
        self.unsaved = [self._with_forecast(pour, event) for event in self.unsaved]
        self.events[-len(self.unsaved) :] = self.unsaved

    def _with_forecast(self, pour: Pour, event: Event) -> Event:
        if event.kind not in ("started", "finished") or not event.step:
            return event
        if "forecast" in event.data:
            return event
        key = StepKey(event.step, event.zone)
        span = pour.timeline.span(key)
        if span is None:
            return event
        waits: dict[str, Json] = {
            f"{wait.key.step}/{wait.key.zone}": round(wait.minutes, 2)
            for wait in pour.timeline.spans
            if wait.kind == "wait" and _counts_from(pour.timeline, wait, key, event)
        }
        climate = self._forecaster.climate(pour.state)
        forecast: dict[str, Json] = {
            "minutes": round(span.minutes, 2),
            "waits": waits,
            "temp_c": round(climate.air(event.at).temp_c, 1),
        }
        return replace(event, data={**event.data, "forecast": forecast})


def _counts_from(timeline: Timeline, wait: Span, key: StepKey, event: Event) -> bool:
    """Whether a wait is counted from what an event marks."""
    gap = timeline.process.step(wait.holds).gap
    return (
        gap is not None
        and gap.after == key
        and gap.from_start == (event.kind == "started")
    )
