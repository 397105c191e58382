"""The log: nothing acknowledged is lost, one bad file spoils one pour."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling import disk as disk_module
from scheduling.disk import Disk
from scheduling.errors import BadInput, LogFault
from scheduling.event import (
    KINDS,
    Event,
    Kind,
    event_from_document,
    event_to_document,
    new_event_id,
)
from scheduling.log import Log
from scheduling.pourname import check_pour_name, new_pour_name
from support.logs import AT, event

ROOT = Path(__file__).parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "log"


@pytest.fixture
def log(folder: Path) -> Log:
    return Log(folder)


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3)
    ),
    max_leaves=8,
)
moments = st.datetimes(
    min_value=datetime(1970, 1, 2),  # noqa: DTZ001 - hypothesis adds the zone
    max_value=datetime(2100, 12, 30),  # noqa: DTZ001 - hypothesis adds the zone
    timezones=st.integers(-720, 840).map(
        lambda minutes: timezone(timedelta(minutes=minutes))
    ),
)
events = st.builds(
    Event,
    id=st.text(min_size=1, max_size=30),
    at=moments,
    recorded_at=moments,
    boot=st.tuples(st.integers(0, 2**50), st.text(max_size=8)),
    zone_name=st.text(max_size=20),
    offset_min=st.integers(-1439, 1439),
    pour=st.just("slab.0401"),
    kind=st.sampled_from(KINDS),
    step=st.text(max_size=20),
    zone=st.text(max_size=20),
    by=st.text(max_size=20),
    data=st.dictionaries(st.text(), json_values, max_size=4),
)


class TestEvent:
    @given(made=events)
    @settings(max_examples=200, deadline=None)
    def test_document_and_back_is_the_same(self, made: Event) -> None:
        document = json.loads(json.dumps(event_to_document(made), allow_nan=False))
        back = event_from_document(document)
        assert back == made
        assert back.at.tzinfo is back.recorded_at.tzinfo is UTC

    @given(many=st.lists(events, max_size=5, unique_by=lambda each: each.id))
    @settings(max_examples=25, deadline=None)
    def test_log_and_back_is_the_same(
        self, tmp_path_factory: pytest.TempPathFactory, many: list[Event]
    ) -> None:
        folder = tmp_path_factory.mktemp("log")
        Log(folder).append(*many)
        assert Log(folder).events("slab.0401") == many

    def test_kinds_are_those_of_the_type(self) -> None:
        assert get_args(Kind) == KINDS
        assert len(set(KINDS)) == 24

    def test_times_become_utc_at_the_same_instant(self) -> None:
        local = datetime(2030, 4, 1, 7, 30, tzinfo=timezone(timedelta(hours=2)))
        made = event(at=local)
        assert (made.at, made.at.tzinfo) == (local, UTC)

    def test_data_is_a_copy_with_lists_for_tuples(self) -> None:
        temperatures = [20.5]
        made = event(data={"c": temperatures, "zones": ("field", "legs")})
        temperatures.append(21.0)
        assert made.data == {"c": [20.5], "zones": ["field", "legs"]}

    def test_a_document_is_a_copy_too(self) -> None:
        made = event(data={"c": [20.5]})
        event_to_document(made)["data"]["c"].append(1)  # type: ignore[index,call-overload,union-attr]  # known shape
        assert made.data == {"c": [20.5]}

    @pytest.mark.parametrize(
        ("key", "value"),
        [
            ("data", {"temp_c": float("nan")}),
            ("data", {"temp_c": [1.0, float("inf")]}),
            ("data", {"when": AT}),
            ("data", {1: "a"}),
            ("at", AT.replace(tzinfo=None)),
            ("at", AT.replace(year=2101)),
            ("at", datetime(1970, 1, 1, tzinfo=timezone(timedelta(hours=2)))),
            ("recorded_at", datetime(9999, 12, 31, tzinfo=UTC)),
            ("kind", "poured"),
            ("id", ""),
            ("boot", (-1, "0f1e2d3c")),
            ("boot", (1, "\ud800")),
            ("offset_min", 1440),
            ("by", "half \ud83d"),
        ],
    )
    def test_what_cannot_be_stored_never_becomes_an_event(
        self, key: str, value: object
    ) -> None:
        with pytest.raises(LogFault, match=f"^{key}"):
            replace(event(), **{key: value})  # type: ignore[arg-type]  # on purpose

    @pytest.mark.parametrize(
        ("key", "value"),
        [
            *(("at", "soon"), ("at", "2030-04-01T05:30:00"), ("at", 5), ("boot", [1])),
            *(("boot", [True, "x"]), ("boot", None), ("offset_min", 1.5), ("id", None)),
            *(("offset_min", True), ("kind", "poured"), ("data", []), ("pour", "../x")),
            *(("data", {"v": float("inf")}), ("step", 3), ("recorded_at", "2030")),
        ],
    )
    def test_a_malformed_document_is_named(self, key: str, value: object) -> None:
        document = {**event_to_document(event()), key: value}
        with pytest.raises(LogFault, match=r"^slab\.json: document 7 is not an event"):
            event_from_document(document, "slab.json: document 7")

    @pytest.mark.parametrize("key", list(event_to_document(event())))
    def test_a_missing_key_is_named(self, key: str) -> None:
        document = event_to_document(event())
        del document[key]
        with pytest.raises(LogFault, match=f"event is not an event: {key}: None"):
            event_from_document(document)

    def test_unknown_keys_are_left_alone(self) -> None:
        document = {**event_to_document(event()), "colour": "grey"}
        assert event_from_document(document) == event()

    def test_ids_sort_by_time_and_differ(self) -> None:
        first = [new_event_id(AT) for _ in range(200)]
        later = new_event_id(AT + timedelta(milliseconds=1))
        assert len(set(first)) == 200
        assert max(first) < later < new_event_id(AT.replace(year=2100))


class TestNames:
    @pytest.mark.parametrize("name", ["a", "0", "slab.0401-2", "a" * 80, "a..b"])
    def test_plain_names_are_taken(self, name: str, log: Log) -> None:
        check_pour_name(name)
        log.append(event(pour=name))
        assert log.pours() == [name]

    @pytest.mark.parametrize(
        "name",
        [
            *("", ".", "..", "../x", "a/b", "a\\b", "/etc/passwd", ".hidden", "-rf"),
            *("Slab", "a b", "a\n", "a\0", "å", "a" * 81, "a:b", "\u0667"),
        ],
    )
    def test_others_are_refused_everywhere(self, name: str, log: Log) -> None:
        for use in (check_pour_name, log.events, log.last, log.stamp):
            with pytest.raises(BadInput, match="a pour's name is"):
                use(name)
        with pytest.raises(BadInput):
            event(pour=name)

    def test_a_new_pour_is_job_and_day_and_a_number_when_taken(self) -> None:
        day = date(2030, 4, 1)
        taken: list[str] = []
        for _ in range(3):
            taken.append(new_pour_name("potting-bench-slab", taken, day))
        assert taken == [
            "potting-bench-slab.0401",
            "potting-bench-slab.0401-2",
            "potting-bench-slab.0401-3",
        ]

    @given(job=st.text(max_size=90))
    @settings(max_examples=100, deadline=None)
    def test_a_new_name_is_always_a_good_one(self, job: str) -> None:
        first = new_pour_name(job, (), date(2030, 12, 31))
        check_pour_name(first)
        check_pour_name(new_pour_name(job, {first}, date(2030, 12, 31)))


class TestAppendAndRead:
    def test_an_empty_log_has_nothing_and_makes_nothing(
        self, log: Log, folder: Path
    ) -> None:
        log.append()
        assert (log.pours(), log.events("slab.0401"), log.faults()) == ([], [], {})
        assert log.last("slab.0401") is None
        assert log.stamp("slab.0401") is None
        assert not folder.exists()

    def test_order_is_that_of_recording(self, log: Log, folder: Path) -> None:
        order = [5, 3, 11, 1, 2, 12, 4]
        log.append(*map(event, order[:3]))
        for number in order[3:]:
            log.append(event(number))
        for reader in (log, Log(folder)):
            assert reader.events("slab.0401") == [event(number) for number in order]
            assert reader.last("slab.0401") == event(4)

    def test_pours_are_apart_and_sorted(self, log: Log) -> None:
        log.append(event(1, pour="tub.0401"))
        log.append(event(1, pour="bench.0401"))
        log.append(event(2, pour="tub.0401"))
        assert log.pours() == ["bench.0401", "tub.0401"]
        assert len(log.events("tub.0401")) == 2

    def test_other_files_are_no_pours(self, log: Log, folder: Path) -> None:
        log.append(event())
        for name in (".slab.0401.json.1-2.tmp", "notes.txt", "My list.json", ".x.json"):
            (folder / name).write_text("x")
        for name in (".tub.0401.jnl.1-2.tmp", "tub.0401.jnl.torn-7", "My list.jnl"):
            (folder / "live" / name).write_text("x")
        assert log.pours() == log.open_pours() == ["slab.0401"]

    def test_one_commit_is_about_one_pour(self, log: Log) -> None:
        with pytest.raises(ValueError, match="one pour"):
            log.append(event(1), event(2, pour="tub.0401"))
        assert log.pours() == []

    def test_the_same_event_again_is_not_added(self, log: Log) -> None:
        log.append(event(1))
        log.append(event(1), event(2), event(2))
        assert log.events("slab.0401") == [event(1), event(2)]

    def test_another_event_with_a_known_id_is_refused(self, log: Log) -> None:
        log.append(event(1))
        with pytest.raises(LogFault, match=r"NOT SAVED: .*two different events"):
            log.append(event(2), event(1, step="spray"))
        assert log.events("slab.0401") == [event(1)]

    def test_a_reader_cannot_change_what_the_next_one_gets(self, log: Log) -> None:
        log.append(event())
        log.events("slab.0401").clear()
        assert log.events("slab.0401") == [event()]


class TestStamp:
    def test_differs_after_every_change_and_only_then(
        self, log: Log, folder: Path
    ) -> None:
        reader = Log(folder)
        stamps = [reader.stamp("slab.0401")]
        for number in range(5):
            log.append(event(number))
            stamps.append(reader.stamp("slab.0401"))
            reader.events("slab.0401")
            assert reader.stamp("slab.0401") == stamps[-1]
        assert len(set(stamps)) == 6

    def test_an_unchanged_file_is_not_read_again_and_a_longer_one_from_its_end(
        self, log: Log, folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        log.append(*map(event, range(50)))
        reader = Log(folder)
        assert len(reader.events("slab.0401")) == 50
        reads: list[int] = []
        read = Disk.read

        def counted(disk: Disk, path: Path, offset: int = 0) -> bytes:
            found = read(disk, path, offset)
            reads.append(len(found))
            return found

        monkeypatch.setattr(Disk, "read", counted)
        reader.events("slab.0401")
        reader.last("slab.0401")
        assert reads == []
        log.append(event(51))
        log.append(event(52))
        assert reads == []  # nobody else wrote
        assert reader.last("slab.0401") == event(52)
        whole = (folder / "live" / "slab.0401.jnl").stat().st_size
        assert len(reads) == 1
        assert reads[0] <= whole  # the last line again, and what follows it
        reads.clear()
        log.append(event(53))
        assert reader.last("slab.0401") == event(53)
        assert sum(reads) < 1000 < whole

    def test_a_file_taken_away_is_noticed(self, log: Log, folder: Path) -> None:
        log.append(event())
        (folder / "live" / "slab.0401.jnl").unlink()
        assert log.events("slab.0401") == []
        log.append(event(2))
        assert Log(folder).events("slab.0401") == [event(2)]


class TestTrouble:
    @pytest.mark.parametrize("content", [b"", b"{", b"\0" * 300, b'{"events": {"1": {'])
    def test_a_damaged_file_spoils_its_own_pour_only(
        self, log: Log, folder: Path, content: bytes
    ) -> None:
        log.append(event(1))
        log.append(event(1, pour="tub.0401"))
        log.seal("slab.0401")
        path = folder / "archive" / "2030" / "slab.0401.json"
        path.write_bytes(content)
        for reader in (log, Log(folder)):
            with pytest.raises(LogFault, match="damaged"):
                reader.events("slab.0401")
            assert list(reader.faults()) == ["slab.0401"]
            assert str(path) in str(reader.faults()["slab.0401"])
            assert reader.events("tub.0401") == [event(1, pour="tub.0401")]
            assert reader.pours() == ["slab.0401", "tub.0401"]
        with pytest.raises(LogFault, match=r"^NOT SAVED: .*damaged"):
            log.append(event(2))
        assert path.read_bytes() == content
        log.append(event(2, pour="tub.0401"))

    @pytest.mark.parametrize(
        ("tables", "words"),
        [
            ({"about": {"1": {"schema": 2}}, "events": {}}, "schema 2"),
            ({"events": {"1": event_to_document(event())}}, "schema None"),
            ({"about": {"1": {"schema": 1}}, "events": {"4": {}}}, "document 4 is not"),
            (
                {
                    "about": {"1": {"schema": 1}},
                    "events": {"1": event_to_document(event(pour="tub.0401"))},
                },
                "holds an event of tub.0401",
            ),
        ],
    )
    def test_a_file_of_another_kind_is_neither_read_nor_written(
        self, log: Log, folder: Path, tables: dict[str, object], words: str
    ) -> None:
        folder.mkdir()
        path = folder / "slab.0401.json"
        path.write_text(json.dumps(tables))
        assert words in str(log.faults()["slab.0401"])
        with pytest.raises(LogFault, match="NOT SAVED"):
            log.append(event())
        assert json.loads(path.read_text()) == tables

    def test_a_busy_log_is_said_after_the_wait(
        self, log: Log, folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        log.append(event(1))
        monkeypatch.setattr(disk_module, "LOCK_WAIT_S", 0.05)
        with (
            Disk().alone(folder),
            pytest.raises(LogFault, match="NOT SAVED: another program"),
        ):
            log.append(event(2))
        assert log.events("slab.0401") == [event(1)]  # readers do not wait

    def test_a_damaged_journal_is_shown_located_and_set_aside(
        self, log: Log, folder: Path
    ) -> None:
        for number in range(5):
            log.append(event(number))
        log.append(event(1, pour="tub.0401"))
        path = folder / "live" / "slab.0401.jnl"
        lines = path.read_bytes().splitlines(keepends=True)
        raw = b"".join([*lines[:2], lines[2].replace(b"note 2", b"note 7"), *lines[3:]])
        path.write_bytes(raw)
        rest = [event(number) for number in (0, 1, 3, 4)]
        log = Log(folder)
        for reader in (log, Log(folder)):
            assert reader.events("slab.0401") == rest
            assert list(reader.faults()) == ["slab.0401"]
            at = len(lines[0] + lines[1])
            assert f"{path} is damaged (line 3 at byte {at} " in str(
                reader.fault("slab.0401")
            )
            for act in (lambda: log.append(event(9)), lambda: log.seal("slab.0401")):
                with pytest.raises(LogFault, match=r"damaged .*--set-aside slab.0401"):
                    act()
        assert path.read_bytes() == raw
        log.append(event(2, pour="tub.0401"))
        aside = log.set_aside("slab.0401")
        assert aside == folder / "live" / "slab.0401.jnl.damaged"
        assert aside.read_bytes() == raw
        assert log.set_aside("slab.0401") is None
        for reader in (log, Log(folder)):
            assert reader.faults() == {}
            assert reader.events("slab.0401") == rest
        log.append(event(9))
        assert Log(folder).events("slab.0401") == [*rest, event(9)]

    def test_a_file_where_the_folder_should_be_is_named(self, folder: Path) -> None:
        folder.write_text("x")
        with pytest.raises(LogFault, match="NOT SAVED: cannot write"):
            Log(folder).append(event())
        with pytest.raises(LogFault, match="cannot read"):
            Log(folder).pours()


# All start at the same word, and none goes on before the log holds the others' latest
# events: they overlap from first to last, however the machine shares out its time.
WRITER = """
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from time import sleep
from scheduling.event import Event
from scheduling.log import Log

