"""One thing to ring, and which of many ring at an instant or come after it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from scheduling.pour import PourState

AlertKind = Literal[
    "mix-back-batch",
    "touch-test",
    "window-open",
    "window-closing",
    "window-closing-now",
    "window-closed",
    "pot-life",
    "next-batch",
    "roll-by",
    "lift-2-open",
    "lift-2-closing",
    "cover",
    "green-trim",
    "probe-range",
    "tonight-cold",
    "demould-ready",
    "recoat-open",
    "recoat-closing",
]

Shape = Literal["opens", "closes", "note"]
"""How an alert looks and sounds: something opens, something closes, or a word."""


@dataclass(frozen=True, slots=True)
class Alert:
    """One thing to ring.

    Attributes:
        id: Stable within its pour, however often it is derived.
        kind: One of AlertKind.
        shape: How it looks and sounds.
        due: When it rings.
        pour: Name of the pour.
        step: The step it is about.
        zone: The zone, or "".
        word: One or two words to read at three metres.
        line: What to do, in one sentence.
        chain: Later links of one chain replace earlier ones.
    """

    id: str
    kind: AlertKind
    shape: Shape
    due: datetime
    pour: str
    step: str
    zone: str
    word: str
    line: str
    chain: str


def ringing(alerts: Iterable[Alert], state: PourState, now: datetime) -> list[Alert]:
    """Returns the alerts that are due, still matter and have not been answered."""
    latest: dict[str, Alert] = {}
    for alert in alerts:
        if alert.due <= now:
            latest[alert.chain] = alert
    return [alert for alert in latest.values() if alert.id not in state.answered]


def upcoming(alerts: Iterable[Alert], now: datetime) -> list[Alert]:
    """Returns the alerts still to come, soonest first."""
    return [alert for alert in alerts if alert.due > now]


def next_calls(alerts: Iterable[Alert], state: PourState, now: datetime) -> list[Alert]:
    """Returns the next alert of every chain of which none is ringing."""
    told = {alert.chain for alert in ringing(alerts, state, now)}
    calls: dict[str, Alert] = {}
    for alert in upcoming(alerts, now):
        if alert.chain not in told and alert.id not in state.answered:
            calls.setdefault(alert.chain, alert)
    return list(calls.values())
