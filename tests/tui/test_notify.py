"""Noise: what reaches the terminal and the player, and how it falls silent."""

from __future__ import annotations

import asyncio
import math
import os
import pty
import subprocess
import sys
import textwrap
import unicodedata
import wave
from array import array
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.shop import Bells
from tui import notify, sound
from tui.notify import Notifier, clean, desktop_escape, terminal_writer
from tui.sound import SAMPLE_RATE, find_players, sound_file

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="fake players are sh")


class Ear:
    """A terminal that remembers what it was sent."""

    def __init__(self):
        self.written = []
        self.bells = 0

    def bell(self):
        self.bells += 1


@pytest.fixture
def bin_dir(tmp_path, monkeypatch):
    """The only folder on PATH, so that no real player can be found."""
    folder = tmp_path / "bin"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    monkeypatch.delenv("TMUX", raising=False)
    monkeypatch.delenv("TERM_PROGRAM", raising=False)
    monkeypatch.setattr(notify, "PAUSE_S", 0.02)
    return folder


def player(bin_dir, name, body):
    script = bin_dir / name
    script.write_text(f"#!/bin/sh\n{body}\n")
    script.chmod(0o755)
    return script


def notifier(ear, tmp_path, **channels):
    bells = Bells(**({"terminal": False, "sound": False, "desktop": False} | channels))
    return Notifier(
        bells, write=ear.written.append, bell=ear.bell, folder=tmp_path / "sounds"
    )


async def until(condition, seconds=5.0):
    async with asyncio.timeout(seconds):
        while not condition():  # noqa: ASYNC110 - other processes set it
            await asyncio.sleep(0.01)


def alive(pid):
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def lines(path):
    return path.read_text().splitlines() if path.exists() else []


class TestClean:
    @given(st.text(st.characters(exclude_categories=()), max_size=300))
    @settings(max_examples=200, deadline=None)
    def test_leaves_nothing_a_terminal_obeys(self, text):
        kept = clean(text)
        assert len(kept) <= 200
        assert not any(unicodedata.category(c) in {"Cc", "Cs"} for c in kept)
        assert not any(unicodedata.bidirectional(c) in {"RLO", "LRO"} for c in kept)
        assert unicodedata.is_normalized("NFC", kept)
        assert clean(kept) == kept
        kept.encode()

    @pytest.mark.parametrize(
        ("text", "kept"),
        [
            ("leg\x1b[2J zone", "leg[2J zone"),
            ("a\x00\x07\x7f\x9bb", "ab"),
            ("two\nlines\tand a tab", "two lines and a tab"),
            ("\u202eenoz", "enoz"),
            ("Cafe\u0301 top", "Café top"),
            ("front [/red] edge", "front [/red] edge"),
            ("\ud800x", "x"),
        ],
    )
    def test_examples(self, text, kept):
        assert clean(text) == kept

    def test_cuts_to_the_limit(self):
        assert clean("x" * 1000, limit=12) == "x" * 12


class TestDesktopEscape:
    def test_osc_777(self):
        assert desktop_escape("Open", "leg zone", {}) == (
            "\x1b]777;notify;Open;leg zone\x07"
        )

    def test_osc_9_for_iterm(self):
        env = {"TERM_PROGRAM": "iTerm.app"}
        assert desktop_escape("Open", "leg zone", env) == "\x1b]9;Open: leg zone\x07"

    def test_wrapped_inside_tmux(self):
        assert desktop_escape("Open", "leg", {"TMUX": "socket,1,0"}) == (
            "\x1bPtmux;\x1b\x1b]777;notify;Open;leg\x07\x1b\\"
        )

    def test_user_text_cannot_end_or_split_the_sequence(self):
        escape = desktop_escape("a;b\x07c", "d\x1b\\;e\x9c", {})
        assert escape.count("\x1b") == 1
        assert escape.count("\x07") == 1
        assert escape.count(";") == 3
        assert escape.endswith("\x07")


