"""Every action in one table: its key, its words and where it works.

Bindings, the foot of each screen, the help screen and the palette all read it. The
keys are single and plain, so that they arrive over ssh and tmux and can be pressed
with a wet glove through film wrap.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rich.text import Text
from textual.binding import Binding

Where = Literal["everywhere", "board", "clock", "cure", "log", "timings"]


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a key does.

    Attributes:
        id: Name of the action method, without ``action_``.
        keys: The keys, separated by commas; the first is the one shown.
        words: What it does, short enough for the foot of the screen.
        help: A sentence for the help screen.
        where: The screen it belongs to.
        foot: Whether the foot of the screen shows it.
    """

    id: str
    keys: str
    words: str
    help: str
    where: Where
    foot: bool = True

    @property
    def key(self) -> str:
        """The key as it is shown."""
        first = self.keys.split(",")[0]
        return SHOWN.get(first, first)


SHOWN = {
    "space": "SPACE",
    "enter": "ENTER",
    "escape": "ESC",
    "left": "←",
    "right": "→",
    "up": "↑",
    "down": "↓",
    "plus": "+",
    "minus": "-",
    "question_mark": "?",
    "full_stop": ".",
    "f1": "F1",
    "f2": "F2",
    "f8": "F8",
    "f12": "F12",
}
"""Keys whose names are longer than what is printed on them."""


def _a(
    name: str, keys: str, words: str, help_: str, where: Where, *, foot: bool = True
) -> Action:
    return Action(name, keys, words, help_, where, foot)


