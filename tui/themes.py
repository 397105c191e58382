"""The looks of the shop: a dark and a light theme with a colour for every state.

The ground is the warm grey of wet concrete by night and of dry concrete by day.
Each state has three variables: ``state-<name>``, a block colour;
``state-<name>-text``, what is written on that block; ``state-<name>-ink``, the state
as lettering on the ground. ``shout-<shape>`` and ``shout-<shape>-text`` are the
takeover of an alert. Colour is never the only carrier: see ``tui.states``.
"""

from __future__ import annotations

from typing import NamedTuple

from textual.theme import Theme

from tui.states import LOOKS, State


class Shade(NamedTuple):
    """The three colours of a state."""

    block: str
    text: str
    ink: str


_NIGHT = "#191714"
_PAPER = "#fffdf8"

_DARK_SHADES: dict[State, Shade] = {
    State.WAITING: Shade("#4a453d", "#e4ddd0", "#aea698"),
    State.NEXT: Shade("#6b6355", "#fffaf0", "#d6ccb9"),
    State.WATCHED: Shade("#efe08a", _NIGHT, "#ecdc80"),
    State.READY: Shade("#c3d3d6", _NIGHT, "#c3d3d6"),
    State.OPEN: Shade("#7cdcc4", _NIGHT, "#7cdcc4"),
    State.CLOSING: Shade("#f07f22", _NIGHT, "#f2924a"),
    State.CLOSED: Shade("#741c13", "#ffefe9", "#f08f7c"),
    State.RUNNING: Shade("#2060c6", _PAPER, "#85b4f4"),
    State.DONE: Shade("#3c484a", "#d8e0e0", "#9db0b2"),
    State.SKIPPED: Shade("#35312b", "#bab2a5", "#aaa294"),
    State.LATE: Shade("#a05a9e", _PAPER, "#dba6e0"),
}

_LIGHT_SHADES: dict[State, Shade] = {
    State.WAITING: Shade("#cdc5b7", "#332e27", "#5d564b"),
    State.NEXT: Shade("#a89e8d", "#1c1914", "#4a4338"),
    State.WATCHED: Shade("#f5dc2e", _NIGHT, "#5f5000"),
    State.READY: Shade("#f7f4ec", "#2b2722", "#36494d"),
    State.OPEN: Shade("#22c6aa", _NIGHT, "#07614a"),
    State.CLOSING: Shade("#e6864a", _NIGHT, "#8a4300"),
    State.CLOSED: Shade("#6a1a10", "#fff3ee", "#7c2216"),
    State.RUNNING: Shade("#1a58c0", _PAPER, "#1a4fa6"),
    State.DONE: Shade("#b4c1c2", "#22292a", "#435556"),
    State.SKIPPED: Shade("#ddd6ca", "#5a5347", "#585147"),
    State.LATE: Shade("#552f60", _PAPER, "#7d3885"),
}

_DARK_SHOUTS = {
    "opens": ("#5fe0b7", "#0f1f1a"),
    "closes": ("#1f1206", "#ff9d42"),
    "note": ("#f2e6c9", "#1d1a14"),
}
_LIGHT_SHOUTS = {
    "opens": ("#064a38", "#f2fffa"),
    "closes": ("#ff9a3c", "#1a0f04"),
    "note": ("#2b2722", "#fbf6ea"),
}


def _variables(
    shades: dict[State, Shade], shouts: dict[str, tuple[str, str]]
) -> dict[str, str]:
    """Spell out the variables that belong to this program."""
    named: dict[str, str] = {}
    for state, shade in shades.items():
        style = LOOKS[state].style
        named[style] = shade.block
        named[f"{style}-text"] = shade.text
        named[f"{style}-ink"] = shade.ink
    for shape, (field, letters) in shouts.items():
        named[f"shout-{shape}"] = field
        named[f"shout-{shape}-text"] = letters
    return named


def variable_defaults() -> dict[str, str]:
    """Return a value for every variable of ours, for themes that know none of them."""
    return _variables(_DARK_SHADES, _DARK_SHOUTS)


SHOP_DARK = Theme(
    name="shop-dark",
    dark=True,
    background="#23201c",
    surface="#2c2823",
    panel="#38332c",
    foreground="#ece5d9",
    primary="#a9bfc4",
    secondary="#bfae92",
    accent="#e3c48a",
    warning="#f0a95a",
    error="#f08f7c",
    success="#6fcaa9",
    variables={
        **_variables(_DARK_SHADES, _DARK_SHOUTS),
        "text-muted": "#b8afa1",
        "foreground-muted": "#b8afa1",
        "border-blurred": "#5c5548",
        "block-cursor-background": "#e3c48a",
        "block-cursor-foreground": _NIGHT,
        "block-cursor-blurred-background": "#4f4940",
        "button-color-foreground": _NIGHT,
        "input-selection-background": "#a9bfc4 30%",
        "link-color": "#c4d6da",
    },
)
"""Wet concrete: for the shop with the lamps down, and the default."""

SHOP_LIGHT = Theme(
    name="shop-light",
    dark=False,
    background="#ebe6dd",
    surface="#e2dcd1",
    panel="#d7d0c3",
    foreground="#28241f",
    primary="#2f5560",
    secondary="#5f5034",
    accent="#6a4a10",
    warning="#7d4300",
    error="#8c2c1d",
    success="#0a5f49",
    variables={
        **_variables(_LIGHT_SHADES, _LIGHT_SHOUTS),
        "text-muted": "#544d43",
        "foreground-muted": "#544d43",
        "border-blurred": "#a89f90",
        "block-cursor-background": "#2f5560",
        "block-cursor-foreground": _PAPER,
        "block-cursor-blurred-background": "#c3bbad",
        "button-color-foreground": _PAPER,
        "input-selection-background": "#2f5560 25%",
        "link-color": "#1f4450",
    },
)
"""Dry concrete in daylight: for a screen near the door."""
