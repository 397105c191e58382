"""The whole-file storage: the old content survives whatever goes wrong."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tinydb import TinyDB, where

from scheduling.disk import Disk
from scheduling.errors import LogFault
from scheduling.plainjson import plain_json
from scheduling.storage import WholeFileStorage
from support.memorydisk import MemoryDisk

OLD = {"events": {"1": {"note": "old"}}}
NEW = {"events": {"1": {"note": "new"}}}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "slab.0401.json"


def full(*_: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


class TestReadAndWrite:
    def test_a_missing_file_is_none_and_stays_missing(self, path: Path) -> None:
        assert WholeFileStorage(path).read() is None
        assert not path.exists()

    def test_what_was_written_is_read_and_nothing_else_is_left(
        self, path: Path
    ) -> None:
        storage = WholeFileStorage(path)
        storage.write(OLD)
        storage.write(NEW)
        assert WholeFileStorage(path).read() == NEW
        assert list(path.parent.iterdir()) == [path]

    def test_tinydb_works_on_it_and_without_it(self, path: Path) -> None:
        with TinyDB(path, storage=WholeFileStorage) as db:
            db.insert_multiple([{"n": 1}, {"n": 2}, {"n": 3}])
            db.update({"n": 9}, where("n") == 2)
            db.remove(where("n") == 1)
        with TinyDB(path) as stock:
            assert [(each.doc_id, each["n"]) for each in stock] == [(2, 9), (3, 3)]

    def test_the_file_is_ascii(self, path: Path) -> None:
        WholeFileStorage(path).write({"events": {"1": {"note": "støpt 😀"}}})
        assert path.read_bytes().isascii()

    def test_disk_sees_content_then_name_then_folder(self) -> None:
        disk = MemoryDisk()
        calls: list[str] = []
        disk.before = lambda call, _path: calls.append(call)
        WholeFileStorage(disk.root / "slab.json", disk).write(OLD)
        assert calls == ["open", "append", "sync", "replace", "sync_folder"]


class TestTroubleWhileWriting:
    @pytest.mark.parametrize("call", ["replace", "sync", "append", "open"])
    def test_a_full_disk_leaves_the_old_content(
        self, path: Path, monkeypatch: pytest.MonkeyPatch, call: str
    ) -> None:
        storage = WholeFileStorage(path)
        storage.write(OLD)
        before = path.read_bytes()
        with monkeypatch.context() as patched:
            patched.setattr(Disk, call, full)
            with pytest.raises(LogFault, match=r"^NOT SAVED: .*No space left"):
                storage.write(NEW)
        assert path.read_bytes() == before
        assert list(path.parent.iterdir()) == [path]
        storage.write(NEW)
        assert storage.read() == NEW

    def test_a_folder_that_cannot_be_synced_is_not_called_saved(
        self, path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        storage = WholeFileStorage(path)

        def fails(*_: object) -> None:
            raise OSError(errno.EIO, "Input/output error")

        monkeypatch.setattr(Disk, "sync_folder", fails)
        with pytest.raises(LogFault, match=r"^NOT SAVED: .*Input/output error"):
            storage.write(OLD)
        assert storage.read() == OLD  # whole, though not for certain durable

    @pytest.mark.parametrize(
        "value", [float("nan"), float("inf"), float("-inf"), {1, 2}, b"x", object()]
    )
    def test_what_is_not_json_is_refused_before_anything_is_touched(
        self, path: Path, value: object
    ) -> None:
        storage = WholeFileStorage(path)
        storage.write(OLD)
        with pytest.raises(LogFault, match="NOT SAVED"):
            storage.write({"events": {"1": {"value": value}}})
        assert storage.read() == OLD

    def test_a_missing_folder_is_named(self, tmp_path: Path) -> None:
        path = tmp_path / "gone" / "slab.json"
        with pytest.raises(LogFault, match=r"NOT SAVED: .*gone/slab\.json"):
            WholeFileStorage(path).write(OLD)


class TestDamage:
    @pytest.mark.parametrize(
        "content",
        [
            *(b"", b" ", b"{", b'{"events": {"1": {', b"null", b"[]", b"3"),
            *(b'{"events": []}', b'{"events": {"1": 2}}', b'{"events": {"x": {}}}'),
            *(b'{"events": {"-1": {}}}', b"\xff\xfe{}", b"\0" * 64, b"[" * 100_000),
            *(b'{"e": {"1": {"v": NaN}}}', b'{"e": {"1": {"v": -Infinity}}}'),
            b'{"e": {"1": {"v": ' + b"9" * 5000 + b"}}}",
            b'{"e": {"' + b"9" * 5000 + b'": {}}}',
        ],
    )
    def test_is_reported_with_the_file_and_what_to_do(
        self, path: Path, content: bytes
    ) -> None:
        path.write_bytes(content)
        with pytest.raises(LogFault) as caught:
            WholeFileStorage(path).read()
        assert str(path) in str(caught.value)
        assert "Put a good copy in its place" in str(caught.value)
        assert path.read_bytes() == content

    def test_every_shorter_file_is_reported(self, path: Path) -> None:
        storage = WholeFileStorage(path)
        storage.write(OLD)
        whole = path.read_bytes()
        for length in range(len(whole)):
            path.write_bytes(whole[:length])
            with pytest.raises(LogFault, match="damaged"):
                storage.read()

    def test_a_file_that_may_not_be_read_is_named(self, path: Path) -> None:
        path.mkdir()
        with pytest.raises(LogFault, match="cannot be read"):
            WholeFileStorage(path).read()


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**63) + 1, 2**63 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3)
    ),
    max_leaves=12,
)


class TestPlainJson:
    @given(value=json_values)
    @settings(max_examples=200, deadline=None)
    def test_what_it_lets_through_comes_back_equal(
        self, tmp_path_factory: pytest.TempPathFactory, value: object
    ) -> None:
        storage = WholeFileStorage(tmp_path_factory.getbasetemp() / "plain.json")
        storage.write({"t": {"1": {"v": plain_json(value, "v")}}})
        assert storage.read() == {"t": {"1": {"v": value}}}

    def test_copies(self) -> None:
        inner = [1]
        copy = plain_json({"a": inner, "b": (1, (2,))}, "data")
        inner.append(2)
        assert copy == {"a": [1], "b": [1, [2]]}

    @pytest.mark.parametrize(
        "value",
        [
            *(float("nan"), float("inf"), 2**63, b"x", {1}, 1j, object()),
            *("\ud83d\ude00", "a\udc80", {"\ud800": 1}, {1: 2}, {None: 1}),
            pytest.param(10**5000, id="5000 digits"),
        ],
    )
    def test_what_would_not_is_refused_by_its_place(self, value: object) -> None:
        with pytest.raises(LogFault, match=r"^data\.a\[1\]: ") as caught:
            plain_json({"a": [0, value]}, "data")
        assert str(caught.value).isprintable()

    def test_endless_depth_is_refused(self) -> None:
        value: list[object] = []
        value.append(value)
        with pytest.raises(LogFault, match="32 deep"):
            plain_json(value, "data")
