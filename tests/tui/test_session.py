"""The session: one place that turns a wish into an event, and loses none."""

from __future__ import annotations

import errno
import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.clock import SimulatedTime
from scheduling.disk import Disk
from scheduling.errors import BadInput, LogFault
from scheduling.folder import BARE, ShopFolder
from scheduling.process import StepKey
from scheduling.shop import Bells
from scheduling.timeline import Status
from tui.meant import people_meant, step_meant
from tui.session import FOG_G_M2, Session

MINUTE = timedelta(minutes=1)
SPRAY = StepKey("spray", "field")
LIFT = StepKey("lift-1", "field")
FORM_STEPS = ("assemble", "wax", "fillets", "last-look")


@pytest.fixture
def session(folder, open_session):
    return open_session(folder)


def wait(session, minutes):
    session.time.advance_to(session.time.now() + minutes * MINUTE)
    session.refresh()


def sprayed(session, job=BARE):
    """Starts a pour and sprays its face coat, ended now; returns its name."""
    name = session.start(job, entry="face coat")
    for span in session.pour(name).timeline.steps():
        if span.key.step in ("mix-face", "flow-check", "spray"):
            session.mark(name, "started", span.key)
            session.mark(name, "finished", span.key)
    session.settle(name)
    return name


class TestStarting:
    def test_it_is_on_the_disk_when_start_returns(self, session, open_session):
        name = session.start(BARE)
        assert name == "bare.0401"
        again = open_session(session.folder)
        assert list(again.pours) == [name]
        assert again.pour(name).job == BARE
        assert again.pour(name).state == session.pour(name).state

    def test_the_next_of_the_day_has_a_name_of_its_own(self, session):
        names = [session.start(BARE) for _ in range(3)]
        assert names == ["bare.0401", "bare.0401-2", "bare.0401-3"]

    def test_the_command_of_the_bells_is_not_written_down(self, session):
        """It may hold a password."""
        bells = Bells(command=("call", "--password", "swordfish"))
        session.shop = replace(session.shop, bells=bells)
        name = session.start(BARE)
        assert session.shop.bells.command
        assert "swordfish" not in str(session.log.events(name))

    def test_a_pour_another_program_started_is_not_written_over(
        self, session, open_session
    ):
        other = open_session(session.folder)
        first = other.start(BARE)
        assert session.start(BARE) != first
        assert set(session.pours) >= {first}

    @pytest.mark.parametrize(
        ("entry", "first"),
        [("form", "template"), ("weigh-off", "set-up"), ("face coat", "mix-face")],
    )
    def test_it_can_be_joined_later_and_what_lies_before_is_skipped(
        self, session, entry, first
    ):
        job = session.folder.job("two-legged-desk")
        name = session.start(job, entry=entry)
        timeline = session.pour(name).timeline
        assert timeline.next_step().key.step == first
        skipped = {s.key.step for s in timeline.steps() if s.status is Status.SKIPPED}
        assert skipped >= set(FORM_STEPS if entry != "form" else ())
        assert "spray" not in skipped

    def test_it_may_have_begun_earlier(self, session, monday):
        name = session.start(BARE, at=monday - 20 * MINUTE)
        assert session.pour(name).state.begun == monday - 20 * MINUTE

    def test_the_castings_of_a_form_are_counted_and_no_further(self, session):
        job = session.folder.job("stair-hall-panels")
        names = [session.start(job) for _ in range(6)]
        castings = [session.pour(name).state.casting for name in names]
        assert castings == [1, 2, 3, 4, 4, 4]
        work = [
            session.pour(name).timeline.span(StepKey("assemble")).minutes
            for name in names
        ]
        assert work[1] < work[0] / 2
        slab = session.folder.job("potting-bench-slab")
        pours = [session.start(slab) for _ in range(2)]
        assert [session.pour(p).state.casting for p in pours] == [1, 1]

    def test_what_cannot_be_is_refused_and_nothing_written(self, session):
        with pytest.raises(BadInput, match="--from"):
            session.start(BARE, entry="the end")
        with pytest.raises(BadInput, match="mix"):
            session.start(replace(BARE, mix="M9"))
        assert session.pours == {}
        assert not session.folder.log.exists()

    def test_an_empty_folder_has_the_built_in_shop(self, tmp_path, monday):
        session = Session(ShopFolder(tmp_path), SimulatedTime(monday))
        assert session.load() == []
        assert session.start(BARE) in session.pours


