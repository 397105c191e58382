"""The shop as its owner writes it: people, hours, equipment, climate, mixes, bells."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time
from typing import Literal

from scheduling.spread import Spread
from scheduling.strength import USUAL_LAW, AnyLaw
from scheduling.thresholds import Place

Weekday = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
WEEKDAYS: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class Person:
    """One pair of hands and the weekdays they are in."""

    name: str
    days: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri")


@dataclass(frozen=True, slots=True)
class Hours:
    """When the shop is open, local time.

    Attributes:
        days: Working weekdays.
        opens: Opening time.
        closes: Closing time, after opens.
        breaks: Pairs of times inside the day when nobody works, such as lunch.
        closed: Single dates off.
        closed_rule: An RFC 5545 RRULE for days off that recur, or "".
    """

    days: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri")
    opens: time = time(7, 30)
    closes: time = time(16, 30)
    breaks: tuple[tuple[time, time], ...] = ((time(12, 0), time(12, 30)),)
    closed: tuple[date, ...] = ()
    closed_rule: str = ""


@dataclass(frozen=True, slots=True)
class TypicalDay:
    """The shop's usual climate, used where nothing was measured.

    Attributes:
        low_c: Coldest of the day, degC, at low_at.
        high_c: Warmest of the day, degC, at high_at.
        low_at: Local time of the low.
        high_at: Local time of the high.
        rh_pct: Relative humidity, percent.
        wind_kmh: Air speed over the form, km/h.
    """

    low_c: float = 21.0
    high_c: float = 21.0
    low_at: time = time(5, 0)
    high_at: time = time(15, 0)
    rh_pct: float = 50.0
    wind_kmh: float = 0.0


@dataclass(frozen=True, slots=True)
class StrengthTest:
    """One strength test of a mix by the shop.

    Attributes:
        age_h: Age when it was broken, h.
        strength: Compressive, MPa.
        temp_c: Temperature it was kept at, degC.
    """

    age_h: float
    strength: float
    temp_c: float = 21.0


@dataclass(frozen=True, slots=True)
class Mix:
    """A mix: densities, limits, and the shop's own thresholds where it has them.

    Attributes:
        name: As jobs name it.
        face_density: Wet, kg/m3.
        back_density: Wet, with fibre, kg/m3.
        activation_energy: Of hydration, kJ/mol.
        thresholds: The shop's own reference minutes by threshold name
            (see ``scheduling.thresholds``); the others keep the defaults.
        strength: Its law of strength gain.
        tests: The shop's own strength tests.
        polymer_pct: Polymer solids, percent of the cementitious.
    """

    name: str = "M1"
    face_density: float = 2143.0
    back_density: float = 2089.0
    activation_energy: float = 42.0
    thresholds: dict[str, Spread] = field(default_factory=dict)
    strength: AnyLaw = USUAL_LAW
    tests: tuple[StrengthTest, ...] = ()
    polymer_pct: float = 6.0


@dataclass(frozen=True, slots=True)
class Bells:
    """How the program may make itself heard.

    Attributes:
        terminal: Ring the terminal bell.
        sound: Play the two-tone sound through the machine's player.
        desktop: Send the desktop notification escape sequence.
        command: A program and its arguments, run for what nobody answers; ()
            is none.
    """

    terminal: bool = True
    sound: bool = True
    desktop: bool = False
    command: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Probe:
    """A source of temperatures that the program follows, by one of three ways.

    Attributes:
        place: Whose temperature it is.
        file: A growing file; its last line counts.
        command: A program and its words, which prints a number; no shell.
        sensor: A file of the system that holds what the sensor says now.
        every_min: Minutes between two readings.
    """

    place: Place
    file: str = ""
    command: tuple[str, ...] = ()
    sensor: str = ""
    every_min: float = 5.0

    @property
    def words(self) -> str:
        """What to call it."""
        return f"{self.place} probe {self.file or self.sensor or self.command[0]}"


@dataclass(frozen=True, slots=True)
class Timing:
    """A threshold that was learned from the shop's own log and accepted.

    Attributes:
        name: Of the threshold.
        mix: That it holds for; of a recoat or a sealer's pot life the sealer's family.
        spread: Reference minutes.
        pours: How many it was learned from.
        energy: Activation energy of its clock, kJ/mol; None is the mix's.
        share: Of evaporation in a ``face`` clock; None is the one of its kind.
    """

    name: str
    mix: str
    spread: Spread
    pours: int
    energy: float | None = None
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast the shop does a step, learned from its own log and accepted.

    Attributes:
        step: Id of the step without its number: ``hone`` for ``hone-2``.
        factor: What the minutes by the rate of the trade are multiplied by.
        castings: How many it was learned from.
    """

    step: str
    factor: Spread
    castings: int


@dataclass(frozen=True, slots=True)
class Shop:
    """The whole shop file.

    Attributes:
        name: For people.
        zone: IANA time zone, or "" for the machine's own.
        units: ``si`` or ``us``; how quantities are shown.
        theme: ``dark`` or ``light``.
        people: Everyone who works there.
        hours: When it is open.
        mixer_load: Usable batch mass of the mixer, kg.
        equipment: How many there are, by name (mixer, gun, table, polisher, saw ...).
        climate: The typical day.
        mixes: By name; M1 is always there.
        bells: How alerts are heard.
        probes: Temperatures that are followed.
        timings: Accepted thresholds; the shop file never holds any.
        paces: Accepted paces; the shop file never holds any.
    """

    name: str = "Your shop"
    zone: str = ""
    units: Literal["si", "us"] = "si"
    theme: Literal["dark", "light"] = "dark"
    people: tuple[Person, ...] = (Person("lead"), Person("helper"))
    hours: Hours = field(default_factory=Hours)
    mixer_load: float = 25.0
    equipment: dict[str, int] = field(default_factory=dict)
    climate: TypicalDay = field(default_factory=TypicalDay)
    mixes: dict[str, Mix] = field(default_factory=lambda: {"M1": Mix()})
    bells: Bells = field(default_factory=Bells)
    probes: tuple[Probe, ...] = ()
    timings: tuple[Timing, ...] = ()
    paces: tuple[Pace, ...] = ()
