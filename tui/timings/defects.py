"""Defects as a table of the timings screen: counts and raw cases, no claims."""

from __future__ import annotations

from functools import cached_property

from typing_extensions import override

from scheduling.defect import say_code, say_defect
from scheduling.defectcounts import at_window, counts
from scheduling.defects import Case
from scheduling.learned import Seen
from scheduling.shopbook import Key
from tui.notify import clean
from tui.output import length
from tui.timings.bands import before_and_after
from tui.timings.standing import Standing, spread_of
from tui.timings.view import Basis, Offer, View
from tui.widgets.chart import Chart

_NOTHING = "-"

_MIX = 20
"""Characters of a mix in the title of a plot."""


class Defects(View):
    """One row for each defect, the newest first."""

    NAME = "defects"
    HEADINGS = ("found", "defect", "zone", "lift 1 after", "form", "RH", "pour")
    PLOTS = ("at the opening", "at the closing")
    EMPTY = (
        "No defect is on record.\n\n"
        "Defects are written down on the pour clock or with pourbell defect. From the "
        "first one on each stands here with what is on record of its zone: when lift 1 "
        "went on, in which window, and in what weather."
    )

    def __init__(self, basis: Basis) -> None:
        self._basis = basis

    @cached_property
    def _cases(self) -> dict[Key, Case]:
        found = [case for one in self._basis.known.evidence for case in one.cases]
        found.sort(key=lambda case: case.defect.at, reverse=True)
        return {("defect", case.pour, case.defect.event): case for case in found}

    @override
    def rows(self) -> dict[Key, tuple[str, ...]]:
        return {key: self._cells(case) for key, case in self._cases.items()}

    def _cells(self, case: Case) -> tuple[str, ...]:
        found = case.defect.at.astimezone(self._basis.zone)
        zone = case.zones[0] if len(case.zones) == 1 else None
        wall = zone.wall_min if zone else None
        units = self._basis.units
        return (
            f"{found.day} {found:%b %y}",
            say_code(case.defect.code),
            case.defect.zone or _NOTHING,
            length(wall) if wall is not None else _NOTHING,
            units.temperature(zone.form_c) if zone else _NOTHING,
            f"{zone.rh_pct:.0f} %" if zone else _NOTHING,
            case.pour,
        )

    @override
    def detail(self, key: Key) -> list[str]:
        case, basis = self._cases[key], self._basis
        found = counts(basis.known.evidence)
        each = ", ".join(f"{say_code(code)} {n}" for code, n in found.codes.items())
        lines = [
            f"{case.pour}: {say_defect(case.defect)}",
            f"pours with it, of {found.pours} on record: {each}",
        ]
        for zone in case.zones:
            wall = zone.wall_min
            times = (
                "lift 1 not begun" if wall is None else f"lift 1 after {length(wall)}"
            )
            if zone.opens and zone.closes:
                opens, closes = (
                    f"{band.p50.astimezone(basis.zone):%H:%M}"
                    for band in (zone.opens, zone.closes)
                )
                times += f", window {opens} to {closes} as forecast"
            weather = (
                f"form {basis.units.temperature(zone.form_c)}, air "
                f"{basis.units.temperature(zone.shop_c)}, {zone.rh_pct:.0f} % RH, "
                f"{basis.units.speed(zone.wind_kmh)}"
            )
            known = "" if zone.measured else " (the shop's typical day, not read)"
            lines.append(f"{zone.zone or 'piece'}: {times}; {weather}{known}")
        if case.defect.text:
            lines.append(case.defect.text)
        return lines

    @override
    def chart(self, key: Key, plot: str, width: int) -> Chart | str:
        name = "face opens" if plot == "at the opening" else "face closes"
        case, basis = self._cases[key], self._basis
        code = case.defect.code
        evidence = basis.known.evidence
        mix = next(one.mix for one in evidence if one.pour == case.pour)
        learned = next(
            (one for one in basis.known.windows if (one.name, one.mix) == (name, mix)),
            None,
        )
        if learned is None:
            return f"nothing is known of {name} of {mix} yet"
        found = at_window(evidence, name, (code,), learned)
        if not found.showing:
            return f"no zone of {mix} with it has a spraying and a lift 1 on record"
        return before_and_after(
            spread_of(Standing.of(basis.book, learned).in_force),
            learned.learned,
            title=f"lift 1 beside {name}, {clean(mix, _MIX)}, reference",
            seen=[Seen("", None, at) for at in found.others],
            cases=[(say_code(code), found.showing)],
            reached="none found",
            width=width,
        )

    @override
    def offer(self, key: Key) -> Offer | str:
        return "of defects there is nothing to accept"
