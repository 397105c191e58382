"""The flags that say what the air of the shop is like."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from scheduling.climate import Climate, Constant, DailyCycle, Measured
from scheduling.climatecsv import read_climate_csv
from scheduling.errors import BadInput, Fault
from scheduling.forecast import Setting
from scheduling.shop import TypicalDay
from tui.verbs.arguments import humidity, temperature, wind

USUAL_RH = 50.0
USUAL_WIND = 0.0
"""Humidity in percent and wind in km/h where only a temperature is given."""


def add_air(parser: argparse.ArgumentParser) -> None:
    """Adds ``--temp``, ``--rh`` and ``--wind``."""
    parser.add_argument(
        "--temp",
        metavar="C",
        type=temperature("--temp"),
        help="the same temperature all day and night, degC",
    )
    parser.add_argument(
        "--rh", metavar="P", type=humidity(), help="relative humidity, percent"
    )
    parser.add_argument(
        "--wind", metavar="KMH", type=wind(), help="air speed over the form, km/h"
    )


def typical_day(args: argparse.Namespace, usual: TypicalDay) -> TypicalDay:
    """Returns a typical day with what the flags say put in."""
    day = usual
    if args.temp is not None:
        day = replace(
            day,
            low_c=args.temp,
            high_c=args.temp,
            rh_pct=USUAL_RH,
            wind_kmh=USUAL_WIND,
        )
    if args.rh is not None:
        day = replace(day, rh_pct=args.rh)
    if args.wind is not None:
        day = replace(day, wind_kmh=args.wind)
    return day


def climate(args: argparse.Namespace, setting: Setting) -> Climate:
    """Returns the climate that the flags describe, else the shop's typical day.

    Raises:
        BadInput: Both ``--temp`` and ``--climate``, or a file that cannot be read.
    """
    day = typical_day(args, setting.shop.climate)
    if args.temp is not None:
        if args.climate is not None:
            want = "either --temp or --climate, not both"
            raise BadInput(Fault("--climate", "", args.climate, want))
        return Constant(args.temp, day.rh_pct, day.wind_kmh)
    cycle = DailyCycle(day, setting.zone)
    if args.climate is None:
        return cycle
    return Measured(cycle, read_climate_csv(Path(args.climate), setting.zone))
