"""The caution of a step as it is shown: with the mass where the piece is lifted."""

from __future__ import annotations

from scheduling.batch import lifting_note
from scheduling.cautions import LIFTED
from scheduling.process import Process
from scheduling.timeline import Span
from scheduling.units import Units


def care(span: Span, process: Process, units: Units) -> str:
    """Returns the caution of a span, or "" when it needs none."""
    if span.key.step not in LIFTED:
        return span.caution
    return f"{lifting_note(process.piece_kg, units)} {span.caution}"
