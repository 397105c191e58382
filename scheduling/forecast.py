"""A pour's process, climate and timeline put together from its job and its shop."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING

from scheduling.climate import Climate, Constant, DailyCycle, Measured, Reading
from scheduling.clocks import ClockBook
from scheduling.hours import ShopHours, local_zone
from scheduling.job import Job
from scheduling.pour import PourState
from scheduling.process import Process
from scheduling.shop import Mix, Shop
from scheduling.timeline import Timeline

if TYPE_CHECKING:  # brings the heat balance in, after the first paint
    from scheduling.cast import Casts


@dataclass(frozen=True, slots=True)
class Setting:
    """What a shop brings to every pour: its hours, zone and usual climate."""

    shop: Shop
    zone: tzinfo
    hours: ShopHours
    climate: Climate

    @classmethod
    def of(cls, shop: Shop) -> Setting:
        """Puts together the setting of a shop."""
        zone = local_zone(shop.zone)
        hours = ShopHours(shop.hours, shop.people, zone)
        return cls(shop, zone, hours, DailyCycle(shop.climate, zone))

    def mix(self, job: Job) -> Mix:
        """Returns the job's mix, or the built-in one if the shop no longer has it."""
        return self.shop.mixes.get(job.mix) or Mix(job.mix)

    def process(self, job: Job, *, on: datetime, casting: int = 1) -> Process:
        """Returns the process of a job with the hands that are in on a day."""
        from scheduling.recipe import build  # noqa: PLC0415 - after the first paint

        hands = max(1, self.hours.hands(self.hours.next_open(on)))
        return build(
            job,
            self.mix(job),
            mixer_load=self.shop.mixer_load,
            hands=hands,
            casting=casting,
            timings=self.shop.timings,
            paces=self.shop.paces,
        )

    def plan(
        self,
        job: Job,
        start: datetime,
        *,
        climate: Climate | None = None,
        casting: int = 1,
    ) -> Timeline:
        """Returns the timeline of a job that nobody has begun.

        Args:
            job: What is to be made.
            start: When the first step may begin.
            climate: Instead of the shop's typical day.
            casting: 1 for the first from a form.
        """
        from scheduling.layout import lay_out  # noqa: PLC0415 - after the first paint

        around = climate or self.climate
        book = self.book(job, around)
        return lay_out(
            self.process(job, on=start, casting=casting),
            start=start,
            book=book,
            hours=self.hours,
            equipment=self.shop.equipment,
            casts=self.casts(job, around, (), book),
        )

    def book(self, job: Job, climate: Climate) -> ClockBook:
        """Returns the clocks of a job in a climate."""
        return ClockBook(climate, self.mix(job).activation_energy)

    def casts(
        self, job: Job, climate: Climate, readings: Iterable[Reading], book: ClockBook
    ) -> Casts | None:
        """Returns how warm the job's piece is from its casting on.

        Args:
            job: What is to be made.
            climate: What it is made in, bent to the readings.
            readings: Those of the piece count.
            book: The clocks of the job in that climate.

        Returns:
            None for a climate that is the same at every place, the piece too.
        """
        from scheduling.cast import Casts, shell_of  # noqa: PLC0415 - after the first paint

        if isinstance(climate, Constant):
            return None
        mix = self.mix(job)
        later = book.clock("hydration", "piece")
        energy = mix.activation_energy
        return Casts.of(shell_of(job.shape, mix), climate, readings, energy, later)


class Forecaster:
    """Lays out one pour again and again, keeping what did not change in between."""

    def __init__(self) -> None:
        self._base: tuple[Job, Shop, int, datetime] | None = None
        self._setting: Setting | None = None
        self._process: Process | None = None
        self._readings: tuple[Reading, ...] = ()
        self._book: ClockBook | None = None
        self._casts: Casts | None = None

    def setting(self, state: PourState) -> Setting:
        """Returns the setting the pour was started in."""
        self._renew(state)
        assert self._setting is not None
        return self._setting

    def climate(self, state: PourState) -> Climate:
        """Returns the climate of a pour: the typical day bent to its readings."""
        return Measured(self.setting(state).climate, state.readings)

    def timeline(self, state: PourState, at: datetime) -> Timeline:
        """Returns the timeline of a pour that has begun, as seen at an instant.

        Raises:
            ValueError: The pour has no start on record.
        """
        from scheduling.layout import lay_out  # noqa: PLC0415 - after the first paint

        self._renew(state)
        assert self._setting is not None
        assert self._process is not None
        assert self._book is not None
        assert state.begun is not None
        return lay_out(
            self._process,
            start=state.begun,
            book=self._book,
            hours=self._setting.hours,
            equipment=state.shop.equipment,
            state=state,
            at=at,
            casts=self._casts,
        )

    def _renew(self, state: PourState) -> None:
        if state.job is None or state.begun is None:
            raise ValueError(f"pour {state.pour} has no start on record")
        base = (state.job, state.shop, state.casting, state.begun)
        if base != self._base:
            self._base = base
            self._setting = Setting.of(state.shop)
            self._process = self._setting.process(
                state.job, on=state.begun, casting=state.casting
            )
            self._book = None
        assert self._setting is not None
        if self._book is None or state.readings != self._readings:
            self._readings = state.readings
            job, readings = state.job, state.readings
            measured = Measured(self._setting.climate, readings)
            self._book = self._setting.book(job, measured)
            self._casts = self._setting.casts(job, measured, readings, self._book)
