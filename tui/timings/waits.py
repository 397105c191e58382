"""Waits as a table of the timings screen: one row for each threshold of each mix."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from functools import cached_property

from typing_extensions import override

from scheduling.defect import say_code
from scheduling.defectcounts import SHOWN_AT, at_window
from scheduling.effect import effect
from scheduling.laws import ACTIVATION_ENERGY
from scheduling.learned import Learned
from scheduling.shop import Pace, Timing
from scheduling.shopbook import Key, key_of
from tui.timings import actuals, words
from tui.timings.bands import before_and_after
from tui.timings.standing import Standing, spread_of
from tui.timings.view import Basis, Offer, View, odd
from tui.timings.words import Scale
from tui.widgets.chart import Chart

_MINUTE = timedelta(minutes=1)

_NO_FORECAST = (
    "nothing to compare yet: it takes a wait known from both sides, and a pour before "
    "it to learn from"
)


class Waits(View):
    """Thresholds: one row for each of each mix."""

    NAME = "waits"
    HEADINGS = ("wait", "for", "default", "learned", "P10-P90", "pours", "state")
    PLOTS = ("before and after", "forecast and actual", "backtest")
    EMPTY = (
        "No pour has taught anything yet.\n\n"
        'Touch tests teach when a wait is over: a "soft" and then a "ready" hold it '
        "between them. From the first pour with touches on, each wait stands here with "
        "what it was taken to be and what your log says, to accept or refuse; from "
        "about ten pours on it is worth more than the default. Past pours on paper "
        "count as well: pourbell import."
    )

    def __init__(self, basis: Basis) -> None:
        self._basis = basis

    @cached_property
    def _all(self) -> dict[Key, Learned]:
        return {key_of(one.timing): one for one in self._basis.known.windows}

    @override
    def rows(self) -> dict[Key, tuple[str, ...]]:
        return {key: self._cells(one) for key, one in self._all.items()}

    def _standing(self, one: Learned) -> Standing:
        return Standing.of(self._basis.book, one)

    def _cells(self, one: Learned) -> tuple[str, ...]:
        scale = Scale.of(one.default.p50)
        return (
            one.name,
            one.mix,
            f"{words.figure(one.default.p50, scale)} {scale.word}",
            words.figure(one.learned.p50, scale) if one.pours else "-",
            words.ends(one.learned, scale) if one.pours else "-",
            str(one.pours),
            self._standing(one).short,
        )

    @override
    def detail(self, key: Key) -> list[str]:
        one, basis = self._all[key], self._basis
        scale = Scale.of(one.default.p50)
        standing = self._standing(one)
        wait = (one.name, one.mix)
        wide = basis.known.too_wide.get(wait, 0)
        before = words.band(spread_of(standing.in_force), scale)
        pours = words.count(one.pours, "pour")
        known = f"{one.bracketed} of {words.count(len(one.seen), 'wait')}"
        read = words.temperatures(one.temp_range_c, basis.units)
        warmth = read if one.temp_range_c else f"temperature {read}"
        lines = [
            f"{before} in force -> {words.band(one.learned, scale)} learned",
            self._next_pour(standing.in_force, one.timing),
            f"{pours}, {warmth}; {known} known from both sides"
            + (f", {wide} too wide to judge" if wide else ""),
            words.backtest(basis.known.scores.get(wait, ())),
            *standing.decisions(basis.zone),
            _constants(one),
            *odd([words.odd_window(w.said, w.weight) for w in one.seen if w.odd]),
            *words.left_out(each.why_not for each in one.left_out),
        ]
        return [line for line in lines if line]

    def _next_pour(self, before: Timing | Pace, after: Timing) -> str:
        """What a wait that began now would take, by what is in force and learned."""
        assert isinstance(before, Timing)
        running, learned = self._wall(before), self._wall(after)
        longest = max((wall[1] for wall in (running, learned) if wall), default=0.0)
        scale = Scale.of(longest)
        then, now = (
            f"{words.figure(wall[1], scale)}{unit} "
            f"({words.figure(wall[0], scale)}-{words.figure(wall[2], scale)})"
            if wall
            else "not in sight"
            for wall, unit in ((running, ""), (learned, f" {scale.word}"))
        )
        return f"next pour begun now: {then} in force -> {now} learned"

    def _wall(self, timing: Timing) -> tuple[float, float, float] | None:
        """P10, P50 and P90 on the wall, minutes; None where that is not in sight."""
        basis = self._basis
        mix = basis.shop.mixes.get(timing.mix)
        energy = mix.activation_energy if mix else ACTIVATION_ENERGY
        found = effect(timing, basis.climate, energy, basis.now)
        if found is None:
            return None
        p10, p50, p90 = (
            (at - basis.now) / _MINUTE for at in (found.p10, found.p50, found.p90)
        )
        return p10, p50, p90

    @override
    def chart(self, key: Key, plot: str, width: int) -> Chart | str:
        one = self._all[key]
        known, wait = self._basis.known, (one.name, one.mix)
        if plot == "backtest":
            course = known.course.get(wait, ())
            return actuals.backtest(course, width) or _NO_FORECAST
        if plot == "forecast and actual":
            forecasts = known.forecasts.get(wait, ())
            return actuals.forecast_and_actual(forecasts, width) or _NO_FORECAST
        return before_and_after(
            spread_of(self._standing(one).in_force),
            one.learned,
            seen=known.seen.get(wait, ()),
            cases=self._cases(one),
            width=width,
        )

    def _cases(self, one: Learned) -> list[tuple[str, Sequence[float]]]:
        """Where lift 1 went on in the zones that showed a defect of this window."""
        codes = SHOWN_AT.get(one.name, ())
        found = self._basis.known.evidence
        return [
            (say_code(code), at_window(found, one.name, (code,), one).showing)
            for code in codes
        ]

    @override
    def offer(self, key: Key) -> Offer | str:
        one = self._all[key]
        standing = self._standing(one)
        return standing.nothing or Offer(
            one.timing,
            spread_of(standing.in_force),
            one.temp_range_c,
            f"{one.name}, {one.mix}",
        )


def _constants(one: Learned) -> str:
    """What the log tells of the constants of a clock."""
    said = (
        ("activation energy", one.energy, " kJ/mol"),
        ("evaporation", one.share, ""),
    )
    there = [(name, each, unit) for name, each, unit in said if each is not None]
    told = [
        f"{name} {words.estimate(each, unit)}"
        for name, each, unit in there
        if each.told
    ]
    rest = [f"{name} {e.prior:.3g}{unit}" for name, e, unit in there if not e.told]
    if rest:
        told.append(f"{', '.join(rest)} as assumed")
    return "; ".join(told)