class TestMarking:
    def test_a_mark_is_in_memory_at_once_and_on_the_disk_when_settled(
        self, session, open_session
    ):
        name = session.start(BARE)
        session.mark(name, "started", StepKey("mix-face"))
        assert session.pour(name).unsaved == 1
        other = open_session(session.folder)
        assert not other.pour(name).state.steps
        session.settle(name)
        assert session.pour(name).unsaved == 0
        assert other.load() == [name]
        assert other.pour(name).state == session.pour(name).state

    def test_one_key_starts_the_step_in_hand_and_ends_it(self, session):
        name = session.start(BARE)
        kinds = []
        for _ in range(4):
            event = session.go_on(name)
            session.settle(name)
            kinds.append((event.kind, event.step))
            wait(session, 5)
        assert kinds == [
            ("started", "mix-face"),
            ("finished", "mix-face"),
            ("started", "flow-check"),
            ("finished", "flow-check"),
        ]

    def test_a_start_carries_the_forecast_of_that_moment(self, session):
        name = session.start(BARE)
        session.mark(name, "started", StepKey("mix-face"))
        session.settle(name)
        forecast = session.events(name)[-1].data["forecast"]
        assert forecast["minutes"] == 7.0
        assert forecast["temp_c"] == 21.0

    def test_an_end_carries_the_waits_that_count_from_it(self, session):
        name = sprayed(session)
        end = next(e for e in reversed(session.events(name)) if e.step == "spray")
        assert end.data["forecast"]["waits"] == {"face wait/field": 18.0}

    def test_who_marked_it_and_where_is_written(self, folder, open_session):
        session = open_session(folder, by="Ines")
        name = session.start(BARE)
        event = session.mark(name, "started", StepKey("mix-face"))
        assert (event.by, event.zone_name, event.offset_min) == ("Ines", "UTC", 0)

    def test_a_step_is_found_by_its_id_and_the_first_zone_not_done(self, session):
        name = sprayed(session, session.folder.job("two-legged-desk"))

        def meant(*typed):
            return step_meant(session.pour(name).timeline, *typed)

        assert meant("lift-1") == StepKey("lift-1", "left leg")
        session.mark(name, "finished", StepKey("lift-1", "left leg"))
        session.settle(name)
        assert meant("lift-1") == StepKey("lift-1", "right leg")
        assert meant("lift-1", "top") == StepKey("lift-1", "top")

    @pytest.mark.parametrize(
        ("step", "zone", "said"),
        [
            ("lift1", None, 'did you mean "lift-1"?'),
            ("dance", None, "one of"),
            ("lift-1", "feild", 'did you mean "field"?'),
        ],
    )
    def test_an_unknown_step_or_zone_names_the_nearest(self, session, step, zone, said):
        name = sprayed(session)
        with pytest.raises(BadInput) as caught:
            step_meant(session.pour(name).timeline, step, zone)
        assert said in str(caught.value)

    def test_an_unknown_pour_names_the_nearest(self, session):
        session.start(BARE)
        with pytest.raises(BadInput, match=r'did you mean "bare\.0401"'):
            session.pour("bare.0410")


class TestTouching:
    def test_soft_at_25_moves_the_opening_past_25_at_once(self, session):
        name = sprayed(session)
        start = session.time.now()
        wait(session, 25)
        session.touch(name, "soft")
        session.settle(name)
        opens = session.pour(name).timeline.wait_for(LIFT).opens
        assert opens.p10 > start + 25 * MINUTE

    def test_without_a_zone_it_answers_the_oldest_unanswered(self, session):
        name = sprayed(session, session.folder.job("two-legged-desk"))
        zones = []
        for _ in range(4):
            wait(session, 1)
            zones.append(session.touch(name, "soft").zone)
            session.settle(name)
        assert zones == ["left leg", "right leg", "top", "left leg"]

    def test_what_cannot_be_felt_is_refused(self, session):
        name = session.start(BARE)
        with pytest.raises(BadInput, match="no sprayed zone"):
            session.touch(name, "soft")
        with pytest.raises(BadInput, match="soft, ready, going-off, gone"):
            session.touch(name, "wet")
        with pytest.raises(BadInput, match='did you mean "field"'):
            session.touch(name, "soft", "feld")

    def test_fog_cover_respray_and_notes(self, session):
        name = sprayed(session)
        for kind in ("fogged", "covered"):
            session.zone_event(name, kind, "field")
        session.note(name, "door open")
        session.settle(name)
        state = session.pour(name).state
        assert state.fogs["field"][0][1] == FOG_G_M2
        assert state.covers["field"][0][1] is None
        assert state.notes[0].text == "door open"
        assert state.notes[0].step == "mix-back-1"
        session.zone_event(name, "resprayed", "field")
        session.settle(name)
        assert "field" in session.pour(name).state.resprayed


