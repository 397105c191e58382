"""The tables of the pour clock as text: zones, steps, the next bells."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from rich.text import Text

from scheduling.alert import Alert, upcoming
from scheduling.process import StepKey
from scheduling.timeline import OVER, Span, Status
from scheduling.touch import opened_at
from tui.focus import STATES
from tui.inmemory import Pour
from tui.states import LOOKS, State


def in_time(pour: Pour) -> list[Span]:
    """Returns the steps by the time they begin, as the list shows them."""
    return sorted(pour.timeline.steps(), key=lambda span: span.start)


def is_covered(pour: Pour, zone: str) -> bool:
    """Whether plastic lies over a zone."""
    covers = pour.state.covers.get(zone, ())
    return bool(covers) and covers[-1][1] is None


@dataclass(frozen=True, slots=True)
class PourTables:
    """What the tables are made from.

    Attributes:
        pour: The pour.
        now: The instant.
        zone: Of the shop.
        ink: The colour a state is written in.
    """

    pour: Pour
    now: datetime
    zone: tzinfo
    ink: Callable[[State], str]

    def zones(self, asked: str | None) -> Text:
        """One line for each zone: its window and what was felt.

        Args:
            asked: The zone that the next touch answers.
        """
        text = Text(no_wrap=True)
        head = f" {'zone':<18}{'state':<12}{'opens (p10-p90)':<21}{'closes':<8}"
        text.append(f"{head}last touch\n")
        for number, zone in enumerate(self.pour.timeline.process.zones, 1):
            span = self.pour.timeline.wait_for(StepKey("lift-1", zone))
            marker = "»" if zone == asked else " "
            line = Text(f"{marker}{number} {zone[:15]:<16}")
            line.append_text(self._zone_cells(span))
            text.append_text(line)
            text.append("\n")
        text.rstrip()
        return text

    def _zone_cells(self, span: Span | None) -> Text:
        """State, window and last touch of one zone."""
        if span is None or span.window is None or span.opens is None:
            return Text("not sprayed yet")
        spray = self.pour.timeline.span(StepKey("spray", span.key.zone))
        sprayed = spray is not None and spray.status is Status.DONE
        state = STATES[span.status]
        opened = opened_at(span.window)
        if (sprayed and state is State.WAITING and opened and self.now >= opened) or (
            sprayed and span.window.ready_at is None and state is State.OPEN
        ):
            state = State.WATCHED
        look = LOOKS[state]
        cells = Text()
        cells.append(f"{look.glyph} {look.word:<10}", style=self.ink(state))
        if span.status in OVER or not sprayed:
            word = "packed" if span.status in OVER else "not sprayed yet"
            cells.append(word)
            return cells
        early, late = self._clock(span.opens.p10), self._clock(span.opens.p90)
        felt = span.window.ready_at is not None
        band = "felt" if felt else f"({early}-{late})"
        cells.append(f"{self._clock(opened)} {band}".ljust(21))
        closes = self._clock(span.closes.p50) if span.closes else "-"
        cells.append(f"{closes:<8}")
        touches = self.pour.state.touches.get(span.key.zone, ())
        last = (
            f"{touches[-1].feel} {self._clock(touches[-1].at)}" if touches else "none"
        )
        marks = [
            word
            for word, there in (
                ("fogged", self.pour.state.fogs.get(span.key.zone)),
                ("covered", is_covered(self.pour, span.key.zone)),
            )
            if there
        ]
        cells.append(" ".join([last, *marks]))
        return cells

    def steps(self, chosen: Span | None, rows: int, width: int) -> Text:
        """The steps around the one that space acts on.

        Args:
            chosen: That one.
            rows: How many there is room for.
            width: Cells of a line, with one that stays free.
        """
        spans = in_time(self.pour)
        at = next((i for i, s in enumerate(spans) if s is chosen), len(spans) - 1)
        first = max(0, min(at - rows // 3, len(spans) - rows))
        text = Text(no_wrap=True)
        for span in spans[first : first + rows]:
            look = LOOKS[STATES[span.status]]
            marker = "»" if span is chosen else " "
            over = span.status in OVER
            when = self._clock(span.finish if over else span.start)
            line = f"{marker}{look.glyph} {when} {span.words}"
            style = self.ink(STATES[span.status])
            text.append(
                f"{line[: width - 1]}\n",
                style=f"bold {style}" if span is chosen else style,
            )
        text.rstrip()
        return text

    def bells(self, most: int) -> Text:
        """The next bells of the pour.

        Args:
            most: How many there is room for.
        """
        text = Text("next bells\n", style="bold", no_wrap=True)
        coming = [
            a
            for a in upcoming(self.pour.alerts, self.now)
            if a.id not in self.pour.state.answered
        ]
        for alert in coming[:most]:
            text.append(
                f"{self._clock(alert.due)} {_bell_words(alert)}\n", style="not bold"
            )
        if not coming:
            text.append("none until the next step is marked\n", style="not bold")
        text.rstrip()
        return text

    def _clock(self, when: datetime | None) -> str:
        """The shop's wall time of an instant, with the day when it is not today."""
        if when is None:
            return "-"
        now = self.now.astimezone(self.zone)
        local = when.astimezone(self.zone)
        if local.date() == now.date():
            return f"{local:%H:%M}"
        if abs(local - now) < timedelta(days=6):
            return f"{local:%a %H:%M}"
        return f"{local:%d %b}"


def _bell_words(alert: Alert) -> str:
    """Names a bell to come: ``touch left leg``, ``mix batch 2``."""
    about = alert.zone or alert.step.replace("mix-back-", "batch ").replace("-", " ")
    word = alert.word.lower()
    return word if about == word else f"{word} {about}"
