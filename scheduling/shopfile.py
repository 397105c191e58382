"""Reads the shop file: people, hours, equipment, climate, mixes and bells.

Everything in it may be left out and then takes the default of ``scheduling.shop``.
All faults of the file are reported together.
"""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo, available_timezones

from scheduling.closedrule import check_closed_rule
from scheduling.probefile import read_probes
from scheduling.quantities import (
    DENSITY,
    DURATION,
    ENERGY,
    MASS,
    PERCENT,
    SPEED,
    TEMPERATURE,
)
from scheduling.schema import Table, load_toml, parse_toml
from scheduling.shop import WEEKDAYS, Bells, Hours, Mix, Person, Shop, TypicalDay
from scheduling.spread import Spread
from scheduling.strengthfile import MOST_TESTS, read_law, read_tests
from scheduling.thresholds import DEFAULTS
from scheduling.written import clean_text

EQUIPMENT = ("mixer", "gun", "table", "polisher", "grinder", "saw", "blanket")
"""Equipment the steps may ask for; a shop may count other things besides."""

LONGEST_WAIT = "60 d"
"""Longest threshold; beyond it a unit was mistyped."""

MOST_MIXES = 20
"""Mixes of one shop."""

MOST_EQUIPMENT = 50
"""Kinds of equipment in one shop."""

MOST_ARGUMENTS = 50
"""Arguments of the bells' command, the program counted."""

_SYSTEMS: tuple[Literal["si", "us"], ...] = ("si", "us")
_THEMES: tuple[Literal["dark", "light"], ...] = ("dark", "light")
_SHOP = Shop()
_MIX = Mix()


def read_shop(path: Path) -> Shop:
    """Reads a shop file; an empty one is the default shop.

    Raises:
        BadInput: With every fault found in it.
    """
    return _shop(load_toml(path, may_be_empty=True))


def read_shop_text(text: str, where: str) -> Shop:
    """Reads the text of a shop file.

    Args:
        text: What the file holds.
        where: The file, as faults name it.

    Raises:
        BadInput: With every fault found in it.
    """
    return _shop(parse_toml(text, where, may_be_empty=True))


def _shop(table: Table) -> Shop:
    shop = Shop(
        name=table.text("name", _SHOP.name),
        zone=_zone(table),
        units=table.choice("units", _SYSTEMS, _SHOP.units),
        theme=table.choice("theme", _THEMES, _SHOP.theme),
        people=_people(table),
        hours=_hours(table.table("hours")),
        mixer_load=table.quantity(
            "mixer_load", MASS, _SHOP.mixer_load, least="1 kg", most="1000 kg"
        ),
        equipment=_equipment(table.table("equipment")),
        climate=_climate(table.table("climate")),
        mixes=_mixes(table.table("mixes")),
        bells=_bells(table.table("bells")),
        probes=read_probes(table),
    )
    table.finish()
    return shop


def _zone(table: Table) -> str:
    name = table.text("zone", _SHOP.zone, may_be_empty=True)
    if not name:
        return name
    try:
        return ZoneInfo(name).key
    # A folder of zones or a name that leaves the folder raises as a path would.
    except (LookupError, ValueError, OSError):
        near = get_close_matches(name, sorted(available_timezones()), n=1)
        asked = f'; did you mean "{near[0]}"?' if near else ""
        table.fault("zone", f'wants a time zone, such as "Europe/Oslo"{asked}')
        return ""


def _people(table: Table) -> tuple[Person, ...]:
    rows = table.tables("people", 20)
    if "people" not in table:
        return _SHOP.people
    if not rows and not table.faulty("people"):
        table.fault("people", "wants at least one person, written [[people]]")
    people: dict[str, Person] = {}
    for row in rows:
        name = row.text("name")
        days = row.choices("days", WEEKDAYS, Person("").days, may_be_empty=False)
        if name.casefold() in people and not row.faulty("name"):
            row.fault("name", "is there already; wants a name of its own")
        people.setdefault(name.casefold(), Person(name, days))
    return tuple(people.values())


def _hours(table: Table) -> Hours:
    usual = _SHOP.hours
    hours = Hours(
        days=table.choices("days", WEEKDAYS, usual.days, may_be_empty=False),
        opens=table.clock_time("opens", usual.opens),
        closes=table.clock_time("closes", usual.closes),
        breaks=table.spans("breaks", usual.breaks, 6),
        closed=table.days("closed", 400),
        closed_rule=table.text("closed_rule", usual.closed_rule, may_be_empty=True),
    )
    if hours.closed_rule:
        try:
            check_closed_rule(hours.closed_rule)
        except ValueError as error:
            table.fault("closed_rule", str(error))
    if table.faulty("opens") or table.faulty("closes"):
        return hours
    if hours.closes <= hours.opens:
        outer = table.written("opens", f"opening at {hours.opens:%H:%M}")
        table.fault("closes", f"must be later than {outer}")
    else:
        _check_breaks(table, hours)
    return hours