class TestTerminalWriter:
    def test_writes_through_the_driver(self):
        sent = []
        driver = SimpleNamespace(is_headless=False, write=sent.append)
        terminal_writer(SimpleNamespace(_driver=driver))("\x1b]9;x\x07")
        assert sent == ["\x1b]9;x\x07"]

    @pytest.mark.parametrize(
        "driver",
        [None, SimpleNamespace(is_headless=True, write=lambda _: pytest.fail("wrote"))],
    )
    def test_without_a_terminal_nothing_is_written(self, driver):
        terminal_writer(SimpleNamespace(_driver=driver))("\x1b]9;x\x07")

    def test_arrives_intact_in_a_real_terminal(self):
        program = textwrap.dedent("""
            from textual.app import App
            from tui.notify import desktop_escape, terminal_writer
            class Tiny(App):
                def on_mount(self):
                    terminal_writer(self)(desktop_escape("Open", "leg zone", {}))
                    self.call_later(self.exit)
            Tiny().run(mouse=False)
        """)
        ours, theirs = pty.openpty()
        child = subprocess.Popen(
            [sys.executable, "-c", program],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            cwd=Path(notify.__file__).parents[1],
            env={**os.environ, "TERM": "xterm-256color"},
        )
        os.close(theirs)
        heard = b""
        try:
            while chunk := os.read(ours, 65536):
                heard += chunk
        except OSError:
            pass  # how a terminal reports that the program has left
        finally:
            os.close(ours)
        assert child.wait(10) == 0
        assert b"\x1b]777;notify;Open;leg zone\x07" in heard


@pytest.mark.usefixtures("bin_dir")
class TestTerminalBell:
    async def test_a_ring_has_three_rounds(self, tmp_path):
        ear = Ear()
        ringing = notifier(ear, tmp_path, terminal=True)
        await ringing.start("opens", "Open", "leg zone")
        assert ringing.ringing
        await until(lambda: not ringing.ringing)
        assert ear.bells == 3
        assert not ear.written

    async def test_stop_ends_a_ring_at_once(self, tmp_path, monkeypatch):
        monkeypatch.setattr(notify, "PAUSE_S", 0.2)
        ear = Ear()
        ringing = notifier(ear, tmp_path, terminal=True)
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: ear.bells == 1)
        await ringing.stop()
        assert not ringing.ringing
        await asyncio.sleep(0.3)
        assert ear.bells == 1

    async def test_a_note_sounds_once(self, tmp_path):
        ear = Ear()
        ringing = notifier(ear, tmp_path, terminal=True)
        await ringing.start("note", "Touch", "leg zone")
        await until(lambda: not ringing.ringing)
        assert ear.bells == 1
        await ringing.stop()

    async def test_stop_without_start_is_quiet(self, tmp_path):
        ear = Ear()
        ringing = notifier(ear, tmp_path, terminal=True)
        await ringing.stop()
        assert ear.bells == 0
        assert not ringing.ringing

    async def test_a_dead_terminal_does_not_silence_the_sound(self, bin_dir, tmp_path):
        played = tmp_path / "played"
        player(bin_dir, "aplay", f'echo "$@" >> {played}')

        def gone(*_):
            raise OSError("the terminal is gone")

        ringing = Notifier(
            Bells(desktop=True), write=gone, bell=gone, folder=tmp_path / "sounds"
        )
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: len(lines(played)) >= 2)
        await ringing.stop()
        assert ringing.failures == [
            "The desktop notification failed: the terminal is gone.",
            "The terminal bell failed: the terminal is gone.",
        ]


@pytest.mark.usefixtures("bin_dir")
class TestDesktop:
    async def test_sent_once_a_ring(self, tmp_path):
        ear = Ear()
        ringing = notifier(ear, tmp_path, terminal=True, desktop=True)
        await ringing.start("closes", "Closing", "top zone")
        await until(lambda: ear.bells >= 3)
        await ringing.stop()
        assert ear.written == ["\x1b]777;notify;Closing;top zone\x07"]


