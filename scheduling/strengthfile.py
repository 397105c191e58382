"""Reads the strength of a mix from the shop file: its law, and the shop's own tests."""

from __future__ import annotations

from collections.abc import Callable
from math import isnan
from typing import Literal

from scheduling.laws import REFERENCE
from scheduling.quantities import DURATION, STRENGTH, TEMPERATURE
from scheduling.schema import Table
from scheduling.shop import StrengthTest
from scheduling.strength import (
    ACI_ROWS,
    CEMENT_CLASSES,
    USUAL_LAW,
    Aci209,
    AnyLaw,
    Eurocode,
    Exponential,
    Hyperbolic,
)

LawName = Literal[
    "en-1992-1-1", "model-code-2010", "aci-209", "hyperbolic", "exponential"
]
LAW_NAMES: tuple[LawName, ...] = (
    "en-1992-1-1",
    "model-code-2010",
    "aci-209",
    "hyperbolic",
    "exponential",
)
"""Laws of strength gain, as a mix names them."""

MOST_TESTS = 200
"""Strength tests of one mix."""


def read_law(table: Table) -> AnyLaw:
    """Reads the law of a mix; one with faults reads as the default."""
    # A law cannot be made of what could not be read; the faults are on the list.
    if not table.names():
        return USUAL_LAW
    return _READERS[table.choice("law", LAW_NAMES, "en-1992-1-1")](table)


def _made(make: Callable[[], AnyLaw], *quantities: float) -> AnyLaw:
    return USUAL_LAW if any(isnan(value) for value in quantities) else make()


def _mpa(table: Table, key: str, default: float | None = None) -> float:
    return table.quantity(key, STRENGTH, default, above="0 MPa", most="200 MPa")


def _hours(
    table: Table, key: str, default: float | None = None, *, above: str | None = "0 min"
) -> float:
    return table.quantity(key, DURATION, default, above=above, most="60 d") / 60


def _eurocode(table: Table, *, model_code: bool) -> AnyLaw:
    mean_28d = _mpa(table, "mean_28d", USUAL_LAW.mean_28d)
    cement = table.choice("cement", CEMENT_CLASSES, USUAL_LAW.cement)
    return _made(lambda: Eurocode(mean_28d, cement, model_code), mean_28d)


def _en_1992_1_1(table: Table) -> AnyLaw:
    return _eurocode(table, model_code=False)


def _model_code_2010(table: Table) -> AnyLaw:
    return _eurocode(table, model_code=True)


def _aci_209(table: Table) -> AnyLaw:
    mean_28d = _mpa(table, "mean_28d", USUAL_LAW.mean_28d)
    row = table.choice("row", tuple(ACI_ROWS), "I moist")
    return _made(lambda: Aci209(mean_28d, row), mean_28d)


def _hyperbolic(table: Table) -> AnyLaw:
    ultimate = _mpa(table, "ultimate")
    half = _hours(table, "half_after")
    starts = _hours(table, "starts", 0.0, above=None)
    return _made(lambda: Hyperbolic(ultimate, half, starts), ultimate, half, starts)


def _exponential(table: Table) -> AnyLaw:
    ultimate = _mpa(table, "ultimate")
    tau = _hours(table, "tau")
    shape = table.number("shape", above=0, most=5)
    return _made(lambda: Exponential(ultimate, tau, shape), ultimate, tau, shape)


_READERS: dict[LawName, Callable[[Table], AnyLaw]] = {
    "en-1992-1-1": _en_1992_1_1,
    "model-code-2010": _model_code_2010,
    "aci-209": _aci_209,
    "hyperbolic": _hyperbolic,
    "exponential": _exponential,
}


def read_tests(rows: list[Table]) -> tuple[StrengthTest, ...]:
    """Reads the strength tests of a mix, each with its age and perhaps temperature."""
    return tuple(
        StrengthTest(
            age_h=table.quantity("age", DURATION, least="1 h", most="400 d") / 60,
            strength=_mpa(table, "strength"),
            temp_c=table.quantity(
                "temperature", TEMPERATURE, REFERENCE.temp_c, least="0 C", most="60 C"
            ),
        )
        for table in rows
    )
