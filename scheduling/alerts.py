"""What must ring and when: alerts derived from a timeline, nothing stored.

Lead times are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from scheduling.alert import Alert, AlertKind
from scheduling.alertmaker import CLOSING_NOW
from scheduling.curealerts import CureAlerts
from scheduling.hours import ShopHours
from scheduling.pour import PourState
from scheduling.process import StepKey
from scheduling.timeline import CLOSING_SHARE, OVER, Span, Status, Timeline
from scheduling.touch import TEST_EVERY, Window, opened_at

FIRST_TOUCH = 0.6
"""Share of the expected wait at which touch testing begins."""
POT_WARNINGS = (0.75, 1.0)
"""Shares of a batch's pot life at which it is called going off, and over."""
SEALER_WARNINGS = (0.5, 0.8)
"""The same of a two-part sealer, which warms in its pot: half, and use up or bin."""
COVER_SHARE = 2 / 3
"""Share of the cover-by time at which covering is called for."""


def derive(timeline: Timeline, state: PourState, hours: ShopHours) -> list[Alert]:
    """Returns every alert that follows from what has begun, in order of due time.

    Only waits whose origin has really happened ring; alerts whose work is done are
    left out. Alerts of the cure and the finish wait for the shop to open.
    """
    return sorted(
        _Deriving(timeline, state, hours).alerts(), key=lambda alert: alert.due
    )


