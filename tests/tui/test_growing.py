"""What is learned of a log that grows, and of one that something is taken out of."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from scheduling import timings
from scheduling.shop import Mix, Shop
from scheduling.spread import Spread
from scheduling.timings import learn_windows
from support.taught import Truth, pours
from tui.timings.teaching import Growing

SHOP = Shop()
TRUTH = Truth(26, 0.12, 38, 0.45)


@pytest.fixture
def said():
    return [wait.said for wait in pours(np.random.default_rng(1), TRUTH, 12)]


@pytest.fixture
def counted(monkeypatch):
    """How many observations were added to how many fresh starts."""
    found = Counter()

    class Counted(timings.Windows):
        def __init__(self, shop):
            super().__init__(shop)
            found["starts"] += 1

        def add(self, observations):
            about = list(observations)
            found["added"] += len(about)
            super().add(about)

    monkeypatch.setattr(timings, "Windows", Counted)
    return found


def test_a_pour_more_is_added_and_learned_as_if_it_had_been_there(said, counted):
    growing = Growing()
    for count in range(9, len(said) + 1):
        (found,) = growing.learn(said[:count], SHOP)
    assert counted == {"starts": 1, "added": len(said)}
    (whole,) = learn_windows(said, SHOP)
    assert found.pours == whole.pours == len(said)
    assert found.learned.p50 == pytest.approx(whole.learned.p50, rel=1e-3)
    assert found.learned.sigma == pytest.approx(whole.learned.sigma, rel=1e-2)


def test_a_pour_that_changed_is_unlearned(said):
    """One is corrected, one undone: what is left is learned as if it was all."""
    growing = Growing()
    growing.learn(said, SHOP)
    late = replace(said[3].before, wall_min=said[3].before.wall_min + 20)
    for left in ([*said[:3], replace(said[3], before=late), *said[4:]], said[1:]):
        found = growing.learn(left, SHOP)
        assert found == learn_windows(left, SHOP)
    assert growing.learn([], SHOP) == []


def test_another_shop_file_is_another_prior(said):
    growing = Growing()
    growing.learn(said, SHOP)
    own = Mix("M1", thresholds={"face opens": Spread(40.0, 0.3)})
    other = Shop(mixes={"M1": own})
    assert growing.learn(said, other) == learn_windows(said, other)


def test_the_same_wait_twice_counts_twice_and_loses_one(said):
    growing = Growing()
    growing.learn([*said, said[0]], SHOP)
    assert growing.learn(said, SHOP) == learn_windows(said, SHOP)


def test_a_sum_that_failed_halfway_is_begun_anew(said, monkeypatch):
    growing = Growing()
    growing.learn(said[:9], SHOP)
    with monkeypatch.context() as broken:
        broken.setattr(timings.Windows, "learned", lambda _self: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            growing.learn(said, SHOP)
    assert growing.learn(said, SHOP) == learn_windows(said, SHOP)