@pytest.mark.usefixtures("bin_dir")
class TestSound:
    async def test_loops_the_right_file_until_stopped(self, bin_dir, tmp_path):
        played = tmp_path / "played"
        player(bin_dir, "paplay", f'echo "$@" >> {played}')
        ringing = notifier(Ear(), tmp_path, sound=True)
        await ringing.start("closes", "Closing", "top zone")
        await until(lambda: len(lines(played)) >= 3)
        await ringing.stop()
        count = len(lines(played))
        await asyncio.sleep(0.1)
        assert lines(played) == [str(tmp_path / "sounds" / "closes.wav")] * count
        assert ringing.failures == []

    async def test_stop_kills_the_player_and_its_children_at_once(
        self, bin_dir, tmp_path
    ):
        pids = tmp_path / "pids"
        player(
            bin_dir,
            "aplay",
            f"/bin/sleep 60 &\necho $$ > {pids}.part; echo $! >> {pids}.part\n"
            f"/bin/mv {pids}.part {pids}\nwait",
        )
        ringing = notifier(Ear(), tmp_path, sound=True)
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: len(lines(pids)) == 2)
        started = [int(pid) for pid in lines(pids)]
        assert all(alive(pid) for pid in started)
        assert os.getsid(started[0]) == started[0], "a session of its own"
        async with asyncio.timeout(0.5):
            await ringing.stop()
            await until(lambda: not any(alive(pid) for pid in started))

    async def test_never_blocks_the_loop(self, bin_dir, tmp_path):
        busy = tmp_path / "busy"
        player(bin_dir, "aplay", f"echo x > {busy}\nexec /bin/sleep 60")
        loop = asyncio.get_running_loop()
        worst = 0.0
        ringing = notifier(Ear(), tmp_path, sound=True)
        await ringing.start("opens", "Open", "leg zone")
        for _ in range(40):
            before = loop.time()
            await asyncio.sleep(0.01)
            worst = max(worst, loop.time() - before)
        assert busy.exists()
        await ringing.stop()
        assert worst < 0.5

    async def test_no_player_is_said_in_plain_words(self, tmp_path):
        ear = Ear()
        ringing = notifier(ear, tmp_path, terminal=True, sound=True)
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: ear.bells >= 2)
        await ringing.stop()
        looked = "pw-play, paplay, aplay, afplay, ffplay, play"
        assert ringing.failures == [f"No sound: none of {looked} is installed."]

    async def test_a_failing_player_gives_way_to_the_next(self, bin_dir, tmp_path):
        played = tmp_path / "played"
        player(bin_dir, "pw-play", f"echo bad >> {played}; exit 3")
        player(bin_dir, "aplay", f"echo good >> {played}")
        ringing = notifier(Ear(), tmp_path, sound=True)
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: len(lines(played)) >= 4)
        await ringing.stop()
        assert lines(played)[:4] == ["bad", "good", "good", "good"]
        assert ringing.failures == ["pw-play ended with 3; aplay plays instead."]

    async def test_a_stuck_player_is_killed_and_named(
        self, bin_dir, tmp_path, monkeypatch
    ):
        monkeypatch.setattr(notify, "LONGEST_PLAY_S", 0.1)
        pids = tmp_path / "pids"
        player(bin_dir, "aplay", f"echo $$ > {pids}\nexec /bin/sleep 60")
        ringing = notifier(Ear(), tmp_path, sound=True)
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: ringing.failures)
        assert ringing.failures == ["No sound: aplay was still busy after 0.1 s."]
        assert not alive(int(pids.read_text()))
        await ringing.stop()

    async def test_without_sound_the_terminal_bell_rings_in_its_place(
        self, bin_dir, tmp_path
    ):
        """The shop has turned it off, but a bell that nobody hears is no bell."""
        player(bin_dir, "aplay", "exit 1")
        ear = Ear()
        ringing = notifier(ear, tmp_path, sound=True)
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: ear.bells)
        assert ringing.failures == ["No sound: aplay ended with 1."]
        assert not ringing.deaf
        await ringing.stop()

    @pytest.mark.parametrize("terminal", [True, False])
    async def test_nothing_at_all_is_known(self, tmp_path, terminal):
        bells = Bells(terminal=terminal, sound=True)
        folder = tmp_path / "sounds"
        ringing = Notifier(bells, write=Ear().written.append, bell=None, folder=folder)
        assert not ringing.deaf
        await ringing.start("note", "", "")
        await until(lambda: not ringing.ringing)
        assert ringing.deaf

    @pytest.mark.parametrize(
        ("channels", "deaf"),
        [({}, True), ({"terminal": True}, False), ({"sound": True}, False)],
    )
    def test_a_shop_that_wants_no_noise_is_known_at_once(
        self, tmp_path, channels, deaf
    ):
        assert notifier(Ear(), tmp_path, **channels).deaf is deaf

    async def test_an_unwritable_folder_is_said(self, bin_dir, tmp_path):
        player(bin_dir, "aplay", "exit 0")
        (tmp_path / "sounds").write_text("a file where the folder should be")
        ringing = notifier(Ear(), tmp_path, sound=True)
        await ringing.start("opens", "Open", "leg zone")
        await until(lambda: ringing.failures)
        assert "could not be written" in ringing.failures[0]
        await ringing.stop()

    async def test_starts_at_the_same_moment_leave_one_bell(self, tmp_path):
        ear = Ear()
        ringing = notifier(ear, tmp_path, terminal=True)
        await asyncio.gather(
            *(ringing.start(shape, "", "") for shape in ("opens", "closes", "opens"))
        )
        await ringing.stop()
        heard = ear.bells
        await asyncio.sleep(0.1)
        assert ear.bells == heard

    async def test_a_new_ring_forgets_old_failures(self, bin_dir, tmp_path):
        ringing = notifier(Ear(), tmp_path, sound=True)
        await ringing.start("note", "", "")
        await until(lambda: not ringing.ringing)
        assert ringing.failures
        player(bin_dir, "aplay", "exit 0")
        await ringing.start("note", "", "")
        await until(lambda: not ringing.ringing)
        assert ringing.failures == []