class TestReadings:
    def test_a_reading_moves_every_later_window_at_once(self, session):
        name = sprayed(session)
        before = session.pour(name).timeline
        session.reading(name, {"shop_c": 12.0})
        session.settle(name)
        after = session.pour(name).timeline
        for step in ("face wait", "lift wait"):
            key = StepKey(step, "field")
            assert after.span(key).minutes > before.span(key).minutes
        assert after.demould.p50 > before.demould.p50

    @pytest.mark.parametrize(
        "values", [{}, {"roof_c": 12.0}, {"shop_c": 99.0}, {"rh_pct": 120.0}]
    )
    def test_what_no_thermometer_shows_is_refused(self, session, values):
        name = session.start(BARE)
        with pytest.raises(BadInput):
            session.reading(name, values)
        assert session.pour(name).unsaved == 0

    def test_who_is_in(self, session):
        name = session.start(BARE)
        session.hands(name, ["Ines"])
        session.settle(name)
        assert session.pour(name).state.hands == (session.time.now(), ("Ines",))


class TestUndoAndCorrection:
    def test_undo_takes_back_the_newest_mark_one_by_one(self, session):
        name = sprayed(session)
        before = session.pour(name).state
        session.touch(name, "soft")
        session.settle(name)
        session.undo(name)
        session.settle(name)
        assert session.pour(name).state == before
        session.undo(name)
        session.settle(name)
        assert session.pour(name).state.record(SPRAY).running

    def test_undo_of_a_put_away_brings_it_back_to_the_board(self, session):
        name = session.start(BARE)
        session.put_away(name)
        session.settle(name)
        assert session.open_pours() == []
        assert session.ringing(session.time.now()) == []
        session.undo(name)
        session.settle(name)
        assert [pour.name for pour in session.open_pours()] == [name]

    def test_the_start_of_a_pour_is_not_taken_back(self, session):
        name = session.start(BARE)
        with pytest.raises(BadInput, match="nothing to take back"):
            session.undo(name)

    def test_a_bell_is_not_taken_back(self, session):
        name = sprayed(session)
        wait(session, 12)
        for alert in session.ringing(session.time.now()):
            session.rang(alert, 0.0)
            session.acknowledge(alert)
        session.settle(name)
        assert session.ringing(session.time.now()) == []
        session.undo(name)
        session.settle(name)
        assert session.pour(name).state.record(SPRAY).running

    def test_a_correction_moves_the_mark_and_the_window_behind_it(self, session):
        name = sprayed(session)
        spray = session.pour(name).state.record(SPRAY)
        earlier = session.time.now() - 15 * MINUTE
        for event in (spray.started_event, spray.finished_event):
            session.correct(name, event, earlier)
        session.settle(name)
        assert session.pour(name).state.record(SPRAY).finished == earlier
        opens = session.pour(name).timeline.wait_for(LIFT).opens.p50
        assert opens == earlier + 18 * MINUTE


class TestTwoPrograms:
    def test_each_sees_what_the_other_wrote(self, session, open_session):
        name = sprayed(session)
        other = open_session(session.folder, session.time.now())
        other.touch(name, "soft")
        other.settle(name)
        assert session.load() == [name]
        assert session.load() == []
        assert session.pour(name).state == other.pour(name).state

    def test_both_write_and_nothing_is_lost(self, session, open_session):
        name = session.start(BARE)
        other = open_session(session.folder)
        for number in range(4):
            session.note(name, f"here {number}")
            other.note(name, f"there {number}")
            session.settle(name)
            other.settle(name)
        session.load()
        assert {note.text for note in session.pour(name).state.notes} == {
            f"{where} {number}" for where in ("here", "there") for number in range(4)
        }

    def test_killed_and_reopened_all_is_as_it_was(self, session, open_session):
        name = sprayed(session)
        wait(session, 12)
        session.touch(name, "soft")
        session.reading(name, {"shop_c": 19.0})
        for alert in session.ringing(session.time.now()):
            session.rang(alert, 0.0)
        session.settle(name)
        again = open_session(session.folder, session.time.now())
        session.refresh(name)
        assert again.pour(name).state == session.pour(name).state
        assert again.pour(name).alerts == session.pour(name).alerts
        assert again.pour(name).timeline.spans == session.pour(name).timeline.spans
        now = session.time.now() + 10 * MINUTE
        for one in (session, again):
            one.time.advance_to(now)
        assert again.ringing(now) == session.ringing(now)
        assert again.next_due(now) == session.next_due(now)

    def test_a_file_that_cannot_be_read_is_named_and_the_others_go_on(
        self, session, open_session
    ):
        name = sprayed(session)
        (session.folder.log / "broken.0401.json").write_text("{")
        again = open_session(session.folder)
        assert "damaged" in again.faults["broken.0401"]
        assert again.pour(name).state == session.pour(name).state
        with pytest.raises(LogFault, match="damaged"):
            again.pour("broken.0401")

    def test_a_file_damaged_while_it_is_open_keeps_what_is_known(self, session):
        name = sprayed(session)
        state = session.pour(name).state
        path = session.folder.log / "live" / f"{name}.jnl"
        good = path.read_bytes()
        path.write_bytes(good[:100])
        assert session.load() == [name]
        assert name in session.faults
        assert session.pours[name].state == state
        path.write_bytes(good)
        session.load()
        assert session.faults == {}


