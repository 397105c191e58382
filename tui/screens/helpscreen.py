"""The help screen: every key, the words of the trade it uses, where the files lie."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from tui.keys import ACTIONS, Where
from tui.states import LOOKS

_PLACES: tuple[tuple[Where, str], ...] = (
    ("everywhere", "Everywhere"),
    ("board", "Board"),
    ("clock", "Pour clock"),
    ("log", "Log"),
)

_WORDS = """\
A window opens when the face coat takes lift 1 without fibres pushing through, and
closes when the two coats would part. Times are forecasts; the fingertip decides.
A wait is a clock: its rate follows temperature, humidity and draught.

Defaults are common practice or estimates, never measurements of your shop. Nothing
here replaces labels, data sheets, local rules or licensed practice. Silica dust,
caustic paste, isocyanates, lifting, tall forms and wet power tools can hurt you.
"""


class HelpScreen(ModalScreen[None]):
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

    def compose(self) -> ComposeResult:
        """Lays out the page."""
        with VerticalScroll(id="box"):
            yield Static(self.page(), markup=False)

    def page(self) -> Text:
        """Returns the whole page."""
        text = Text()
        places = sorted(_PLACES, key=lambda place: place[0] != self._first)
        for where, title in places:
            text.append(f"{title}\n", style="bold")
            shown: set[str] = set()
            for action in ACTIONS:
                if action.where != where or action.help in shown:
                    continue
                shown.add(action.help)
                text.append(f"  {action.key:<7} {action.words:<17} {action.help}\n")
            text.append("\n")
        text.append("States\n", style="bold")
        for look in LOOKS.values():
            text.append(f"  {look.glyph}  {look.word}\n")
        text.append("\n" + _WORDS + "\n")
        text.append("Files\n", style="bold")
        for words, path in self._files.items():
            text.append(f"  {words}: {path}\n")
        text.append("\nESC goes back.")
        return text
