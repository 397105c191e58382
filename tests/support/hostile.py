"""Texts that would move the cursor, break markup or crash a screen that is careless."""

from __future__ import annotations

import re
from dataclasses import replace

from scheduling.errors import BadInput
from scheduling.folder import BARE
from scheduling.job import Bare, BareZone
from tui.session import Session

TEXTS = (
    "front [/red] edge",
    "[bold",
    "[@click=app.leave]press[/]",
    "{0} %s $(touch here) `here`",
    "\x1b[5;35mpainted",
    "\x1b]0;owned\x07title",
    "\x1b[2J\x1b[99;99Hmoved",
    "\x1bPq#0\x1b\\picture",
    "\x9b5;35mone byte",
    "nul\0and\x7fdel\x08back",
    "\u202etxet\u202c \u2066isolated\u2069",
    "line\nbreak\rand\ttab\u2028and\x85more",
    "long " * 2000,
    "x" * 10_000,
    "👩‍🏭🧱🇳🇴 １２ 漢字",
    "e\u0301\u0308\u0323" * 60,
    "  ",
)

_PLAIN = re.compile(
    r"\x1b\[[0-9;]*[mHuKJ]"  # colours, places, keys; clearing
    r"|\x1b\[[?>=<][0-9;]*\$?[hlupm]"  # modes and what the terminal is asked
    r"|\x1b\]22;[a-z-]*\x07"  # the shape of the pointer
    r"|\x1b\[>0?q|\x1b\[c|\x1b\[[0-9]+n|\x1b\[14t|\x1b\[\?[0-9]+n"
)
_HARMFUL = re.compile(
    "[\0-\x06\x08-\x0c\x0e-\x1f\x7f-\x9f"
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\u2028\u2029\ud800-\udfff]"
)
OWN = ("[5;35m", "[99;99H", "0;owned", "Pq#0")
"""What only the texts hold, as the terminal would obey it."""


def harm(written):
    """What a terminal was sent that is not the program's own."""
    text = written.decode("utf-8", "surrogateescape")
    found = [f"\\x1b{own}" for own in OWN if f"\x1b{own}" in text]
    rest = _PLAIN.sub("", text.replace("\n", "").replace("\r", ""))
    return found + [
        ascii(rest[max(0, m.start() - 9) :][:24]) for m in _HARMFUL.finditer(rest)
    ]


def pour_of(folder, time, text):
    """Starts a pour that has a text wherever the log takes one; returns its name."""
    session = Session(folder, time, by=text)
    session.load()
    job = replace(BARE, title=text, shape=Bare(zones=(BareZone(text), BareZone("b"))))
    session.shop = replace(session.shop, name=text)
    name = session.start(job, entry="face coat")
    session.note(name, text)
    session.hands(name, [text, "Bo"])
    for span in list(session.pour(name).timeline.steps())[:9]:
        if span.key.step in ("mix-face", "flow-check", "spray"):
            for kind in ("started", "finished"):
                try:
                    session.mark(name, kind, span.key)
                except BadInput:
                    break
    session.settle(name)
    return name


_DOWN, _RIGHT, _PAGE = b"\x1b[B", b"\x1b[C", b"\x1b[6~"
HARMLESS_KEYS = (
    *(_DOWN,) * len(TEXTS),
    *(b"c", *(_RIGHT,) * len(TEXTS)),
    *(b"h", _PAGE, _PAGE, b"h"),
    *(b"l", _DOWN, _DOWN, b"s", b"s", b" ", b" ", b" ", b"e", b"\x1b"),
    *(b"p", *(_DOWN,) * (len(TEXTS) + 7), b"\x1b"),
    *(b"\x1bOQ", b"note", b"\x1b"),
    *(b"d", b"d", b"c"),
)
"""Through every screen and every pour, without marking anything."""
