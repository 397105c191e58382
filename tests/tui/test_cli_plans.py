"""``timeline``, ``takeoff`` and ``new``: what programs and people get."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from scheduling.clock import SimulatedTime
from scheduling.folder import ShopFolder
from tui.cli import main

NOW = datetime(2030, 4, 1, 3, 0, tzinfo=UTC)  # Monday 05:00 in Oslo, before opening
SECOND = timedelta(seconds=1)
STEP_KEYS = {
    "step",
    "phase",
    "zone",
    "kind",
    "start",
    "finish",
    "minutes",
    "crew",
    "equipment",
    "clock",
    "reference_min",
    "standing",
    "opens",
    "closes",
}
EXTRA_KEYS = {"caution", "slack_min", "finishes"}
TAKEOFF_KEYS = {
    "face_area_m2",
    "upright_area_m2",
    "edge_m",
    "fillet_m",
    "corners",
    "volume_l",
    "face_kg",
    "back_kg",
    "piece_kg",
    "hands_on_h",
}


@pytest.fixture
def shop(tmp_path):
    """The sample shop, in Oslo."""
    folder = ShopFolder(tmp_path / "shop")
    folder.adopt_samples()
    text = folder.shop_file.read_text(encoding="utf-8")
    text = text.replace('# zone = "Europe/Oslo"', 'zone = "Europe/Oslo"')
    folder.shop_file.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def cli(shop, capsys):
    """Runs a command; returns its exit status, output and errors."""

    def run(*words):
        argv = [str(word) for word in words]
        code = main(["--shop", str(shop.path), *argv], time=SimulatedTime(NOW))
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return run


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


class TestTimeline:
    def timeline(self, cli, *words):
        code, out, err = cli("timeline", *words, "--json")
        assert (code, err) == (0, "")
        return json.loads(out)

    def test_has_the_keys_that_programs_rely_on(self, cli):
        found = self.timeline(cli, "two-legged-desk")
        assert set(found) == {
            "job",
            "start",
            "conditions",
            "steps",
            "demould",
            "seal",
            "ship",
            "spraying",
            "notices",
            "thresholds",
        }
        assert set(found["conditions"]) == {"temp_c", "rh_pct", "wind_kmh"}
        assert set(found["demould"]) == {"p10", "p50", "p90"}
        for step in found["steps"]:
            assert set(step) == STEP_KEYS | EXTRA_KEYS
            assert step["kind"] in ("hands-on", "wait")
            for window in (step["opens"], step["closes"], step["finishes"]):
                assert window is None or set(window) == {"p10", "p50", "p90"}

    def test_what_does_not_apply_is_null(self, cli):
        steps = self.timeline(cli, "potting-bench-slab")["steps"]
        mixing = next(s for s in steps if s["step"] == "mix-face")
        for key in ("zone", "clock", "reference_min", "standing", "opens", "closes"):
            assert mixing[key] is None
        waits = [s for s in steps if s["kind"] == "wait"]
        assert all(s["clock"] and s["standing"] and s["crew"] == 0 for s in waits)

    def test_starts_when_the_shop_next_opens(self, cli):
        found = self.timeline(cli, "two-legged-desk")
        assert found["start"] == "2030-04-01T07:30:00+02:00"

    @pytest.mark.parametrize(
        ("job", "zones", "demould_h"),
        [
            ("potting-bench-slab", ["slab"], 18),
            ("two-legged-desk", ["left leg", "right leg", "top"], 24),
        ],
    )
    def test_at_21_degrees_the_clocks_run_one_to_one(self, cli, job, zones, demould_h):
        # Thresholds of the stated model, each an estimate: face opens 18 and closes
        # 45 minutes after spraying, demould 18 h, 24 h with a basin or legs.
        found = self.timeline(cli, job, "--temp", 21)
        waits = {
            step["zone"]: step for step in found["steps"] if step["step"] == "face wait"
        }
        assert list(waits) == zones
        for wait in waits.values():
            start, opens, closes = (
                datetime.fromisoformat(text)
                for text in (wait["start"], wait["opens"]["p50"], wait["closes"]["p50"])
            )
            assert abs(opens - start - timedelta(minutes=18)) <= SECOND
            assert abs(closes - start - timedelta(minutes=45)) <= SECOND
            assert wait["minutes"] == pytest.approx(18, abs=0.01)
            assert wait["clock"] == "face"
        cure = next(s for s in found["steps"] if s["step"] == "cure")
        demould = datetime.fromisoformat(found["demould"]["p50"])
        waited = demould - datetime.fromisoformat(cure["start"])
        assert abs(waited - timedelta(hours=demould_h)) <= SECOND
        assert found["demould"] == cure["opens"]

    def test_warmer_opens_sooner_and_wetter_later(self, cli):
        def wait(*air):
            steps = self.timeline(cli, "potting-bench-slab", *air)["steps"]
            return next(s["minutes"] for s in steps if s["step"] == "face wait")

        assert wait("--temp", 30) < wait("--temp", 21) < wait("--temp", 10)
        assert wait("--temp", 21, "--rh", 90) > wait("--temp", 21)
        assert wait("--temp", 21, "--wind", 12) < wait("--temp", 21)

    def test_a_temperature_alone_means_half_humid_and_still_air(self, cli):
        found = self.timeline(cli, "bare", "--temp", "-3.5")
        assert found["conditions"] == {"temp_c": -3.5, "rh_pct": 50, "wind_kmh": 0}

    def test_humidity_alone_keeps_the_typical_day(self, cli):
        usual = self.timeline(cli, "bare")["conditions"]
        found = self.timeline(cli, "bare", "--rh", 80)["conditions"]
        assert found == {**usual, "rh_pct": 80}
        assert 17 < usual["temp_c"] < 22

    def test_a_logger_bends_the_typical_day(self, cli, tmp_path):
        path = tmp_path / "logger.csv"
        path.write_text("time,temp_c\n2030-04-01 07:00,9\n2030-04-01 09:00,11\n")
        found = self.timeline(cli, "bare", "--climate", path)
        assert found["conditions"]["temp_c"] == pytest.approx(9.5)

    def test_a_later_casting_has_less_form_to_build(self, cli):
        def build(casting):
            steps = self.timeline(cli, "stair-hall-panels", "--casting", casting)
            return sum(
                s["minutes"] for s in steps["steps"] if s["phase"] == "form build"
            )

        assert build(2) < build(1)

    def test_times_follow_the_shop_through_a_clock_change(self, cli):
        found = self.timeline(cli, "potting-bench-slab", "--start", "2030-03-29 07:30")
        offsets = {step["start"][-6:] for step in found["steps"]}
        assert offsets == {"+01:00", "+02:00"}

    def test_people_get_days_windows_and_cautions_in_80_columns(self, cli):
        code, out, _ = cli("timeline", "two-legged-desk", "--temp", 21)
        lines = out.splitlines()
        assert code == 0
        assert max(map(len, lines)) <= 80
        assert "Tue 2 April" in lines
        face = next(one for one in lines if "face wait left leg" in one)
        assert "  18 min  opens 09:27 (" in face
        assert face.endswith("closes 09:54")
        assert any(one.startswith("demould ready Wed 11:20 (") for one in lines)
        assert any(one.startswith("[1] ") for one in lines)

    def test_the_air_and_the_end_of_the_job_are_said(self, cli):
        code, out, _ = cli("timeline", "trough-vanity", "--temp", 8, "--rh", 90)
        said = " ".join(out.split())
        assert code == 0
        assert max(map(len, out.splitlines())) <= 80
        assert "dew point 6.5 °C" in said
        assert "evaporation at the spraying: fine (Uno 0.01" in said
        assert "Menzel 0.01 kg/m²h)" in said
        assert "seal from " in said
        assert "ship from " in said
        assert "! the piece cools to 8.0 °C in its first day" in said
        assert "! coat 1: surface 8.0 °C, air at 90 %" in said

    def test_the_same_for_programs(self, cli):
        hot = ("--temp", 32, "--rh", 30, "--wind", 5)
        found = self.timeline(cli, "trough-vanity", *hot)
        assert set(found["spraying"]) == {
            "at",
            "evaporation_kg_m2h",
            "evaporation_menzel_kg_m2h",
            "evaporation",
        }
        assert found["spraying"]["evaporation"] == "act"
        assert found["spraying"]["evaporation_kg_m2h"] == pytest.approx(0.56, abs=0.01)
        for end in ("seal", "ship"):
            assert set(found[end]) == {"p10", "p50", "p90"}
        told = {one["what"]: one for one in found["notices"]}
        assert {"evaporation", "two-part"} <= set(told)
        assert all(
            set(one) == {"what", "words", "standing", "warns"} for one in told.values()
        )

    def test_people_are_told_when_the_window_is_too_short(self, cli):
        hot = ("--temp", 35, "--rh", 20, "--wind", 15)
        _, out, _ = cli("timeline", "two-legged-desk", *hot)
        words = " ".join(out.split())
        assert "! lift 1 in left leg ends 14 min after the window closes" in words
        assert "another pair of hands, zones in turn, cover, or another day" in words
        _, out, _ = cli("timeline", "potting-bench-slab", "--temp", 21)
        warnings = [line for line in out.splitlines() if line.startswith("!")]
        assert [line[:12] for line in warnings] == ["! coat 1 wou"]  # at 3.7 days

    def test_us_units_for_people(self, cli, shop):
        text = shop.shop_file.read_text(encoding="utf-8")
        shop.shop_file.write_text(text.replace('units = "si"', 'units = "us"'))
        _, out, _ = cli("timeline", "bare", "--temp", 21)
        assert "70 °F" in out
        _, out, _ = cli("takeoff", "two-legged-desk")
        assert " lb" in out
        assert " ft²" in out


class TestTakeoff:
    def test_is_exact_in_its_keys_and_agrees_with_itself(self, cli):
        code, out, _ = cli("takeoff", "two-legged-desk", "--json")
        found = json.loads(out)
        assert code == 0
        assert set(found) == TAKEOFF_KEYS
        parts = found["face_kg"] + found["back_kg"]
        assert found["piece_kg"] == pytest.approx(parts, abs=0.01)
        assert found["upright_area_m2"] < found["face_area_m2"]

    def test_takes_a_path_and_the_shops_own_jobs(self, cli, shop):
        path = shop.jobs / "court-bench.toml"
        assert cli("takeoff", path, "--json") == cli("takeoff", "court-bench", "--json")

    def test_tells_people_how_to_lift_it(self, cli):
        code, out, _ = cli("takeoff", "trough-vanity")
        assert code == 0
        assert "Lifting: " in out
        assert "equal batches of" in out

    def test_writes_nothing(self, cli, shop):
        before = contents(shop.path)
        cli("takeoff", "two-legged-desk")
        cli("timeline", "two-legged-desk")
        assert contents(shop.path) == before


class TestNew:
    def test_copies_a_sample_that_can_be_used_at_once(self, cli, shop):
        code, out, _ = cli("new", "two-legged-desk", "--as", "hall-desk")
        path = Path(out.strip())
        assert code == 0
        assert path == shop.jobs / "hall-desk.toml"
        assert path.read_text(encoding="utf-8").startswith("# ")
        assert cli("takeoff", "hall-desk", "--json")[0] == 0

    def test_makes_the_shop_file_of_an_empty_folder(self, tmp_path, capsys):
        folder = tmp_path / "fresh"
        assert main(["new", "shop", "--shop", str(folder), "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["path"] == str(folder / "shop.toml")
        assert ShopFolder(folder).shop().name

    @pytest.mark.parametrize(
        "words",
        [
            ("two-legged-desk",),
            ("shop",),
            ("no-such-sample",),
            ("shop", "--as", "other"),
            ("court-bench", "--as", "../above"),
            ("court-bench", "--as", "Not An Id"),
        ],
    )
    def test_never_overwrites_and_takes_only_ids(self, cli, shop, words):
        before = contents(shop.path.parent)
        code, out, err = cli("new", *words)
        assert (code, out) == (2, "")
        assert err.count("\n") == 1
        assert contents(shop.path.parent) == before
