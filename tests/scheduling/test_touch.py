"""Touch tests bound the truth: what a fingertip says moves the window at once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import log
from statistics import NormalDist

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scheduling.climate import Constant
from scheduling.clocks import ClockBook
from scheduling.laws import CLOSE_SHARE, OPEN_SHARE, fog_credit_minutes
from scheduling.spread import Spread
from scheduling.thresholds import DEFAULTS
from scheduling.touch import TEST_EVERY, Race, Touch, Window, opened_at, window

SPRAYED = datetime(2030, 4, 1, 9, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
SECOND = timedelta(seconds=1)

weathers = st.builds(
    Constant, st.floats(8, 35), st.floats(20, 90), st.floats(0, 10)
).map(ClockBook)
spreads = st.builds(
    lambda p50, low, high: Spread.of(p50 * low, p50, p50 * high),
    st.floats(5, 60),
    st.floats(0.4, 0.9),
    st.floats(1.1, 2.5),
)


def touched(*felt, book=None, opens=None, closes=None, fog=0.0, covers=()):
    """The window of a zone touched at so many minutes after spraying."""
    book = book or ClockBook(Constant(21, 50, 0))
    opening = Race(
        book.clock("face", "form", OPEN_SHARE, covers),
        opens or DEFAULTS["face opens"].spread,
        fog_credit_minutes(fog, OPEN_SHARE),
    )
    closing = Race(
        book.clock("face", "form", CLOSE_SHARE, covers),
        closes or DEFAULTS["face closes"].spread,
        fog_credit_minutes(fog, CLOSE_SHARE),
    )
    touches = tuple(Touch(SPRAYED + m * MINUTE, feel) for m, feel in felt)
    return window(SPRAYED, opening, closing, touches)


def minutes(band):
    return [(at - SPRAYED) / MINUTE for at in (band.p10, band.p50, band.p90)]


def test_untouched_it_is_the_plain_log_normal():
    """Derived: at the reference the clock's minutes are the threshold's own."""
    found = touched()
    for band, name in ((found.opens, "face opens"), (found.closes, "face closes")):
        spread = DEFAULTS[name].spread
        wanted = [spread.p10, spread.p50, spread.p90]
        assert minutes(band) == pytest.approx(wanted, abs=1e-4)
    assert found.untouched == found.opens


def test_soft_at_25_moves_the_whole_opening_past_25():
    found = touched((25, "soft"))
    assert min(minutes(found.opens)) > 25
    assert minutes(found.opens)[1] > 30
    assert minutes(found.untouched)[1] == pytest.approx(18, abs=1e-4)


def test_the_cut_log_normal_is_the_truncated_one():
    """Derived: P(T <= t | T > 25) by the normal of the logarithm, without the code."""
    spread = DEFAULTS["face opens"].spread
    logs = NormalDist(0, spread.sigma)

    def below(value):
        return logs.cdf(log(value / spread.p50))

    felt = minutes(touched((25, "soft")).opens)
    for share, value in zip((0.1, 0.5, 0.9), felt, strict=True):
        past = (below(value) - below(25)) / (1 - below(25))
        assert past == pytest.approx(share, abs=1e-4)


def test_soft_then_ready_bracket_the_opening():
    found = touched((12, "soft"), (15, "soft"), (18, "ready"))
    low, mid, high = minutes(found.opens)
    assert 15 < low < mid < high < 18
    assert opened_at(found) == SPRAYED + 18 * MINUTE


def test_ready_at_the_first_touch_says_no_more_than_earlier_than():
    low, mid, high = minutes(touched((15, "ready")).opens)
    assert 0 < low < mid < high < 15
    assert low < 10


@pytest.mark.parametrize("feel", ["ready", "going-off", "gone"])
def test_whatever_is_not_soft_ends_the_wait(feel):
    found = touched((12, "soft"), (20, feel))
    assert found.ready_at == SPRAYED + 20 * MINUTE
    assert minutes(found.opens)[2] < 20


def test_a_soft_touch_that_contradicts_an_earlier_ready_is_not_believed():
    assert touched((18, "ready"), (20, "soft")).opens == touched((18, "ready")).opens


def test_touches_before_the_zone_was_sprayed_are_of_another_coat():
    assert touched((-5, "ready")).opens == touched().opens


def test_a_wait_may_lack_its_opening_or_its_closing():
    clock = ClockBook(Constant(21, 50, 0)).clock("hydration", "mix")
    life = Race(clock, DEFAULTS["back pot life"].spread)
    gone = (Touch(SPRAYED + 40 * MINUTE, "gone"),)
    held = (Touch(SPRAYED + 40 * MINUTE, "going-off"),)
    plain = window(SPRAYED, None, life, ())
    assert minutes(plain.closes)[1] == pytest.approx(45, abs=1e-4)
    assert plain.opens is None
    assert max(minutes(window(SPRAYED, None, life, gone).closes)) <= 40
    assert min(minutes(window(SPRAYED, None, life, held).closes)) >= 40
    assert window(SPRAYED, life, None, gone).closes is None
    assert window(SPRAYED, life, None, gone).opens.p90 <= SPRAYED + 40 * MINUTE


def test_a_late_opening_makes_for_a_late_closing_and_an_early_one_for_an_early():
    plain = minutes(touched().closes)[1]
    assert minutes(touched((30, "soft")).closes)[1] > plain
    assert minutes(touched((10, "ready")).closes)[1] < plain


def test_going_off_and_gone_are_remembered_and_gone_ends_it():
    found = touched((18, "ready"), (35, "going-off"), (41, "gone"))
    assert found.going_off_at == SPRAYED + 35 * MINUTE
    assert found.gone_at == SPRAYED + 41 * MINUTE
    low, mid, high = minutes(found.closes)
    assert 35 < low < mid < high < 41


@pytest.mark.parametrize("hours", [1, 3, 6, 12])
def test_soft_hours_later_still_gives_increasing_finite_bands(hours):
    low, mid, high = minutes(touched((60 * hours, "soft")).opens)
    assert 60 * hours < low < mid < high < 60 * hours * 1.6


@pytest.mark.parametrize("hours", [1, 4, 10])
def test_nothing_closes_before_it_opens_however_late_it_is_soft(hours):
    found = touched((60 * hours, "soft"))
    opens, closes = minutes(found.opens), minutes(found.closes)
    assert all(shut >= wide for wide, shut in zip(opens, closes, strict=True))


def test_narrow_thresholds_far_out_still_increase():
    narrow = Spread.of(17, 18, 19)
    low, mid, high = minutes(touched((60, "soft"), opens=narrow).opens)
    assert 60 < low < mid < high < 63


def test_a_threshold_without_spread_gives_way_to_the_fingertip():
    fixed = Spread(18.0)
    assert minutes(touched((25, "soft"), opens=fixed).opens) == [25, 25, 25]
    assert minutes(touched((10, "ready"), opens=fixed).opens) == [10, 10, 10]


def test_ready_the_moment_spraying_ends_is_open_then():
    assert minutes(touched((0, "ready")).opens) == [0, 0, 0]


@settings(max_examples=60, deadline=None)
@given(
    book=weathers,
    opens=spreads,
    felt=st.lists(
        st.tuples(
            st.floats(0, 400), st.sampled_from(["soft", "ready", "going-off", "gone"])
        ),
        max_size=6,
    ).map(sorted),
    fog=st.sampled_from([0.0, 20.0, 60.0]),
)
def test_whatever_is_felt_the_bands_hold_together(book, opens, felt, fog):
    closes = Spread(opens.p50 * 2.5, 0.36)
    found = touched(*felt, book=book, opens=opens, closes=closes, fog=fog)
    assume(found.opens is not None and found.closes is not None)
    for band in (found.opens, found.closes):
        assert SPRAYED <= band.p10 <= band.p50 <= band.p90
    if found.soft_at:
        assert found.opens.p10 >= found.soft_at
    if found.ready_at:
        assert found.opens.p90 <= found.ready_at
        assert not found.soft_at or found.soft_at < found.ready_at
    if found.gone_at:
        assert found.closes.p90 <= found.gone_at
    assert found.closes.p10 >= found.opens.p10
    assert found.closes.p50 >= found.opens.p50
    assert found.closes.p90 >= found.opens.p90


@settings(max_examples=40, deadline=None)
@given(book=weathers, share=st.floats(0.3, 3.0))
def test_a_soft_touch_never_makes_anything_earlier(book, share):
    plain = touched(book=book)
    when = minutes(plain.opens)[1] * share
    found = touched((when, "soft"), book=book)
    at = SPRAYED + when * MINUTE
    for before, after in zip(
        (plain.opens.p10, plain.opens.p50, plain.opens.p90),
        (found.opens.p10, found.opens.p50, found.opens.p90),
        strict=True,
    ):
        assert after >= before - SECOND
        assert after > at
    assert found.closes.p50 >= plain.closes.p50 - SECOND


@pytest.mark.parametrize("felt", [(), ((12, "soft"),), ((18, "ready"),)])
def test_fog_and_cover_move_what_is_still_to_come_later(felt):
    plain = touched(*felt)
    fogged = touched(*felt, fog=20)
    covered = touched(*felt, covers=((SPRAYED + 12 * MINUTE, None),))
    for found in (fogged, covered):
        assert found.closes.p50 > plain.closes.p50
        if found.ready_at is None:
            assert found.opens.p50 > plain.opens.p50


class TestOpenedAt:
    def test_by_forecast_at_the_median(self):
        assert opened_at(touched()) == touched().opens.p50

    @settings(max_examples=40, deadline=None)
    @given(book=weathers, when=st.floats(0, 120))
    def test_never_within_one_testing_interval_of_a_soft_touch(self, book, when):
        found = touched((when, "soft"), book=book)
        assert opened_at(found) >= SPRAYED + when * MINUTE + TEST_EVERY

    def test_unknown_without_a_forecast(self):
        assert opened_at(Window(None, None)) is None
