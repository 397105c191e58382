"""Alerts of the cure and what follows it; they wait for the shop to open."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from scheduling.alert import Alert
from scheduling.alertmaker import CLOSING_NOW, AlertMaker
from scheduling.hours import ShopHours
from scheduling.process import StepKey
from scheduling.timeline import Span
from scheduling.touch import opened_at

PROBE_RANGE_C = (12.0, 45.0)
"""Piece temperatures outside which the probe or the piece wants looking at, degC."""
TRIM_WARNING = timedelta(minutes=30)
"""How long before the green trim closes it is called for again."""


TONIGHT_COLD = "Tonight's cold pushes demould past {}: blanket, heat, or later."


def kept_from(span: Span, hours: ShopHours) -> str:
    """What cold, and not the hour of the pour, makes the cure miss, or "".

    Args:
        span: The wait for the demould.
        hours: Of the shop.

    Returns:
        ``opening`` where it would have opened by the next morning at the reference,
        else ``closing`` of the day on which it would have.
    """
    if span.opens is None or span.reference_min is None:
        return ""
    wanted, word = hours.next_day_open(span.start), "opening"
    at_reference = span.start + timedelta(minutes=span.reference_min)
    if at_reference > wanted:
        wanted, word = hours.day_close(at_reference), "closing"
    return word if span.opens.p50 > wanted else ""


class CureAlerts(AlertMaker):
    """Alerts from the green trim to the last coat."""

    __slots__ = ()

    def green_trim(self, span: Span) -> Iterator[Alert]:
        """Rings when the knife should cut clean, and before it no longer does."""
        about, found = span.holds, span.found
        opened = opened_at(found) if found else None
        if found is None or opened is None or found.closes is None:
            return
        if found.ready_at is None:
            yield self.alert(
                "green-trim",
                "opens",
                opened,
                about,
                "TRIM",
                "Green trim: the knife should cut clean, no drag.",
                chain="trim",
                tag="opens" + self.felt(span),
            )
        if found.gone_at is None:
            yield self.alert(
                "green-trim",
                "closes",
                max(opened, found.closes.p50 - TRIM_WARNING),
                about,
                "TRIM",
                "Green trim closes soon: after that it wants a grinder.",
                chain="trim",
                tag="closes" + self.felt(span),
            )

    def cure(self, span: Span) -> Iterator[Alert]:
        """Rings when the piece may leave the form, and when cold puts that off."""
        tries = self.state.demould_tries
        if span.opens is None or (tries and tries[-1].ready):
            return
        demould = StepKey("demould")
        again = str(len(tries) or "")
        for tag, ready, line in (
            ("likely", span.opens.p50, "Demould likely ready: try it, log it."),
            ("sure", span.opens.p90, "Demould ready nine times in ten by now."),
        ):
            yield self.alert(
                "demould-ready",
                "opens",
                self.in_shop_hours(ready),
                demould,
                "DEMOULD",
                line,
                chain=f"demould {tag}",
                tag=tag + again,
            )
        yield from self.tonight_cold(span, demould)

    def tonight_cold(self, span: Span, about: StepKey) -> Iterator[Alert]:
        """Rings when cold, not the hour of the pour, costs the morning or the day."""
        word = kept_from(span, self.hours)
        if not word:
            return
        yield self.alert(
            "tonight-cold",
            "note",
            span.start,
            about,
            "COLD NIGHT",
            TONIGHT_COLD.format(word),
            chain="cold",
        )

    def recoat(self, span: Span) -> Iterator[Alert]:
        """Rings when a coat may go on, and before it must be scuffed first."""
        about, found = span.holds, span.found
        opened = opened_at(found) if found else None
        if found is None or opened is None:
            return
        coat = about.step.removeprefix("coat-")
        tag = self.felt(span)
        if found.ready_at is None:
            yield self.alert(
                "recoat-open",
                "opens",
                self.in_shop_hours(opened),
                about,
                "RECOAT",
                f"Coat {coat} may go on; the label wins.",
                chain="recoat " + coat,
                tag=tag,
            )
        if found.closes is None or found.gone_at is not None:
            return
        width = max(found.closes.p50, opened) - opened
        due = self.in_shop_hours(opened + CLOSING_NOW * width)
        when = "closes soon: after it," if due < found.closes.p50 else "has closed:"
        yield self.alert(
            "recoat-closing",
            "closes",
            due,
            about,
            "RECOAT",
            f"Recoat window for coat {coat} {when} scuff first.",
            chain="recoat " + coat,
            tag=tag,
        )

    def probe(self) -> Iterator[Alert]:
        """Rings when the last reading of the piece cannot be right, or is bad news."""
        pieces = [r for r in self.state.readings if r.piece_c is not None]
        if not pieces:
            return
        last = pieces[-1]
        low, high = PROBE_RANGE_C
        if last.piece_c is None or low <= last.piece_c <= high:
            return
        yield self.alert(
            "probe-range",
            "note",
            last.at,
            StepKey("blankets"),
            "PROBE",
            "The piece's temperature is out of range: look at the piece and the probe.",
            chain="probe",
            tag=self.state.piece_event,
        )
