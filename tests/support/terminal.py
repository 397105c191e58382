"""The real program in a terminal of its own, and a pour that rings soon."""

from __future__ import annotations

import fcntl
import json
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

from scheduling.clock import SimulatedTime, WallTime
from scheduling.folder import ShopFolder
from scheduling.log import Log
from tui.session import Session

ROOT = Path(__file__).resolve().parents[2]

MODES = {
    "alternate screen": (b"\x1b[?1049h", b"\x1b[?1049l"),
    "hidden cursor": (b"\x1b[?25l", b"\x1b[?25h"),
    "focus reports": (b"\x1b[?1004h", b"\x1b[?1004l"),
    "bracketed paste": (b"\x1b[?2004h", b"\x1b[?2004l"),
    "kitty keys": (b"\x1b[>", b"\x1b[<u"),
    "no line wrap": (b"\x1b[?7l", b"\x1b[?7h"),
}
"""What the program switches on in a terminal, and how it is switched off."""


def silent_shop(path):
    """A shop folder in UTC, always at 21 degC, that makes no noise itself."""
    folder = ShopFolder(path)
    folder.adopt_samples()
    text = folder.shop_file.read_text()
    text = text.replace('"17 C"', '"21 C"').replace('"22 C"', '"21 C"')
    folder.shop_file.write_text('zone = "UTC"\n' + text)
    return folder


def pour_due_in(folder, seconds):
    """Writes a pour whose face coat is on and whose first bell is so far ahead.

    Returns the pour's name and the bell's due time in boot-clock seconds.
    """
    time_source = WallTime()
    zero = time_source.now() - timedelta(minutes=10)
    trial = _sprayed(Session(folder, SimulatedTime(zero)), zero, keep=False)
    begun = time_source.now()
    first = min(alert.due for alert in trial)
    shift = begun + timedelta(seconds=seconds) - first
    session = Session(folder, time_source)
    alerts = _sprayed(session, zero + shift, keep=True)
    due = min(alert.due for alert in alerts)
    wait = (due - time_source.now()).total_seconds()
    (name,) = session.pours
    return name, time_source.boot()[0] / 1000 + wait


def _sprayed(session, begun, *, keep):
    if not keep:
        session.log.append = lambda *_events, **_options: None
        session._read = lambda _name: False
    name = session.start(session.folder.job("bare"), entry="face coat", at=begun)
    for minutes, key in enumerate(
        key
        for key in [span.key for span in session.pour(name).timeline.steps()]
        if key.step in ("mix-face", "flow-check", "spray")
    ):
        session.mark(name, "started", key, at=begun + timedelta(minutes=minutes))
        session.mark(name, "finished", key, at=begun + timedelta(minutes=minutes + 1))
    session.settle(name)
    return session.pour(name).alerts


def boot_s():
    return WallTime().boot()[0] / 1000


class Heard:
    """The file that a watch tells of its rings."""

    def __init__(self, path):
        self.path = path

    def lines(self):
        if not self.path.exists():
            return []
        return [json.loads(line) for line in self.path.read_text().splitlines()]

    def rang_at(self):
        """When it first rang, boot-clock seconds, or None."""
        return next((line["at_s"] for line in self.lines() if line["rings"]), None)

    def rings_now(self):
        lines = self.lines()
        return bool(lines and lines[-1]["rings"])


def rang(folder, pour):
    """Boot-clock seconds at which the program wrote down that it rang."""
    events = Log(folder.log).events(pour)
    return [event.boot[0] / 1000 for event in events if event.kind == "rang"]


def wait_until(true, seconds=10.0, every=0.02):
    """Waits until something is so; returns the seconds it took, fails if never."""
    begun = time.perf_counter()
    while not true():
        took = time.perf_counter() - begun
        assert took < seconds, f"not within {seconds} s: {true}"
        time.sleep(every)
    return time.perf_counter() - begun


def is_alive(pid):
    """Whether a process runs (and is not a zombie)."""
    with suppress(OSError):
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
        return state not in ("Z", "X")
    return False


