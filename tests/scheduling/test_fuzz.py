"""F1 to F4: random bad input is read as meant or refused in one way."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from scheduling.errors import BadInput
from scheduling.folder import ShopFolder
from scheduling.jobfile import read_job
from scheduling.readings import read_readings
from scheduling.times import read_time
from scheduling.units import Units
from support import fuzz


def test_typed_times():
    found = fuzz.times(20_000)
    assert found["read"] > 50
    assert found["refused"] > 10_000


def test_temperatures(folder):
    found = fuzz.temperatures(5_000, folder.path)
    assert found["read"] > 100
    assert found["refused"] > 2_000


def test_toml(tmp_path):
    found = fuzz.toml(2_000, tmp_path)
    assert found["read"] > 50
    assert found["refused"] > 500


def test_climate_csv(tmp_path):
    found = fuzz.climate_csv(500, tmp_path)
    assert found["read"] > 3
    assert found["refused"] > 200


@pytest.mark.parametrize("text", ["-127", "85.0", "85", "-127.0", "form -127"])
def test_what_a_faulty_probe_sends_is_no_temperature(text):
    with pytest.raises(BadInput):
        read_readings(text, Units("si"))


OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2026, 11, 24, 10, 0, tzinfo=OSLO)  # a Tuesday

# What a lenient reader makes of these was measured with dateutil 4.0.0 (own
# measurement); here each means what a person would say, or is refused.
SURPRISES = {
    **dict.fromkeys(["7", "07", "7.5", "7:5", "0700", "700", "1930", "45", "99"], ""),
    **dict.fromkeys(["32", "19,30", "10/11", "10-11", "10.11.2026", "13/11"], ""),
    **dict.fromkeys(["7;30", "7'30", "mar 5 7", "10m", "90m", "1h30"], ""),
    **dict.fromkeys(["13 pm", "0:30 pm", "tue", "7:30 UTC+3", "7:30 +2"], ""),
    **dict.fromkeys(["7:30 CET", "٧:٣٠", "７:３０", "noon", "tomorrow"], ""),
    **dict.fromkeys(["cast 3 panels at 7:30", "", " ", "2026-03-29 02:30"], ""),
    **dict.fromkeys(["+19h00", "25:00", "24:01", "9999-12-31 23:59"], ""),
    "-7": "2026-11-24T09:53+01:00",
    "19.30": "2026-11-24T19:30+01:00",
    "10.11": "2026-11-24T10:11+01:00",
    "24:00": "2026-11-24T00:00+01:00",
    "today 24:00": "2026-11-25T00:00+01:00",
    "now": "2026-11-24T10:00+01:00",
    "in 5 min": "2026-11-24T10:05+01:00",
    "+1h30": "2026-11-24T11:30+01:00",
    "7:30 tomorrow": "2026-11-25T07:30+01:00",
    "Tue 7:30": "2026-11-24T07:30+01:00",
    "2026-07-01 7:30": "2026-07-01T07:30+02:00",
}


@pytest.mark.parametrize(("text", "meant"), SURPRISES.items())
def test_what_a_lenient_reader_gets_wrong(text, meant):
    try:
        (instant,) = read_time(text, NOW, OSLO).instants
    except BadInput:
        assert not meant
    else:
        assert instant.astimezone(OSLO).isoformat(timespec="minutes") == meant


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"x = " + b"[" * 5000, "nested too deeply"),
        (b"title = " + b"9" * 5000, "too many digits"),
        (b'title = "a"\n[piece]\nlength = nan\n', "length"),
        (b'title = "a"\n[piece]\nlength = 1e400\n', "length"),
        (b'title = "a"\n[piece]\nlength = true\n', "length"),
        (b"\xef\xbb\xbftitle = 3", "byte order mark"),
        (b'title = "a"\rmix = "M1"\r', "not valid TOML"),
        (b"# " + b"x" * 10_000_000, "too large"),
    ],
)
def test_files_that_upset_the_parser_are_refused_by_name(tmp_path, content, said):
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=said) as caught:
        read_job(path)
    assert {fault.where for fault in caught.value.faults} == {"odd.toml"}


def test_the_fuzz_would_see_what_escapes(monkeypatch, tmp_path):
    def not_a_number(_text, _units):
        return {"shop_c": float("nan")}

    monkeypatch.setattr(fuzz, "read_readings", not_a_number)
    folder = ShopFolder(tmp_path)
    folder.adopt_samples()
    with pytest.raises((fuzz.Bad, BadInput, ValueError)):
        fuzz.temperatures(50, tmp_path)

    def crashing(path):
        if b"nan" in path.read_bytes():
            raise OverflowError
        return read_job(path)

    monkeypatch.setattr(fuzz, "read_job", crashing)
    with pytest.raises((OverflowError, BadInput)):
        fuzz.toml(3_000, tmp_path)
