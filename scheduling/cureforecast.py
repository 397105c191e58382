"""The cure of one pour, worked out from the very timeline that its bells follow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from scheduling.cast import Cast
from scheduling.clocks import Band
from scheduling.covering import CASTING, COVER_NAMES, COVERING
from scheduling.cure import Cure, Instant, Mark, What, WhatIf
from scheduling.curenotes import explanation, warnings
from scheduling.forecast import Setting
from scheduling.layout import lay_out
from scheduling.night import GRID_S, Night
from scheduling.pour import PourState
from scheduling.process import StepKey
from scheduling.sealing import seals, ships
from scheduling.shell import CoverName
from scheduling.shop import Mix
from scheduling.strengthband import StrengthBand
from scheduling.thresholds import DEFAULTS
from scheduling.timeline import OVER, Span, Timeline
from scheduling.touch import Race, opening
from scheduling.units import Units

LONGEST_D = 7
"""How far the points go after casting, days."""

STEPS_H = ((12, 0.25), (72, 1), (24 * LONGEST_D, 2))
"""Points after casting, h: up to when, and how far apart; the piece changes quickly
while its own heat is in it, and with the day when that is gone."""

_HOUR = timedelta(hours=1)
_HARDENING: tuple[tuple[What, tuple[str, ...]], ...] = (
    ("demould", ("cure",)),
    ("hone", ("hardening", "acid age")),
    ("slurry", ("slurry age",)),
)
"""What waits for hardness, and the waits of the process it is read from."""

DONE = "as it was done"
"""Standing of a mark whose work is behind."""


def cure_of(
    state: PourState,
    timeline: Timeline,
    setting: Setting,
    *,
    at: datetime,
    low_c: float | None = None,
    cover: CoverName | None = None,
) -> Cure:
    """Returns the cure of a pour as seen at a moment.

    Before casting it is that of the piece as it is planned. Its marks are the spans of
    the timeline; with a low or a cover to suppose, those of the same process laid out
    anew with it.

    Args:
        state: What has happened.
        timeline: What that means.
        setting: Hours, zone and mixes of the pour.
        at: The moment, aware.
        low_c: Tonight's low to suppose, degC; None takes the forecast's.
        cover: What to suppose over the piece from now on; None takes what is recorded
            and planned.

    Raises:
        ValueError: The timeline has no piece, as one in a climate that is the same
            everywhere.
    """
    if timeline.cast is None or state.job is None:
        raise ValueError(f"pour {state.pour} has no piece whose warmth is reckoned")
    since = max(at, timeline.cast.at)
    night = Night.after(since, setting.shop.climate, setting.zone)
    if low_c is not None or cover is not None:
        timeline = _supposed(state, timeline, setting, night, low_c, cover)
    return _Curing(state, timeline, setting, at, night).cure()


def _covered_from(timeline: Timeline, since: datetime) -> datetime:
    """When something else could lie over the piece: once the first cover is on."""
    first = timeline.span(COVERING[0][0])
    return since if first is None or first.status in OVER else max(since, first.finish)


def _supposed(
    state: PourState,
    timeline: Timeline,
    setting: Setting,
    night: Night,
    low_c: float | None,
    cover: CoverName | None,
) -> Timeline:
    """The same pour under another cover, or in another night."""
    cast = timeline.cast
    assert cast is not None
    assert state.job is not None
    casts = cast.casts
    if low_c is not None:
        casts = casts.in_air(night.bend(casts.body.air, low_c))
    under = None if cover is None else (_covered_from(timeline, night.since), cover)
    return lay_out(
        timeline.process,
        start=timeline.start,
        book=setting.book(state.job, casts.climate),
        hours=setting.hours,
        equipment=setting.shop.equipment,
        state=state,
        at=timeline.at,
        casts=casts,
        under=under,
    )


class _Curing:
    """One cure while it is put together."""

    def __init__(
        self,
        state: PourState,
        timeline: Timeline,
        setting: Setting,
        at: datetime,
        night: Night,
    ) -> None:
        assert timeline.cast is not None
        assert state.job is not None
        self.state = state
        self.timeline = timeline
        self.setting = setting
        self.at = at
        self.night = night
        self.job = state.job
        self.mix: Mix = setting.mix(state.job)
        self.piece: Cast = timeline.cast
        self.band = StrengthBand.of(self.mix)
        self.units = Units(setting.shop.units)
        span = timeline.span(CASTING)
        self.is_cast = span is not None and span.status in OVER

    def cure(self) -> Cure:
        piece, since = self.piece, self.night.since
        piece_c, age_h = piece.fares(since)
        marks = tuple(self.marks())
        points = tuple(self.points(marks))
        found = Cure(
            pour=self.state.pour,
            at=self.at,
            cast_at=piece.at if self.is_cast else None,
            age_h=(since - piece.at) / _HOUR,
            equivalent_age_h=age_h,
            piece_c=piece_c,
            strength_mpa=self.band.at(age_h),
            points=points,
            measured=piece.measured,
            marks=marks,
            what_if=tuple(self.what_if()),
            cover=piece.cover(since),
            low_c=piece.air_c(self.night.low_at),
            warnings=(),
            explanation=explanation(piece, self.band, self.setting),
        )
        said = warnings(found, self.timeline, self.setting, self.job)
        against = tuple(words for words, warns in said if warns)
        beside = tuple(words for words, warns in said if not warns)
        return replace(
            found, warnings=against, explanation=(*beside, *found.explanation)
        )

    # -- the course

    def points(self, marks: tuple[Mark, ...]) -> Iterator[Instant]:
        """From casting to the last mark, or for a week."""
        piece = self.piece
        ready = [mark.at.p50 for mark in marks if mark.at is not None]
        longest = timedelta(days=LONGEST_D)
        last = min(max(self.at, *ready) - piece.at, longest) if ready else longest
        for when in _instants(piece.at, piece.at + last):
            piece_c, age_h = piece.fares(when)
            yield Instant(when, piece_c, piece.air_c(when), age_h, self.band.at(age_h))

    # -- the marks

    def marks(self) -> Iterator[Mark]:
        """What the piece will be ready for, as far as the job does it."""
        for what, names in _HARDENING:
            for wait in filter(None, map(self.wait, names)):
                yield self.mark(what, wait)
        yield self.seal()
        yield self.ship()

    def mark(self, what: What, wait: Span) -> Mark:
        """When a wait opens, or when what it was for was begun once that is over."""
        words = self.reference(wait)
        # The cure holds what is done just before the demould.
        key = StepKey("demould") if what == "demould" else wait.holds
        held = self.timeline.span(key)
        if held is not None and held.status in OVER:
            return Mark(what, Band(held.start, held.start, held.start), DONE, words)
        return Mark(what, wait.opens, wait.standing, words)

    def seal(self) -> Mark:
        waits = [self.wait("drying"), self.wait("film age")]
        there = [wait for wait in waits if wait is not None]
        words = ", ".join(f"{w.key.step} {_duration(w.reference_min)}" for w in there)
        standing = "; ".join(dict.fromkeys(wait.standing for wait in there))
        coat = self.timeline.span(StepKey("coat-1"))
        if coat is not None and coat.status in OVER:
            standing = DONE
        return Mark("seal", seals(self.timeline), standing, words)

    def ship(self) -> Mark:
        own = self.mix.thresholds.get("ship")
        spread = own or DEFAULTS["ship"].spread
        standing = "this shop's own value" if own else DEFAULTS["ship"].standing
        found: Band | None = ships(self.timeline, self.mix)
        return Mark("ship", found, standing, f"wrapped, {_duration(spread.p50)} old")

    def wait(self, name: str) -> Span | None:
        spans = self.timeline.spans
        return next((s for s in spans if s.kind == "wait" and s.key.step == name), None)

    def reference(self, span: Span) -> str:
        degrees = self.units.temperature_value(21.0)
        unit = self.units.temperature_unit
        return f"{_duration(span.reference_min)} at {degrees:.0f} {unit}"

    # -- what if

    def what_if(self) -> Iterator[WhatIf]:
        """The coming night under each cover, until the piece is out of its form.

        Open is among them only where it lies open now.
        """
        out = self.timeline.span(StepKey("demould"))
        if out is not None and out.status in OVER:
            return
        since = self.night.since
        low_c = self.piece.air_c(self.night.low_at)
        names = (
            COVER_NAMES if self.is_cast and self.piece.cover(since) == "open" else ()
        )
        for name in names or COVER_NAMES[1:]:
            piece = self.piece.under(name, _covered_from(self.timeline, since))
            ready = self.demould(piece)
            until = ready or piece.at + timedelta(days=LONGEST_D)
            coldest, warmest = piece.extremes(since, max(since, until))
            yield WhatIf(name, low_c, ready, coldest, warmest)

    def demould(self, piece: Cast) -> datetime | None:
        """When a piece opens for the demould, P50, given how the tries went."""
        span = self.wait("cure")
        gap = None if span is None else self.timeline.process.step(span.holds).gap
        if span is None or gap is None or gap.opens is None:
            return None
        race = Race(piece.at_energy(gap.opens.energy), gap.opens.spread)
        tries = self.state.touched(gap, span.holds)
        found = opening(piece.at, race, tries)
        return found.opens.p50 if found.opens else None


def _instants(start: datetime, last: datetime) -> Iterator[datetime]:
    """From the start to the last by the quarter hours of the clock, then fewer.

    Air and piece are known at the quarter hours; anywhere between costs more.
    """
    yield start
    second = (start.timestamp() // GRID_S + 1) * GRID_S
    for until_h, step_h in STEPS_H:
        until = min(start + until_h * _HOUR, last).timestamp()
        while second < until:
            yield datetime.fromtimestamp(second, UTC)
            second += 3600 * step_h
    yield last


def _duration(minutes: float | None) -> str:
    """Says a reference time: ``18 h``, ``5 d``."""
    hours = (minutes or 0.0) / 60
    return f"{hours:g} h" if hours < 72 else f"{hours / 24:g} d"
