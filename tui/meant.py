"""Which step, zone, wait or person somebody means by the words they typed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import get_close_matches

from scheduling.errors import BadInput, Fault
from scheduling.process import StepKey
from scheduling.shop import Person
from scheduling.timeline import OVER, Timeline
from scheduling.touch import FEELS


def nearest(text: str, known: Sequence[str]) -> str:
    """Returns words that name the nearest known text, or all of them."""
    near = get_close_matches(text, known, n=1)
    return f'did you mean "{near[0]}"?' if near else f"one of {', '.join(known)}"


def step_meant(timeline: Timeline, step: str, zone: str | None = None) -> StepKey:
    """Returns the step somebody means by its id and, where it has one, its zone.

    Without a zone it is the first zone of that step that is not done.

    Raises:
        BadInput: The pour has no such step or zone, with the nearest there is.
    """
    spans = [s for s in timeline.steps() if s.key.step == step]
    if not spans:
        steps = list({s.key.step: 0 for s in timeline.steps()})
        raise BadInput(Fault("STEP", "", step, nearest(step, steps)))
    if zone is not None:
        for span in spans:
            if span.key.zone == zone:
                return span.key
        zones = [span.key.zone for span in spans]
        raise BadInput(Fault("--zone", "", zone, nearest(zone, zones)))
    todo = [span for span in spans if span.status not in OVER]
    return (todo or spans)[0].key


def touch_meant(timeline: Timeline, feel: str, where: str | StepKey | None) -> StepKey:
    """Returns the step that waits for what was felt, or that mixed it.

    Args:
        timeline: Of the pour.
        feel: One of FEELS.
        where: A zone; or the step that a running wait holds, or that mixed a batch in
            hand. None is the zone that has waited longest for an answer.

    Raises:
        BadInput: No such feel, or nothing of that name is waiting.
    """
    if feel not in FEELS:
        raise BadInput(Fault("touch", "", feel, f"one of {', '.join(FEELS)}"))
    waiting = timeline.zones_to_touch()
    if where is None:
        if not waiting:
            raise BadInput(
                Fault("touch", "", "", "no sprayed zone is waiting for lift 1")
            )
        where = waiting[0]
    if where in timeline.process.zones:
        if where not in waiting:
            raise BadInput(Fault("ZONE", "", str(where), "is not waiting for lift 1"))
        return StepKey("lift-1", str(where))
    return _other_wait(timeline, str(where), feel)


def _other_wait(timeline: Timeline, where: str, feel: str) -> StepKey:
    """The step of a running wait or of a batch in hand that can be felt so.

    Raises:
        BadInput: There is none of that name, or it cannot be felt so.
    """
    waits = {span.holds: span for span in timeline.waits_to_touch()}
    pots = [key for key, life in timeline.pot_lives.items() if not life.used]
    keys = [*waits, *pots]
    key = next((key for key in keys if where in (key.step, str(key))), None)
    if key is None:
        zones, waiting = timeline.process.zones, list(map(str, keys))
        want = nearest(where, [*zones, *waiting])
        if waiting:
            zoned = ", ".join(zones)
            want = f"a zone ({zoned}) or what waits ({', '.join(waiting)}); {want}"
        raise BadInput(Fault("ZONE", "", where, want))
    feels: tuple[str, ...] = FEELS
    if key not in waits:
        feels = FEELS[2:]
    elif waits[key].closes is None:
        feels = FEELS[:2]
    if feel not in feels:
        raise BadInput(Fault(str(key), "", feel, f"one of {', '.join(feels)}"))
    return key


def people_meant(text: str, people: Iterable[Person]) -> list[str]:
    """Reads who is in: names of the shop's people, or how many hands.

    Raises:
        BadInput: A name the shop file does not have, or a number out of range.
    """
    names = {person.name.lower(): person.name for person in people}
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if len(parts) == 1 and parts[0].isascii() and parts[0].isdigit():
        count = int(parts[0])
        if not 1 <= count <= 9:
            raise BadInput(Fault("hands", "", text, "1 to 9 hands, or names"))
        return [f"hand {number}" for number in range(1, count + 1)]
    unknown = [part for part in parts if part.lower() not in names]
    if unknown or not parts:
        want = nearest(unknown[0] if unknown else "", list(names.values()))
        raise BadInput(Fault("hands", "", ", ".join(unknown), want))
    return [names[part.lower()] for part in parts]
