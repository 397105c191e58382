"""The program: it wires keys, session, bells and screens, and holds no rule."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import timedelta
from functools import partial
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.screen import Screen

from scheduling.clock import SimulatedTime
from scheduling.errors import LogFault, PourbellError
from scheduling.event import Event
from scheduling.pour import undo_target
from scheduling.units import Units
from tui import questions
from tui.belltower import BellTower
from tui.keys import Where, actions, bindings
from tui.pours import NOT_SAVED, Pour
from tui.questions import Question
from tui.screens.base import ShopScreen
from tui.screens.board import BoardScreen
from tui.screens.dialog import Dialog
from tui.session import Session
from tui.themes import SHOP_DARK, SHOP_LIGHT, variable_defaults
from tui.widgets.shout import ShoutText

if TYPE_CHECKING:
    from scheduling.review import Row
    from tui.reviewing import Reviewer
    from tui.screens.picker import Picked

_BEFORE_BELL_S = 20.0
"""How close to the next bell a rehearsal jumps, simulated seconds."""


END_SIGNALS = [
    getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)
]
"""What ends the program from outside."""


def _clock_screen() -> Screen[None]:
    from tui.screens.pourclock import PourClockScreen  # noqa: PLC0415 - after the first paint

    return PourClockScreen()


def _log_screen() -> Screen[None]:
    from tui.screens.logscreen import LogScreen  # noqa: PLC0415 - after the first paint

    return LogScreen()


class PourbellApp(App[object]):
    """Pourbell on one shop folder."""

    TITLE = "pourbell"
    # The board is up first: its styles are read with the program's, not after them.
    CSS_PATH: ClassVar[list[str | PurePath]] = ["app.tcss", "screens/board.tcss"]
    ENABLE_COMMAND_PALETTE = True
    MODES: ClassVar[dict[str, Callable[[], Screen[None]]]] = {  # type: ignore[assignment]
        "board": BoardScreen,
        "clock": _clock_screen,
        "log": _log_screen,
    }
    DEFAULT_MODE = "board"
    BINDINGS: ClassVar[list[BindingType]] = list(bindings("everywhere"))

    def __init__(
        self,
        session: Session,
        *,
        mark: str = "",
        first: str | None = None,
        play: Callable[[PourbellApp], asyncio.Task[None]] | None = None,
        log_file: str = "",
        watched: bool = False,
    ) -> None:
        """Prepares the program.

        Args:
            session: The shop's pours.
            mark: A word for the head line, such as "REHEARSAL x60 ".
            first: A pour to open on its clock at once.
            play: Starts the simulated hands of a rehearsal.
            log_file: Where the program writes what went wrong.
            watched: Whether a process of its own watches over the bells.
        """
        super().__init__()
        self.session = session
        self.mark = mark
        self.units = Units(session.shop.units)
        self.log_file = log_file
        self._first = first
        self._current = first
        self._play = play
        self._playing: asyncio.Task[None] | None = None
        self._reviewer: Reviewer | None = None
        self._said = ("", False)
        self._failures: list[str] = []
        self._noted = 0
        self._watched = watched
        self._probe: asyncio.Task[None] | None = None
        self.log_read = False
        self.bells = BellTower(self, watched=watched)
        self._leaving = False
        self.register_theme(SHOP_DARK)
        self.register_theme(SHOP_LIGHT)
        self._dress(f"shop-{session.shop.theme}")

    def _dress(self, theme: str) -> None:
        """Puts a theme on before anything is up, so that styles are read only once."""
        self.set_reactive(App.theme, theme)
        dark = self.current_theme.dark
        self.set_class(dark, "-dark-mode", update=False)
        self.set_class(not dark, "-light-mode", update=False)
        self.stylesheet.set_variables(self.get_css_variables())

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Gives every theme the colours of our states."""
        return variable_defaults()

    # -- start and end

    def on_mount(self) -> None:
        """Paints first; the log is read when the screen is up."""
        self.take_signals()
        if self._first is not None:
            self.switch_mode("clock")
        self.call_after_refresh(self.open_log)

    def take_signals(self) -> None:
        """Lets the terminal be put in order before a signal ends the program."""
        loop = asyncio.get_running_loop()
        for number in END_SIGNALS:
            with suppress(NotImplementedError, RuntimeError):  # where there are none
                loop.add_signal_handler(
                    number, partial(self.exit, return_code=128 + number)
                )

    def open_log(self) -> None:
        """Reads the log, starts the bells and the tick."""
        self.session.load()
        self.log_read = True
        self.bells.start()
        self.set_interval(1.0, self.tick)
        if self._watched:
            self._probe = asyncio.create_task(self.look_at_disk())
        if self._play is not None:
            self._playing = self._play(self)
        self.tick()

    async def look_at_disk(self) -> None:
        """Says once when the disk is slow, or takes no marks at all."""
        from scheduling.disk import Disk  # noqa: PLC0415 - after the first paint
        from scheduling.diskprobe import disk_trouble  # noqa: PLC0415 - likewise

        log = self.session.folder.log
        trouble = await asyncio.to_thread(disk_trouble, log, Disk())
        if trouble:
            self.say(trouble, bad=True)

    async def on_unmount(self) -> None:
        """Falls silent."""
        if self._playing is not None:
            self._playing.cancel()
        if self._reviewer is not None:
            await self._reviewer.stop()
        await self.bells.stop(bye=self._leaving)

    # -- painting

    @property
    def pour(self) -> Pour | None:
        """The pour in hand: the one chosen, or the first on the board."""
        self._current = self.session.renamed.get(self._current or "", self._current)
        if self._current in self.session.pours:
            return self.session.pours[self._current]
        pours = self.session.open_pours()
        return pours[0] if pours else None

    @property
    def shop_screen(self) -> ShopScreen | None:
        """The screen of the shop beneath any dialog."""
        for screen in reversed(self.screen_stack):
            if isinstance(screen, ShopScreen):
                return screen
        return None

    def show(self) -> None:
        """Paints the newest snapshot on the screen that is up."""
        screen = self.shop_screen
        if screen is not None and _is_up(screen):
            screen.show(self.session.time.now())
            screen.say(*self._said)
            self.put_shout()

    def put_shout(self) -> None:
        """Raises the alert block on whatever is up, or takes it down everywhere."""
        alert = self.shout_text()
        for screen in self.screen_stack:
            if isinstance(screen, ShopScreen | Dialog) and _is_up(screen):
                screen.put_shout(alert)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Lets Enter answer only while something rings and no question is open."""
        if action in ("answer", "hear"):
            asked = action == "answer" and isinstance(self.screen, Dialog)
            return self.bells.loudest() is not None and not asked
        return super().check_action(action, parameters)

    def tick(self) -> None:
        """Once a second: what others wrote, what rings, and the clocks."""
        self.session.load()
        self.retry()
        self.own_up()
        self.bells.check()
        self.show()

    def retry(self) -> None:
        """Tries again to write what the disk did not take."""
        for pour in list(self.session.pours.values()):
            if pour.unsaved:
                self.settle(pour.name)

    def own_up(self) -> None:
        """Says once what was put right in the log, and what is wrong with the bells."""
        notes = self.session.log.notes
        if (new := len(notes) - self._noted) > 0:
            self._noted = len(notes)
            more = f" (and {new - 1} more: pourbell check)" if new > 1 else ""
            self.say(f"{notes[-1]}{more}", bad=True)
        failures = self.bells.failures
        if failures != self._failures:
            self._failures = failures
            if failures:
                self.say(failures[-1], bad=True)

    @property
    def trouble(self) -> str:
        """What the head line must say about the log, or ""."""
        faults = self.session.faults
        if NOT_SAVED in faults:
            return "!! NOT SAVED "
        if self.session.clock_unsure:
            return "!! CHECK THE CLOCK "
        return "!! LOG FAULT " if faults else ""

    def say(self, words: str, *, bad: bool = False) -> None:
        """Says something on the screen that is up."""
        self._said = (words, bad)
        screen = self.shop_screen
        if screen is not None and _is_up(screen):
            screen.say(words, bad)

    def refuse(self, words: str) -> None:
        """Says why nothing happened."""
        self.bell()
        self.say(words, bad=True)

    # -- wishes

    def wish(self, act: Callable[[], Event | None], words: str) -> None:
        """Takes a wish in: painted at once, then laid out anew and written down."""
        try:
            event = act()
        except PourbellError as error:
            self.refuse(_first_line(error))
            return
        if event is None:
            return
        self._current = event.pour
        self.say(f"{words} - saving")
        self.call_after_refresh(self.settle, event.pour, words)

    def settle(self, pour: str, words: str = "") -> None:
        """Writes a pour's new events, lays it out and rings what follows."""
        try:
            name = self.session.settle(pour)
        except LogFault as fault:
            self.say(f"NOT SAVED: {fault}", bad=True)
        else:
            if name != pour:
                words = f"{pour} was begun elsewhere at the same instant: it is {name}"
            if words:
                local = self.session.time.now().astimezone(self.session.zone)
                self.say(f"{words} - saved {local:%H:%M:%S}")
        self.bells.check()
        self.show()

    def other_pour(self, by: int) -> None:
        """Takes another pour in hand."""
        names = [pour.name for pour in self.session.open_pours()]
        if names:
            here = self.pour
            at = names.index(here.name) if here and here.name in names else 0
            self._current = names[(at + by) % len(names)]
        self.show()

    # -- bells

    def shout_text(self) -> ShoutText | None:
        """What the alert block says."""
        several = len(self.session.open_pours()) > 1
        return self.bells.shout_text(several=several)

    def action_answer(self) -> None:
        """Answers the alert on the screen."""
        ring = self.bells.loudest()
        if ring is None:
            return
        alert = ring.alert
        self.bells.silence(alert)
        self.put_shout()
        self.wish(lambda: self.session.acknowledge(alert), f"heard: {alert.kind}")

    def action_hear(self) -> None:
        """Answers the alert over an open question."""
        self.action_answer()

    # -- going about

    def go(self, mode: str) -> None:
        """Puts a screen of the shop up."""
        if self.current_mode != mode:
            self.switch_mode(mode)
        self.call_after_refresh(self.show)

    def action_board(self) -> None:
        """All pours."""
        self.go("board")

    def action_clock(self) -> None:
        """One pour."""
        self.go("clock")

    def action_log(self) -> None:
        """Actual against planned."""
        self.go("log")

    def action_look(self) -> None:
        """Dark or light."""
        dark = self.theme == SHOP_DARK.name
        self.theme = SHOP_LIGHT.name if dark else SHOP_DARK.name

    def action_palette(self) -> None:
        """Every action by its words."""
        self.action_command_palette()

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Puts every action of the screen that is up into the palette."""
        beneath = self.shop_screen
        where: Where = beneath.WHERE if beneath else "board"
        for action in actions(where):
            if action.id in ("answer", "hear", "palette") or action.id.startswith(
                "zone("
            ):
                continue
            target = self if action.where == "everywhere" else beneath
            yield SystemCommand(
                f"{action.words} ({action.key})",
                action.help,
                partial(self.run_action, action.id, target),
            )
        yield from super().get_system_commands(screen)

    def action_leave(self) -> None:
        """Leaves the program; nothing rings any more."""
        self._leaving = True
        self.exit()

    async def action_quit(self) -> None:
        """Leaves the program, by the palette of the library."""
        self.action_leave()

    def action_jump(self) -> None:
        """Jumps a rehearsal to just before its next bell."""
        time = self.session.time
        due = self.session.next_due(time.now())
        if not isinstance(time, SimulatedTime):
            self.refuse("only a rehearsal can jump")
        elif due is None:
            self.refuse("no bell is coming: mark the next step first")
        else:
            time.advance_to(due - timedelta(seconds=_BEFORE_BELL_S))
            self.session.refresh()
            self.tick()

    # -- the log

    @property
    def reviewer(self) -> Reviewer:
        """The rows of every pour; the archive is read while the log screen is up."""
        from tui.reviewing import Reviewer  # noqa: PLC0415 - after the first paint

        if self._reviewer is None:
            self._reviewer = Reviewer(self.session, lambda: self.current_mode == "log")
        return self._reviewer

    # -- asking

    def action_new_pour(self) -> None:
        """Asks which job to start."""
        from tui.screens.picker import Picker  # noqa: PLC0415 - opened rarely

        self.push_screen(Picker(self.session), self.picked)

    def picked(self, picked: Picked | None) -> None:
        """Starts what was picked."""
        if picked is None:
            return
        if picked.wish == "rehearse":
            self.exit(picked)
            return
        try:
            if picked.wish == "adopt":
                self.session.folder.adopt_samples()
                self.session.reload_shop()
                self.action_new_pour()
                return
            assert picked.job is not None
            self._current = self.session.begin(picked.job, entry=picked.entry)
        except (PourbellError, OSError) as error:
            self.refuse(_first_line(error))
            return
        self.action_clock()
        self.settle(self._current, f"{self._current} started")

    def action_help(self) -> None:
        """Every key."""
        from tui.screens.helpscreen import HelpScreen  # noqa: PLC0415 - opened rarely

        screen = self.shop_screen
        folder = self.session.folder
        files = {
            "shop": str(folder.shop_file),
            "jobs": str(folder.jobs),
            "log": str(folder.log),
            "what went wrong": self.log_file,
        }
        self.push_screen(HelpScreen(screen.WHERE if screen else "board", files))

    def take_line(self, question: Question) -> None:
        """Asks for one line and takes the answer, if there is one."""
        from tui.screens.ask import Ask  # noqa: PLC0415 - opened rarely

        def taken(answer: str | None) -> None:
            if answer is not None:
                question.take(answer)

        self.push_screen(Ask(question.title, question.hint, question.check), taken)

    def ask_note(self) -> None:
        """Asks for a line for the log."""
        self.take_question(questions.note)

    def ask_reading(self) -> None:
        """Asks for temperatures and air."""
        self.take_question(questions.reading)

    def ask_hands(self) -> None:
        """Asks who is in."""
        self.take_question(questions.hands)

    def take_question(self, make: Callable[[PourbellApp, Pour], Question]) -> None:
        """Asks a question about the pour in hand."""
        pour = self.pour
        if pour is None:
            self.refuse("no pour is running")
        else:
            self.take_line(make(self, pour))

    def ask_time(self, row: Row | None = None) -> None:
        """Asks for the right time of a row of the log, or of the newest mark."""
        if row is not None:
            self.session.load_one(row.pour)
            about = f"{row.step} {row.zone}".strip()
            self.take_line(questions.time(self, row.pour, row.event, about))
            return
        pour = self.pour
        target = undo_target(self.session.events(pour.name)) if pour else None
        if pour is None or target is None:
            self.refuse("nothing is marked yet")
            return
        about = f"{target.kind} {target.step} {target.zone}".strip()
        self.take_line(questions.time(self, pour.name, target.id, about))


def _is_up(screen: ShopScreen | Dialog[Any]) -> bool:
    """Whether a screen is laid out and not being left."""
    return screen.ready and screen.is_attached


def _first_line(error: Exception) -> str:
    return str(error).split("\n", 1)[0]
