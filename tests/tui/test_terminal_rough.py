"""T4, random keys and a large paste, in the counts that fit every run of the suite."""

from __future__ import annotations

import os

import pytest

from support import roughly

pytestmark = pytest.mark.skipif(os.name != "posix", reason="wants a pseudo-terminal")

SLOWEST_S = 1.5
"""A beat of 0.1 s may come so late beside other tests; the soak takes 0.5 s."""


def test_a_hundred_sizes(tmp_path):
    assert roughly.resized(tmp_path / "shop", 100) < SLOWEST_S


def test_five_hundred_keys(tmp_path):
    marked, _ = roughly.typed_at_random(tmp_path / "shop", 500)
    assert marked >= 0


def test_a_paste_of_a_megabyte(tmp_path):
    roughly.pasted(tmp_path / "shop", 1_000_000)
