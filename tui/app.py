"""The program: it wires keys, session, bells and screens, and holds no rule."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Coroutine
from datetime import timedelta
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.screen import Screen

from scheduling.alerts import Alert
from scheduling.clock import SimulatedTime
from scheduling.errors import LogFault, PourbellError
from scheduling.log import Event
from scheduling.pour import undo_target
from scheduling.readings import read_readings, say_readings
from scheduling.review import Row, review
from scheduling.ringer import Ring, Ringer
from scheduling.units import Units
from tui.keys import bindings
from tui.notify import Notifier, terminal_writer
from tui.screens.base import ShopScreen
from tui.screens.board import BoardScreen
from tui.screens.dialog import Dialog
from tui.screens.logscreen import LogScreen
from tui.screens.pourclock import PourClockScreen
from tui.session import Pour, Session
from tui.themes import SHOP_DARK, SHOP_LIGHT, variable_defaults
from tui.widgets.shout import ShoutText

if TYPE_CHECKING:
    from tui.screens.ask import Check
    from tui.screens.picker import Picked

_log = logging.getLogger(__name__)

_BEFORE_BELL_S = 20.0
"""How close to the next bell a rehearsal jumps, simulated seconds."""


class PourbellApp(App[object]):
    """Pourbell on one shop folder."""

    TITLE = "pourbell"
    CSS_PATH = "app.tcss"
    ENABLE_COMMAND_PALETTE = True
    MODES: ClassVar[dict[str, Callable[[], Screen[None]]]] = {  # type: ignore[assignment]
        "board": BoardScreen,
        "clock": PourClockScreen,
        "log": LogScreen,
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
    ) -> None:
        """Prepares the program.

        Args:
            session: The shop's pours.
            mark: A word for the head line, such as "REHEARSAL x60 ".
            first: A pour to open on its clock at once.
            play: Starts the simulated hands of a rehearsal.
            log_file: Where the program writes what went wrong.
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
        self._said = ("", False)
        self._rings: dict[tuple[str, str], Ring] = {}
        self._ringer: Ringer | None = None
        self._notifier: Notifier | None = None
        self._chores: set[asyncio.Task[None]] = set()
        self.register_theme(SHOP_DARK)
        self.register_theme(SHOP_LIGHT)
        self.theme = f"shop-{session.shop.theme}"

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Gives every theme the colours of our states."""
        return variable_defaults()

    # -- start and end

    def on_mount(self) -> None:
        """Paints first; the log is read when the screen is up."""
        if self._first is not None:
            self.switch_mode("clock")
        self.call_after_refresh(self.open_log)

    def open_log(self) -> None:
        """Reads the log, starts the bells and the tick."""
        self.session.load()
        self._notifier = Notifier(
            self.session.shop.bells, write=terminal_writer(self), bell=self.bell
        )
        self._ringer = Ringer(
            self.session.time,
            source=self.session.ringing,
            next_due=self.session.next_due,
            on_ring=self.on_ring,
            on_quiet=self.on_quiet,
        )
        self._ringer.start()
        self.set_interval(1.0, self.tick)
        if self._play is not None:
            self._playing = self._play(self)
        self.tick()

    def on_unmount(self) -> None:
        """Falls silent."""
        if self._playing is not None:
            self._playing.cancel()
        if self._ringer is not None:
            self._ringer.stop()
        if self._notifier is not None:
            self.chore(self._notifier.stop())

    def chore(self, work: Coroutine[Any, Any, None]) -> None:
        """Runs something in the background and keeps hold of it."""
        task = asyncio.get_running_loop().create_task(work)
        self._chores.add(task)
        task.add_done_callback(self._chores.discard)

    # -- painting

    @property
    def pour(self) -> Pour | None:
        """The pour in hand: the one chosen, or the first on the board."""
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
        if screen is not None and screen.ready:
            screen.show(self.session.time.now())
            screen.say(*self._said)
            self.put_shout()

    def put_shout(self) -> None:
        """Raises the alert block on whatever is up, or takes it down everywhere."""
        alert = self.shout_text()
        for screen in self.screen_stack:
            if isinstance(screen, ShopScreen | Dialog) and screen.ready:
                screen.put_shout(alert)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Lets Enter answer only while something rings; else it goes to the screen."""
        if action == "answer":
            return self.loudest() is not None
        return super().check_action(action, parameters)

    def tick(self) -> None:
        """Once a second: what others wrote, what rings, and the clocks."""
        self.session.load()
        self.check_bells()
        self.show()

    def check_bells(self) -> None:
        """Rings what is due now and sets the fine timer to what comes next."""
        if self._ringer is not None:
            self._ringer.check(asyncio.get_running_loop().time())
            self._ringer.arm()

    def say(self, words: str, *, bad: bool = False) -> None:
        """Says something on the screen that is up."""
        self._said = (words, bad)
        screen = self.shop_screen
        if screen is not None and screen.ready:
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
            self.session.settle(pour)
        except LogFault as fault:
            self.say(f"NOT SAVED: {fault}", bad=True)
        else:
            if words:
                local = self.session.time.now().astimezone(self.session.zone)
                self.say(f"{words} - saved {local:%H:%M:%S}")
        self.check_bells()
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

    def on_ring(self, ring: Ring) -> None:
        """Makes an alert seen and heard; its first ring goes into the log."""
        alert = ring.alert
        self._rings[alert.pour, alert.id] = ring
        if ring.repeat == 0:
            self.session.rang(alert, ring.late_s)
            self.call_after_refresh(self.settle, alert.pour)
        self.sound()
        self.show()

    def on_quiet(self, alert: Alert) -> None:
        """Takes an alert down that was answered or no longer matters."""
        self._rings.pop((alert.pour, alert.id), None)
        self.sound()
        self.show()

    def loudest(self) -> Ring | None:
        """The ring that the screen shows: closing before opening before a word."""
        order = ("closes", "opens", "note")
        return min(
            self._rings.values(),
            key=lambda ring: (
                order.index(ring.alert.shape),
                -ring.alert.due.timestamp(),
            ),
            default=None,
        )

    def sound(self) -> None:
        """Sounds the loudest alert, or falls silent."""
        notifier = self._notifier
        if notifier is None:
            return
        ring = self.loudest()
        if ring is None:
            self._sounding = None
            self.chore(notifier.stop())
            return
        key = (ring.alert.pour, ring.alert.id)
        if key != self._sounding or not notifier.ringing:
            self._sounding = key
            title = f"{ring.alert.word}: {ring.alert.pour}"
            self.chore(notifier.start(ring.alert.shape, title, ring.alert.line))

    _sounding: tuple[str, str] | None = None

    def shout_text(self) -> ShoutText | None:
        """What the alert block says."""
        ring = self.loudest()
        if ring is None:
            return None
        alert = ring.alert
        late = ""
        if ring.late_s:
            minutes, seconds = divmod(round(ring.late_s), 60)
            late = f"LATE by {minutes} min {seconds:02d} s: "
        more = f"   {len(self._rings) - 1} more" if len(self._rings) > 1 else ""
        several = len(self.session.open_pours()) > 1
        where = f"{alert.pour}: " if several else ""
        return ShoutText(
            alert.shape,
            alert.word,
            f"{late}{where}{alert.line}",
            f"ENTER heard{more}",
            ring.repeat,
        )

    def action_answer(self) -> None:
        """Answers the alert on the screen."""
        ring = self.loudest()
        if ring is None:
            return
        alert = ring.alert
        self._rings.pop((alert.pour, alert.id), None)
        self.sound()
        self._current = alert.pour
        self.put_shout()
        self.wish(lambda: self.session.acknowledge(alert), f"heard: {alert.kind}")

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

    def action_leave(self) -> None:
        """Leaves the program."""
        self.exit()

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

    def review_rows(self) -> list[Row]:
        """Rows of every pour, the plan of each kept while the log screen is up."""
        rows: list[Row] = []
        for name, pour in self.session.pours.items():
            rows.extend(review(pour.state, self.session.plan(name)))
        return rows

    # -- asking

    def action_new_pour(self) -> None:
        """Asks which job to start."""
        from tui.screens.picker import Picker  # noqa: PLC0415 - opened rarely

        self.push_screen(Picker(self.session.folder), self.picked)

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
            self._current = self.session.start(picked.job, entry=picked.entry)
        except (PourbellError, OSError) as error:
            self.refuse(_first_line(error))
            return
        self.action_clock()
        self.say(f"{self._current} started - saved")

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

    def ask(
        self, title: str, hint: str, check: Check, take: Callable[[str], None]
    ) -> None:
        """Asks for one line and takes the answer, if there is one."""
        from tui.screens.ask import Ask  # noqa: PLC0415 - opened rarely

        def taken(answer: str | None) -> None:
            if answer is not None:
                take(answer)

        self.push_screen(Ask(title, hint, check), taken)

    def ask_note(self) -> None:
        """Asks for a line for the log."""
        pour = self.pour
        if pour is None:
            self.refuse("no pour is running")
            return
        self.ask(
            "Note",
            "A line for the log.",
            lambda text: f"{len(text.strip())} characters",
            lambda text: self.wish(
                lambda: self.session.note(pour.name, text.strip()), "note"
            ),
        )

    def ask_reading(self) -> None:
        """Asks for temperatures and air."""
        pour = self.pour
        if pour is None:
            self.refuse("no pour is running")
            return
        unit = self.units.temperature_unit
        wind = "mph" if self.units.system == "us" else "km/h"
        self.ask(
            "Reading",
            f"Numbers with their word: shop, form, mix, piece in {unit}, rh in %, wind "
            f"in {wind}. A number alone is the shop. Example: 19.5 form 18 rh 45",
            lambda text: say_readings(read_readings(text, self.units), self.units),
            lambda text: self.wish(
                lambda: self.session.reading(
                    pour.name, read_readings(text, self.units)
                ),
                say_readings(read_readings(text, self.units), self.units),
            ),
        )

    def ask_hands(self) -> None:
        """Asks who is in."""
        pour = self.pour
        if pour is None:
            self.refuse("no pour is running")
            return
        names = [person.name for person in self.session.shop.people]
        self.ask(
            "Who is in",
            f"Names with commas between them, of {', '.join(names)}; or a number.",
            lambda text: f"{len(self.session.names(text))} hands",
            lambda text: self.wish(
                lambda: self.session.hands(pour.name, self.session.names(text)),
                f"in: {', '.join(self.session.names(text))}",
            ),
        )

    def ask_time(
        self, name: str | None = None, event_id: str | None = None, about: str = ""
    ) -> None:
        """Asks for the right time of a mark: the newest of the pour in hand, or one."""
        pour = self.session.pours.get(name or "") or self.pour
        target = undo_target(self.session.events(pour.name)) if pour else None
        if pour is None or (event_id is None and target is None):
            self.refuse("nothing is marked yet")
            return
        if event_id is None and target is not None:
            event_id = target.id
            about = f"{target.kind} {target.step} {target.zone}".strip()
        assert event_id is not None
        fixed = event_id
        self.ask(
            f"When was that: {about}?",
            "Such as 9:42, -5 (five minutes ago), yesterday 16:10.",
            self.session.say_time,
            lambda text: self.wish(
                lambda: self.session.correct(
                    pour.name, fixed, self.session.read_time(text)
                ),
                f"{about} at {text}",
            ),
        )


def _first_line(error: Exception) -> str:
    return str(error).split("\n", 1)[0]
