"""The program: it wires keys, session, bells and screens, and holds no rule."""

from __future__ import annotations

import asyncio
import gc
import logging
import signal
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from datetime import timedelta
from functools import partial
from math import ceil
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.events import Event as TextualEvent
from textual.events import Paste
from textual.screen import Screen

from scheduling.clock import SimulatedTime
from scheduling.errors import LogFault, PourbellError
from scheduling.event import Event
from scheduling.folding import MOST_SILENT
from scheduling.units import Units
from tui.belltest import HEARD, UNHEARD
from tui.belltower import BellTower
from tui.inmemory import Pour
from tui.keys import Where, actions, bindings
from tui.notify import clean
from tui.pours import NOT_SAVED
from tui.screens.base import ShopScreen
from tui.screens.dialog import Dialog
from tui.screens.modes import MODES
from tui.session import Session
from tui.themes import SHOP_DARK, SHOP_LIGHT, variable_defaults
from tui.widgets.shout import ShoutText

if TYPE_CHECKING:
    from rich.console import RenderableType
    from textual.actions import ActionParseResult
    from textual.dom import DOMNode

    from tui.reviewing import Reviewer
    from tui.screens.picker import Picked
    from tui.timings.learner import Learner

_log = logging.getLogger(__name__)
_BEFORE_BELL_S = 20.0
"""How close to the next bell a rehearsal jumps, simulated seconds."""


HEED_S = 0.4
"""How often it is looked for an answer of another program while something rings."""

END_SIGNALS = {
    getattr(signal, name): status
    for name, status in (("SIGINT", 0), ("SIGTERM", 143), ("SIGHUP", 129))
    if hasattr(signal, name)
}
"""What ends the program from outside, and its exit status then."""


