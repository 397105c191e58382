"""Who may import whom, seen in fresh processes, and who may read the clock."""

from __future__ import annotations

import ast
import gc
import json
import subprocess
import sys
from pathlib import Path

import pytest

from scheduling.clock import WallTime
from scheduling.folder import ShopFolder
from tui.app import PourbellApp
from tui.session import Session

ROOT = Path(__file__).parents[2]
SCHEDULING = sorted(path.stem for path in (ROOT / "scheduling").glob("[a-z]*.py"))
SCREEN = ("textual", "rich", "tui")
CLOCK_CALLS = {
    "datetime.now",
    "datetime.utcnow",
    "datetime.today",
    "date.today",
    "time.time",
    "time.time_ns",
    "time.monotonic",
    "time.monotonic_ns",
    "time.perf_counter",
    "time.clock_gettime",
    "time.clock_gettime_ns",
    "time.localtime",
    "time.gmtime",
}


def modules_after(code, *words):
    """The names of all modules that a fresh process holds after some code."""
    script = (
        f"{code}\nimport json, sys\nsys.stderr.write(json.dumps(sorted(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return set(json.loads(done.stderr.splitlines()[-1]))


def loaded_after(code, *words):
    """The same, by top-level package."""
    return {name.partition(".")[0] for name in modules_after(code, *words)}


def test_every_scheduling_module_was_found():
    assert {"alerts", "clock", "clocks", "log", "ringer", "timeline"} <= set(SCHEDULING)


def test_scheduling_needs_no_screen():
    names = ", ".join(f"scheduling.{name}" for name in SCHEDULING)
    assert not loaded_after(f"import {names}") & set(SCREEN)


def test_only_the_ringer_needs_apscheduler():
    others = [f"scheduling.{name}" for name in SCHEDULING if name != "ringer"]
    assert "apscheduler" not in loaded_after(f"import {', '.join(others)}")


RUN = """
import sys
from pathlib import Path
from scheduling.folder import ShopFolder
from tui.cli import main
ShopFolder(Path(sys.argv[2])).adopt_samples()
assert main(sys.argv[1:]) == 0
"""


@pytest.mark.parametrize(
    "words",
    [
        ("--version",),
        ("timeline", "potting-bench-slab", "--json"),
        ("takeoff", "two-legged-desk", "--json"),
        ("log", "--json"),
        ("export", "--json"),
        ("cure", "--json"),
        ("start", "bare", "--json"),
    ],
    ids=lambda words: words[0],
)
def test_a_verb_brings_no_screen_in(words, tmp_path):
    held = loaded_after(RUN, "--shop", str(tmp_path), *words)
    assert "scheduling" in held
    assert not held & {"textual", "rich", "apscheduler", "numpy"}


def test_maturity_brings_numpy_in_and_no_screen(tmp_path):
    path = tmp_path / "logger.csv"
    path.write_text("Elapsed (h),temp_c\n0,20\n1,20\n", encoding="utf-8")
    held = loaded_after(RUN, "--shop", str(tmp_path / "shop"), "maturity", str(path))
    assert "numpy" in held
    assert not held & {"textual", "rich", "apscheduler"}


@pytest.mark.parametrize("words", [(), ("--backtest",)], ids=["list", "backtest"])
def test_timings_brings_numpy_in_and_no_screen(words, tmp_path):
    held = loaded_after(RUN, "--shop", str(tmp_path), "timings", *words)
    assert "numpy" in held
    assert not held & {"textual", "rich", "apscheduler", "scipy"}


def test_the_command_line_brings_no_screen_in():
    held = loaded_after("import tui.cli")
    assert not held & {"textual", "rich", "apscheduler"}


def test_the_first_paint_waits_for_nothing_it_does_not_show():
    held = modules_after("import tui.app")
    assert "tui.screens.board" in held
    assert not held & {
        "apscheduler",
        "dateutil.rrule",
        "filelock",
        "numpy",
        "scheduling.cure",
        "scheduling.disk",
        "scheduling.journal",
        "scheduling.layout",
        "scheduling.log",
        "scheduling.review",
        "textual.widgets._data_table",
        "tinydb",
        "tui.screens.ask",
        "tui.screens.cure",
        "tui.screens.logscreen",
        "tui.screens.picker",
        "tui.screens.pourclock",
        "tui.screens.timings",
        "tui.widgets.plot",
    }


def test_no_key_waits_until_what_learns_has_been_brought_in():
    held = modules_after("import tui.screens.timings, tui.timings.learner")
    assert "tui.widgets.plot" in held
    assert "numpy" not in held


def test_the_process_that_waits_for_the_program_stays_small():
    held = loaded_after("import tui.launcher")
    assert "tui" in held
    assert not held & {"scheduling", "textual", "argparse", "asyncio", "logging"}


OPENED = """
import sys
from scheduling.clock import WallTime
from scheduling.folder import ShopFolder
from tui.app import PourbellApp
from tui.session import Session
from pathlib import Path
session = Session(ShopFolder(Path(sys.argv[1])), WallTime())
PourbellApp(session)
session.open_pours()
"""


def test_no_log_is_opened_to_make_the_program(tmp_path):
    held = modules_after(OPENED, str(tmp_path))
    assert not held & {"tinydb", "filelock", "scheduling.log", "scheduling.journal"}


async def test_garbage_is_looked_for_again_once_the_program_is_up(tmp_path):
    app = PourbellApp(Session(ShopFolder(tmp_path), WallTime()))
    gc.disable()
    try:
        async with app.run_test() as pilot:
            await pilot.pause(0.1)
            assert gc.isenabled()
    finally:
        gc.unfreeze()
        gc.enable()


def test_an_import_of_the_screens_would_be_seen():
    assert {"textual", "rich", "scheduling"} <= loaded_after("import tui.app")


def imported(path):
    """The names a file imports, wherever in it."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            yield node.module


@pytest.mark.parametrize("name", SCHEDULING)
def test_no_scheduling_module_imports_the_screen_later(name):
    found = {
        each.partition(".")[0] for each in imported(ROOT / f"scheduling/{name}.py")
    }
    assert not found & set(SCREEN)


def clock_reads(path):
    """The calls in a file that read a clock, as written."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute) and isinstance(
            node.value, ast.Name | ast.Attribute
        ):
            owner = ast.unparse(node.value).rpartition(".")[2]
            if f"{owner}.{node.attr}" in CLOCK_CALLS:
                yield f"{path.name}:{node.lineno} {ast.unparse(node)}"
        elif isinstance(node, ast.ImportFrom) and node.module == "time":
            yield from (
                f"{path.name}:{node.lineno} {alias.name}"
                for alias in node.names
                if f"time.{alias.name}" in CLOCK_CALLS
            )


def test_only_one_module_reads_the_clock():
    files = [*(ROOT / "scheduling").rglob("*.py"), *(ROOT / "tui").rglob("*.py")]
    reading = {path.name: list(clock_reads(path)) for path in files}
    assert reading.pop("clock.py")
    assert {name: found for name, found in reading.items() if found} == {}
