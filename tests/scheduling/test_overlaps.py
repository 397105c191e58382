"""Work of one person on two pours at once, and what is learned of it."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.observation import WorkObservation
from scheduling.pace import learn_work

AT = datetime(2030, 4, 1, 9, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def done(pour, start, end, *, by="Ines", step="hone", why_not=""):
    """A step that somebody did between two minutes of the day."""
    took = max(end - start, 1.0)
    at, until = AT + start * MINUTE, AT + end * MINUTE
    return WorkObservation(pour, at, step, by, 30.0, took, why_not, until)


def learned(*said):
    (found,) = learn_work(said)
    return found


def reasons(*said):
    return {one.pour: one.why_not for one in learned(*said).left_out}


def test_work_on_two_pours_at_once_teaches_neither():
    found = learned(
        done("bench.0401", 0, 40), done("tub.0401", 30, 60), done("desk.0402", 90, 120)
    )
    assert [one.said.pour for one in found.seen] == ["desk.0402"]
    assert {one.pour: one.why_not for one in found.left_out} == {
        "bench.0401": "also at work on tub.0401",
        "tub.0401": "also at work on bench.0401",
    }


def test_the_steps_need_not_be_of_one_kind():
    found = learn_work([done("a.0401", 0, 40), done("b.0401", 30, 60, step="seal")])
    assert [one.castings for one in found] == [0, 0]


def test_a_short_job_in_a_long_one_leaves_all_three_out():
    long, one, two = (
        done("a.0401", 0, 90),
        done("b.0401", 10, 20),
        done("c.0401", 40, 50),
    )
    assert reasons(long, one, two) == {
        "a.0401": "also at work on b.0401",
        "b.0401": "also at work on a.0401",
        "c.0401": "also at work on a.0401",
    }


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(done("b.0401", 40, 60), id="one after the other"),
        pytest.param(done("b.0401", 30, 60, by="Otto"), id="two people"),
        pytest.param(done("a.0401", 30, 60), id="one pour knows of itself"),
    ],
)
def test_what_does_not_interrupt_is_learned(other):
    assert reasons(done("a.0401", 0, 40), other) == {}


def test_nobody_named_does_not_interrupt():
    assert reasons(done("a.0401", 0, 40, by=""), done("b.0401", 9, 60, by="")) == {}


def test_a_reason_of_its_own_is_kept_and_interrupts_all_the_same():
    lunch = done("a.0401", 0, 40, why_not="lunch")
    assert reasons(lunch, done("b.0401", 30, 60)) == {
        "a.0401": "lunch",
        "b.0401": "also at work on a.0401",
    }


SPANS = st.lists(
    st.tuples(
        st.sampled_from("abc"),
        st.integers(0, 300),
        st.integers(1, 60),
        st.sampled_from(("Ines", "Otto", "")),
    ),
    min_size=1,
    max_size=25,
)


@given(SPANS)
def test_it_is_every_pair_that_overlaps_and_no_other(spans):
    said = [
        done(pour, start, start + length, by=by) for pour, start, length, by in spans
    ]
    crossed = [
        any(
            one.by
            and one.by == other.by
            and one.pour != other.pour
            and one.at < other.until
            and other.at < one.until
            for other in said
        )
        for one in said
    ]
    (found,) = learn_work(said)
    assert len(found.left_out) == sum(crossed)
    assert len(found.seen) == len(said) - sum(crossed)
