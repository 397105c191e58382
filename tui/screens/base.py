"""What all screens of the shop share: a head, what was said, the keys, the alert."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual import getters
from textual.app import ComposeResult
from textual.containers import Container
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from tui.inmemory import Pour
from tui.keys import Where, bindings, foot
from tui.notify import clean
from tui.session import Session
from tui.widgets.shout import Shout, ShoutText

if TYPE_CHECKING:
    from tui.app import PourbellApp


class ShopScreen(Screen[None]):
    """A screen of the program; ``show`` paints the newest snapshot."""

    WHERE: ClassVar[Where]
    """Which keys of the table belong to this screen."""

    AUTO_FOCUS = ""

    def __init_subclass__(cls) -> None:
        """Takes the screen's bindings from the table of keys."""
        cls.BINDINGS = list(bindings(cls.WHERE))
        super().__init_subclass__()

    laid_out = False
    """Whether the screen has been laid out."""

    head = getters.query_one("#head", Static)
    said = getters.query_one("#said", Static)
    shout = getters.query_one(Shout)

    @property
    def ready(self) -> bool:
        """Whether it can be painted: it is laid out, and not being taken down."""
        return self.laid_out and bool(self.query("#head"))

    @property
    def shop_app(self) -> PourbellApp:
        """The program."""
        from tui.app import PourbellApp  # noqa: PLC0415 - the app imports its screens

        assert isinstance(self.app, PourbellApp)
        return self.app

    @property
    def session(self) -> Session:
        """The pours."""
        return self.shop_app.session

    def compose(self) -> ComposeResult:
        """Lays out head, body, said line and foot."""
        yield Static(id="head", markup=False)
        with Container(id="body"):
            yield from self.body()
        yield Static(id="said", markup=False)
        yield Static(id="foot", markup=False)
        yield Shout()

    def body(self) -> Iterable[Widget]:
        """Yields the widgets between head and foot."""
        raise NotImplementedError

    def show(self, now: datetime) -> None:
        """Paints the newest snapshot as of an instant."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Paints for the first time."""
        self.laid_out = True
        self.shop_app.show()

    def on_resize(self) -> None:
        """Breaks the foot anew and paints what depends on the size."""
        foot_line = self.query_one("#foot", Static)
        put(foot_line, foot(self.WHERE, self.app.size.width - 2))
        self.call_after_refresh(self.shop_app.show)

    def on_screen_resume(self) -> None:
        """Catches up with what happened while another screen was up."""
        self.shop_app.show()

    def put_head(self, left: str, now: datetime) -> None:
        """Writes the head line: what this is, the shop's time on the right."""
        local = now.astimezone(self.session.zone)
        app = self.shop_app
        right = f"{app.trouble}{app.hush}{app.mark}{local:%a %d %b %H:%M}"
        room = max(0, self.app.size.width - len(right) - 3)
        line = Text(no_wrap=True)
        line.append(f" {clean(left)[:room]:<{room}} {right} ")
        put(self.head, line)

    def say(self, words: str, bad: bool) -> None:
        """Writes the said line."""
        self.said.set_class(bad, "bad")
        put(self.said, Text(f" {clean(words)}", no_wrap=True, overflow="ellipsis"))

    def put_shout(self, alert: ShoutText | None) -> None:
        """Raises the alert block, or takes it down."""
        self.shout.alert = alert
        self.set_class(alert is not None, "-alert")


_HARMFUL = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\ud800-\udfff"
    "\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]"
)
"""What would steer the terminal or turn its text round; a new line does not."""


def put(widget: Static, content: Text) -> None:
    """Updates a widget only when what it shows differs, so that nothing flickers.

    Whatever a person, a file or the log supplied passes here on its way to the screen.
    """
    if _HARMFUL.search(content.plain):
        content.plain = _HARMFUL.sub("\ufffd", content.plain)
    if widget.content != content:
        widget.update(content)


def pour_title(pour: Pour) -> str:
    """Names a pour for a head line."""
    job = pour.job
    which = (
        f", casting {pour.state.casting} of {job.castings}" if job.castings > 1 else ""
    )
    return f"{job.title}{which} ({pour.name})"
