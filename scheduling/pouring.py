"""The day of the pour: weighed off, face coat sprayed, two lifts placed and rolled."""

from __future__ import annotations

from dataclasses import replace

from scheduling.draft import ProcessDraft
from scheduling.process import Gap, Phase, StepKey
from scheduling.spread import Spread
from scheduling.takeoff import ZoneTakeoff
from scheduling.thresholds import PRACTICE, Threshold
from scheduling.work import RATES, Quantities

MIX_AHEAD = 10.0
"""Minutes before the expected opening at which the back batch is begun:
seven to mix and three to carry; common practice, no source."""

USED_WHEN_MIXING = 0.6
"""Share of the batch in hand that is used when the next is begun: common practice."""

WEIGH_OFF = ("set-up", "sand-moisture", "weigh-dry", "weigh-wet")
"""What has to be done before the first batch is mixed, in any order."""

MOST_PACKERS = 2
"""Hands that can pack one zone without standing in each other's way (estimate)."""


def weigh_off(draft: ProcessDraft) -> None:
    """Adds what is done on the day before the first batch is mixed."""
    phase: Phase = "face coat"
    look = (draft.last,)
    if draft.wants("mock weigh-off"):
        words = "mock weigh-off: enough of every item"
        look = (draft.add("mock-weigh-off", phase, words, pour_day=True),)
    for step, words in (
        ("set-up", "set up gun, rollers, plastic, fog, gloves"),
        ("sand-moisture", "sand moisture, correct the water"),
        ("weigh-dry", "dry weigh-off, tick each item"),
        ("weigh-wet", "wet weigh-off, lids on"),
    ):
        draft.add(step, phase, words, after=look, pour_day=True)


def face_coat(draft: ProcessDraft) -> None:
    """Adds the mixing and spraying of the face coat, zone by zone."""
    count = draft.order.face_batches
    ready = tuple(step.key for step in draft.steps if step.key.step in WEIGH_OFF)
    mixed = [
        draft.add(
            "mix-face" if count == 1 else f"mix-face-{number}",
            "face coat",
            "mix face batch: shear, rest, remix",
            rate="mix-face",
            equipment=("mixer",),
            after=ready if number == 1 else None,
            unbroken=True,
        )
        for number in range(1, count + 1)
    ]
    flow = draft.add(
        "flow-check",
        "face coat",
        "flow check and mix temperature",
        after=(mixed[0],),
        unbroken=True,
    )
    _spray(draft, flow, mixed)


def _spray(draft: ProcessDraft, flow: StepKey, mixed: list[StepKey]) -> None:
    field = RATES["spray-field"].minutes(draft.whole)
    corners = RATES["spray-corners"].minutes(draft.whole)
    life = draft.threshold("face pot life")
    done = 0.0
    previous = flow
    for zone in draft.takeoff.zones:
        share = zone.face_m2 / draft.takeoff.face_m2
        fillet = zone.fillet_m / draft.takeoff.fillet_m if corners else 0.0
        batch = mixed[_batch_for(done, len(mixed))]
        previous = draft.add(
            "spray",
            "face coat",
            f"spray {zone.name}: corners first, then crossing passes",
            zone=zone.name,
            work=field * share + corners * fillet,
            equipment=("gun",),
            after=tuple(dict.fromkeys((previous, batch))),
            gaps=(Gap("", "face coat", batch, closes=life, from_start=True),),
            unbroken=True,
        )
        done += share


def back_coat(draft: ProcessDraft) -> None:
    """Adds the back coat: batches, two lifts with what lies between, and screed."""
    first_zone = draft.takeoff.zones[0].name
    count = draft.order.batches
    for_first = (count + 1) // 2
    _mix_back(draft, 1, _face_window(draft, first_zone, name="", lead=MIX_AHEAD))
    rolled = _lift(draft, 1, 1, for_first)
    between = _between_lifts(draft, rolled)
    rolled = _lift(draft, 2, min(for_first + 1, count), count, between)
    after_lifts = tuple(rolled)
    if draft.takeoff.inserts:
        words = "set inserts in their pads, jig left on"
        after_lifts = (
            draft.add("inserts", "back coat", words, after=after_lifts, unbroken=True),
        )
    draft.add(
        "screed",
        "compaction",
        "screed and trowel the back level",
        after=after_lifts,
        unbroken=True,
    )


