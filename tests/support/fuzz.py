"""Random bad input, the same for every run of a seed; each says what became of it."""

from __future__ import annotations

import json
import math
import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduling.climatecsv import read_climate_csv
from scheduling.clock import SimulatedTime
from scheduling.errors import BadInput
from scheduling.folder import ShopFolder, sample_jobs, samples
from scheduling.jobfile import read_job
from scheduling.readings import read_readings
from scheduling.shopfile import read_shop
from scheduling.snapshot import job_to_data, shop_to_data
from scheduling.times import REACH, YEARS, read_time
from scheduling.units import Units
from support.hostile import HARMFUL
from tui.session import Session
from tui.verbs import arguments

ZONES = [
    ZoneInfo(name)
    for name in (
        "Europe/Oslo",
        "America/New_York",
        "Australia/Lord_Howe",
        "Asia/Kolkata",
    )
]
MORNING = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)

_TIME_SIGNS = "0123456789:.+- hinTZmowtudayesrf٣７\x1b[nan/;'"
_TIME_WORDS = ["now", "today", "tomorrow", "Tue", "in", "min", "7:30", "2026-03-29"]
_NUMBER_SIGNS = "0123456789.,-+e_ \t１２٣°CFnaifx%"
_NUMBER_WORDS = ["nan", "inf", "-inf", "1e400", "1_0", "-0", "21,5", "21.5C", "shop"]
_SNIPPETS = [
    *(b"nan", b"-inf", b"1e400", b"true", b"0", b"-1", b'"-1 mm"', b'"1e9 m"'),
    *(b"[]", b"{}", b"[[piece.legs]]\n", b"[" * 600, b"9" * 5000, b"2030-02-30"),
    *(b"\x1b[31m", "\u202e".encode(), b"\r", b"\0", b"\xef\xbb\xbf", b"\xff", b'"'),
]
_CELLS = [
    *(b"nan", b"inf", b"-127", b"85.0", b"1e3", b"1_0", b"", b'"', b"\0", b"\x1b[2J"),
    *(b";", b"\t", b",", b"\r", b"\n", b"\xef\xbb\xbf", b"\xff\xfe", b"2026-13-01"),
    *(b"2026-10-25 02:30", b"2026-03-29 02:30", b"x" * 200_000, "１２".encode()),
]


class Bad(AssertionError):
    """Something came out that should not have."""


def _text(rng, signs, words):
    if rng.random() < 0.5:
        return "".join(rng.choices(signs, k=rng.randrange(26)))
    parts = rng.choices([*words, *signs], k=rng.randrange(1, 6))
    return rng.choice(["", " "]).join(parts)


def times(count, seed=1):
    """F1: random strings as typed times."""
    rng, found = random.Random(seed), Counter()
    for _ in range(count):
        text = _text(rng, _TIME_SIGNS, _TIME_WORDS)
        now = MORNING + timedelta(minutes=rng.randrange(-600_000, 600_000))
        zone, lean = rng.choice(ZONES), rng.choice(["near", "past", "future"])
        try:
            typed = read_time(text, now, zone, lean=lean)
        except BadInput as refused:
            found["refused"] += 1
            if HARMFUL.search(str(refused)):
                raise Bad(text) from refused
            continue
        found["read"] += 1
        for instant in typed.instants:
            far = abs(instant - now) > REACH and not typed.dated
            if far or instant.astimezone(zone).year not in YEARS:
                raise Bad(text)
    return found


def temperatures(count, folder, seed=1):
    """F3: random strings as temperatures, at the keys, in flags, and into the log."""
    rng, found = random.Random(seed), Counter()
    session = Session(ShopFolder(folder), SimulatedTime(MORNING))
    name = session.start(session.folder.job("bare"))
    flag = arguments.temperature("--temp")
    for _ in range(count):
        text = _text(rng, _NUMBER_SIGNS, _NUMBER_WORDS)
        values = []
        for read in (lambda text: read_readings(text, Units("si")), flag):
            try:
                got = read(text)
            except BadInput as refused:
                if HARMFUL.search(str(refused)):
                    raise Bad(text) from refused
                continue
            values += got.values() if isinstance(got, dict) else [got]
            if isinstance(got, dict) and found["read"] < 200:
                session.reading(name, got)
        found["read" if values else "refused"] += 1
        if not all(math.isfinite(value) and -30 <= value <= 150 for value in values):
            raise Bad(text)
    session.settle(name)
    for nonsense in (math.nan, math.inf, -math.inf):
        try:
            session.reading(name, {"shop_c": nonsense})
        except BadInput:
            continue
        raise Bad("not a number reached the log")
    for event in session.log.events(name):
        json.dumps(dict(event.data), allow_nan=False)
    return found


def _mutated(rng, content, snippets, signs, most):
    mutant = bytearray(content)
    for _ in range(rng.randint(1, most)):
        at = rng.randrange(len(mutant) + 1)
        patch = (
            rng.choice(snippets)
            if rng.random() < 0.5
            else bytes(rng.choices(signs, k=3))
        )
        mutant[at : at + rng.randrange(7)] = patch
    return bytes(mutant)


def toml(count, folder, seed=1):
    """F2: mutations of the samples, read as what they were."""
    rng, found = random.Random(seed), Counter()
    kinds = [(path.read_bytes(), read_job, job_to_data) for path in sample_jobs()]
    kinds.append(((samples() / "shop.toml").read_bytes(), read_shop, shop_to_data))
    path = folder / "mutant.toml"
    for _ in range(count):
        content, read, to_data = rng.choice(kinds)
        mutant = _mutated(rng, content, _SNIPPETS, range(256), 4)
        path.write_bytes(mutant)
        try:
            made = read(path)
        except BadInput as refused:
            found["refused"] += 1
            named = all(fault.where == path.name for fault in refused.faults)
            if not named or HARMFUL.search(str(refused)):
                raise Bad(mutant) from refused
            continue
        found["read"] += 1
        json.dumps(to_data(made), allow_nan=False)
    return found


def climate_csv(count, folder, seed=1):
    """F4: mutations of a logger's file: all rows or none."""
    rng, found = random.Random(seed), Counter()
    rows = "".join(
        f"{MORNING + timedelta(minutes=10 * row):%Y-%m-%d %H:%M},{17 + row % 9}.5,50\n"
        for row in range(40)
    )
    kinds = [
        f"time,temp_c,rh\n{rows}".encode(),
        f"time;temp_c;rh\n{rows}".replace(",", ";").replace(".", ",").encode(),
        f"time\ttemp_f\trh\n{rows}".replace(",", "\t").encode(),
    ]
    path = folder / "mutant.csv"
    for _ in range(count):
        mutant = _mutated(rng, rng.choice(kinds), _CELLS, b"0123456789.,;- :\n", 2)
        if rng.random() < 0.02:
            mutant = mutant.decode("latin-1").encode("utf-16")
        path.write_bytes(mutant)
        zone = rng.choice(ZONES)
        try:
            readings = read_climate_csv(path, zone)
        except BadInput as refused:
            found["refused"] += 1
            if not all(str(path) in fault.where for fault in refused.faults):
                raise Bad(mutant) from refused
            continue
        found["read"] += 1
        if not readings or readings != read_climate_csv(path, zone):
            raise Bad(mutant)
        for one in readings:
            if not (math.isfinite(one.shop_c) and one.shop_c not in (-127.0, 85.0)):
                raise Bad(mutant)
        if [one.at for one in readings] != sorted(one.at for one in readings):
            raise Bad(mutant)
    return found
