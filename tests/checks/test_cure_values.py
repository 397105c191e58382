"""The worked night and the steady table, through the cure of a whole pour.

The night, 14:00 at 23 degC and a shop falling from 21 to 12 degC, is derived: the
three-parameter model over it has no outside authority, and this holds that a pour in
the program says what the heat balance says alone. The table of hours at steady
temperatures follows from an estimate of 42 kJ/mol.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduling.cureforecast import cure_of
from scheduling.shop import TypicalDay

SCREEDED = datetime(2030, 4, 1, 14, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
AIR = ((0, 21.0), (12, 12.0), (16, 12.0), (19, 16.0), (22, 18.0), (60, 18.0))
"""Hours after 14:00 and the air of the shop, degC."""


@pytest.fixture(scope="session")
def night(sprayed, shop):
    """A bare pour screeded at 14:00, its air and its mix measured all through."""
    flat = replace(shop, climate=TypicalDay(18.0, 18.0))
    pour = sprayed(shop=flat, begun=SCREEDED - 80 * MINUTE)
    hours, temps = zip(*AIR, strict=True)
    for quarter in range(4 * hours[-1] + 1):
        air = float(np.interp(quarter / 4, hours, temps))
        pour.add("reading", 80 + 15 * quarter, shop_c=air)
    pour.add("reading", 80, mix_c=23.0)
    pour.step("screed", 74, 80)
    pour.step("cover", 79, 80)
    pour.add("skipped", 80, "green-trim")
    pour.add("skipped", 80, "blankets")
    return pour


def test_the_worked_night_of_a_pour_derived(night):
    setting = night.forecaster.setting(night.state)
    timeline = night.timeline(80)
    found = cure_of(night.state, timeline, setting, at=SCREEDED)
    assert found.piece_c == pytest.approx(23.0)
    assert found.age_h == 0
    alone = {
        "plastic": SCREEDED.replace(day=2, hour=10, minute=16),
        "blanket": SCREEDED.replace(day=2, hour=7, minute=12),
        "heated tent": SCREEDED.replace(day=2, hour=4, minute=33),
    }
    rows = {row.cover: row.demould_at for row in found.what_if}
    for cover, at in alone.items():
        assert abs(rows[cover] - at) < MINUTE, cover
    assert abs(found.marks[0].at.p50 - alone["plastic"]) < MINUTE


@pytest.mark.parametrize(
    ("temp", "hours"),
    [
        (8, 39.8),
        (10, 35.1),
        (12, 31.0),
        (15, 25.7),
        (18, 21.5),
        (20, 19.1),
        (21, 18.0),
        (23, 16.0),
        (25, 14.3),
        (28, 12.1),
        (30, 10.8),
        (32, 9.7),
        (35, 8.2),
    ],
)
def test_a_piece_held_at_a_temperature_derived(sprayed, temp, hours):
    # Derived from an estimate: 18 h by 42 kJ/mol, whatever the shop's air is.
    pour = sprayed()
    pour.step("screed", 74, 80)
    for hour in range(0, 48, 2):
        pour.add("reading", 80 + 60 * hour, piece_c=float(temp))
    timeline = pour.timeline(90)
    waited = timeline.demould.p50 - pour.at(80)
    assert waited / timedelta(hours=1) == pytest.approx(hours, abs=0.1)