def _lift(
    draft: ProcessDraft,
    lift: int,
    first: int,
    last: int,
    between: tuple[StepKey, ...] = (),
) -> list[StepKey]:
    """Adds one lift zone by zone with the batches it uses; returns the rolls."""
    zones = draft.takeoff.zones
    crew = max(1, min(MOST_PACKERS, draft.hands // len(zones)))
    batches = max(1, last - first + 1)
    rolled: list[StepKey] = []
    done = 0.0
    for zone in zones:
        share = zone.face_m2 / draft.takeoff.face_m2
        begin = min(last, first + _batch_for(done, batches))
        end = min(last, first + _batch_for(done + share - 1e-6, batches))
        window = _window(draft, lift, zone)
        if lift > 1 and begin == first:
            ahead = replace(window, name="", closes=None, lead=MIX_AHEAD)
            _mix_back(draft, begin, ahead)
        work = RATES["lift"].minutes(_packed(zone))
        place = draft.add(
            f"lift-{lift}",
            "back coat",
            f"place lift {lift} in {zone.name}, light hand first",
            zone=zone.name,
            work=work,
            crew=crew,
            after=(_batch(begin), StepKey("spray", zone.name), *between),
            gaps=(window, *(_pot_life(draft, n) for n in range(begin, end + 1))),
            unbroken=True,
        )
        each = draft.steps[-1].minutes / (end - begin + 1)
        then = min(last, first + _batch_for(done + share, batches))
        for number in range(begin + 1, max(end, then) + 1):
            used = each * (number - begin - 1 + USED_WHEN_MIXING)
            _mix_back(draft, number, _batch_use(place, used))
        rolled.append(_roll(draft, lift, zone, place, crew))
        done += share
    return rolled


def _roll(
    draft: ProcessDraft, lift: int, zone: ZoneTakeoff, place: StepKey, crew: int
) -> StepKey:
    by = draft.threshold("roll by")
    return draft.add(
        f"roll-{lift}",
        "compaction",
        f"roll lift {lift} in {zone.name}, two directions",
        zone=zone.name,
        work=RATES["roll"].minutes(_packed(zone)),
        crew=crew,
        after=(place,),
        gaps=(Gap("", "compaction", place, closes=by),),
        unbroken=True,
    )


def _packed(zone: ZoneTakeoff) -> Quantities:
    return Quantities(flat=zone.flat_m2, upright=zone.upright_m2)


def _mix_back(draft: ProcessDraft, number: int, gap: Gap) -> None:
    """Adds the mixing of a back batch, unless it is there already."""
    if any(step.key == _batch(number) for step in draft.steps):
        return
    before = () if number == 1 else (_batch(number - 1),)
    draft.add(
        _batch(number).step,
        "back coat",
        f"mix back batch {number} of {draft.order.batches}, fibre last and slow",
        rate="mix-back",
        equipment=("mixer",),
        after=(*before, gap.after) if number == 1 else before,
        gaps=(gap,),
        unbroken=True,
    )


def _between_lifts(draft: ProcessDraft, rolled: list[StepKey]) -> tuple[StepKey, ...]:
    """Adds scrim and foam, if any; returns what lift 2 waits for."""
    after = tuple(rolled)
    if draft.wants("scrim"):
        words = "scrim on fresh lift 1, lapped, rolled in gently"
        after = (draft.add("scrim", "back coat", words, after=after, unbroken=True),)
    if draft.takeoff.foam_count:
        words = "bed and pin foam cores on plastic lift 1"
        after = (draft.add("foam", "back coat", words, after=after, unbroken=True),)
    return after if after != tuple(rolled) else ()


def _window(draft: ProcessDraft, lift: int, zone: ZoneTakeoff) -> Gap:
    """The window in which a lift has to be placed in a zone."""
    if lift == 1:
        return _face_window(draft, zone.name, name="face wait")
    tall = zone.upright_m2 > zone.face_m2 / 2
    prefix = "upright lift 2" if tall else "lift 2"
    return Gap(
        "stiffen" if tall else "lift wait",
        "wait",
        StepKey("lift-1" if tall else "roll-1", zone.name),
        draft.threshold(f"{prefix} opens"),
        draft.threshold(f"{prefix} closes"),
    )


def _face_window(
    draft: ProcessDraft, zone: str, *, name: str, lead: float = 0.0
) -> Gap:
    return Gap(
        name,
        "wait",
        StepKey("spray", zone),
        draft.threshold("face opens"),
        draft.threshold("face closes") if name else None,
        lead=lead,
    )


def _pot_life(draft: ProcessDraft, number: int) -> Gap:
    life = draft.threshold("back pot life")
    return Gap("", "back coat", _batch(number), closes=life, from_start=True)


def _batch_use(place: StepKey, minutes: float) -> Gap:
    """The wait until so little of the batch in hand is left that another is due."""
    use = Threshold("batch use", Spread(minutes), "plain", "shop", PRACTICE)
    return Gap("", "back coat", place, use, from_start=True)


def _batch(number: int) -> StepKey:
    """The step that mixes a back batch."""
    return StepKey(f"mix-back-{number}")


def _batch_for(done: float, batches: int) -> int:
    """Index of the batch in hand when a share of the work is done (0 to 1)."""
    return min(batches - 1, int(done * batches + 1e-9))