folder, name, others = Path(sys.argv[1]), sys.argv[2], int(sys.argv[4])
log = Log(folder)
at = datetime(2030, 4, 1, tzinfo=UTC)
event = Event("x", at, at, (1, "0f1e2d3c"), "UTC", 0, "slab.0401", "note", by=name)
print("ready", flush=True)
sys.stdin.readline()
for number in range(int(sys.argv[3])):
    log.append(replace(event, id=f"{name}-{number:03d}"))
    print(number, flush=True)
    for _ in range(5000 if others else 0):
        round_of = {each.by for each in log.events("slab.0401")
                    if each.id.endswith(f"-{number:03d}")}
        if len(round_of) > others:
            break
        sleep(0.001)
    else:
        if others:
            sys.exit("an event of this round was lost")
"""


def writer(
    folder: Path, name: str, count: int, others: int = 0
) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder), name, str(count), str(others)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def start(process: subprocess.Popen[str]) -> None:
    assert process.stdout is not None
    assert process.stdin is not None
    assert process.stdout.readline() == "ready\n"
    process.stdin.write("go\n")
    process.stdin.flush()


class TestSeveralWriters:
    def test_two_programs_lose_none_and_a_reader_beside_them_sees_order(
        self, log: Log, folder: Path
    ) -> None:
        writers = [writer(folder, name, 50, others=1) for name in ("a", "b")]
        for process in writers:
            start(process)
        seen: list[Event] = []
        while len(seen) < 100 and any(each.poll() is None for each in writers):
            now = log.events("slab.0401")
            assert now[: len(seen)] == seen  # only ever added to
            seen = now
        for process in writers:
            process.communicate(timeout=30)
            assert process.returncode == 0
        found = log.events("slab.0401")
        assert len(found) == 100
        for name in ("a", "b"):
            own = [each.id for each in found if each.by == name]
            assert own == [f"{name}-{number:03d}" for number in range(50)]

    @pytest.mark.parametrize("acknowledged", [1, 4, 9])
    def test_a_killed_program_loses_nothing_acknowledged_and_frees_the_lock(
        self, log: Log, folder: Path, acknowledged: int
    ) -> None:
        process = writer(folder, "a", 10_000)
        start(process)
        assert process.stdout is not None
        for _ in range(acknowledged):
            process.stdout.readline()
        process.kill()
        # Not communicate(): it passes over the lines readline() has in its buffer.
        told = acknowledged + len(process.stdout.read().split())
        process.communicate()
        found = [each.id for each in log.events("slab.0401")]
        assert len(found) - told in (0, 1)
        assert found == [f"a-{number:03d}" for number in range(len(found))]
        log.append(event())
        assert log.last("slab.0401") == event()

    def test_threads_of_one_program_lose_none(self, log: Log) -> None:
        def write(first: int) -> None:
            for number in range(first, first + 15):
                log.append(event(number))

        threads = [threading.Thread(target=write, args=(n,)) for n in (100, 200, 300)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len({each.id for each in log.events("slab.0401")}) == 45
