"""What the log teaches as tables: of waits, of work."""

from __future__ import annotations

from collections.abc import Iterable

from scheduling.learned import Learned, LearnedPace
from scheduling.units import Units
from tui import output
from tui.session import Session
from tui.timings import words
from tui.timings.standing import Standing, spread_of

_WINDOWS = ("wait", "default", "learned", "P10-P90", "pours", "at", "state")


def windows(session: Session, learned: Iterable[Learned]) -> None:
    """One table and, below, what it has no column for."""
    units = Units(session.shop.units)
    found = sorted(learned, key=lambda one: one.mix)
    if not found:
        return
    output.parted_table(
        _WINDOWS, ((one.mix, _window(session, one, units)) for one in found)
    )
    told = [line for one in found for line in _about(session, one)]
    if told:
        output.line()
    for line in told:
        output.lines(line, indent="  ")


def _window(session: Session, one: Learned, units: Units) -> tuple[str, ...]:
    scale = words.Scale.of(one.default.p50)
    learned = one.pours > 0
    return (
        one.name,
        f"{words.figure(one.default.p50, scale)} {scale.word}",
        words.figure(one.learned.p50, scale) if learned else "",
        words.ends(one.learned, scale) if learned else "",
        str(one.pours),
        words.temperatures(one.temp_range_c, units) if learned else "",
        Standing.of(session.book, one).short,
    )


def _about(session: Session, one: Learned) -> Iterable[str]:
    """What no column has room for: the clock, what was decided, odd and left out."""
    name = f"{one.name}, {one.mix}"
    if one.energy is not None and one.energy.told:
        said = words.estimate(one.energy, " kJ/mol")
        yield f"{name}: activation energy {said}"
    if one.share is not None and one.share.told:
        yield f"{name}: share of evaporation {words.estimate(one.share)}"
    for said in Standing.of(session.book, one).decisions(session.zone):
        yield f"{name}: {said}"
    for each in one.seen:
        if each.odd:
            yield f"{name}: {words.odd_window(each.said, each.weight)}"
    for left in words.left_out(each.why_not for each in one.left_out):
        yield f"{name}: {left}"


# -- work

_WORK = ("work", "castings", "factor", "P10-P90", "state")


def work(session: Session, learned: Iterable[LearnedPace], *, after: bool) -> None:
    """A table with what belongs to each step in the lines below its row."""
    found = list(learned)
    if not found:
        return
    if after:
        output.line()
    heading, *rows = output.columns(_WORK, [_pace(session, one) for one in found])
    output.line(heading)
    for one, row in zip(found, rows, strict=True):
        output.line(row)
        for line in _about_work(session, one):
            output.lines(f"  {line}", indent="    ")


def _pace(session: Session, one: LearnedPace) -> tuple[str, ...]:
    learned = one.castings > 0
    return (
        one.step,
        str(one.castings),
        f"x{one.learned.p50:.2f}" if learned else "",
        f"{one.learned.p10:.2f}-{one.learned.p90:.2f}" if learned else "",
        Standing.of(session.book, one).short,
    )


def _about_work(session: Session, one: LearnedPace) -> Iterable[str]:
    units = Units(session.shop.units)
    standing = Standing.of(session.book, one)
    before = spread_of(standing.in_force).p50
    if one.castings:
        yield from filter(
            None,
            (
                words.rates(one.step, before, one.learned.p50, units),
                words.people(one),
                words.trend(one, session.zone),
            ),
        )
    yield from standing.decisions(session.zone)
    for each in one.seen:
        if each.odd:
            yield words.odd_work(each.said, each.weight)
    yield from words.left_out(each.why_not for each in one.left_out)
