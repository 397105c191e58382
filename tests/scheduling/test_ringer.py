"""The loop that rings: at its moment, again until it is answered, whatever breaks."""

from __future__ import annotations

import asyncio
import logging
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.alert import Alert
from scheduling.clock import SimulatedTime, WallTime
from scheduling.ringer import Ringer

START = datetime(2030, 4, 1, 9, 0, tzinfo=UTC)
SECOND = timedelta(seconds=1)


def alert(name="touch-test/lift-1/field/0", due=START, pour="slab.0401"):
    return Alert(
        id=name,
        kind="touch-test",
        shape="note",
        due=due,
        pour=pour,
        step="lift-1",
        zone="field",
        word="TOUCH",
        line="Touch field: soft, ready, going off or gone?",
        chain="face/field",
    )


class Shop:
    """A source of alerts that says what it is told, and a log of the noise."""

    def __init__(self, *alerts, time=None):
        self.time = time or SimulatedTime(START)
        self.alerts = list(alerts)
        self.rings = []
        self.quiet = []
        self.broken = False
        self.rang = asyncio.Event()
        self.ringer = Ringer(
            self.time,
            source=self.due,
            next_due=self.next_due,
            on_ring=self.on_ring,
            on_quiet=self.quiet.append,
        )

    def due(self, now):
        if self.broken:
            raise RuntimeError("the log cannot be read")
        return [alert for alert in self.alerts if alert.due <= now]

    def next_due(self, now):
        return min((a.due for a in self.alerts if a.due > now), default=None)

    def on_ring(self, ring):
        self.rings.append(ring)
        self.rang.set()

    def wait(self, seconds):
        self.time.advance_to(self.time.now() + seconds * SECOND)


@pytest.fixture
def shop():
    return Shop(alert())


class TestChecks:
    def test_rings_once_when_it_is_due_and_not_before(self):
        shop = Shop(alert(due=START + SECOND))
        shop.ringer.check(0)
        assert shop.rings == []
        shop.wait(1)
        shop.ringer.check(1)
        assert [ring.repeat for ring in shop.rings] == [0]

    def test_checking_again_and_again_changes_nothing(self, shop):
        for _ in range(5):
            shop.ringer.check(0)
        assert len(shop.rings) == 1
        assert shop.quiet == []

    def test_repeats_after_20_and_20_then_every_30_real_seconds(self, shop):
        times = []
        for tenth in range(1500):
            before = len(shop.rings)
            shop.ringer.check(tenth / 10)
            if len(shop.rings) > before:
                times.append(tenth / 10)
        assert times == [0, 20, 40, 70, 100, 130]
        assert [ring.repeat for ring in shop.rings] == [0, 1, 2, 3, 4, 5]

    def test_repeats_are_in_real_time_however_fast_the_clock_runs(self, shop):
        shop.ringer.check(0)
        shop.wait(3600)
        shop.ringer.check(19)
        assert len(shop.rings) == 1

    def test_stops_when_it_is_answered_and_says_so_once(self, shop):
        shop.ringer.check(0)
        (answered,) = shop.alerts
        shop.alerts = []
        for second in (1, 25, 60):
            shop.ringer.check(second)
        assert len(shop.rings) == 1
        assert shop.quiet == [answered]

    def test_what_comes_back_rings_anew(self, shop):
        shop.ringer.check(0)
        kept, shop.alerts = shop.alerts, []
        shop.ringer.check(1)
        shop.alerts = kept
        shop.ringer.check(2)
        assert [ring.repeat for ring in shop.rings] == [0, 0]

    @pytest.mark.parametrize(("late", "said"), [(0, 0), (5, 0), (6, 6), (600, 600)])
    def test_says_how_late_it_is(self, late, said):
        shop = Shop(alert())
        shop.wait(late)
        shop.ringer.check(0)
        assert shop.rings[0].late_s == pytest.approx(said, abs=0.01)

    def test_a_repeat_is_as_late_as_the_first_ring(self):
        shop = Shop(alert())
        shop.wait(60)
        shop.ringer.check(0)
        shop.wait(60)
        shop.ringer.check(60)
        assert [ring.late_s for ring in shop.rings] == [60, 60]

    def test_several_ring_side_by_side_and_pours_do_not_mix(self):
        shop = Shop(alert(), alert(pour="bare.0401"), alert(name="cover/cover"))
        shop.ringer.check(0)
        assert len(shop.rings) == 3
        shop.alerts.pop(1)
        shop.ringer.check(1)
        assert [one.pour for one in shop.quiet] == ["bare.0401"]


