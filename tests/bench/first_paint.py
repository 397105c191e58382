"""Time from process start to the first painted text, in a real terminal of 80x24.

Run it: python tests/bench/first_paint.py [RUNS]. It starts, in turn, an empty
Textual app and the program on a shop folder with ten open pours, and prints the
medians and their ratios. CPU time is given beside wall time, because it wobbles less
on a machine that has other things to do.
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from shops import plain_environment, shop_of_pours

EMPTY = """
from textual.app import App
from textual.widgets import Static
class Empty(App):
    def compose(self):
        yield Static("hello")
Empty().run(mouse=False)
"""
PROGRAM = "import sys; from tui.launcher import main; sys.exit(main())"
"""What the installed command runs."""

POURS = 10
LONGEST_S = 20.0

_ESCAPES = re.compile(
    rb"\x1b\[[0-?]*[ -/]*[@-~]"  # CSI
    rb"|\x1b[\]P_^X].*?(?:\x07|\x1b\\)"  # OSC, DCS and their kind
    rb"|\x1b[ -/]*[0-~]",
    re.DOTALL,
)
_TEXT = re.compile(rb"[A-Za-z0-9]{2}")


@dataclass(frozen=True, slots=True)
class Painted:
    """What it took until some text was on the screen, milliseconds."""

    wall: float
    cpu: float


def paint(command: list[str], environment: dict[str, str], words: bytes) -> Painted:
    """Starts a program, waits until it paints some words, any text if b"", ends it."""
    began = time.perf_counter()
    child, terminal = pty.fork()
    if child == 0:
        # Set from within, so that the size is right before the program looks.
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        os.execve(command[0], command, environment)  # noqa: S606 - our own program
    written, passed = b"", 0.0
    while not passed and time.perf_counter() - began < LONGEST_S:
        if not select.select([terminal], [], [], 0.5)[0]:
            continue
        try:
            written += os.read(terminal, 65536)
        except OSError:
            break
        plain = _ESCAPES.sub(b"", written)
        if words in plain and _TEXT.search(plain):
            passed = time.perf_counter() - began
    cpu = sum(map(_cpu_ms, [child, *_descendants(child)]))
    # The program would be told of by its parent, and its watch would go on ringing:
    # both would share the machine with the next run.
    for process in (child, *_descendants(child)):
        os.kill(process, signal.SIGKILL)
    os.waitpid(child, 0)
    os.close(terminal)
    if not passed:
        raise SystemExit(f"{command[1:3]} never painted {words!r}: {written[-2000:]!r}")
    return Painted(passed * 1000, cpu)


def _descendants(process: int) -> list[int]:
    """Process ids of all that a process began, and of what those began."""
    children = [
        int(stat.split()[0])
        for each in Path("/proc").glob("[0-9]*/stat")
        if (stat := each.read_text()).rpartition(")")[2].split()[1] == str(process)
    ]
    return [*children, *(each for child in children for each in _descendants(child))]


def _cpu_ms(process: int) -> float:
    """CPU time that all threads of a process have used so far, milliseconds."""
    tasks = Path(f"/proc/{process}/task").glob("*/schedstat")
    return sum(int(each.read_text().split()[0]) for each in tasks) / 1e6


def main() -> None:
    """Measures and prints."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 11
    with tempfile.TemporaryDirectory(prefix="pourbell-bench-") as path:
        home = Path(path)
        session = shop_of_pours(home / "shop", datetime.now(UTC), POURS, zone="")
        title = session.open_pours()[0].job.title.encode()
        environment = plain_environment(home)
        python = sys.executable
        ours = [python, "-c", PROGRAM, "--shop", str(home / "shop")]
        kinds = {
            "empty Textual app, first text": ([python, "-c", EMPTY], b""),
            "pourbell, first text": (ours, b""),
            "pourbell, first pour on board": (ours, title),
        }
        found: dict[str, list[Painted]] = {name: [] for name in kinds}
        for number in range(runs + 1):
            for name, (command, words) in kinds.items():
                one = paint(command, environment, words)
                if number:  # the first round only warms the disk and the bytecode
                    found[name].append(one)
    print(f"{runs} runs in turn, {POURS} open pours, 80x24; medians, ms")
    print(f"{'':<31} {'wall':>6} {'ratio':>6} {'cpu':>7} {'ratio':>6}")
    base: Painted | None = None
    for name, ones in found.items():
        wall = statistics.median(one.wall for one in ones)
        cpu = statistics.median(one.cpu for one in ones)
        base = base or Painted(wall, cpu)
        print(
            f"{name:<31} {wall:6.0f} {wall / base.wall:6.2f} "
            f"{cpu:7.0f} {cpu / base.cpu:6.2f}"
        )


if __name__ == "__main__":
    main()
