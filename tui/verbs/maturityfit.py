"""``maturity --fit``: what the strength tests of a mix tell about it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeAlias

from scheduling.errors import BadInput, Fault
from scheduling.headings import PSI_MPA
from scheduling.units import Units
from tui import output

if TYPE_CHECKING:  # these bring numpy in
    from scheduling.maturityfit import Constants, Estimate, Hyperbola

    _Curves: TypeAlias = Sequence[tuple[float | None, Hyperbola]]


def run(path: Path, units: Literal["si", "us"], *, json: bool) -> int:
    """Fits the tests of a file and prints what they tell.

    Raises:
        BadInput: The file cannot be read, or its tests do not tell.
    """
    from scheduling.maturityfit import (  # noqa: PLC0415 - brings numpy in
        FitError,
        fit_constants,
        fit_hyperbola,
    )
    from scheduling.specimencsv import read_specimens  # noqa: PLC0415 - as well

    specimens = read_specimens(path)
    curves: _Curves
    constants: Constants | None = None
    try:
        if None in specimens.tests:
            curves = [(None, fit_hyperbola(*specimens.tests[None]))]
        else:
            tests = {t: test for t, test in specimens.tests.items() if t is not None}
            constants = fit_constants(tests)
            curves = list(constants.curves.items())
    except FitError as error:
        raise BadInput(Fault(str(path), "", "", f"wants {error}")) from error
    if json:
        output.as_json(to_json(curves, constants))
    else:
        print_page(path, specimens.age_heading, curves, constants, Units(units))
    return 0


def to_json(curves: _Curves, constants: Constants | None) -> dict[str, object]:
    """Returns the fits as JSON, SI; ages in days; ``_se`` is a standard error."""
    energy = None if constants is None else constants.energy
    datum = None if constants is None else constants.datum
    return {
        "fits": [_curve(temp_c, curve) for temp_c, curve in curves],
        **_pair("activation_energy", "_kj_mol", energy),
        "activation_energy_r2": constants and round(constants.energy_r2, 6),
        **_pair("datum", "_c", datum),
        "datum_r2": constants and round(constants.datum_r2, 6),
    }


def _curve(temp_c: float | None, curve: Hyperbola) -> dict[str, object]:
    return {
        "temperature_c": temp_c,
        "tests": curve.tests,
        **_pair("ultimate", "_mpa", curve.ultimate),
        **_pair("k", "_per_d", curve.rate),
        **_pair("t0", "_d", curve.start),
        "residual_mpa": round(curve.residual, 6),
    }


def _pair(name: str, unit: str, found: Estimate | None) -> dict[str, float | None]:
    return {
        f"{name}{unit}": None if found is None else round(found.value, 6),
        f"{name}_se{unit}": None if found is None else round(found.error, 6),
    }


def print_page(
    path: Path,
    age_heading: str,
    curves: _Curves,
    constants: Constants | None,
    units: Units,
) -> None:
    """Prints the fits for people, in the shop's units."""
    tests = sum(curve.tests for _, curve in curves)
    output.line(f"{path.name}: {tests} tests, strength against {age_heading}")
    output.line("S = Su k (t - t0) / (1 + k (t - t0)), t in days")
    output.line()
    us = units.system == "us"
    unit, per_mpa = ("psi", 1 / PSI_MPA) if us else ("MPa", 1.0)
    places = 0 if us else 2
    rows = [
        (
            "-" if temp_c is None else units.temperature(temp_c),
            str(curve.tests),
            _shown(curve.ultimate, places, per_mpa),
            _shown(curve.rate, 4),
            _shown(curve.start, 3),
            f"{curve.residual * per_mpa:.{places}f}",
        )
        for temp_c, curve in curves
    ]
    output.table(
        ("cured at", "tests", f"Su {unit}", "k /d", "t0 d", f"off by {unit}"), rows
    )
    output.line()
    if constants is not None:
        datum = constants.datum.value
        error = constants.datum.error * (1.8 if us else 1)
        output.line(
            f"activation energy  {_shown(constants.energy, 1)} kJ/mol  "
            f"(R2 {constants.energy_r2:.3f})"
        )
        output.line(
            f"datum temperature  {units.temperature(datum)} ± {error:.1f}  "
            f"(R2 {constants.datum_r2:.3f})"
        )
    output.lines(
        "(± is one standard error; off by: the residual standard error of the fit)"
    )


def _shown(found: Estimate, places: int, scale: float = 1.0) -> str:
    return f"{found.value * scale:.{places}f} ± {found.error * scale:.{places}f}"