def _check_breaks(table: Table, hours: Hours) -> None:
    free_from = hours.opens
    for start, end in sorted(hours.breaks):
        if free_from <= start < end <= hours.closes:
            free_from = end
            continue
        want = (
            f"must lie between {hours.opens:%H:%M} and {hours.closes:%H:%M}, "
            "end after it starts, and leave the other breaks alone"
        )
        span = f"{start:%H:%M}-{end:%H:%M}"
        table.fault_at(table.key_path("breaks"), span, want)


def _equipment(table: Table) -> dict[str, int]:
    if len(table.names()) > MOST_EQUIPMENT:
        table.fault_at(table.path, "", f"wants at most {MOST_EQUIPMENT} kinds")
    counts = {}
    for name in table.names():
        near = get_close_matches(name, EQUIPMENT, n=1, cutoff=0.8)
        count = table.whole(name, 0, 99)
        if near and near[0] != name:
            table.fault(name, f'no such equipment; did you mean "{near[0]}"?')
        elif _is_name(table, name):
            counts[name] = count
    return counts


def _is_name(table: Table, name: str) -> bool:
    """Whether a key can name a thing of the shop's; adds a fault if it cannot."""
    try:
        if name and clean_text(name) == name:
            return True
        table.fault(name, "wants a plain name for its key")
    except ValueError as error:
        table.fault(name, str(error))
    return False


def _climate(table: Table) -> TypicalDay:
    usual = _SHOP.climate
    day = TypicalDay(
        low_c=table.quantity(
            "low", TEMPERATURE, usual.low_c, least="-30 C", most="60 C"
        ),
        high_c=table.quantity(
            "high", TEMPERATURE, usual.high_c, least="-30 C", most="60 C"
        ),
        low_at=table.clock_time("low_at", usual.low_at),
        high_at=table.clock_time("high_at", usual.high_at),
        rh_pct=table.quantity(
            "humidity", PERCENT, usual.rh_pct, least="1 %", most="100 %"
        ),
        wind_kmh=table.quantity("wind", SPEED, usual.wind_kmh, most="100 km/h"),
    )
    if day.low_c > day.high_c:
        key = "high" if "high" in table else "low"
        want = f"the low, {day.low_c:g} C, must not be above the high, {day.high_c:g} C"
        table.fault(key, want)
    if day.low_at == day.high_at:
        key = "low_at" if "low_at" in table else "high_at"
        table.fault(key, "the low and the high of a day come at different times")
    return day


def _mixes(table: Table) -> dict[str, Mix]:
    names = table.names()
    mixes = {_MIX.name: _MIX}
    for name in names:
        row = table.table(name)
        if _is_name(table, name):
            mixes[name] = _mix(name, row)
    if len(names) > MOST_MIXES:
        table.fault_at(table.path, "", f"wants at most {MOST_MIXES} mixes")
    return mixes


def _mix(name: str, table: Table) -> Mix:
    def density(key: str, usual: float) -> float:
        return table.quantity(
            key, DENSITY, usual, least="1000 kg/m3", most="3000 kg/m3"
        )

    return Mix(
        name=name,
        face_density=density("face_density", _MIX.face_density),
        back_density=density("back_density", _MIX.back_density),
        activation_energy=table.quantity(
            "activation_energy",
            ENERGY,
            _MIX.activation_energy,
            least="10 kJ/mol",
            most="100 kJ/mol",
        ),
        thresholds=_thresholds(table.table("thresholds")),
        strength=read_law(table.table("strength")),
        tests=read_tests(table.tables("tests", MOST_TESTS)),
        polymer_pct=table.quantity("polymer", PERCENT, _MIX.polymer_pct, most="25 %"),
    )


def _thresholds(table: Table) -> dict[str, Spread]:
    spreads = {name: _threshold(table, name) for name in DEFAULTS}
    for opens in DEFAULTS:
        closes = opens.removesuffix("opens") + "closes"
        if closes not in DEFAULTS or not (opens in table or closes in table):
            continue
        first, last = spreads[opens].p50, spreads[closes].p50
        if first >= last and closes in table:
            table.fault(closes, f'must be later than "{opens}", {first:g} min')
        elif first >= last:
            table.fault(opens, f'must be earlier than "{closes}", {last:g} min')
    return {name: spread for name, spread in spreads.items() if name in table}


def _threshold(table: Table, name: str) -> Spread:
    """Reads P10, P50 and P90, or a P50 alone, which keeps the default's shape."""
    usual = DEFAULTS[name].spread
    if not table.holds_table(name):
        return Spread(_wait(table, name, usual.p50), usual.sigma)
    row = table.table(name)
    p10, p50, p90 = (_wait(row, key) for key in ("p10", "p50", "p90"))
    if p10 > p50:
        row.fault("p10", f"must be at most {row.written('p50', '')}")
    if p50 > p90:
        row.fault("p90", f"must be at least {row.written('p50', '')}")
    return Spread.of(p10, p50, p90)


def _wait(table: Table, key: str, default: float | None = None) -> float:
    return table.quantity(key, DURATION, default, above="0 min", most=LONGEST_WAIT)


def _bells(table: Table) -> Bells:
    usual = _SHOP.bells
    return Bells(
        terminal=table.flag("terminal", default=usual.terminal),
        sound=table.flag("sound", default=usual.sound),
        desktop=table.flag("desktop", default=usual.desktop),
        command=table.arguments("command", MOST_ARGUMENTS),
    )