@pytest.fixture
def no_tick(monkeypatch):
    """Without the tick only the fine timer can ring, however busy the machine is."""
    monkeypatch.setattr("scheduling.ringer._TICK_S", 3600)


class TestLoop:
    @pytest.mark.usefixtures("no_tick")
    async def test_the_fine_timer_rings_by_itself(self):
        """A fast clock: due 12 simulated seconds ahead, 0.2 s of real time."""
        time = SimulatedTime(START, speed=60)
        shop = Shop(alert(due=START + 12 * SECOND), time=time)
        shop.ringer.start()
        try:
            await asyncio.wait_for(shop.rang.wait(), timeout=20)
        finally:
            shop.ringer.stop()
        (ring,) = shop.rings
        assert time.now() >= ring.alert.due

    @pytest.mark.usefixtures("no_tick")
    async def test_on_the_machine_s_own_clock_too(self):
        wall = WallTime()
        shop = Shop(time=wall)
        shop.ringer.start()
        try:
            due = wall.now() + 0.2 * SECOND
            shop.alerts = [alert(due=due)]
            shop.ringer.arm()
            await asyncio.wait_for(shop.rang.wait(), timeout=20)
            assert wall.now() >= due
        finally:
            shop.ringer.stop()

    @pytest.mark.usefixtures("no_tick")
    async def test_arming_anew_after_a_change_moves_the_timer(self):
        time = SimulatedTime(START, speed=60)
        shop = Shop(alert(due=START + timedelta(hours=1)), time=time)
        shop.ringer.start()
        try:
            shop.alerts = [alert(due=time.now() + 6 * SECOND)]
            shop.ringer.arm()
            await asyncio.wait_for(shop.rang.wait(), timeout=20)
        finally:
            shop.ringer.stop()
        assert time.now() < START + timedelta(hours=1)

    async def test_a_source_that_raises_stops_nothing(self, caplog, monkeypatch):
        monkeypatch.setattr("scheduling.ringer._TICK_S", 0.02)
        shop = Shop(alert())
        shop.broken = True
        with caplog.at_level(logging.ERROR):
            shop.ringer.start()
            try:
                await asyncio.sleep(0.1)
                assert shop.rings == []
                assert "the next tick tries again" in caplog.text
                shop.broken = False
                await asyncio.wait_for(shop.rang.wait(), timeout=20)
            finally:
                shop.ringer.stop()

    async def test_after_the_stop_nothing_rings(self, monkeypatch):
        monkeypatch.setattr("scheduling.ringer._TICK_S", 0.02)
        shop = Shop(alert(due=START + SECOND))
        shop.ringer.start()
        shop.ringer.stop()
        shop.wait(5)
        shop.ringer.arm()
        await asyncio.sleep(0.1)
        assert shop.rings == []

    async def test_a_clock_that_stands_still_sets_no_timer(self, monkeypatch):
        monkeypatch.setattr("scheduling.ringer._TICK_S", 0.02)
        shop = Shop(alert(due=START + SECOND))
        shop.ringer.start()
        try:
            await asyncio.sleep(0.06)
            assert shop.rings == []
            shop.wait(1)
            await asyncio.wait_for(shop.rang.wait(), timeout=20)
        finally:
            shop.ringer.stop()
