"""Actual against planned and forecast, step by step, folded from the log."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median
from typing import Any

from scheduling.pour import PourState, StepRecord
from scheduling.timeline import Span, Timeline
from scheduling.touch import DemouldTry
from scheduling.written import harmless

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Row:
    """One step or wait of one pour, after the fact.

    Attributes:
        pour: Name of the pour.
        job: Id of its job.
        step: Step id, or the wait's name.
        phase: One of the twelve.
        zone: Zone, or "".
        kind: ``hands-on`` or ``wait``.
        started: When it began, or None.
        finished: When it ended, or None.
        planned_min: As planned before the pour began, minutes.
        forecast_min: As forecast at the moment it started, minutes, or None.
        actual_min: What it took, minutes, or None while unknown.
        temp_c: Shop temperature when it started, degC, or None.
        event: Id of the event that gives its end (or start), for corrections.
        found: Of the cure, whether the demould was tried as early as could be, or "".
    """

    pour: str
    job: str
    step: str
    phase: str
    zone: str
    kind: str
    started: datetime | None
    finished: datetime | None
    planned_min: float
    forecast_min: float | None
    actual_min: float | None
    temp_c: float | None
    event: str
    found: str = ""

    @property
    def ratio(self) -> float | None:
        """Actual over planned, or None."""
        if self.actual_min is None or self.planned_min <= 0:
            return None
        return self.actual_min / self.planned_min


def review(state: PourState, plan: Timeline) -> list[Row]:
    """Returns the rows of one pour: what was marked against what was planned.

    Args:
        state: The pour, folded.
        plan: Its timeline as planned before anything happened.

    A wait's actual length is from the end of the step it is counted from to the
    moment its window was found open (the first touch that was not soft, the first try
    that the demould was ready) or, where nobody touches, to the start of the step it
    opens. That moment is late by up to
    one testing interval and by the wait for hands.
    """
    rows: list[Row] = []
    for span in plan.spans:
        row = _wait(state, plan, span) if span.kind == "wait" else _step(state, span)
        if row is not None:
            rows.append(row)
    return rows


def _step(state: PourState, span: Span) -> Row | None:
    record = state.record(span.key)
    if record.started is None and record.finished is None:
        return None
    actual = None
    if record.started is not None and record.finished is not None:
        actual = (record.finished - record.started) / _MINUTE
    return _row(
        state,
        span,
        record,
        started=record.started,
        finished=record.finished,
        forecast=_number(record.forecast.get("minutes")),
        actual=actual,
        event=record.finished_event or record.started_event,
    )


def _wait(state: PourState, plan: Timeline, span: Span) -> Row | None:
    gap = plan.process.step(span.holds).gap
    if gap is None:
        return None
    origin = state.record(gap.after)
    begun = origin.started if gap.from_start else origin.finished
    begun = state.resprayed.get(gap.after.zone, begun)
    opened = state.record(span.holds).started
    felt = state.touched(gap, span.holds)
    opened = next((touch.at for touch in felt if touch.feel != "soft"), opened)
    found = ""
    if span.key.step == "cure":
        found = _found(next((t for t in state.demould_tries if t.ready), None))
    if begun is None or opened is None or opened < begun:
        return None
    waits = origin.forecast.get("waits")
    forecast = None
    if isinstance(waits, Mapping):
        forecast = _number(waits.get(f"{span.key.step}/{span.key.zone}"))
    return _row(
        state,
        span,
        origin,
        started=begun,
        finished=opened,
        forecast=forecast,
        actual=(opened - begun) / _MINUTE,
        event="",
        found=found,
    )


def _found(ready: DemouldTry | None) -> str:
    """How early the demould was tried, in words."""
    if ready is None or ready.first_possible is None:
        return ""
    return "first possible" if ready.first_possible else "waited for us"


def _row(
    state: PourState,
    span: Span,
    record: StepRecord,
    *,
    started: datetime | None,
    finished: datetime | None,
    forecast: float | None,
    actual: float | None,
    event: str,
    found: str = "",
) -> Row:
    return Row(
        pour=state.pour,
        job=state.job.id if state.job else "",
        step=span.key.step,
        phase=span.phase,
        zone=span.key.zone,
        kind=span.kind,
        started=started,
        finished=finished,
        planned_min=round(span.minutes, 2),
        forecast_min=forecast,
        actual_min=None if actual is None else round(actual, 2),
        temp_c=_number(record.forecast.get("temp_c")),
        event=event,
        found=found,
    )


def _number(value: Any) -> float | None:  # noqa: ANN401 - whatever the log holds
    return float(value) if isinstance(value, int | float) else None


@dataclass(frozen=True, slots=True)
class Group:
    """Rows of one step or one job taken together.

    Attributes:
        name: The step or job.
        count: How many rows have an actual time.
        planned_min: Median planned, minutes.
        actual_min: Median actual, minutes.
        ratio: Median of actual over planned.
        low_ratio: Smallest.
        high_ratio: Largest.
    """

    name: str
    count: int
    planned_min: float
    actual_min: float
    ratio: float
    low_ratio: float
    high_ratio: float


def group(rows: Iterable[Row], by: str) -> list[Group]:
    """Groups rows by ``step`` or by ``job``; raw medians, no more than they carry."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        if row.ratio is not None:
            groups.setdefault(getattr(row, by), []).append(row)
    return [_group(name, kept) for name, kept in groups.items()]


def _group(name: str, rows: Sequence[Row]) -> Group:
    ratios = [row.ratio for row in rows if row.ratio is not None]
    return Group(
        name,
        len(rows),
        round(median(row.planned_min for row in rows), 1),
        round(median(row.actual_min or 0.0 for row in rows), 1),
        round(median(ratios), 2),
        round(min(ratios), 2),
        round(max(ratios), 2),
    )


CSV_COLUMNS = (
    "pour",
    "job",
    "phase",
    "step",
    "zone",
    "kind",
    "started",
    "finished",
    "planned_min",
    "forecast_min",
    "actual_min",
    "ratio",
    "temp_c",
)


def to_csv(rows: Iterable[Row]) -> str:
    """Returns rows as comma-separated text with a header; instants are ISO 8601."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for row in rows:
        writer.writerow([_cell(getattr(row, name)) for name in CSV_COLUMNS])
    return out.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float):
        return round(value, 3)
    if isinstance(value, str):
        return harmless(value)
    return "" if value is None else value
