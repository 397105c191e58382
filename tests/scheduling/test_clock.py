"""Where the time comes from: the machine's, and a simulated one."""

import time
from datetime import UTC, datetime, timedelta
from math import inf, nan
from zoneinfo import ZoneInfo

import pytest

from scheduling import clock
from scheduling.clock import SimulatedTime, WallTime

START = datetime(2030, 4, 1, 7, 30, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def monotonic(monkeypatch):
    """Real seconds, moved by hand."""
    seconds = [1000.0]
    monkeypatch.setattr(clock.time, "monotonic", lambda: seconds[0])
    return seconds


class TestWallTime:
    def test_now_is_aware_and_moves(self):
        source = WallTime()
        first = source.now()
        assert first.utcoffset() == timedelta(0)
        assert timedelta(0) <= source.now() - first < timedelta(minutes=1)

    @pytest.mark.skipif(
        not hasattr(time, "CLOCK_BOOTTIME"), reason="no boot clock on this system"
    )
    def test_boot_counts_from_the_start_of_the_machine(self):
        source = WallTime()
        ms, boot_id = source.boot()
        again, same_id = source.boot()
        expected = time.clock_gettime(time.CLOCK_BOOTTIME) * 1000
        assert 0 <= expected - ms < 60_000
        assert again >= ms
        assert boot_id == same_id
        assert len(boot_id) in (0, 8)

    def test_without_a_boot_clock_it_is_monotonic_and_nameless(self, monkeypatch):
        monkeypatch.delattr(clock.time, "CLOCK_BOOTTIME", raising=False)
        ms, boot_id = WallTime().boot()
        real_s = time.monotonic()  # noqa: TID251 - what it falls back on
        assert abs(real_s * 1000 - ms) < 60_000
        assert boot_id == ""

    def test_without_a_boot_id_it_is_nameless(self, monkeypatch, tmp_path):
        monkeypatch.setattr(clock, "_BOOT_ID", tmp_path / "none")
        assert WallTime().boot()[1] == ""

    def test_the_boot_id_is_shortened(self, monkeypatch, tmp_path):
        path = tmp_path / "boot_id"
        path.write_text("0123abcd-1111-2222-3333-444444444444\n")
        monkeypatch.setattr(clock, "_BOOT_ID", path)
        monkeypatch.setattr(clock.time, "CLOCK_BOOTTIME", 1, raising=False)
        assert WallTime().boot()[1] == "0123abcd"

    def test_real_seconds(self):
        source = WallTime()
        assert source.real_seconds(source.now() - HOUR) == 0
        assert 3500 < source.real_seconds(source.now() + HOUR) <= 3600


class TestStandingStill:
    def test_stays_until_moved(self, monotonic):
        source = SimulatedTime(START)
        monotonic[0] += 500
        assert source.now() == START
        source.advance_to(START + HOUR)
        monotonic[0] += 500
        assert source.now() == START + HOUR
        assert source.boot() == (3_600_000, "")

    @pytest.mark.usefixtures("monotonic")
    def test_never_goes_back(self):
        source = SimulatedTime(START)
        source.advance_to(START - HOUR)
        assert source.now() == START

    @pytest.mark.usefixtures("monotonic")
    def test_waits_for_ever(self):
        source = SimulatedTime(START)
        assert source.real_seconds(START + HOUR) == inf
        assert source.real_seconds(START) == 0

    @pytest.mark.usefixtures("monotonic")
    def test_shows_utc(self):
        start = START.astimezone(ZoneInfo("Europe/Oslo"))
        source = SimulatedTime(start)
        assert source.now() == START
        assert source.now().tzinfo is UTC


class TestRunning:
    def test_runs_at_its_speed(self, monotonic):
        source = SimulatedTime(START, speed=60)
        monotonic[0] += 30
        assert source.now() == START + HOUR / 2
        assert source.boot() == (1_800_000, "")
        assert source.real_seconds(START + HOUR) == 30
        assert source.real_seconds(START) == 0

    def test_jumps_forward_and_runs_on(self, monotonic):
        source = SimulatedTime(START, speed=60)
        monotonic[0] += 30
        source.advance_to(START + 2 * HOUR)
        monotonic[0] += 60
        assert source.now() == START + 3 * HOUR

    def test_a_jump_into_the_past_changes_nothing(self, monotonic):
        source = SimulatedTime(START, speed=60)
        monotonic[0] += 60
        source.advance_to(START + HOUR / 2)
        assert source.now() == START + HOUR
        monotonic[0] += 60
        assert source.now() == START + 2 * HOUR


@pytest.mark.parametrize("speed", [-1, nan, inf])
def test_a_speed_of_no_use_is_refused(speed):
    with pytest.raises(ValueError, match="speed"):
        SimulatedTime(START, speed)


def test_a_naive_start_is_refused():
    with pytest.raises(ValueError, match="zone"):
        SimulatedTime(START.replace(tzinfo=None))
