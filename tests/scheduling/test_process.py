"""Steps, gaps and the twelve phases."""

from __future__ import annotations

from typing import get_args

import pytest

from scheduling.process import PHASES, Gap, Phase, Process, Step, StepKey
from scheduling.spread import Spread
from scheduling.thresholds import Threshold

SPRAY = StepKey("spray", "left leg")
PACK = StepKey("lift-1", "left leg")
OPENS = Threshold("face opens", Spread(18.0), "face", "form", "an estimate")


def process():
    spray = Step(SPRAY, "face coat", "spray", 10.0)
    named = Gap("face wait", "wait", SPRAY, OPENS)
    bound = Gap("", "back coat", SPRAY, closes=OPENS)
    pack = Step(
        PACK, "back coat", "pack", 30.0, crew=2, after=(SPRAY,), gaps=(bound, named)
    )
    return Process((spray, pack), ("left leg",), {"left leg": 0.4}, 1, 20.0)


def test_the_phases_are_the_twelve_of_the_trade():
    assert PHASES == (
        "form build",
        "release",
        "caulk",
        "face coat",
        "wait",
        "back coat",
        "compaction",
        "cure",
        "grind",
        "slurry",
        "sand",
        "seal",
    )
    assert get_args(Phase) == PHASES


def test_a_key_says_its_step_and_its_zone():
    assert str(SPRAY) == "spray left leg"
    assert str(StepKey("screed")) == "screed"


def test_hands_share_the_work():
    assert process().step(PACK).minutes == 15.0
    assert process().person_hours == pytest.approx(40 / 60)


def test_the_wait_with_a_row_of_its_own_is_the_one_with_a_name():
    assert process().step(PACK).gap.name == "face wait"
    assert process().step(SPRAY).gap is None


def test_a_step_is_found_by_its_key_or_not_there():
    assert PACK in process()
    assert StepKey("lift-1") not in process()
    with pytest.raises(KeyError):
        process().step(StepKey("lift-1"))
