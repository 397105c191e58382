"""Steps as a table of the timings screen: how fast this shop does them."""

from __future__ import annotations

from functools import cached_property

from typing_extensions import override

from scheduling.learned import LearnedPace, Seen
from scheduling.shopbook import Key, key_of
from tui.timings import actuals, words
from tui.timings.bands import before_and_after
from tui.timings.standing import Standing, spread_of
from tui.timings.view import Basis, Offer, View, odd
from tui.timings.words import Scale
from tui.widgets.chart import Chart


class Work(View):
    """Steps: how fast this shop does them."""

    NAME = "work"
    HEADINGS = ("step", "castings", "factor", "P10-P90", "rate", "state")
    PLOTS = ("before and after", "forecast and actual", "over time")
    EMPTY = (
        "No step has taught anything yet.\n\n"
        "A step that is started and finished teaches how fast your shop does it. From "
        "the first casting on each step stands here with its rate before and after, "
        "who did it, and, from a few castings on, whether it is getting faster."
    )

    def __init__(self, basis: Basis) -> None:
        self._basis = basis

    @cached_property
    def _all(self) -> dict[Key, LearnedPace]:
        return {key_of(one.pace): one for one in self._basis.known.work}

    @override
    def rows(self) -> dict[Key, tuple[str, ...]]:
        return {key: self._cells(one) for key, one in self._all.items()}

    def _cells(self, one: LearnedPace) -> tuple[str, ...]:
        return (
            one.step,
            str(one.castings),
            f"x{one.learned.p50:.2f}",
            f"{one.learned.p10:.2f}-{one.learned.p90:.2f}",
            words.rates(one.step, 1.0, one.learned.p50, self._basis.units, 1),
            Standing.of(self._basis.book, one).short,
        )

    @override
    def detail(self, key: Key) -> list[str]:
        one, basis = self._all[key], self._basis
        castings = words.count(one.castings, "casting")
        standing = Standing.of(basis.book, one)
        before = spread_of(standing.in_force)
        rates = words.rates(one.step, before.p50, one.learned.p50, basis.units)
        people = words.people(one)
        lines = [
            f"{words.factor(before)} in force -> {words.factor(one.learned)} learned",
            f"{castings}; rate {rates}" if rates else castings,
            words.backtest(basis.known.work_scores.get(one.step, ())),
            words.trend(one, basis.zone),
            f"people: {people}" if people else "",
            *standing.decisions(basis.zone),
            *odd([words.odd_work(w.said, w.weight) for w in one.seen if w.odd]),
            *words.left_out(each.why_not for each in one.left_out),
        ]
        return [line for line in lines if line]

    @override
    def chart(self, key: Key, plot: str, width: int) -> Chart | str:
        one = self._all[key]
        few = "too few castings to draw"
        if plot == "over time":
            return actuals.over_time(one, self._basis.zone, width) or few
        if plot == "forecast and actual":
            forecasts = self._basis.known.work_forecasts.get(one.step, ())
            return actuals.forecast_and_actual(forecasts, width) or few
        factors = [
            (each.said.pour, each.said.actual_min / each.said.rate_min, each.odd)
            for each in one.seen
            if each.said.rate_min > 0
        ]
        return before_and_after(
            spread_of(Standing.of(self._basis.book, one).in_force),
            one.learned,
            title="factor on the rate of the trade",
            seen=[Seen(pour, None, factor, odd) for pour, factor, odd in factors],
            reached="castings",
            scale=Scale("", 1.0),
            width=width,
        )

    @override
    def offer(self, key: Key) -> Offer | str:
        one = self._all[key]
        standing = Standing.of(self._basis.book, one)
        was = spread_of(standing.in_force)
        return standing.nothing or Offer(one.pace, was, None, one.step)
