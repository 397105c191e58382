"""The questions the program asks in one line, each with its check and its wish."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from scheduling.defect import Where, found_about_now, read_where, say_code, zone_meant
from scheduling.errors import BadInput, Fault, PourbellError
from scheduling.inforce import undo_target
from scheduling.plainjson import Json
from scheduling.readings import read_readings, say_readings
from scheduling.touch import say_try
from tui.inmemory import Pour
from tui.meant import people_meant

if TYPE_CHECKING:
    from scheduling.review import Row
    from tui.app import PourbellApp
    from tui.session import Session


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes:
        title: What is asked.
        hint: How to answer, with an example.
        check: Says what an answer means, or raises BadInput.
        take: Does what was answered.
    """

    title: str
    hint: str
    check: Callable[[str], str]
    take: Callable[[str], None]


def ask(app: PourbellApp, question: Question) -> None:
    """Asks for one line and takes the answer, if there is one."""
    from tui.screens.ask import Ask  # noqa: PLC0415 - opened rarely

    def taken(answer: str | None) -> None:
        if answer is None:
            return
        try:
            question.take(answer)
        except PourbellError as error:  # time went on since it was checked
            app.refuse(str(error))

    app.push_screen(Ask(question.title, question.hint, question.check), taken)


def ask_about(app: PourbellApp, make: Callable[[PourbellApp, Pour], Question]) -> None:
    """Asks a question about the pour in hand."""
    pour = app.pour
    if pour is None:
        app.refuse("no pour is running")
    else:
        ask(app, make(app, pour))


def ask_time(app: PourbellApp, row: Row | None = None) -> None:
    """Asks for the right time of a row of the log, or of the newest mark."""
    if row is not None:
        app.session.load_one(row.pour)
        about = f"{row.step} {row.zone}".strip()
        ask(app, time(app, row.pour, row.event, about))
        return
    pour = app.pour
    target = undo_target(app.session.events(pour.name)) if pour else None
    if pour is None or target is None:
        app.refuse("nothing is marked yet")
        return
    about = f"{target.kind} {target.step} {target.zone}".strip()
    ask(app, time(app, pour.name, target.id, about))


# -- each of them


def note(app: PourbellApp, pour: Pour) -> Question:
    """Asks for a line for the log."""
    return Question(
        "Note",
        "A line for the log.",
        lambda text: f"{len(text.strip())} characters",
        lambda text: app.wish(
            lambda: app.session.note(pour.name, text.strip()), "note"
        ),
    )


def reading(app: PourbellApp, pour: Pour) -> Question:
    """Asks for temperatures and air."""
    units = app.units
    shop, form = (67, 64) if units.system == "us" else (19.5, 18)
    wind = "mph" if units.system == "us" else "km/h"

    def take(text: str) -> None:
        values = read_readings(text, units)
        words = say_readings(values, units)
        app.wish(lambda: app.session.reading(pour.name, values), words)

    return Question(
        "Reading",
        f"Numbers with their word: shop, form, mix, piece in {units.temperature_unit}, "
        f"rh in %, wind in {wind}. A number alone is the shop. "
        f"Example: {shop} form {form} rh 45",
        lambda text: say_readings(read_readings(text, units), units),
        take,
    )


def demould(app: PourbellApp, pour: Pour) -> Question:
    """Asks whether a demould that is ready could have been known to be so sooner."""
    tried_at = app.session.time.now()

    def first(text: str) -> bool:
        if text.strip() not in ("1", "2"):
            raise BadInput(Fault("demould", "", text, "1 or 2"))
        return text.strip() == "1"

    def say(text: str) -> str:
        return say_try(ready=True, first_possible=first(text))

    return Question(
        "Ready to demould: the first possible moment, or did it wait for you?",
        "1 the first possible moment. 2 it waited: it may have been ready for hours.",
        say,
        lambda text: app.wish(
            lambda: app.session.try_demould(
                pour.name, ready=True, first_possible=first(text), at=tried_at
            ),
            f"demould {say(text)}",
        ),
    )


def defect(app: PourbellApp, pour: Pour, code: str, zone: str) -> Question:
    """Asks where a defect is and how large; the zone in hand is ``zone``, or ""."""
    zones = pour.timeline.process.zones
    put_away = pour.state.sealed is not None
    stage = found_about_now(pour.timeline, put_away=put_away)

    def read(text: str) -> Where:
        typed = read_where(text, zones)
        return replace(typed, zone=zone_meant(typed.zone or zone, zones))

    def say(text: str) -> str:
        typed = read(text)
        parts = (typed.zone, typed.place, typed.size, f"found at {stage}")
        return ", ".join(part for part in parts if part)

    def take(text: str) -> None:
        typed = read(text)
        details: dict[str, Json] = {"found_at": stage}
        details |= {"place": typed.place, "size": typed.size}
        app.wish(
            lambda: app.session.defect(pour.name, code, details, zone=typed.zone),
            f"{say_code(code)}, {say(text)}",
        )

    named = "   ".join(f"{number}: {name}" for number, name in enumerate(zones, 1))
    return Question(
        f"{say_code(code).capitalize()}: where, and how large?",
        f"ZONE: PLACE, SIZE, such as 1: inner edge, 40 mm. Zones: {named}",
        say,
        take,
    )


def hands(app: PourbellApp, pour: Pour) -> Question:
    """Asks who is in."""
    session = app.session
    people = session.shop.people
    known = ", ".join(person.name for person in people)

    def take(text: str) -> None:
        names = people_meant(text, people)
        app.wish(lambda: session.hands(pour.name, names), f"in: {', '.join(names)}")

    return Question(
        "Who is in",
        f"Names with commas between them, of {known}; or how many hands.",
        lambda text: f"{len(people_meant(text, people))} hands",
        take,
    )


def time(app: PourbellApp, pour: str, event: str, about: str) -> Question:
    """Asks when a marked event really happened, and again which of two times it was."""
    session = app.session

    def means(text: str) -> str:
        said = list(map(session.say_time, session.read_times(text)))
        twice = "twice that day, ENTER asks which: " if len(said) > 1 else ""
        return twice + " or ".join(said)

    def take(text: str) -> None:
        instants = session.read_times(text)
        if len(instants) > 1:
            ask(app, _which(session, sorted(instants), put))
        else:
            put(instants[0])

    def put(at: datetime) -> None:
        app.wish(
            lambda: session.correct(pour, event, at), f"{about} {session.say_time(at)}"
        )

    return Question(
        f"When was that: {about}?",
        "Such as 9:42, -5 (five minutes ago), yesterday 16:10.",
        means,
        take,
    )


def _which(
    session: Session, instants: Sequence[datetime], take: Callable[[datetime], None]
) -> Question:
    """Asks which of the two times it was that the clock showed the same."""
    offered = {str(number): at for number, at in enumerate(instants, 1)}

    def meant(text: str) -> datetime:
        if text.strip() not in offered:
            raise BadInput(Fault("time", "", text, f"one of {', '.join(offered)}"))
        return offered[text.strip()]

    return Question(
        "The clock showed that twice. Which was it?",
        "   ".join(f"{key}: {session.say_time(at)}" for key, at in offered.items()),
        lambda text: session.say_time(meant(text)),
        lambda text: take(meant(text)),
    )