class TestNotSaved:
    @pytest.fixture
    def disk(self, monkeypatch):
        """A disk that can be filled and emptied."""

        class Switch:
            def fill(self):
                monkeypatch.setattr(Disk, "append", self._full)

            def refuse_to_sync(self):
                monkeypatch.setattr(Disk, "sync", self._full)

            def empty(self):
                monkeypatch.undo()

            def _full(self, *_args, **_kwargs):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        return Switch()

    def test_events_stay_in_memory_and_the_next_settle_saves_them_all(
        self, session, disk, open_session
    ):
        name = sprayed(session)
        saved = len(session.events(name))
        disk.fill()
        session.touch(name, "soft")
        with pytest.raises(LogFault, match="NOT SAVED"):
            session.settle(name)
        wait(session, 3)
        session.touch(name, "ready")
        with pytest.raises(LogFault, match="No space left"):
            session.settle(name)
        pour = session.pour(name)
        assert pour.unsaved == 2
        assert [t.feel for t in pour.state.touches["field"]] == ["soft", "ready"]
        assert "NOT SAVED" in " ".join(session.faults.values())
        session.load()
        assert session.pour(name).unsaved == 2
        assert len(open_session(session.folder).events(name)) == saved

        disk.empty()
        session.note(name, "room again")
        session.settle(name)
        assert session.faults == {}
        assert session.pour(name).unsaved == 0
        again = open_session(session.folder, session.time.now())
        assert len(again.events(name)) == saved + 3
        assert again.pour(name).state == session.pour(name).state

    def test_a_pour_that_cannot_be_saved_is_on_the_screen_all_the_same(
        self, session, disk
    ):
        disk.fill()
        with pytest.raises(LogFault):
            session.start(BARE)
        (pour,) = session.open_pours()
        assert pour.unsaved == 1
        disk.empty()
        session.settle(pour.name)
        assert session.log.pours() == [pour.name]

    def test_written_but_not_known_to_be_safe_is_tried_again_as_it_was(
        self, session, disk, open_session
    ):
        """The line is in the file but would not sync: told NOT SAVED, taken back."""
        name = session.start(BARE)
        session.mark(name, "started", StepKey("mix-face"))
        disk.refuse_to_sync()
        with pytest.raises(LogFault, match="NOT SAVED"):
            session.settle(name)
        disk.empty()
        wait(session, 9)
        session.reading(name, {"shop_c": 12.0})
        session.settle(name)
        assert session.pour(name).unsaved == 0
        assert len(open_session(session.folder).events(name)) == 3

    def test_one_pour_saved_does_not_hide_that_another_is_not(self, session, disk):
        first, second = session.start(BARE), session.start(BARE)
        disk.fill()
        session.note(first, "lost?")
        with pytest.raises(LogFault):
            session.settle(first)
        disk.empty()
        session.note(second, "kept")
        session.settle(second)
        assert "NOT SAVED" in " ".join(session.faults.values())
        session.settle(first)
        assert session.faults == {}


