"""The sounds of the bell, made here, and the machine's player for them.

Nothing is shipped as audio: three short WAV files are computed with the standard
library and kept in a cache folder.
"""

from __future__ import annotations

import math
import shutil
import sys
import tempfile
import threading
import wave
from array import array
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import platformdirs

Shape = Literal["opens", "closes", "note"]

SAMPLE_RATE = 22_050
"""Samples per second; enough for the highest overtone used, about 4 kHz."""

_LOUDNESS = 0.85
"""Peak over full scale; the rest is headroom for players that resample."""

_ATTACK_S = 0.012
_RELEASE_S = 0.045
_OVERTONES = ((1, 1.0), (2, 0.35), (3, 0.2))
"""(multiple of the pitch, relative strength): carries further than a pure tone."""

_WRITING = threading.Lock()


@dataclass(frozen=True, slots=True)
class Tone:
    """One note of a bell.

    Attributes:
        pitch_hz: Fundamental.
        length_s: How long it sounds.
        fades: Dies away like a struck bell instead of holding.
    """

    pitch_hz: float
    length_s: float
    fades: bool = False


TUNES: dict[Shape, tuple[Tone, ...]] = {
    "opens": (Tone(659.0, 0.5), Tone(988.0, 0.7)),
    "closes": (Tone(1319.0, 0.2), Tone(740.0, 0.2)) * 3,
    "note": (Tone(880.0, 0.6, fades=True),),
}
"""Opens rises once, slowly; closes falls three times, fast; a note is struck once."""

ROUNDS: dict[Shape, int] = {"opens": 3, "closes": 3, "note": 1}
"""How often a tune sounds in one ring."""


@dataclass(frozen=True, slots=True)
class Player:
    """A program that plays a WAV file.

    Attributes:
        name: As the user knows it.
        argv: Program and options; the file comes last.
    """

    name: str
    argv: tuple[str, ...]

    def command(self, sound: Path) -> tuple[str, ...]:
        """Return the argument list that plays one file."""
        return (*self.argv, str(sound))


_CANDIDATES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("pw-play", ()),
    ("paplay", ()),
    ("aplay", ("-q",)),
    ("afplay", ()),
    ("ffplay", ("-nodisp", "-autoexit", "-loglevel", "quiet")),
    ("play", ("-q",)),
)

PLAYER_NAMES: tuple[str, ...] = tuple(name for name, _ in _CANDIDATES)
"""The programs looked for, best first."""

# Windows has no such program, but Python there can play: as a child of its own
# it is stopped in the same way as every other player.
_WINDOWS_SCRIPT = (
    "import sys, winsound; winsound.PlaySound(sys.argv[1], winsound.SND_FILENAME)"
)


def find_players() -> tuple[Player, ...]:
    """Return every player on this machine, best first; empty when there is none."""
    if sys.platform == "win32":
        return (Player("winsound", (sys.executable, "-c", _WINDOWS_SCRIPT)),)
    found = ((name, shutil.which(name), flags) for name, flags in _CANDIDATES)
    return tuple(Player(name, (path, *flags)) for name, path, flags in found if path)


def sounds_folder() -> Path:
    """Returns where the sound files are kept: the user's cache folder."""
    return platformdirs.user_cache_path("pourbell") / "sounds"


def sound_file(shape: Shape, folder: Path) -> Path:
    """Return the WAV file of a shape, written on first use.

    Safe from several threads and several processes: the file appears whole.

    Args:
        shape: Which bell.
        folder: Where sounds are kept; made when missing.

    Raises:
        OSError: The folder or the file could not be written.
    """
    path = folder / f"{shape}.wav"
    with _WRITING:
        if not path.exists():
            folder.mkdir(parents=True, exist_ok=True)
            _write_whole(path, samples(shape))
    return path


def samples(shape: Shape) -> array[int]:
    """Compute the 16-bit mono samples of a shape at ``SAMPLE_RATE``."""
    sound: array[int] = array("h")
    for tone in TUNES[shape]:
        sound.extend(_tone_samples(tone))
    return sound


def _tone_samples(tone: Tone) -> array[int]:
    count = round(tone.length_s * SAMPLE_RATE)
    peak = sum(strength for _, strength in _OVERTONES)
    scale = 32_767 * _LOUDNESS / peak
    turn = 2 * math.pi * tone.pitch_hz / SAMPLE_RATE
    return array(
        "h",
        (
            round(scale * _envelope(index, count, tone) * _voice(turn * index))
            for index in range(count)
        ),
    )


def _voice(angle: float) -> float:
    return sum(strength * math.sin(n * angle) for n, strength in _OVERTONES)


def _envelope(index: int, count: int, tone: Tone) -> float:
    """Return the loudness 0..1 of one sample, soft at both ends so nothing clicks."""
    at = index / SAMPLE_RATE
    left = (count - 1 - index) / SAMPLE_RATE
    held = math.exp(-4.0 * at / tone.length_s) if tone.fades else 1.0
    return held * min(1.0, at / _ATTACK_S, left / _RELEASE_S)


def _write_whole(path: Path, sound: array[int]) -> None:
    data = array("h", sound)
    if sys.byteorder == "big":
        data.byteswap()  # WAV is little-endian
    with (
        tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as part,
        wave.open(part, "wb") as out,
    ):
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(SAMPLE_RATE)
        out.writeframes(data.tobytes())
    Path(part.name).replace(path)
