"""A whole pour on a simulated clock, in a throw-away folder: headless or for the app."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from scheduling.alerts import Alert
from scheduling.clock import SimulatedTime
from scheduling.log import Event
from scheduling.rehearsal import Act, Hands
from scheduling.ringer import Ring, Ringer
from tui.session import Pour, Session

_LONG = timedelta(days=60)


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

    def do(self, act: Act) -> Event:
        """Does it: the same wishes a person's keys make."""
        if act.kind == "touch":
            event = self.session.touch(self.name, act.feel or "soft", act.key.zone)
        elif act.kind == "acknowledged" and act.alert is not None:
            event = self.session.acknowledge(act.alert)
        elif act.kind == "finished":
            event = self.session.mark(self.name, "finished", act.key)
        else:
            event = self.session.mark(self.name, "started", act.key)
        self.session.settle(self.name)
        return event


def _live(alerts: list[Alert], now: datetime) -> list[Alert]:
    """Of each chain the latest that is due, and everything still to come."""
    due: dict[str, Alert] = {}
    for alert in alerts:
        if alert.due <= now:
            due[alert.chain] = alert
    return [*due.values(), *(alert for alert in alerts if alert.due > now)]


def headless(play: Play, time: SimulatedTime) -> Iterator[Ring | Event]:
    """Runs a pour from event to event without sleeping; yields what rings and happens.

    The clock jumps to whatever comes first, a bell or an act of the hands.
    """
    rung: list[Ring] = []
    session = play.session
    ringer = Ringer(
        time,
        source=session.ringing,
        next_due=session.next_due,
        on_ring=rung.append,
        on_quiet=lambda _alert: None,
    )
    end = time.now() + _LONG
    while not play.pour.over and time.now() < end:
        act = play.next_act()
        bell = session.next_due(time.now())
        moments = [moment for moment in (act.at if act else None, bell) if moment]
        if not moments:
            return
        time.advance_to(min(moments))
        ringer.check()
        for ring in rung:
            if ring.repeat == 0:
                session.rang(ring.alert, ring.late_s)
                yield ring
        rung.clear()
        if act is not None and act.at <= time.now():
            yield play.do(act)
