"""A whole pour on a simulated clock, worked by its hands: headless or on screen."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from scheduling.alert import Alert
from scheduling.clock import SimulatedTime
from scheduling.event import Event
from scheduling.process import StepKey
from scheduling.rehearsal import Act, Hands
from scheduling.ringer import Ring, Ringer
from tui.inmemory import Pour
from tui.session import Session

if TYPE_CHECKING:
    from tui.app import PourbellApp

SLICE_S = 0.5
"""Longest real time the hands in the program wait before they look up again,
seconds: a key may have done their work, or the clock may have jumped."""

SEEN_S = 1.5
"""Real time a bell stays up before the hands in the program answer it or begin what
it calls for, seconds: on a fast clock nobody could read it otherwise."""
SEEN_AT_MOST = timedelta(minutes=2)
"""And simulated time, so that the fastest clock does not close the window meanwhile."""

_LONG = timedelta(days=60)
_log = logging.getLogger(__name__)


class Play:
    """The hands of a rehearsal at work in a session."""

    def __init__(self, session: Session, name: str, hands: Hands) -> None:
        self.session = session
        self.name = name
        self.hands = hands

    @property
    def pour(self) -> Pour:
        """The pour that is rehearsed."""
        return self.session.pours[self.name]

    def next_act(self) -> Act | None:
        """Returns what the hands do next, or None when the pour is over."""
        self.session.refresh(self.name)
        pour = self.pour
        alerts = [a for a in pour.alerts if a.id not in pour.state.answered]
        now = self.session.time.now()
        return self.hands.next_act(pour.timeline, pour.state, _live(alerts, now), now)

    def take(self, act: Act) -> Event:
        """Takes an act in: the same wishes a person's keys make."""
        if act.kind == "touch":
            return self.session.touch(self.name, act.feel or "soft", act.key.zone)
        if act.kind == "acknowledged" and act.alert is not None:
            return self.session.acknowledge(act.alert)
        if act.kind == "finished":
            return self.session.mark(self.name, "finished", act.key)
        return self.session.mark(self.name, "started", act.key)

    def do(self, act: Act) -> Event:
        """Takes an act in and writes it down; returns the event as it was written."""
        taken = self.take(act)
        self.session.settle(self.name)
        written = self.session.events(self.name)
        return next(event for event in reversed(written) if event.id == taken.id)


def _live(alerts: list[Alert], now: datetime) -> list[Alert]:
    """Of each chain the latest that is due, and everything still to come."""
    due: dict[str, Alert] = {}
    for alert in alerts:
        if alert.due <= now:
            due[alert.chain] = alert
    return [*due.values(), *(alert for alert in alerts if alert.due > now)]


async def live(play: Play, app: PourbellApp) -> None:
    """Works the pour in the program until it is over, at the pace of its clock.

    What the person does with a key is done: the hands look at the pour anew each
    time and go on from there.
    """
    watched = _Watched(play)
    try:
        while not play.pour.over and _is_up(app):
            act = play.next_act()
            wait = watched.wait(act) if act else SLICE_S
            if act is not None and wait <= 0:
                event = play.take(act)
                app.settle(event.pour)
            await asyncio.sleep(min(wait, SLICE_S))
    except Exception:  # noqa: BLE001 - a task that dies in silence rehearses nothing
        _log.exception("the hands of the rehearsal stopped")
        app.refuse("the hands of this rehearsal have stopped: go on by yourself")


def _is_up(app: PourbellApp) -> bool:
    """Whether there is a screen to paint; not any more while the program is left."""
    screen = app.shop_screen
    return screen is not None and screen.is_attached


class _Watched:
    """Keeps the hands in the program slow enough for a person to see the bells."""

    def __init__(self, play: Play) -> None:
        self._session = play.session
        self._clock = asyncio.get_running_loop().time
        self._since: dict[str, float] = {}

    def wait(self, act: Act) -> float:
        """Returns real seconds until an act, 0 when it may be done now."""
        time = self._session.time
        wait = time.real_seconds(act.at)
        ringing = self._session.ringing(time.now())
        now = self._clock()
        self._since = {one.id: self._since.get(one.id, now) for one in ringing}
        for one in ringing:
            calls_for = StepKey(one.step, one.zone) == act.key
            if calls_for and act.kind != "finished":
                seen = self._since[one.id] + SEEN_S - now
                wait = max(wait, min(seen, time.real_seconds(one.due + SEEN_AT_MOST)))
        return wait


def headless(play: Play, time: SimulatedTime) -> Iterator[Ring | Event]:
    """Runs a pour from event to event without sleeping; yields what rings and happens.

    The clock jumps to whatever comes first, a bell or an act of the hands.
    """
    bells = _Bells(play.session, time)
    end = time.now() + _LONG
    yield from bells.rung()
    while not play.pour.over and time.now() < end:
        act = play.next_act()
        bell = play.session.next_due(time.now())
        moments = [moment for moment in (act.at if act else None, bell) if moment]
        if not moments:
            return
        time.advance_to(min(moments))
        yield from bells.rung()
        if act is not None and act.at <= time.now():
            yield play.do(act)
            # What the act brings due at this very instant rings now.
            yield from bells.rung()


class _Bells:
    """The bells of a rehearsal that nobody hears: each rings once, and is logged."""

    def __init__(self, session: Session, time: SimulatedTime) -> None:
        self._session = session
        self._heard: list[Ring] = []
        self._known: set[tuple[str, str]] = set()
        self._ringer = Ringer(
            time,
            source=session.ringing,
            next_due=session.next_due,
            on_ring=self._heard.append,
            on_quiet=lambda _alert: None,
        )

    def rung(self) -> list[Ring]:
        """Returns what rings at this instant for the first time."""
        self._heard.clear()
        self._ringer.check()
        first: list[Ring] = []
        for ring in self._heard:
            key = (ring.alert.pour, ring.alert.id)
            if key not in self._known:
                self._known.add(key)
                self._session.rang(ring.alert, ring.late_s)
                first.append(ring)
        return first
