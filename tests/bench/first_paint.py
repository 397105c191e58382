"""Time from process start to the first painted text, in a real terminal of 80x24.

Run it: python tests/bench/first_paint.py [RUNS]. It starts, in turn, an empty
Textual app and the program on a shop folder with ten open pours, and prints the
medians and their ratio. "board" is when the first of the ten pours is on the screen.
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
POURS = 10
LONGEST_S = 20.0

_ESCAPES = re.compile(
    rb"\x1b\[[0-?]*[ -/]*[@-~]"  # CSI
    rb"|\x1b[\]P_^X].*?(?:\x07|\x1b\\)"  # OSC, DCS and their kind
    rb"|\x1b[ -/]*[0-~]",
    re.DOTALL,
)
_TEXT = re.compile(rb"[A-Za-z0-9]{2}")


def paint_times(
    command: list[str], environment: dict[str, str], words: bytes
) -> tuple[float, float]:
    """Returns seconds to the first text, and to the first of some words."""
    began = time.perf_counter()
    child, terminal = pty.fork()
    if child == 0:
        # Set from within, so that the size is right before the program looks.
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        os.execve(command[0], command, environment)  # noqa: S606 - our own program
    written, first = b"", 0.0
    try:
        while time.perf_counter() - began < LONGEST_S:
            if not select.select([terminal], [], [], 0.5)[0]:
                continue
            try:
                written += os.read(terminal, 65536)
            except OSError:
                break
            passed = time.perf_counter() - began
            plain = _ESCAPES.sub(b"", written)
            if not first and _TEXT.search(plain):
                first = passed
            if words in plain:
                return first, passed
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(terminal)
    raise SystemExit(f"{command[1:3]}: never painted {words!r}:\n{plain[-2000:]!r}")


def main() -> None:
    """Measures and prints."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    with tempfile.TemporaryDirectory(prefix="pourbell-bench-") as path:
        home = Path(path)
        session = shop_of_pours(home / "shop", datetime.now(UTC), POURS)
        first = session.open_pours()[0]
        environment = plain_environment(home)
        python = sys.executable
        empty = [python, "-c", EMPTY]
        ours = [python, "-m", "tui.cli", "--shop", str(home / "shop")]
        words = first.job.title.encode()
        for warm in (empty, ours):
            paint_times(warm, environment, b"hello" if warm is empty else words)
        of_empty, of_ours, of_board = [], [], []
        for _ in range(runs):
            of_empty.append(paint_times(empty, environment, b"hello")[0])
            text, board = paint_times(ours, environment, words)
            of_ours.append(text)
            of_board.append(board)
    base = statistics.median(of_empty)
    print(f"{runs} runs in turn, {POURS} open pours, 80x24")
    for name, values in (
        ("empty Textual app, first text", of_empty),
        ("pourbell, first text", of_ours),
        ("pourbell, first pour on board", of_board),
    ):
        middle = statistics.median(values)
        print(
            f"{name:<31} {middle * 1000:6.0f} ms  "
            f"({min(values) * 1000:.0f}-{max(values) * 1000:.0f})  "
            f"x{middle / base:.2f}"
        )


if __name__ == "__main__":
    main()