def watches_of(shop):
    """Process ids of the watches that some process of this test session started."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError):
                words = (entry / "cmdline").read_bytes().split(b"\0")
                told = (entry / "environ").read_bytes()
                if b"tui.watch" in words and os.fsencode(str(shop)) in told:
                    found.append(int(entry.name))
    return [pid for pid in found if is_alive(pid)]


def children(pid):
    """Process ids of what a process began and what is still there of it."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            number, _, rest = entry.read_text().rpartition(")")
            if rest.split()[1] == str(pid):
                found.append(int(number.split()[0]))
    return found


class Program:
    """The program at the other end of a pseudo-terminal.

    Attributes:
        process: What the user started; the program itself is its child, ``pid``.
    """

    def __init__(self, shop, *, sabotage="", words=()):
        self.shop = shop
        self.heard = Heard(shop.path / f"heard-{time.monotonic_ns()}")
        self.output = bytearray()
        self.closing = False
        self.reading = threading.Event()
        self.reading.set()
        self.master, slave = pty.openpty()
        self.before = termios.tcgetattr(slave)
        self.slave = slave
        self.resize(80, 24)
        # The first terminal that the leader of a session opens becomes its own.
        code = "import os; os.close(os.open(os.ttyname(0), os.O_RDWR))\n"
        code += "import sys; from tui.launcher import main; sys.exit(main())"
        if sabotage:
            code = f"from support import sabotage; sabotage.{sabotage}()\n{code}"
        self.process = subprocess.Popen(
            [sys.executable, "-c", code, *words, "--shop", str(shop.path)],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=ROOT,
            env={
                **os.environ,
                "PYTHONPATH": f"{ROOT}:{ROOT / 'tests'}",
                "TERM": "xterm-256color",
                "POURBELL_WATCH_FILE": str(self.heard.path),
                "POURBELL_SHOP": str(shop.path),
                "XDG_STATE_HOME": str(shop.path / "state"),
            },
            start_new_session=True,
        )
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self):
        while True:
            self.reading.wait()
            if self.closing:
                return
            try:
                ready, _, _ = select.select([self.master], [], [], 0.05)
                got = os.read(self.master, 65536) if ready else None
            except (OSError, ValueError):
                return
            if got == b"":
                return
            if got:
                self.output += got

    def up(self):
        """Waits until the pour is on the screen and the watch is there."""
        wait_until(lambda: b"on the board" in self.output, 20)
        wait_until(self.watches, 20)
        return self

    def watches(self):
        return watches_of(self.shop.path)

    def press(self, keys):
        """Types, as fast as the program reads; fails when it has ended."""
        while keys:
            assert self.process.poll() is None, "the program has ended"
            if select.select([], [self.master], [], 0.1)[1]:
                # What is larger would wait for a program that may have ended.
                keys = keys[os.write(self.master, keys[:512]) :]

    def resize(self, width, height):
        """Gives the terminal another size, which tells the program."""
        size = struct.pack("HHHH", height, width, 0, 0)
        fcntl.ioctl(self.slave, termios.TIOCSWINSZ, size)

    @property
    def pid(self):
        """The process id of the program itself."""
        (pid,) = children(self.process.pid)
        return pid

    def send(self, number):
        """Sends the program itself a signal."""
        os.kill(self.pid, number)

    def ended(self, seconds=10.0):
        """Waits for the end and returns the exit status that the user sees."""
        return self.process.wait(seconds)

    def hang_up(self):
        """Closes the terminal, as a window that is closed."""
        self._close_terminal()

    def left_on(self):
        """What is still switched on in the terminal."""
        time.sleep(0.2)
        output = bytes(self.output)
        modes = [
            name
            for name, (on, off) in MODES.items()
            if output.rfind(on) > output.rfind(off)
        ]
        if termios.tcgetattr(self.slave) != self.before:
            modes.append("raw")
        return modes

    def close(self):
        """Ends everything that this program began."""
        if self.process.poll() is None:
            for pid in (*children(self.process.pid), self.process.pid):
                with suppress(OSError):
                    os.kill(pid, signal.SIGKILL)
            self.process.wait(5)
        for pid in self.watches():
            with suppress(OSError):
                os.kill(pid, signal.SIGKILL)
        self._close_terminal()

    def _close_terminal(self):
        # The reader first: the number of a closed handle is soon another file's.
        self.closing = True
        self.reading.set()
        self.reader.join()
        for handle in {self.master, self.slave} - {-1}:
            os.close(handle)
        self.slave = self.master = -1

    def __enter__(self):
        return self

    def __exit__(self, *_error):
        self.close()