ACTIONS: tuple[Action, ...] = (
    _a(
        "answer",
        "enter,ctrl+j",
        "heard",
        "Answers the alert on the screen: it falls silent everywhere. It does not "
        "say that the work is done.",
        "everywhere",
        foot=False,
    ),
    _a(
        "hear",
        "f12",
        "heard",
        "Answers the alert while a question is open, where ENTER belongs to the "
        "question.",
        "everywhere",
        foot=False,
    ),
    _a(
        "not_heard",
        "f8",
        "not heard",
        "Says that the test bell of the day was not heard.",
        "everywhere",
        foot=False,
    ),
    _a(
        "silence",
        "o",
        "silence",
        "Silences every bell for 10 min, in every program on this log; again ends it. "
        "Alerts still take the screen.",
        "everywhere",
        foot=False,
    ),
    _a("board", "b", "board", "All pours on one time axis.", "everywhere"),
    _a("clock", "c", "clock", "The pour clock of one pour.", "everywhere"),
    _a(
        "cure",
        "m",
        "cure",
        "Maturity: temperature and strength of one pour, and what tonight changes.",
        "everywhere",
    ),
    _a("log", "l", "log", "Actual against planned.", "everywhere"),
    _a(
        "timings",
        "j",
        "timings",
        "What the log teaches of every wait and step, to accept or refuse.",
        "everywhere",
    ),
    _a("new_pour", "p", "pour", "Starts a pour: choose a job.", "everywhere"),
    _a("help", "h,question_mark,f1", "help", "This page.", "everywhere"),
    _a(
        "look",
        "d",
        "dark/light",
        "Changes between the dark and the light look.",
        "everywhere",
        foot=False,
    ),
    _a(
        "palette",
        "f2,ctrl+p",
        "palette",
        "Every action by its words.",
        "everywhere",
        foot=False,
    ),
    _a(
        "jump",
        "full_stop",
        "next bell",
        "Rehearsal only: jumps to just before the next bell.",
        "everywhere",
        foot=False,
    ),
    _a("leave", "q", "quit", "Leaves the program; nothing is lost.", "everywhere"),
    _a("other(-1)", "up", "pour", "The pour above.", "board", foot=False),
    _a("other(1)", "down", "pour", "The pour below.", "board", foot=False),
    _a("open_pour", "space", "open", "Opens the pour clock.", "board"),
    _a("shift(-1)", "left", "earlier", "Shows an earlier time.", "board", foot=False),
    _a("shift(1)", "right", "later", "Shows a later time.", "board", foot=False),
    _a("zoom(1)", "plus,equals_sign", "closer", "Less time, larger.", "board"),
    _a("zoom(-1)", "minus", "wider", "More time, smaller.", "board"),
    _a("home", "home,0", "now", "Back to now.", "board"),
    _a(
        "undo",
        "u",
        "undo",
        "Takes the newest mark of the chosen pour back, putting away too.",
        "board",
    ),
    _a(
        "put_away",
        "z",
        "put away",
        "Takes the pour off the board; its log stays. Undo brings it back.",
        "board",
    ),
    _a(
        "go_on",
        "space",
        "start / finish",
        "Starts the chosen step, or finishes it when it is running.",
        "clock",
    ),
    _a(
        "touch('soft')",
        "s",
        "soft",
        "Touch test: too soft. Demould tried: not ready.",
        "clock",
    ),
    _a(
        "touch('ready')",
        "r",
        "ready",
        "Touch test: ready. Demould tried: ready.",
        "clock",
    ),
    _a("touch('going-off')", "g", "going off", "Touch test: going off.", "clock"),
    _a("touch('gone')", "x", "gone", "Touch test: gone.", "clock"),
    _a("undo", "u", "undo", "Takes the newest mark back, again and again.", "clock"),
    _a("read", "t", "reading", "Temperatures, humidity, draught.", "clock"),
    _a("note", "n", "note", "Writes a line into the log.", "clock"),
    _a("defect", "w", "defect", "Writes down what is wrong with the piece.", "clock"),
    _a("fog", "f", "fogged", "The zone was fogged.", "clock"),
    _a("cover", "v", "covered", "The zone is under plastic, or no longer.", "clock"),
    _a("respray", "y", "re-sprayed", "The zone was sprayed anew just now.", "clock"),
    _a("skip", "k", "skip", "Passes over the chosen step.", "clock"),
    _a("hands", "i", "who is in", "Who is in today.", "clock"),
    _a("correct", "e", "fix time", "Corrects the time of the newest mark.", "clock"),
    _a("choose(-1)", "up", "step", "The step above.", "clock", foot=False),
    _a("choose(1)", "down", "step", "The step below.", "clock", foot=False),
    _a("other(-1)", "left", "pour", "The pour before.", "clock", foot=False),
    _a("other(1)", "right", "pour", "The pour after.", "clock", foot=False),
    *(
        _a(
            f"zone({digit})",
            str(digit),
            f"zone {digit}",
            f"Chooses zone {digit} for the next touch.",
            "clock",
            foot=False,
        )
        for digit in range(1, 10)
    ),
    _a("low(1)", "up", "milder night", "Tonight's low, a degree up.", "cure"),
    _a("low(-1)", "down", "colder", "Tonight's low, a degree down.", "cure"),
    _a("cover", "v", "cover", "Open, plastic, blanket, heat.", "cure"),
    _a("as_it_is", "0,home", "as it is", "Supposes nothing any more.", "cure"),
    _a("zoom(1)", "plus,equals_sign", "closer", "Less time, larger.", "cure"),
    _a("zoom(-1)", "minus", "wider", "More time, smaller.", "cure"),
    _a("why", "w", "why", "What the figures are worth.", "cure"),
    _a("other(-1)", "left", "pour", "The pour before.", "cure", foot=False),
    _a("other(1)", "right", "pour", "The pour after.", "cure", foot=False),
    _a("back", "escape", "back", "To the screen that was up before.", "cure"),
    _a("group", "space", "rows / by step / by job", "Takes rows together.", "log"),
    _a("narrow", "s", "this step", "Only the chosen step, or all again.", "log"),
    _a("correct", "e", "fix time", "Corrects the start or end of the row.", "log"),
    _a("view", "space", "waits/work/defects", "The next table.", "timings"),
    _a(
        "plot",
        "v",
        "plot",
        "Before and after, predicted against actual, the backtest.",
        "timings",
    ),
    _a(
        "accept",
        "a",
        "accept",
        "The next pours run on what was learned of the chosen row.",
        "timings",
    ),
    _a("refuse", "r", "refuse", "The chosen row stays as it is.", "timings"),
    _a(
        "take_back",
        "u",
        "take back",
        "What was accepted or refused of the chosen row is so no longer.",
        "timings",
    ),
    _a("why", "w", "why", "How the figures are made.", "timings"),
    _a("back", "escape", "back", "To the screen that was up before.", "timings"),
)
"""All actions. A key means one thing on one screen."""


def actions(where: Where) -> list[Action]:
    """Returns the actions of a screen, those that work everywhere last."""
    own = [action for action in ACTIONS if action.where == where]
    return own + [action for action in ACTIONS if action.where == "everywhere"]


def bindings(where: Where) -> list[Binding]:
    """Returns the bindings of a screen, or of the app for ``everywhere``."""
    return [
        Binding(
            action.keys,
            action.id if where != "everywhere" else f"app.{action.id}",
            action.words,
            key_display=action.key,
            tooltip=action.help,
            id=f"{where}.{action.id}",
            show=False,
            priority=action.id in ("answer", "hear", "not_heard"),
        )
        for action in ACTIONS
        if action.where == where
    ]


def foot(where: Where, width: int) -> Text:
    """Returns the foot of a screen: each key in bold with its words, never parted.

    Args:
        where: The screen.
        width: Cells in a line.
    """
    text = Text()
    used = 0
    for action in (action for action in actions(where) if action.foot):
        length = len(action.key) + 1 + len(action.words)
        if used and used + 2 + length > width:
            text.append("\n")
            used = 0
        elif used:
            text.append("  ")
            used += 2
        text.append(action.key, style="bold underline")
        text.append(f" {action.words}")
        used += length
    return text
