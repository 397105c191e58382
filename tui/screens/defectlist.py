"""What is wrong with the piece: one of the codes, each with where to look first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from rich.text import Text
from textual import getters
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from scheduling.defect import CODES, say_code
from tui.screens.dialog import Dialog


class DefectList(Dialog[str | None]):
    """The codes of all defects; arrows or a number choose, ENTER takes."""

    CSS_PATH = "defectlist.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "dismiss(None)", "back"),
        *(Binding(str(digit), f"digit({digit})", "number") for digit in range(10)),
    ]

    codes = getters.query_one(OptionList)

    def __init__(self) -> None:
        super().__init__()
        self._typed = 0

    def box(self) -> Iterable[Widget]:
        """Lists the codes."""
        yield Static("What is wrong, and where to look first", id="title")
        yield OptionList(
            *(
                Option(Text(f"{number:>2} {say_code(code):<15}{look}", no_wrap=True))
                for number, (code, look) in enumerate(CODES.items(), 1)
            )
        )
        yield Static("a number or the arrows, ENTER takes it   ESC back", id="keys")

    def action_digit(self, digit: int) -> None:
        """Goes to the code of a number, of two digits where there is such a one."""
        both = 10 * self._typed + digit
        self._typed = both if both <= len(CODES) else digit
        if 1 <= self._typed <= len(CODES):
            self.codes.highlighted = self._typed - 1

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Takes the code under the cursor."""
        self.dismiss(list(CODES)[event.option_index])
