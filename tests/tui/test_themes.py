"""States and colours: every state reads without colour, and every colour is legible."""

from __future__ import annotations

import itertools
import unicodedata

import pytest
from rich.cells import cell_len
from textual.app import App
from textual.color import Color
from textual.widgets import Static

from tui.states import LOOKS, State
from tui.themes import SHOP_DARK, SHOP_LIGHT, variable_defaults

THEMES = pytest.mark.parametrize(
    "theme", [SHOP_DARK, SHOP_LIGHT], ids=lambda theme: theme.name
)
SHAPES = ("opens", "closes", "note")
LOUD = (
    State.WATCHED,
    State.OPEN,
    State.CLOSING,
    State.CLOSED,
    State.RUNNING,
    State.LATE,
)


def linear(value):
    part = value / 255
    return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4


def luminance(color):
    """Relative luminance; published: WCAG 2.2, "relative luminance"."""
    red, green, blue = (linear(v) for v in (color.r, color.g, color.b))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """Contrast ratio; published: WCAG 2.2, "contrast ratio"."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def colours(theme):
    named = theme.to_color_system().generate() | theme.variables
    parsed = {}
    for name, value in named.items():
        if value.startswith("#") and " " not in value:
            parsed[name] = Color.parse(value)
    return parsed


EYES = {
    # published, from memory: Machado, Oliveira and Fernandes 2009, severity 1.0
    "protan": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
    "full": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
}


def lab(color, eyes):
    """CIELAB (D65) of a colour as seen with one kind of eyes."""
    rgb = [linear(v) for v in (color.r, color.g, color.b)]
    red, green, blue = (
        min(1.0, max(0.0, sum(m * c for m, c in zip(row, rgb, strict=True))))
        for row in EYES[eyes]
    )
    x = (0.4124 * red + 0.3576 * green + 0.1805 * blue) / 0.9505
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    z = (0.0193 * red + 0.1192 * green + 0.9505 * blue) / 1.089

    def bend(t):
        return t ** (1 / 3) if t > 0.008856 else 7.787 * t + 16 / 116

    return (
        116 * bend(y) - 16,
        500 * (bend(x) - bend(y)),
        200 * (bend(y) - bend(z)),
    )


class TestContrastItself:
    def test_black_on_white_is_21(self):
        # published: WCAG 2.2, the ends of the scale
        assert contrast(Color(0, 0, 0), Color(255, 255, 255)) == pytest.approx(21)

    def test_grey_767676_on_white(self):
        # from memory: the lightest grey that passes 4.5 on white
        assert contrast(Color.parse("#767676"), Color(255, 255, 255)) == pytest.approx(
            4.54, abs=0.01
        )


class TestLooks:
    def test_every_state_has_a_look(self):
        assert set(LOOKS) == set(State)

    @pytest.mark.parametrize("part", ["word", "letter", "glyph", "style"])
    def test_no_two_states_look_the_same(self, part):
        assert len({getattr(look, part) for look in LOOKS.values()}) == len(State)

    @pytest.mark.parametrize("state", State)
    def test_letter_and_glyph_are_one_cell_everywhere(self, state):
        look = LOOKS[state]
        for mark in (look.letter, look.glyph):
            assert len(mark) == cell_len(mark) == 1
            # "A" (ambiguous) would be two cells in some terminals.
            assert unicodedata.east_asian_width(mark) in {"Na", "N"}
        assert look.letter.isupper()
        assert look.style == f"state-{state.value}"


class TestContrast:
    @THEMES
    @pytest.mark.parametrize("state", State)
    def test_text_on_a_state_block(self, theme, state):
        named = colours(theme)
        block, text = named[f"state-{state}"], named[f"state-{state}-text"]
        assert contrast(block, text) >= 4.5
        assert contrast(block.monochrome, text.monochrome) >= 4.5, "under NO_COLOR"

    @THEMES
    @pytest.mark.parametrize("state", State)
    @pytest.mark.parametrize("ground", ["background", "surface", "panel"])
    def test_a_state_as_lettering(self, theme, state, ground):
        named = colours(theme)
        ink = named[f"state-{state}-ink"]
        assert contrast(ink, named[ground]) >= 4.5
        assert contrast(ink.monochrome, named[ground].monochrome) >= 4.5

    @THEMES
    @pytest.mark.parametrize("shape", SHAPES)
    def test_the_shout(self, theme, shape):
        named = colours(theme)
        field, letters = named[f"shout-{shape}"], named[f"shout-{shape}-text"]
        assert contrast(field, letters) >= 7
        assert contrast(field.monochrome, letters.monochrome) >= 7

    @THEMES
    @pytest.mark.parametrize("ground", ["background", "surface", "panel"])
    @pytest.mark.parametrize(
        ("text", "least"),
        [
            ("foreground", 7),
            ("text-muted", 4.5),
            ("foreground-muted", 4.5),
            ("primary", 4.5),
            ("secondary", 4.5),
            ("accent", 4.5),
            ("warning", 4.5),
            ("error", 4.5),
            ("success", 4.5),
            ("text-primary", 4.5),
            ("text-secondary", 4.5),
            ("text-accent", 4.5),
            ("text-warning", 4.5),
            ("text-error", 4.5),
            ("text-success", 4.5),
            ("link-color", 4.5),
            ("footer-key-foreground", 4.5),
            ("footer-description-foreground", 4.5),
        ],
    )
    def test_words_on_the_ground(self, theme, text, least, ground):
        named = colours(theme)
        assert contrast(named[text], named[ground]) >= least

    @THEMES
    @pytest.mark.parametrize(
        ("text", "block"),
        [
            ("block-cursor-foreground", "block-cursor-background"),
            ("block-cursor-blurred-foreground", "block-cursor-blurred-background"),
            ("input-cursor-foreground", "input-cursor-background"),
            ("button-color-foreground", "primary"),
            ("button-color-foreground", "success"),
            ("button-color-foreground", "warning"),
            ("button-color-foreground", "error"),
        ],
    )
    def test_words_on_a_block(self, theme, text, block):
        named = colours(theme)
        assert contrast(named[text], named[block]) >= 4.5


class TestEyes:
    @THEMES
    @pytest.mark.parametrize("eyes", sorted(EYES))
    def test_loud_states_stay_apart(self, theme, eyes):
        named = colours(theme)
        for one, other in itertools.combinations(LOUD, 2):
            a, b = (lab(named[f"state-{state}"], eyes) for state in (one, other))
            apart = sum((p - q) ** 2 for p, q in zip(a, b, strict=True)) ** 0.5
            assert apart >= 25, (one, other)  # estimate: clearly different at a glance


class Tiny(App[None]):
    CSS = "\n".join(
        f"#{state} {{ background: $state-{state}; color: $state-{state}-text;"
        f" border-left: solid $state-{state}-ink; }}"
        for state in State
    ) + "\n".join(
        f"#{shape} {{ background: $shout-{shape}; color: $shout-{shape}-text; }}"
        for shape in SHAPES
    )

    def __init__(self, theme):
        super().__init__()
        self.register_theme(SHOP_DARK)
        self.register_theme(SHOP_LIGHT)
        self.theme = theme

    def get_theme_variable_defaults(self):
        return variable_defaults()

    def compose(self):
        yield from (Static("x", id=name) for name in (*State, *SHAPES))


class TestInAnApp:
    def test_both_themes_and_the_defaults_name_the_same_variables(self):
        ours = variable_defaults()
        for theme in (SHOP_DARK, SHOP_LIGHT):
            assert set(ours) <= set(theme.variables)
        assert len(ours) == 3 * len(State) + 2 * len(SHAPES)

    @pytest.mark.parametrize("theme", ["shop-dark", "shop-light", "textual-light"])
    async def test_every_variable_resolves(self, theme, monkeypatch):
        monkeypatch.delenv("NO_COLOR", raising=False)
        app = Tiny(theme)
        async with app.run_test():
            named = app.get_css_variables()
            for state in State:
                block = app.query_one(f"#{state}").styles.background
                assert block == Color.parse(named[f"state-{state}"])
