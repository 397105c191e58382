"""The density of a log-normal band."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import lognorm

from scheduling.spread import Spread


@given(
    p50=st.floats(0.1, 1e5),
    sigma=st.floats(0.02, 2),
    share=st.floats(0.01, 0.99),
)
def test_the_density_is_that_of_scipy(p50, sigma, share):
    spread = Spread(p50, sigma)
    value = spread.quantile(share)
    assert spread.density(value) == pytest.approx(
        lognorm.pdf(value, sigma, scale=p50), rel=1e-9
    )


def test_a_fixed_value_has_none():
    with pytest.raises(ValueError, match="no density"):
        Spread(18.0).density(18.0)