class _Deriving(CureAlerts):
    __slots__ = ()

    def alerts(self) -> Iterator[Alert]:
        over = {s.key for s in self.timeline.steps() if s.status in OVER}
        for span in self.timeline.spans:
            if span.holds in over:
                continue
            name = span.key.step
            if span.kind == "wait":
                yield from self.of_wait(span, name)
            elif name.startswith("mix-back-"):
                yield from self.of_mixing(span)
            elif name.startswith("roll-"):
                yield from self.roll_by(span)
            elif name == "cover":
                yield from self.cover(span)
        yield from self.pot_lives()
        yield from self.probe()

    def of_wait(self, span: Span, name: str) -> Iterator[Alert]:
        if not self.timeline.begun(span):
            return
        if name == "face wait":
            yield from self.face(span)
        elif name in ("lift wait", "stiffen"):
            yield from self.lift_2(span)
        elif self.state.record(span.holds).running:
            return
        elif name == "green wait":
            yield from self.green_trim(span)
        elif name == "cure":
            yield from self.cure(span)
        elif name.startswith("recoat wait"):
            yield from self.recoat(span)

    # -- the face coat

    def of_mixing(self, span: Span) -> Iterator[Alert]:
        if span.may_start is None or span.status is Status.RUNNING:
            return
        number = span.key.step.removeprefix("mix-back-")
        kind: AlertKind = "mix-back-batch" if number == "1" else "next-batch"
        yield self.alert(
            kind,
            "opens",
            span.may_start,
            span.key,
            "MIX",
            f"Mix back batch {number} now: seven minutes to mix, three to carry.",
            chain=f"mix {number}",
        )

    def face(self, span: Span) -> Iterator[Alert]:
        """The chain of one zone's window, from the first touch test to closed."""
        found, zone = span.window, span.key.zone
        if found is None or found.opens is None:
            return
        lift = StepKey("lift-1", zone)
        packing = self.state.record(span.holds).running
        touches = len(self.state.touches.get(zone, ()))
        chain = "face"
        if found.ready_at is None and not packing:
            expected = found.untouched or found.opens
            first = span.start + FIRST_TOUCH * (expected.p50 - span.start)
            due = max(first, found.soft_at + TEST_EVERY) if found.soft_at else first
            yield self.alert(
                "touch-test",
                "note",
                due,
                lift,
                "TOUCH",
                f"Touch {zone}: soft, ready, going off or gone?",
                chain=chain,
                tag=str(touches),
            )
        opened = opened_at(found)
        if opened is None:
            return
        if found.ready_at is not None:
            line, tag = f"{zone} is ready: place lift 1 now.", "ready"
        else:
            line, tag = f"{zone} by forecast: touch it first.", f"forecast{touches}"
        if not packing:
            yield self.alert(
                "window-open", "opens", opened, lift, "OPEN", line, chain=chain, tag=tag
            )
        for link in self.face_closing(found, opened, lift, chain, tag):
            # Beginning lift 1 answers the first call, not the last ones.
            if not packing or link.kind != "window-closing":
                yield link

    def face_closing(
        self, found: Window, opened: datetime, lift: StepKey, chain: str, tag: str
    ) -> Iterator[Alert]:
        if found.closes is None:
            return
        closed = found.gone_at or max(found.closes.p50, opened)
        width = closed - opened
        zone = lift.zone
        closing = opened + CLOSING_SHARE * width
        if found.going_off_at is not None:
            closing = min(closing, found.going_off_at)
        links: tuple[tuple[AlertKind, datetime, str, str], ...] = (
            (
                "window-closing",
                closing,
                "CLOSING",
                f"{zone} is closing: all hands on lift 1, fog what waits.",
            ),
            (
                "window-closing-now",
                opened + CLOSING_NOW * width,
                "LAST CALL",
                f"{zone} closes about now: finish lift 1 or fog and cover.",
            ),
            (
                "window-closed",
                closed,
                "CLOSED",
                f"{zone} has closed: re-spray, bond coat at once, or call it suspect.",
            ),
        )
        for kind, due, word, line in links:
            yield self.alert(
                kind, "closes", due, lift, word, line, chain=chain, tag=tag
            )

    def pot_lives(self) -> Iterator[Alert]:
        for key, life in self.timeline.pot_lives.items():
            if life.used:
                continue
            shares = POT_WARNINGS
            name = key.step.replace("mix-", "").replace("-", " batch ", 1)
            lines = (
                f"{name}: three quarters of its pot life is gone.",
                f"{name}: pot life over. Discard what is left.",
            )
            if key.step.startswith("coat-"):
                shares = SEALER_WARNINGS
                name = key.step.replace("-", " ")
                lines = (
                    f"{name}: half the sealer's pot life is gone.",
                    f"{name}: the sealer is going off. Use it now or discard it.",
                )
            for share, line in zip(shares, lines, strict=True):
                yield self.alert(
                    "pot-life",
                    "closes",
                    life.since + share * (life.ends - life.since),
                    key,
                    "POT LIFE",
                    line,
                    chain=f"pot {key.step}",
                    tag=f"{share:.0%}".rstrip("%"),
                )

    # -- the back coat

    def roll_by(self, span: Span) -> Iterator[Alert]:
        placed = StepKey(span.key.step.replace("roll", "lift"), span.key.zone)
        origin = self.timeline.span(placed)
        if span.closes is None or origin is None or origin.status is not Status.DONE:
            return
        if span.status is Status.RUNNING:
            return
        line = f"Roll {span.key.zone} now, before it stiffens."
        chain = span.key.step
        due = span.closes.p50
        yield self.alert("roll-by", "closes", due, span.key, "ROLL", line, chain=chain)

    def lift_2(self, span: Span) -> Iterator[Alert]:
        found = span.found
        opened = opened_at(found) if found else None
        if found is None or opened is None:
            return
        zone = span.key.zone
        about = StepKey("lift-2", zone)
        tag = self.felt(span)
        if found.ready_at is None and not self.state.record(about).running:
            yield self.alert(
                "lift-2-open",
                "opens",
                opened,
                about,
                "LIFT 2",
                f"{zone} should take lift 2: thumb it first.",
                chain="lift 2",
                tag=tag,
            )
        if found.closes is None or found.gone_at is not None:
            return
        closing = opened + CLOSING_SHARE * (max(found.closes.p50, opened) - opened)
        if found.going_off_at is not None:
            closing = min(closing, found.going_off_at)
        yield self.alert(
            "lift-2-closing",
            "closes",
            closing,
            about,
            "LIFT 2",
            f"{zone}: lift 2 while a thumb print still forms.",
            chain="lift 2",
            tag=tag,
        )

    def cover(self, span: Span) -> Iterator[Alert]:
        screed = self.timeline.span(StepKey("screed"))
        if screed is None or screed.status is not Status.DONE or span.closes is None:
            return
        if span.status is not Status.RUNNING:
            due = screed.finish + COVER_SHARE * (span.closes.p50 - screed.finish)
            yield self.alert(
                "cover",
                "closes",
                due,
                span.key,
                "COVER",
                "Cover the piece, edges sealed, no loose flaps.",
                chain="cover",
            )
