"""L1, L5: the real program and a script beside it, each seen by the other in time."""

from __future__ import annotations

import os

import pytest

from support.beside import meet
from support.terminal import pour_due_in, silent_shop

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a pseudo-terminal")


def test_a_mark_beside_the_program_is_on_its_screen_within_a_second(tmp_path):
    """One start; the 50 are in tests/soak/sharing.py."""
    shop = silent_shop(tmp_path / "shop")
    pour, _ = pour_due_in(shop, 3600)
    lags, back = meet(shop, pour, events=3)
    assert max(lags) < 2  # 1.2 where nothing else runs, as the soak asks
    assert back < 1
