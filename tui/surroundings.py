"""What the program stands in: the ways a bell is heard, and the terminal."""

from __future__ import annotations

import locale
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence

from scheduling.finding import Finding, Standing
from scheduling.shop import Bells
from tui.sound import PLAYER_NAMES, find_players

NEEDED_COLUMNS, NEEDED_ROWS = 80, 24

KEEPERS = ("systemd-inhibit", "caffeinate")
"""Programs that keep a machine from going to sleep."""

_TMUX_S = 2.0


def bell_findings(
    bells: Bells, command: Sequence[str], env: Mapping[str, str]
) -> Iterator[Finding]:
    """Looks at every way a bell is heard.

    Args:
        bells: What the shop wants.
        command: The shop's own command, () for none.
        env: The environment.
    """
    yield _terminal_bell(bells, env)
    players = find_players()
    if not bells.sound:
        yield _bell("sound", "ok", "off in the shop file")
    elif players:
        yield _bell("sound", "ok", f"played by {players[0].name}")
    else:
        found = f"no player: none of {', '.join(PLAYER_NAMES)} is installed"
        do = "install one of them; until then only the terminal rings"
        yield _bell("sound", "look", found, do)
    if command:
        yield _command(command)
    if not any(map(shutil.which, KEEPERS)):
        found = f"nothing keeps this machine awake: no {' and no '.join(KEEPERS)}"
        do = "turn sleep off and keep the lid open: a sleeping machine cannot ring"
        yield _bell("awake", "look", found, do)
    else:
        yield _bell("awake", "ok", "the machine can be kept awake while a pour is open")


def _bell(about: str, standing: Standing, found: str, do: str = "") -> Finding:
    return Finding("bells", about, standing, found, do)


def _terminal_bell(bells: Bells, env: Mapping[str, str]) -> Finding:
    if not bells.terminal:
        return _bell("terminal bell", "ok", "off in the shop file")
    if env.get("TMUX"):
        silent = {"visual-bell": "on", "bell-action": "none"}
        for option, value in silent.items():
            if _tmux_option(option) == value:
                do = f"tmux set -g {option} {'off' if value == 'on' else 'any'}"
                found = f"tmux keeps it to itself ({option} {value})"
                return _bell("terminal bell", "look", found, do)
    return _bell("terminal bell", "ok", "rung; whether it is heard only you can tell")


def _tmux_option(name: str) -> str:
    try:
        done = subprocess.run(  # noqa: S603 - two fixed words
            ["tmux", "show-options", "-gqv", name],  # noqa: S607 - whichever is used
            capture_output=True,
            text=True,
            timeout=_TMUX_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout.strip()


def _command(command: Sequence[str]) -> Finding:
    path = shutil.which(command[0])
    if path is not None:
        return _bell("command", "ok", f"runs {path}")
    there = os.path.exists(command[0])  # noqa: PTH110 - a word, not yet a path
    found = f"{command[0]} {'is not executable' if there else 'is not there'}"
    do = "put right command under [bells] in shop.toml"
    return _bell("command", "look", found, do)


def terminal_findings(env: Mapping[str, str]) -> Iterator[Finding]:
    """Looks at the terminal that the check runs in.

    Args:
        env: The environment.
    """
    size = _size()
    if size is None:
        found = "none here: run the check where the program is to run"
        yield _terminal("terminal", "ok", found)
        return
    found = f"{size.columns} columns, {size.lines} rows"
    if size.columns < NEEDED_COLUMNS or size.lines < NEEDED_ROWS:
        do = f"make it {NEEDED_COLUMNS} by {NEEDED_ROWS} or larger"
        yield _terminal("size", "look", found, do)
    else:
        yield _terminal("size", "ok", found)
    yield _colours(env)
    yield _letters()
    yield _keyboard(env)
    remote = env.get("SSH_TTY") or env.get("SSH_CONNECTION")
    if remote and not (env.get("TMUX") or env.get("STY")):
        found = "over ssh without tmux: the program ends with the connection"
        do = "start tmux first, then pourbell in it"
        yield _terminal("connection", "look", found, do)
    elif remote:
        yield _terminal("connection", "ok", "over ssh, and kept when that breaks off")
    else:
        yield _terminal("connection", "ok", "on this machine")


def _terminal(about: str, standing: Standing, found: str, do: str = "") -> Finding:
    return Finding("terminal", about, standing, found, do)


def _size() -> os.terminal_size | None:
    for stream in (sys.__stderr__, sys.__stdin__):
        try:
            if stream is not None:
                return os.get_terminal_size(stream.fileno())
        except (OSError, ValueError):
            continue
    return None


def _colours(env: Mapping[str, str]) -> Finding:
    term = env.get("TERM", "")
    if env.get("NO_COLOR"):
        found = "none, as NO_COLOR wants it: glyphs and words tell every state"
        return _terminal("colours", "ok", found)
    if term in ("", "dumb", "unknown"):
        do = "set TERM to what the terminal is, such as xterm-256color"
        return _terminal("colours", "look", f"TERM is {term or 'not set'}", do)
    if env.get("COLORTERM") in ("truecolor", "24bit"):
        return _terminal("colours", "ok", "16 million")
    many = "256" if "256" in term else "16"
    return _terminal("colours", "ok", f"{many}, by TERM {term}")


def _letters() -> Finding:
    name = locale.getencoding()
    if name.lower().replace("-", "") == "utf8":
        return _terminal("letters", "ok", "UTF-8")
    found = f"{name}: not every glyph can be shown"
    return _terminal("letters", "look", found, "set LANG to one that ends in .UTF-8")


def _keyboard(env: Mapping[str, str]) -> Finding:
    if _knows_f12(env.get("TERM", "")):
        return _terminal("keyboard", "ok", "every key the program uses")
    found = "F12 may not get through; it answers a bell over an open question"
    do = "ESC leaves the question, then ENTER answers"
    return _terminal("keyboard", "look", found, do)


def _knows_f12(term: str) -> bool:
    try:
        import curses  # noqa: PLC0415 - Windows has none
    except ImportError:
        return True
    try:
        curses.setupterm(term or "unknown", fd=2)
        return bool(curses.tigetstr("kf12"))
    except curses.error:
        return False
