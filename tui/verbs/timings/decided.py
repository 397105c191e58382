"""Accepting, refusing and taking back what was learned, with what it changes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from scheduling.effect import effect
from scheduling.errors import BadInput, Fault
from scheduling.event import Event
from scheduling.laws import ACTIVATION_ENERGY
from scheduling.learned import Learned
from scheduling.shop import Pace, Timing
from scheduling.shopbook import TIMING, Key, key_of
from scheduling.spread import Spread
from scheduling.thresholds import DEFAULTS
from scheduling.units import Units
from scheduling.work import HANDS_ON
from scheduling.written import shown
from tui import accepting, output
from tui.session import Session
from tui.timings import words
from tui.timings.standing import (
    Standing,
    alike,
    in_force,
    last_decision,
    spread_of,
    value_of,
)
from tui.timings.teaching import Taught
from tui.verbs.opening import first_opening
from tui.verbs.timings.offers import Wanted, find, keys


def decide(
    session: Session,
    taught: Taught,
    wanted: Wanted,
    kind: Literal["accepted", "refused"],
    *,
    json: bool,
) -> int:
    """Accepts or refuses what was learned of one wait or step; 1 where that is nothing.

    Raises:
        BadInput: No such name, or several of it.
        LogFault: Not saved.
    """
    key = wanted.one(keys(taught))
    found = find(taught, key)
    value = value_of(found)
    standing = Standing.of(session.book, found)
    if standing.nothing:
        output.complain(f"{_called(key)}: {standing.nothing}")
        return 1
    said = session.book.accepted if kind == "accepted" else session.book.refused
    if key in said and alike(said[key].value, value):
        output.complain(f"{_called(key)}: {kind} already, and nothing new since")
        return 1
    if standing.accepted is not None and alike(standing.accepted.value, value):
        output.complain(f"{_called(key)}: accepted; --take-back takes that back")
        return 1
    before = standing.in_force
    write = accepting.accept if kind == "accepted" else accepting.refuse
    warmth = found.temp_range_c if isinstance(found, Learned) else None
    event = write(session, value, spread_of(before), warmth)
    if json:
        _print_event(session, event)
        return 0
    _show(session, before, value)
    if kind == "accepted":
        output.line("accepted: every pour begun from now on runs on it")
    else:
        output.line("refused: nothing changes, until more pours speak for it")
    return 0


def take_back(session: Session, wanted: Wanted, *, json: bool) -> int:
    """Takes the last accepting or refusing of one wait or step back.

    Raises:
        BadInput: Nothing of that name was accepted or refused, or several were.
        LogFault: Not saved.
    """
    book = session.book
    known = list(dict.fromkeys((*book.accepted, *book.refused)))
    if not any(map(wanted.fits, known)):
        want = f"nothing is decided but {_all_of(known)}"
        if not known:
            want = "nothing is accepted or refused"
        raise BadInput(Fault("--take-back", "", shown(wanted.name or ""), want))
    key = wanted.one(known)
    last = last_decision(book, key)
    assert last is not None
    default = _default(session, key)
    before = in_force(book, key, default)
    event = accepting.take_back(session, last.event.id)
    if json:
        _print_event(session, event)
        return 0
    _show(session, before, in_force(session.book, key, default))
    output.line(f"{last.event.kind} no longer")
    return 0


def _default(session: Session, key: Key) -> Spread:
    """What new pours run on where nothing is accepted."""
    what, name, mix = key
    if what != TIMING:
        return HANDS_ON
    from scheduling.timings import default_outlook  # noqa: PLC0415 - brings numpy in

    return default_outlook(name, mix, session.shop).spread


# -- what it changes


def _show(session: Session, before: Timing | Pace, after: Timing | Pace) -> None:
    """Prints a value before and after, and what that is for the next pour."""
    output.line(_called(key_of(after)))
    if isinstance(before, Timing) and isinstance(after, Timing):
        scale = words.Scale.of(before.spread.p50)
        _print_both(
            (words.band(one.spread, scale), _standing(one)) for one in (before, after)
        )
        _next_pour(session, before, after)
    elif isinstance(before, Pace) and isinstance(after, Pace):
        _print_both(
            (words.factor(one.factor), _standing(one)) for one in (before, after)
        )
        factors = before.factor.p50, after.factor.p50
        said = words.rates(after.step, *factors, Units(session.shop.units))
        if said:
            output.lines(f"  rate: {said}", indent="    ")


def _next_pour(session: Session, before: Timing, after: Timing) -> None:
    """What a wait that begins when the shop is next open would take on the wall."""
    begun = first_opening(session)
    climate = session.setting.climate
    mix = session.shop.mixes.get(after.mix)
    energy = mix.activation_energy if mix else ACTIVATION_ENERGY
    then, now = (
        words.wall(effect(one, climate, energy, begun), begun)
        for one in (before, after)
    )
    known = DEFAULTS.get(after.name)
    warmth = climate.at(known.place if known else "shop", begun).temp_c
    units = Units(session.shop.units)
    output.lines(
        f"  the next pour: {now} on the wall instead of {then}, begun "
        f"{begun.astimezone(session.zone):%a %H:%M} at {units.temperature(warmth)}",
        indent="    ",
    )


def _standing(value: Timing | Pace) -> str:
    if isinstance(value, Timing):
        number, word = value.pours, "pour"
    else:
        number, word = value.castings, "casting"
    return f"learned from {words.count(number, word)}" if number else "default"


def _all_of(known: Sequence[Key]) -> str:
    return "; ".join(_called(key) for key in known)


def _called(key: Key) -> str:
    _, name, mix = key
    return f"{name}, {mix}" if mix else f"{name}, work"


def _print_both(before_and_after: Iterable[tuple[str, str]]) -> None:
    labels = ("  before", "  after")
    rows = [
        (label, *cells) for label, cells in zip(labels, before_and_after, strict=True)
    ]
    for line in output.columns(("", "", ""), rows, left=3)[1:]:
        output.line(line)


def _print_event(session: Session, event: Event) -> None:
    output.as_json(
        {
            "event": event.id,
            "at": output.iso(event.at, session.zone),
            "kind": event.kind,
            "by": event.by or None,
            "data": dict(event.data),
        }
    )