class PourbellApp(App[object]):
    """Pourbell on one shop folder."""

    TITLE = "pourbell"
    # The board is up first: its styles are read with the program's, not after them.
    CSS_PATH: ClassVar[list[str | PurePath]] = ["app.tcss", "screens/board.tcss"]
    ENABLE_COMMAND_PALETTE = True
    MODES: ClassVar[dict[str, Callable[[], Screen[None]]]] = MODES  # type: ignore[assignment]
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
        self._learner: Learner | None = None
        self._said = ("", False)
        self._failures: list[str] = []
        self._noted = 0
        self._watched = watched
        self._probe: asyncio.Task[None] | None = None
        self.log_read = False
        self.bells = BellTower(self, watched=watched)
        self._leaving = False
        self._before = self.DEFAULT_MODE
        self._ending = False
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
        for number, status in END_SIGNALS.items():
            with suppress(NotImplementedError, RuntimeError):  # where there are none
                loop.add_signal_handler(number, partial(self.exit, return_code=status))

    def open_log(self) -> None:
        """Reads the log, starts the bells and the tick."""
        self.session.load()
        self.log_read = True
        self.bells.start()
        self.follow_probes()
        self.set_interval(1.0, self.tick)
        self.set_interval(HEED_S, self.heed)
        if self._watched:
            self._probe = asyncio.create_task(self.look_at_disk())
        if self._play is not None:
            self._playing = self._play(self)
        self.tick()
        self.call_after_refresh(_tidy_memory)

    def follow_probes(self) -> None:
        """Begins to ask the shop's probes, where it has any."""
        if self.session.shop.probes:
            from tui.probes import Probes  # noqa: PLC0415 - few shops have one

            self.probes = Probes(self)
            self.probes.start()

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
        for reader in (self._reviewer, self._learner):
            if reader is not None:
                await reader.stop()
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
        rings = self.bells.loudest() is not None
        for screen in self.screen_stack:
            if isinstance(screen, ShopScreen | Dialog) and _is_up(screen):
                # The test bell keeps nobody from answering a question.
                asks = isinstance(screen, Dialog)
                screen.put_shout(alert if rings or not asks else None)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Lets Enter answer only while something rings and no question is open."""
        asked = isinstance(self.screen, Dialog)
        rings = self.bells.loudest() is not None
        if action == "hear":
            return rings
        if action == "answer":
            return (rings or self.bells.test.asking) and not asked
        if action == "not_heard":
            return self.bells.test.asking and not asked
        return super().check_action(action, parameters)

    def tick(self) -> None:
        """Once a second: what others wrote, what rings, and the clocks."""
        self.session.load()
        self.retry()
        self.own_up()
        self.bells.check()
        self.show()

    def heed(self) -> None:
        """While something rings: an answer of others silences it at once."""
        if self.bells.loudest() is not None and self.session.load():
            self.bells.check()

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
    def hush(self) -> str:
        """What the head line must say about silenced bells, or ""."""
        now = self.session.time.now()
        until = self.session.silent_until(now)
        if until is None:
            return ""
        minutes, seconds = divmod(ceil((until - now).total_seconds()), 60)
        return f"SILENT {minutes}:{seconds:02d} "

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

    def exit(
        self,
        result: object = None,
        return_code: int = 0,
        message: RenderableType | None = None,
    ) -> None:
        """Ends the program; keys that are still to come find no screen any more."""
        self._ending = True
        super().exit(result, return_code, message)

    async def on_event(self, event: TextualEvent) -> None:
        """Takes out of what is pasted, anywhere, what would steer the terminal."""
        if isinstance(event, Paste):
            event.text = clean(event.text)
        await super().on_event(event)

    async def run_action(
        self,
        action: str | ActionParseResult,
        default_namespace: DOMNode | None = None,
        namespaces: Mapping[str, DOMNode] | None = None,
    ) -> bool:
        """Runs an action; one that fails unexpectedly is said and the bells go on."""
        if self._ending:
            return True
        try:
            return await super().run_action(action, default_namespace, namespaces)
        except Exception:  # noqa: BLE001 - a key must not end what rings
            _log.exception("%s failed", action)
            self.refuse(f"unexpected error; the details are in {self.log_file}")
            return True

    def refuse(self, words: str) -> None:
        """Says why nothing happened, by the first line of the words."""
        self.bell()
        self.say(words.split("\n", 1)[0], bad=True)

    # -- wishes

    def wish(self, act: Callable[[], Event | None], words: str) -> None:
        """Takes a wish in: painted at once, then laid out anew and written down."""
        try:
            event = act()
        except PourbellError as error:
            self.refuse(str(error))
            return
        if event is None:
            return
        self._current = event.pour
        self.say(f"{words} - saving")
        self.call_after_refresh(self.settle, event.pour, words)

    def wish_for_all(self, act: Callable[[], Event], words: str) -> None:
        """Takes in a wish about every pour; the one in hand stays there."""
        here = self._current
        self.wish(act, words)
        self._current = here

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
            self.test_answered(HEARD, heard=True)
            return
        alert = ring.alert
        self.bells.silence(alert)
        self.put_shout()
        self.wish(lambda: self.session.acknowledge(alert), f"heard: {alert.kind}")

    def action_hear(self) -> None:
        """Answers the alert over an open question."""
        self.action_answer()

    def action_not_heard(self) -> None:
        """Says that the test bell was not heard."""
        self.test_answered(UNHEARD, heard=False)

    def test_answered(self, words: str, *, heard: bool) -> None:
        """Takes the answer to the test bell."""
        self.wish_for_all(lambda: self.bells.test.answer(heard=heard), words)
        self.put_shout()

    def action_silence(self) -> None:
        """Silences every bell for a while, or lets them sound again."""
        sounds = self.session.silent_until(self.session.time.now()) is None
        minutes = MOST_SILENT // timedelta(minutes=1) if sounds else 0
        words = f"silent for {minutes} min" if sounds else "bells sound again"
        self.wish_for_all(lambda: self.session.silence(minutes), words)

    # -- going about

    def go(self, mode: str) -> None:
        """Puts a screen of the shop up."""
        if self.current_mode != mode:
            self._before = self.current_mode
            self.switch_mode(mode)
        self.call_after_refresh(self.show)

    def go_back(self) -> None:
        """Puts the screen up again that was there before."""
        self.go(self._before)

    def action_board(self) -> None:
        """All pours."""
        self.go("board")

    def action_clock(self) -> None:
        """One pour."""
        self.go("clock")

    def action_cure(self) -> None:
        """Temperature and strength of one pour."""
        self.go("cure")

    def action_log(self) -> None:
        """Actual against planned."""
        self.go("log")

    def action_timings(self) -> None:
        """What the log teaches."""
        self.go("timings")

    def action_look(self) -> None:
        """Dark or light."""
        dark = self.theme == SHOP_DARK.name
        self.theme = SHOP_LIGHT.name if dark else SHOP_DARK.name

    def action_palette(self) -> None:
        """Every action by its words."""
        self.action_command_palette()

    def action_command_palette(self) -> None:
        """Opens the palette, by its key or the library's."""
        from tui.screens.palette import Palette  # noqa: PLC0415 - opened rarely

        if not isinstance(self.screen, Palette):
            self.push_screen(Palette())

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Puts every action of the screen that is up into the palette."""
        beneath = self.shop_screen
        where: Where = beneath.WHERE if beneath else "board"
        for action in actions(where):
            if action.id in (
                "answer",
                "hear",
                "not_heard",
                "palette",
            ) or action.id.startswith("zone("):
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

    @property
    def learner(self) -> Learner:
        """What every pour teaches; read and learned while the timings are up."""
        from tui.timings.learner import Learner  # noqa: PLC0415 - after the first paint

        if self._learner is None:
            self._learner = Learner(
                self.session, lambda: self.current_mode == "timings", self.show
            )
        return self._learner

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
            self.refuse(str(error))
            return
        self.action_clock()
        self.settle(self._current, f"{self._current} started")
        self.bells.test.begin()

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


def _tidy_memory() -> None:
    """Begins to look for garbage if nobody does, and never among what is up now."""
    if not gc.isenabled():
        gc.freeze()
        gc.enable()


def _is_up(screen: ShopScreen | Dialog[Any]) -> bool:
    """Whether a screen is laid out and not being left."""
    return screen.ready and screen.is_attached
