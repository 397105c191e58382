"""The shop's book: folds from any events, and lies in the log beside the pours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.disk import Disk
from scheduling.errors import LogFault
from scheduling.event import event_from_document, event_to_document
from scheduling.folder import ShopFolder
from scheduling.integrity import log_files
from scheduling.log import Log
from scheduling.pastwindow import PastWindow
from scheduling.pourname import SHOP
from scheduling.shop import Mix, Pace, Shop, Timing
from scheduling.shopbook import (
    NOTHING,
    decision_data,
    fold_book,
    key_of,
    taught,
    window_data,
)
from scheduling.snapshot import shop_from_data, shop_to_data
from scheduling.spread import Spread
from support.logs import AT, event

OPENS = Timing("face opens", "M1", Spread(21.5, 0.3), 9, 44.5, 0.35)
CLOSES = Timing("face closes", "M1", Spread(50.0, 0.2), 9)
OTHER_MIX = replace(OPENS, mix="M2")
HONE = Pace("hone", Spread(0.82, 0.2), 12)
WAS = Spread(18.0, 0.54)
POUR = "bench.0401"


def said(number, kind, value, temps=(14.0, 26.0), **more):
    data = decision_data(value, WAS, temps)
    return event(number, pour=SHOP, kind=kind, data=data, **more)


def undo(number, of):
    return event(number, pour=SHOP, kind="undone", data={"event": event(of).id})


def window(**changes):
    sprayed = AT - timedelta(days=40)
    usual = {
        "day": date(2030, 2, 20),
        "mix": "M1",
        "zone": "top",
        "temp_c": 17.0,
        "rh_pct": 50.0,
        "wind_kmh": 2.0,
        "sprayed": sprayed,
        "last_soft": sprayed + timedelta(minutes=19),
        "first_ready": sprayed + timedelta(minutes=25),
    }
    return PastWindow(**{**usual, **changes})


def past(number, one):
    return event(number, pour=SHOP, kind="past", data=window_data(one))


class TestFold:
    def test_nothing_is_accepted_by_nobody(self):
        assert fold_book([]) == NOTHING
        assert taught(Shop(), NOTHING) == Shop()

    def test_what_was_accepted_is_in_force_with_who_when_and_from_what(self):
        book = fold_book(
            [said(1, "accepted", OPENS, by="Ana"), said(2, "accepted", HONE)]
        )
        assert (book.timings, book.paces) == ((OPENS,), (HONE,))
        one = book.accepted[key_of(OPENS)]
        assert (one.was, one.temp_range_c, one.learned_from) == (WAS, (14.0, 26.0), 9)
        assert (one.event.by, one.event.at) == ("Ana", event(1).at)
        assert taught(Shop(), book) == Shop(timings=(OPENS,), paces=(HONE,))

    def test_the_last_one_wins_for_each_name_and_mix(self):
        later = replace(OPENS, spread=Spread(23.0, 0.25), pours=14)
        values = (OPENS, CLOSES, OTHER_MIX, later)
        book = fold_book(said(n, "accepted", one) for n, one in enumerate(values))
        assert set(book.timings) == {later, CLOSES, OTHER_MIX}

    def test_taken_back_leaves_the_one_before_and_then_none(self):
        later = replace(OPENS, pours=14)
        events = [said(1, "accepted", OPENS), said(2, "accepted", later), undo(3, 2)]
        assert fold_book(events).timings == (OPENS,)
        assert fold_book([*events, undo(4, 1)]).timings == ()
        # The undo undone: it counts again.
        assert fold_book([*events, undo(4, 3)]).timings == (later,)

    def test_refused_is_not_offered_again_until_more_pours_speak(self):
        events = [
            said(1, "accepted", OPENS),
            said(2, "refused", replace(OPENS, pours=12)),
        ]
        book = fold_book(events)
        assert book.timings == (OPENS,)
        assert not book.offers(replace(OPENS, pours=12))
        assert book.offers(replace(OPENS, pours=13))
        assert book.offers(CLOSES)
        assert book.offers(HONE)
        assert fold_book([*events, undo(3, 2)]).offers(replace(OPENS, pours=12))
        accepted = fold_book([*events, said(3, "accepted", replace(OPENS, pours=12))])
        assert accepted.refused == {}

    @pytest.mark.parametrize(
        "odd",
        [
            replace(OPENS, spread=Spread(0.0, 0.3)),
            replace(OPENS, spread=Spread(-5.0, 0.3)),
            replace(OPENS, spread=Spread(2e6, 0.3)),
            replace(OPENS, spread=Spread(20.0, -0.1)),
            replace(OPENS, spread=Spread(20.0, 3.1)),
            replace(OPENS, energy=0.0),
            replace(OPENS, energy=101.0),
            replace(OPENS, share=1.1),
            replace(OPENS, pours=-1),
            replace(HONE, factor=Spread(0.001)),
            replace(HONE, factor=Spread(101.0)),
            replace(HONE, castings=-1),
        ],
    )
    def test_a_value_no_clock_can_run_on_is_ignored(self, odd):
        assert fold_book([said(1, "accepted", odd)]).accepted == {}

    def test_a_window_from_paper_counts_once(self):
        book = fold_book(
            [past(1, window()), past(2, window()), past(3, window(zone="leg"))]
        )
        assert book.windows == (window(), window(zone="leg"))
        assert [one.name for one in book.past] == ["face opens", "face closes"] * 2
        assert {one.pour for one in book.past} == {"paper 2030-02-20 M1"}
        assert fold_book([past(1, window()), undo(2, 1)]).windows == ()

    def test_without_a_humidity_it_runs_on_the_energy_of_its_mix(self):
        book = fold_book([past(1, window(rh_assumed=True))])
        (opens, _) = replace(book, mixes={"M1": Mix(activation_energy=33.0)}).past
        (usual, _) = book.past
        cold = window().temp_c < 21
        assert cold is (opens.before.hydration > usual.before.hydration)
        assert (opens.measured, usual.measured) == (False, False)

    def test_a_window_written_down_anew_counts_until_that_is_taken_back(self):
        events = [past(1, window()), past(2, window(temp_c=19.0))]
        assert fold_book(events).windows == (window(temp_c=19.0),)
        assert fold_book([*events, undo(3, 2)]).windows == (window(),)
        assert fold_book([*events, undo(3, 1)]).windows == (window(temp_c=19.0),)

    def test_what_stands_may_be_taken_back(self):
        events = [said(1, "accepted", OPENS), past(2, window()), undo(3, 1)]
        book = fold_book(events)
        assert list(book.standing) == [event(2).id]
        assert book.newest == events[1]
        assert fold_book([*events, said(4, "refused", HONE)]).newest.kind == "refused"
        assert fold_book([*events, undo(4, 2)]).newest is None


ids = st.integers(0, 12).map(lambda number: event(number).id)
scraps = st.none() | st.booleans() | st.integers(-5, 2**62) | st.text(max_size=3)
numbers = scraps | st.floats(-2, 1e9)
spreads = scraps | st.fixed_dictionaries(
    {}, optional={"p50": numbers, "sigma": numbers, "more": scraps}
)
values = scraps | st.fixed_dictionaries(
    {},
    optional={
        "name": scraps,
        "step": scraps,
        "mix": scraps,
        "spread": spreads,
        "factor": spreads,
        "pours": numbers,
        "castings": numbers,
        "energy": numbers,
        "share": numbers,
    },
)
moments = scraps | st.sampled_from(
    ["2030-02-20T10:00:00+00:00", "9999-12-31T23:59:59+00:00", "2030-02-20T10:00"]
)
rows = scraps | st.fixed_dictionaries(
    {
        "mix": st.text(max_size=3),
        "zone": scraps,
        "day": moments | st.just("2030-02-20"),
    },
    optional=dict.fromkeys(
        ("sprayed", "last_soft", "first_ready", "first_gone"), moments
    )
    | dict.fromkeys(("temp_c", "rh_pct", "wind_kmh", "form_c"), numbers),
)
datas = st.fixed_dictionaries(
    {},
    optional={
        "what": st.sampled_from(["timing", "pace", "x"]) | scraps,
        "timing": values | st.just(decision_data(OPENS, WAS, None)["timing"]),
        "pace": values | st.just(decision_data(HONE, WAS, None)["pace"]),
        "was": spreads | st.just({"p50": 18.0, "sigma": 0.5}),
        "temp_range_c": scraps | st.lists(numbers, max_size=3),
        "window": rows | st.just(window_data(window())["window"]),
        "event": ids | scraps,
        "at": moments,
    },
)
KINDS = ("accepted", "refused", "past", "undone", "corrected", "started", "note")


@given(raws=st.lists(st.tuples(st.sampled_from(KINDS), datas), max_size=12))
def test_any_sequence_folds_and_can_be_worked_with(raws):
    events = [
        event(number, pour=SHOP, kind=kind, data=data)
        for number, (kind, data) in enumerate(raws)
    ]
    book = fold_book(events)
    shop = taught(Shop(), book)
    assert shop_from_data(shop_to_data(shop)) == shop
    for one in book.past:
        assert one.after is not None or one.before is not None
    # As it comes back from the file it is the same.
    again = [event_from_document(event_to_document(one)) for one in events]
    assert fold_book(again) == book


class TestInTheLog:
    @pytest.fixture
    def log(self, tmp_path):
        log = Log(tmp_path / "log")
        log.append(event(1, pour=POUR))
        log.append(said(2, "accepted", OPENS))
        return log

    def test_it_is_no_pour_and_reads_back(self, log, tmp_path):
        for reader in (log, Log(tmp_path / "log")):
            assert reader.events(SHOP) == [said(2, "accepted", OPENS)]
            assert reader.pours() == reader.open_pours() == [POUR]
            assert [entry["pour"] for entry in reader.index()] == [POUR]
            assert reader.faults() == {}

    def test_it_is_never_sealed(self, log, tmp_path):
        log.seal(SHOP)
        assert (tmp_path / "log" / "live" / "shop.jnl").exists()
        assert not (tmp_path / "log" / "archive").exists()

    @pytest.mark.usefixtures("log")
    def test_half_a_line_is_set_aside_before_the_next_is_written(self, tmp_path):
        path = tmp_path / "log" / "live" / "shop.jnl"
        with path.open("ab") as file:
            file.write(b"half a line")
        again = Log(tmp_path / "log")
        again.append(said(3, "accepted", HONE))
        assert fold_book(again.events(SHOP)).paces == (HONE,)
        assert any(SHOP in note for note in again.notes)

    def test_damage_is_named_and_can_be_set_aside(self, log, tmp_path):
        log.append(said(3, "accepted", HONE))
        path = tmp_path / "log" / "live" / "shop.jnl"
        content = path.read_bytes()
        path.write_bytes(content.replace(b"face opens", b"face opena"))
        again = Log(tmp_path / "log")
        assert set(again.faults()) == {SHOP}
        with pytest.raises(LogFault):
            again.append(said(4, "accepted", CLOSES))
        assert again.set_aside(SHOP) is not None
        again.append(said(4, "accepted", CLOSES))
        assert Log(tmp_path / "log").faults() == {}

    def test_a_check_verifies_it(self, log, tmp_path):
        log.append(said(3, "accepted", HONE))
        folder = ShopFolder(tmp_path)
        found = {one.about: one for one in log_files(folder, Disk())}
        assert found[SHOP].standing == "ok"
        assert "1 of 1" in found["pours"].found
        path = tmp_path / "log" / "live" / "shop.jnl"
        path.write_bytes(path.read_bytes().replace(b"face opens", b"face opena"))
        found = {one.about: one for one in log_files(folder, Disk())}
        assert found[SHOP].standing == "fault"
        assert "1 of 1" in found["pours"].found