@pytest.mark.usefixtures("bin_dir")
class TestPlayers:
    def test_none(self):
        assert find_players() == ()

    def test_the_best_comes_first(self, bin_dir):
        for name in ("play", "aplay", "ffplay"):
            player(bin_dir, name, "exit 0")
        assert [found.name for found in find_players()] == ["aplay", "ffplay", "play"]
        assert find_players()[0].command(Path("a.wav"))[0] == str(bin_dir / "aplay")

    def test_ffplay_opens_no_window_and_ends(self, bin_dir):
        player(bin_dir, "ffplay", "exit 0")
        flags = find_players()[0].command(Path("a b.wav"))[1:]
        assert flags == ("-nodisp", "-autoexit", "-loglevel", "quiet", "a b.wav")


def read_wav(path):
    with wave.open(str(path), "rb") as sounded:
        form = (
            sounded.getnchannels(),
            sounded.getsampwidth(),
            sounded.getframerate(),
            sounded.getnframes(),
        )
        return form, array("h", sounded.readframes(form[3]))


def pitch(samples, start_s, end_s):
    """Upward zero crossings a second."""
    part = samples[round(start_s * SAMPLE_RATE) : round(end_s * SAMPLE_RATE)]
    ups = sum(1 for a, b in pairwise(part) if a < 0 <= b)
    return ups / (end_s - start_s)


class TestWav:
    @pytest.mark.parametrize(
        ("shape", "seconds"), [("opens", 1.2), ("closes", 1.2), ("note", 0.6)]
    )
    def test_form_length_and_soft_ends(self, tmp_path, shape, seconds):
        form, heard = read_wav(sound_file(shape, tmp_path / "new" / "folder"))
        assert form[:3] == (1, 2, 22_050)
        assert math.isclose(form[3] / SAMPLE_RATE, seconds, abs_tol=0.01)
        assert abs(heard[0]) < 100
        assert abs(heard[-1]) < 100
        assert 15_000 < max(heard) < 32_000, "loud, without clipping"

    def test_opens_rises_once(self, tmp_path):
        _, heard = read_wav(sound_file("opens", tmp_path))
        low, high = pitch(heard, 0.1, 0.4), pitch(heard, 0.6, 1.1)
        assert high > 1.3 * low

    def test_closes_falls_three_times_and_faster(self, tmp_path):
        _, heard = read_wav(sound_file("closes", tmp_path))
        notes = [
            pitch(heard, at + 0.05, at + 0.15) for at in (0, 0.2, 0.4, 0.6, 0.8, 1)
        ]
        for high, low in zip(notes[::2], notes[1::2], strict=True):
            assert high > 1.3 * low

    def test_many_threads_write_it_once(self, tmp_path, monkeypatch):
        made = []
        compute = sound.samples
        monkeypatch.setattr(
            sound, "samples", lambda shape: made.append(shape) or compute(shape)
        )
        with ThreadPoolExecutor(8) as pool:
            paths = set(pool.map(lambda _: sound_file("note", tmp_path), range(16)))
        assert made == ["note"]
        assert paths == {tmp_path / "note.wav"}
        assert [path.name for path in tmp_path.iterdir()] == ["note.wav"]
