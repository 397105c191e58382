"""The help screen: every key, the words of the trade it uses, where the files lie."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from tui.keys import ACTIONS, Where
from tui.notify import clean
from tui.screens.dialog import Dialog
from tui.states import LOOKS

_PLACES: tuple[tuple[Where, str], ...] = (
    ("everywhere", "Everywhere"),
    ("board", "Board"),
    ("clock", "Pour clock"),
    ("cure", "Cure"),
    ("log", "Log"),
    ("timings", "Timings"),
)

_WORDS = """\
A window opens when the face coat takes lift 1 without fibres pushing through, and
closes when the two coats would part. Times are forecasts; the fingertip decides.
A wait is a clock: its rate follows temperature, humidity and draught.

While a pour is open this machine is kept from going to sleep where it lets us; asleep
it cannot ring. "pourbell ring --test" tries every channel of the bells.

Defaults are common practice or estimates, never measurements of your shop. Nothing
here replaces labels, data sheets, local rules or licensed practice. Silica dust,
caustic paste, isocyanates, lifting, tall forms and wet power tools can hurt you.
"""


class HelpScreen(Dialog[None]):
    """Keys, states and files on one page."""

    CSS_PATH = "helpscreen.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,h,q,enter,question_mark,f1", "dismiss(None)", "back"),
    ]

    def __init__(self, first: Where, files: dict[str, str]) -> None:
        """Prepares the page.

        Args:
            first: The screen it was called from; its keys come first.
            files: Words for each path that the user may want to know.
        """
        super().__init__()
        self._first = first
        self._files = files

    def box(self) -> Iterable[Widget]:
        """Lays out the page."""
        with VerticalScroll():
            yield Static(self.page(), markup=False)

    def page(self) -> Group:
        """Returns the whole page."""
        top = Text("↑ ↓ and PAGE DOWN scroll   ESC goes back\n", style="italic")
        parts: list[RenderableType] = [top]
        for where, title in sorted(_PLACES, key=lambda place: place[0] != self._first):
            parts += [Text(title, style="bold"), _keys(where), Text()]
        parts += [Text("States", style="bold"), _states(), Text(), Text(_WORDS)]
        parts.append(Text("Files", style="bold"))
        parts += [
            Text(f"  {words}: {clean(path, 400)}")
            for words, path in self._files.items()
        ]
        return Group(*parts)


def _grid() -> Table:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True, style="bold")
    grid.add_column(no_wrap=True)
    grid.add_column()
    return grid


def _keys(where: Where) -> Table:
    """The keys of one place, each with its words and what it does."""
    grid = _grid()
    zones = [a for a in ACTIONS if a.id.startswith("zone(")]
    for action in ACTIONS:
        if action.where != where or action in zones[1:]:
            continue
        if action in zones:
            grid.add_row("  1-9", "zone", "Chooses a zone for the next touch.")
        else:
            grid.add_row(f"  {action.key}", action.words, action.help)
    return grid


def _states() -> Table:
    grid = _grid()
    for look in LOOKS.values():
        grid.add_row(f"  {look.glyph}", look.word, "")
    return grid
