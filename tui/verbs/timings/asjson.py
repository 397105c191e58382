"""What was learned, as JSON: SI numbers, reference minutes, degC, kJ/mol."""

from __future__ import annotations

from collections.abc import Iterable

from scheduling.learned import Estimate, Learned, LearnedPace, Score
from scheduling.observation import Mark
from scheduling.spread import Spread
from scheduling.work import AREAS, LENGTHS, rates_of
from tui import output
from tui.session import Session
from tui.timings.standing import Standing, spread_of
from tui.timings.teaching import Taught
from tui.verbs.timings.backtest import WAYS, Tried


def taught(
    session: Session, found: Taught, tried: Iterable[Tried] | None = None
) -> dict[str, object]:
    """Everything that was learned, with the backtest where there was one."""
    data: dict[str, object] = {
        "timings": [_window(session, one) for one in found.windows],
        "work": [_pace(session, one) for one in found.work],
    }
    if tried is not None:
        data["backtest"] = _backtest(tried)
    return data


def _window(session: Session, one: Learned) -> dict[str, object]:
    return {
        "name": one.name,
        "mix": one.mix,
        "unit": "reference_min",
        "default": _band(one.default),
        "learned": _band(one.learned),
        "pours": one.pours,
        "temp_range_c": [round(t, 1) for t in one.temp_range_c]
        if one.pours and one.temp_range_c
        else None,
        "activation_energy_kj_mol": _estimate(one.energy),
        **_standing(session, one),
        "evaporation_share": _estimate(one.share),
        "bracketed": one.bracketed,
        "odd": [
            {
                "pour": each.said.pour,
                "zone": each.said.zone or None,
                "after_min": _minutes(each.said.after),
                "before_min": _minutes(each.said.before),
                "weight": round(each.weight, 3),
            }
            for each in one.seen
            if each.odd
        ],
        "left_out": [
            {"pour": each.pour, "zone": each.zone or None, "why": each.why_not}
            for each in one.left_out
        ],
    }


def _standing(session: Session, one: Learned | LearnedPace) -> dict[str, object]:
    """What new pours run on, and whether it was accepted."""
    standing = Standing.of(session.book, one)
    decision = standing.accepted
    return {
        "state": standing.word,
        "in_force": _band(spread_of(standing.in_force)),
        "accepted": decision is not None,
        "accepted_value": None
        if decision is None
        else {
            **_band(spread_of(decision.value)),
            "learned_from": decision.learned_from,
            "by": decision.event.by or None,
            "at": output.iso(decision.event.at, session.zone),
        },
    }


def _pace(session: Session, one: LearnedPace) -> dict[str, object]:
    trend = one.trend
    return {
        "step": one.step,
        "unit": "factor",
        "default": _band(one.default),
        "learned": _band(one.learned),
        "castings": one.castings,
        "people": [
            {"name": who, **_band(spread), "castings": castings}
            for who, spread, castings in one.people
        ],
        "rates": [
            {
                "per": per or None,
                "unit": _unit(per),
                "default_min": minutes,
                "learned_min": round(minutes * one.learned.p50, 3),
            }
            for per, minutes in rates_of(one.step)
        ],
        "trend": None
        if trend is None
        else {
            "since": output.iso(trend.since, session.zone),
            "castings": trend.castings,
            "change": round(trend.change, 4),
            "low": round(trend.low, 4),
            "high": round(trend.high, 4),
            "told": trend.told,
        },
        **_standing(session, one),
        "odd": [
            {
                "pour": each.said.pour,
                "by": each.said.by or None,
                "rate_min": round(each.said.rate_min, 2),
                "actual_min": round(each.said.actual_min, 2),
                "weight": round(each.weight, 3),
            }
            for each in one.seen
            if each.odd
        ],
        "left_out": [
            {"pour": each.pour, "by": each.by or None, "why": each.why_not}
            for each in one.left_out
        ],
    }


def _backtest(tried: Iterable[Tried]) -> list[dict[str, object]]:
    return [
        {
            "name": each.name,
            "mix": each.mix,
            "windows": len(each.forecasts),
            "too_wide": each.too_wide,
            **{way: _score(each.scores.get(way)) for way in WAYS},
        }
        for each in tried
    ]


def _score(score: Score | None) -> dict[str, object] | None:
    if score is None:
        return None
    return {
        "windows": score.windows,
        "error_min": round(score.error_min, 2),
        "late_min": round(score.late_min, 2),
        "covered": None if score.covered is None else round(score.covered, 3),
    }


def _band(spread: Spread) -> dict[str, float]:
    values = {"p10": spread.p10, "p50": spread.p50, "p90": spread.p90}
    return {name: round(float(value), 3) for name, value in values.items()}


def _estimate(found: Estimate | None) -> dict[str, object] | None:
    if found is None:
        return None
    values = {name: getattr(found, name) for name in ("p10", "p50", "p90", "prior")}
    rounded: dict[str, object] = {k: round(v, 3) for k, v in values.items()}
    return {**rounded, "told": found.told}


def _minutes(mark: Mark | None) -> float | None:
    return None if mark is None else round(mark.wall_min, 2)


def _unit(per: str) -> str:
    if per in AREAS:
        return "min_per_m2"
    if per in LENGTHS:
        return "min_per_m"
    return "min_each" if per else "min"
