"""Texts that would move the cursor, break markup or crash a screen that is careless."""

from __future__ import annotations

import re
from dataclasses import replace

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
HARMFUL = re.compile(
    "[\0-\x06\x08\x09\x0b\x0c\x0e-\x1f\x7f-\x9f"
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\u2028\u2029\ud800-\udfff]"
)
"""What a terminal obeys, or what turns its text round; a bell and line ends are not."""

OWN = ("[5;35m", "[99;99H", "0;owned", "Pq#0")
"""What only the texts hold, as the terminal would obey it."""


def harm(written):
    """What a terminal was sent that is not the program's own."""
    text = written.decode("utf-8", "surrogateescape")
    found = [f"\\x1b{own}" for own in OWN if f"\x1b{own}" in text]
    rest = _PLAIN.sub("", text.replace("\n", "").replace("\r", ""))
    return found + [
        ascii(rest[max(0, m.start() - 9) :][:24]) for m in HARMFUL.finditer(rest)
    ]


def pour_each(folder, time):
    """Starts a pour for each text that has it wherever the log takes one."""
    session = Session(folder, time)
    for text in TEXTS:
        session.by = text
        zones = (BareZone(text), BareZone("b"))
        job = replace(BARE, title=text, shape=Bare(zones=zones))
        session.shop = replace(session.shop, name=text)
        name = session.begin(job, entry="face coat")
        session.note(name, text)
        wrong = dict.fromkeys(("place", "size", "material", "text"), text)
        session.defect(name, "other", wrong, zone=text)
        session.accept(session.event(name, "hands", data={"in": [text, "Bo"]}))
        for key in [span.key for span in session.pour(name).timeline.steps()]:
            if key.step in ("mix-face", "flow-check") or key == ("spray", "b"):
                session.mark(name, "started", key)
                session.mark(name, "finished", key)
        session.settle(name)


_DOWN, _RIGHT, _PAGE = b"\x1b[B", b"\x1b[C", b"\x1b[6~"
ESCAPE = b"\x1b[27u"
"""As a terminal sends it that tells keys apart: no other key can become part of it."""

HARMLESS_KEYS = (
    *(_DOWN,) * len(TEXTS),
    *(b"c", *(_RIGHT,) * len(TEXTS)),
    *(b"h", _PAGE, _PAGE, b"h"),
    *(b"l", _DOWN, _DOWN, b"s", b"s", b" ", b" ", b" ", b"e", ESCAPE),
    *(
        b"j",
        _DOWN,
        b"v",
        b"v",
        b" ",
        _DOWN,
        b"v",
        b" ",
        _DOWN,
        b"v",
        b" ",
        b"w",
        ESCAPE,
    ),
    *(b"c", b"w", b"1", b"2", _DOWN, ESCAPE),
    *(b"p", *(_DOWN,) * (len(TEXTS) + 7), ESCAPE),
    *(b"\x1bOQ", b"note", ESCAPE),
    *(b"d", b"d"),
)
"""Through every screen and every pour, without marking anything."""
