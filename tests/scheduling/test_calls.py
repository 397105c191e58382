"""When the user's own command is run for what nobody answers."""

from __future__ import annotations

from scheduling.calls import Calls

OPEN = ("bare.0401", "window-open")
CLOSING = ("bare.0401", "window-closing")


def calls(until_s, unanswered, at_once=lambda _s: False):
    """Seconds at which the command was run, looked at once a second."""
    made = Calls()
    return [
        (second, key)
        for second in range(until_s)
        for key in made.due(unanswered(second), second, at_once=at_once(second))
    ]


def test_after_a_minute_and_then_every_three():
    assert calls(500, lambda _s: [OPEN]) == [(60, OPEN), (240, OPEN), (420, OPEN)]


def test_an_answer_ends_it_and_a_new_ring_begins_anew():
    told = calls(400, lambda second: [OPEN] if not 100 <= second < 110 else [])
    assert told == [(60, OPEN), (170, OPEN), (350, OPEN)]


def test_each_alert_has_its_own_minute():
    told = calls(100, lambda second: [OPEN, CLOSING] if second >= 10 else [OPEN])
    assert told == [(60, OPEN), (70, CLOSING)]


def test_at_once_where_nothing_else_can_be_heard():
    assert calls(400, lambda _s: [OPEN], lambda _s: True) == [
        (0, OPEN),
        (180, OPEN),
        (360, OPEN),
    ]


def test_at_once_when_the_last_other_channel_fails():
    told = calls(400, lambda _s: [OPEN], lambda second: second >= 30)
    assert told == [(30, OPEN), (210, OPEN), (390, OPEN)]


def test_a_look_that_comes_late_does_not_add_up():
    made = Calls()
    told = []
    for number in range(1000):
        at_s = number * 1.003
        if made.due([OPEN], at_s, at_once=False):
            told.append(at_s)
    wanted = [60 + 180 * number for number in range(len(told))]
    assert len(told) == 6
    assert all(0 <= at - to < 1.01 for at, to in zip(told, wanted, strict=True))
