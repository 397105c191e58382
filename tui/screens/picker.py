"""Starting a pour: pick a job, or a bare pour that only wants the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar, Literal

from rich.text import Text
from textual import getters
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from scheduling.errors import PourbellError
from scheduling.folder import BARE, sample_jobs
from scheduling.job import Job
from scheduling.jobfile import read_job
from scheduling.notices import spray_air
from scheduling.process import PHASES
from scheduling.timeline import Timeline
from tui.focus import own_standing
from tui.notify import clean
from tui.screens.dialog import Dialog
from tui.session import Session


@dataclass(frozen=True, slots=True)
class Picked:
    """What was picked.

    Attributes:
        wish: ``start`` a pour, ``rehearse`` one, or ``adopt`` the sample shop.
        job: The job, for the first two.
        entry: Where the pour is joined.
    """

    wish: Literal["start", "rehearse", "adopt"]
    job: Job | None = None
    entry: str = "form"


class Picker(Dialog[Picked | None]):
    """A list of jobs; one key starts the chosen one where the work stands."""

    CSS_PATH = "picker.tcss"

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "dismiss(None)", "back"),
        Binding("f", "start('form')", "from the form"),
        Binding("w", "start('weigh-off')", "from the weigh-off"),
        Binding("space,m", "start('face coat')", "from the face mix"),
        Binding("b", "bare", "bare pour"),
        Binding("r", "rehearse", "rehearse"),
        Binding("a", "adopt", "sample shop"),
    ]

    jobs = getters.query_one(OptionList)
    about = getters.query_one("#about", Static)

    def __init__(self, session: Session) -> None:
        """Prepares the list.

        Args:
            session: Whose shop folder the jobs are in, and whose climate and hours
                their timelines are laid over.
        """
        super().__init__()
        self._session = session
        self._folder = session.folder
        self._jobs: list[Job | None] = []
        self._faults: list[str] = []

    def box(self) -> Iterable[Widget]:
        """Lists the jobs of the shop folder, or the samples when it has none."""
        own = self._folder.job_files()
        options: list[Option] = []
        for path in own or sample_jobs():
            try:
                job = read_job(path)
            except PourbellError as error:
                self._jobs.append(None)
                self._faults.append(str(error))
                options.append(Option(Text(clean(f"{path.stem}: cannot be read"))))
                continue
            self._jobs.append(job)
            self._faults.append("")
            due = f", due {job.due:%a %d %b %Y}" if job.due else ""
            sample = "" if own else " (sample)"
            options.append(Option(Text(clean(f"{job.title}{due}{sample}"))))
        keys = (
            "ENTER or f from the form   w from the weigh-off\n"
            "SPACE from the face mix    b bare pour, only the clock\n"
            "r rehearse on a fast clock   ESC back"
        )
        if not own:
            keys += "\na bring in the sample shop and its jobs"
        yield Static(
            "Start a pour (times as if begun now, in today's climate)",
            id="title",
            markup=False,
        )
        yield OptionList(*options)
        yield Static(id="about", markup=False)
        yield Static(keys, id="keys", markup=False)

    def chosen(self) -> Job | None:
        """The job under the cursor, or None."""
        index = self.jobs.highlighted
        return self._jobs[index] if index is not None else None

    def on_option_list_option_highlighted(
        self, event: OptionList.OptionHighlighted
    ) -> None:
        """Shows the job's timeline if it began now, or what is wrong with its file."""
        job = self._jobs[event.option_index]
        self.about.set_class(job is None, "bad")
        if job is None:
            self.about.update(Text(clean(self._faults[event.option_index], 400)))
            return
        self.about.update(self.preview(job))

    def preview(self, job: Job) -> Text:
        """The job's timeline in short, or why there is none."""
        now = self._session.time.now()
        try:
            plan = self._session.setting.plan(job, now)
            text = _phases(plan, self.when)
        except ValueError as error:  # a shop that never opens
            return Text(clean(str(error)))
        air = spray_air(plan, self._session.setting.climate)
        if air is not None and air.word != "fine":
            text.append(f"\n! evaporation at the spraying: {air.word}")
        return text

    def when(self, instant: datetime) -> str:
        """The shop's weekday and wall time of an instant."""
        return f"{instant.astimezone(self._session.zone):%a %d %H:%M}"

    def on_option_list_option_selected(self) -> None:
        """Enter starts from the form."""
        self.action_start("form")

    def action_start(self, entry: str) -> None:
        """Starts the chosen job."""
        job = self.chosen()
        if job is None:
            self.app.bell()
            return
        self.dismiss(Picked("start", job, entry))

    def action_bare(self) -> None:
        """Starts a bare pour at the mixer."""
        self.dismiss(Picked("start", BARE, "face coat"))

    def action_rehearse(self) -> None:
        """Rehearses the chosen job."""
        job = self.chosen()
        if job is not None:
            self.dismiss(Picked("rehearse", job))

    def action_adopt(self) -> None:
        """Brings in the sample shop."""
        self.dismiss(Picked("adopt"))


def _phases(plan: Timeline, when: Callable[[datetime], str]) -> Text:
    """The phases of a plan in two columns, and when it opens, closes and demoulds."""
    cells: list[str] = []
    for phase in PHASES:
        spans = [span for span in plan.steps() if span.phase == phase]
        if spans:
            first = min(span.start for span in spans)
            cells.append(f"{phase:<12}{when(first)}")
    windows = [span for span in plan.spans if span.window is not None]
    for span in windows[:1]:
        if span.opens and span.closes:
            closes = when(span.closes.p50)[-5:]
            cells.append(f"{'window':<12}{when(span.opens.p50)} to {closes}")
    rows = (len(cells) + 1) // 2
    cells += [""] * (2 * rows - len(cells))
    text = Text()
    for left, right in zip(cells[:rows], cells[rows:], strict=True):
        text.append(f"{left:<36}{right}\n")
    standing = own_standing(plan, windows[0]) if windows else ""
    if standing:
        text.append(f"window {standing}\n")
    if plan.demould is not None:
        band = f"{when(plan.demould.p10)} to {when(plan.demould.p90)}"
        text.append(f"demould {when(plan.demould.p50)} ({band})")
    return text