class TestTyped:
    @pytest.mark.parametrize(
        ("text", "names"),
        [
            ("ines, Bo", ["Ines", "Bo"]),
            (" Wes ", ["Wes"]),
            ("2", ["hand 1", "hand 2"]),
        ],
    )
    def test_names_of_the_shop_or_a_number_of_hands(self, session, text, names):
        assert people_meant(text, session.shop.people) == names

    @pytest.mark.parametrize("text", ["", ",", "0", "10", "-1", "Inez", "Ines, 2", "²"])
    def test_strangers_are_refused(self, session, text):
        with pytest.raises(BadInput):
            people_meant(text, session.shop.people)
        with pytest.raises(BadInput, match='did you mean "Ines"'):
            people_meant("Inez", session.shop.people)

    @pytest.mark.parametrize(
        ("text", "ago"),
        [("7:12", 18), ("-5", 5), ("yesterday 7:30", 1440)],
    )
    def test_a_time_that_has_been(self, session, monday, text, ago):
        assert session.read_time(text) == monday - ago * MINUTE
        assert "ago" in session.say_time(session.read_time(text))

    def test_a_time_that_comes_twice_names_both(self, folder, open_session):
        text = folder.shop_file.read_text().replace('"UTC"', '"Europe/Oslo"')
        folder.shop_file.write_text(text)
        # 27 October 2030: clocks in Oslo go back from 03:00 to 02:00.
        session = open_session(folder, datetime(2030, 10, 27, 8, 0, tzinfo=UTC))
        with pytest.raises(BadInput) as caught:
            session.read_time("2:30")
        said = str(caught.value)
        assert "2030-10-27T02:30+02:00" in said
        assert "2030-10-27T02:30+01:00" in said
        first = session.read_time("2030-10-27T02:30+02:00")
        assert first == datetime(2030, 10, 27, 0, 30, tzinfo=UTC)

    @pytest.mark.parametrize("text", ["", "25:00", "soon", "7:60", "2030-02-30 10:00"])
    def test_what_is_no_time_is_refused(self, session, text):
        with pytest.raises(BadInput):
            session.read_time(text)


class TestAlerts:
    def test_the_next_bell_of_all_pours(self, session, monday):
        sprayed(session)
        wait(session, 2)
        sprayed(session)
        now = session.time.now()
        # Mixing is called ten minutes before the expected opening at 18.
        assert session.next_due(now) == monday + 8 * MINUTE
        wait(session, 6)
        assert [a.pour for a in session.ringing(session.time.now())] == ["bare.0401"]

    def test_a_bell_that_rang_is_written_with_how_late(self, session):
        name = sprayed(session)
        wait(session, 20)
        (alert,) = (
            a for a in session.ringing(session.time.now()) if a.kind == "window-open"
        )
        session.rang(alert, 120.04)
        session.settle(name)
        event = session.events(name)[-1]
        assert event.data["late_s"] == 120.0
        assert event.data["kind"] == "window-open"
        assert session.pour(name).state.rang == {alert.id: session.time.now()}

    def test_an_old_forecast_is_laid_out_anew(self, session):
        name = sprayed(session)
        before = session.pour(name).timeline.at
        session.time.advance_to(session.time.now() + timedelta(seconds=30))
        session.refresh()
        assert session.pour(name).timeline.at > before

    def test_planned_is_as_before_anything_happened(self, session):
        name = sprayed(session)
        plan = session.plan(name)
        assert plan.at is None
        assert not {s.status for s in plan.steps()} & {Status.DONE, Status.RUNNING}
        wait(session, 60)
        assert session.plan(name) is plan


def test_undo_after_a_later_join_takes_nothing_of_the_start_back(session, jobs):
    name = session.start(jobs["potting-bench-slab"], entry="weigh-off")
    with pytest.raises(BadInput, match="nothing to take back"):
        session.undo(name)


@pytest.mark.parametrize("text", ["+10", "2020-01-01 7:30"])
def test_a_mark_is_neither_in_the_future_nor_years_back(session, text):
    with pytest.raises(BadInput, match="a time that has passed"):
        session.read_time(text)


class TestWhatCannotBe:
    def test_a_finished_step_is_not_marked_again(self, session):
        name = sprayed(session)
        for kind in ("started", "finished", "skipped"):
            with pytest.raises(BadInput, match="is finished"):
                session.mark(name, kind, SPRAY)

    def test_a_step_does_not_end_before_it_began(self, session):
        name = session.start(BARE, entry="face coat")
        mix = StepKey("mix-face")
        session.mark(name, "started", mix)
        session.settle(name)
        with pytest.raises(BadInput, match="its end must be after that"):
            session.mark(name, "finished", mix, at=session.time.now() - 5 * MINUTE)

    def test_an_unsprayed_zone_is_neither_touched_nor_fogged(self, session):
        name = session.start(BARE, entry="face coat")
        with pytest.raises(BadInput, match="not waiting"):
            session.touch(name, "ready", "field")
        with pytest.raises(BadInput, match="not sprayed"):
            session.zone_event(name, "resprayed", "field")
