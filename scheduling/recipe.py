"""The default process of a job: which steps, in which order, opened by which waits."""

from __future__ import annotations

from dataclasses import replace

from scheduling.batch import Order, lifting_crew, order
from scheduling.cautions import caution
from scheduling.job import Job, Piece
from scheduling.laws import drying_thickness_factor, silicone_cure_minutes
from scheduling.process import Gap, Phase, Process, Step, StepKey
from scheduling.shop import Mix
from scheduling.spread import Spread
from scheduling.takeoff import Takeoff, take_off
from scheduling.thresholds import (
    DEFAULTS,
    ESTIMATE,
    PENETRATING_FAMILIES,
    PRACTICE,
    RECOAT,
    Threshold,
)
from scheduling.work import HANDS_ON, RATES, REUSED_FORM, Quantities

MIX_AHEAD = 10.0
"""Minutes before the expected opening at which the back batch is begun:
seven to mix and three to carry; common practice, no source."""

USED_WHEN_MIXING = 0.6
"""Share of the batch in hand that is used when the next is begun: common practice."""

WEIGH_OFF = ("set-up", "sand-moisture", "weigh-dry", "weigh-wet")
"""What has to be done before the first batch is mixed, in any order."""

MOST_PACKERS = 2
"""Hands that can pack one zone without standing in each other's way (estimate)."""


def build(
    job: Job, mix: Mix, *, mixer_load: float, hands: int = 2, casting: int = 1
) -> Process:
    """Returns the process of one casting of a job.

    Args:
        job: What is to be made.
        mix: Its mix, with the shop's own thresholds where it has them.
        mixer_load: Usable batch mass, kg.
        hands: People expected on the day of the pour, at least 1.
        casting: 1 for the first from a form; later ones reuse it.
    """
    takeoff = take_off(job.shape, mix)
    amounts = order(takeoff, mixer_load, coupon="coupon" in job.optional)
    return _Recipe(job, mix, takeoff, amounts, max(1, hands), casting).process()


def person_hours(job: Job, mix: Mix, *, mixer_load: float) -> float:
    """Returns hands-on person-hours of one casting, the form shared by all of them."""
    first = build(job, mix, mixer_load=mixer_load).person_hours
    if job.castings == 1:
        return first
    later = build(job, mix, mixer_load=mixer_load, casting=2).person_hours
    return (first + (job.castings - 1) * later) / job.castings


class _Recipe:
    """Collects the steps of one casting; each method adds one phase of the work."""

    def __init__(
        self,
        job: Job,
        mix: Mix,
        takeoff: Takeoff,
        amounts: Order,
        hands: int,
        casting: int,
    ) -> None:
        self.job = job
        self.mix = mix
        self.takeoff = takeoff
        self.order = amounts
        self.hands = hands
        self.form_share = 1.0 if casting == 1 else REUSED_FORM
        self.casting = casting
        self.lifters = min(lifting_crew(takeoff.piece_kg), hands)
        self.steps: list[Step] = []
        self.whole = Quantities(
            base=takeoff.base_m2,
            plan=takeoff.plan_m2,
            face=takeoff.face_m2,
            flat=takeoff.flat_m2,
            upright=takeoff.upright_m2,
            edge=takeoff.edge_m,
            fillet=takeoff.fillet_m,
            strips=takeoff.strips,
            corners=takeoff.corners,
            simple_knock_outs=takeoff.simple_knock_outs,
            basin_knock_outs=takeoff.basin_knock_outs,
            legs=takeoff.legs,
            inserts=takeoff.inserts,
            foams=takeoff.foam_count,
            foam=takeoff.foam_m2,
            batches=amounts.face_batches + amounts.batches,
            extra_lifters=self.lifters - 1,
            two_part=int(job.finish.two_part),
        )

    def process(self) -> Process:
        if isinstance(self.job.shape, Piece):
            self.form()
            self.weigh_off()
        self.face_coat()
        self.back_coat()
        self.cure()
        self.demould()
        self.finish()
        self.seal()
        zones = self.takeoff.zones
        return Process(
            tuple(self.steps),
            tuple(zone.name for zone in zones),
            {zone.name: zone.face_m2 for zone in zones},
            self.order.batches,
            self.takeoff.piece_kg,
        )

    # -- helpers

    def threshold(self, name: str) -> Threshold:
        default = DEFAULTS[name]
        own = self.mix.thresholds.get(name)
        if own is None:
            return default
        return replace(default, spread=own, standing="this shop's own value")

    def add(
        self,
        step: str,
        phase: Phase,
        words: str,
        *,
        zone: str = "",
        rate: str = "",
        work: float | None = None,
        crew: int = 1,
        equipment: tuple[str, ...] = (),
        after: tuple[StepKey, ...] | None = None,
        gaps: tuple[Gap, ...] = (),
        pour_day: bool = False,
        unbroken: bool = False,
        pausable: bool = False,
    ) -> StepKey:
        """Adds a step; without ``after`` it follows the step added before it."""
        key = StepKey(step, zone)
        if after is None:
            after = (self.steps[-1].key,) if self.steps else ()
        if work is None:
            work = RATES[rate or step].minutes(self.whole)
        finish = self.job.finish
        self.steps.append(
            Step(
                key,
                phase,
                words,
                work,
                crew,
                equipment,
                after,
                gaps,
                pour_day or unbroken,
                unbroken,
                pausable,
                caution(step, sealer=finish.sealer, two_part=finish.two_part),
            )
        )
        return key

    def form_step(
        self, step: str, phase: Phase, words: str, *equipment: str, rate: str = ""
    ) -> StepKey | None:
        """Adds a step of form work, less of it on a reused form; none if no work."""
        work = RATES[rate or step].minutes(self.whole) * self.form_share
        if work <= 0:
            return None
        return self.add(
            step, phase, words, work=work, equipment=equipment, pausable=True
        )

    def wants(self, name: str) -> bool:
        return name in self.job.optional

    # -- the form

    def form(self) -> None:
        if self.casting == 1:
            if self.wants("template"):
                self.form_step(
                    "template", "form build", "template on site: walls, access, plumbing"
                )
            if self.wants("drawing"):
                self.form_step(
                    "drawing", "form build", "drawing, seams, cut list; mirrored"
                )
        self.build_form()
        self.form_step("clean", "form build", "vacuum, de-grease, wipe off static")
        if self.job.release == "before caulk":
            self.release()
            self.caulk()
        else:
            self.caulk()
            self.release()
        self.add(
            "last-look",
            "caulk",
            "last look in raking light, photo",
            gaps=self.release_gaps(),
            pour_day=True,
        )

    def build_form(self) -> None:
        phase: Phase = "form build"
        self.form_step("base", phase, "level and clean table and base board")
        self.form_step("cut-strips", phase, "cut strips and boards", "saw")
        self.form_step("assemble", phase, "assemble, screw, brace")
        self.form_step("square-check", phase, "diagonals square, legs plumb")
        self.form_step("edge-seal", phase, "seal cut edges, screws, pinholes")
        self.form_step("knock-outs", phase, "fix knock-outs, measured twice")
        self.form_step("basin-plugs", phase, "basin plug, slot, falls: prove the fall")
        self.form_step("insert-jigs", phase, "jig inserts, trial fit")

    def release(self) -> None:
        self.add(
            "wax",
            "release",
            "release: wax, haze, buff; no streaks",
            pausable=True,
        )

    def caulk(self) -> None:
        if self.takeoff.fillet_m <= 0:
            return
        if self.job.fillet == "clay":
            self.form_step(
                "fillets", "caulk", "clay fillets, scraped clean", rate="clay-fillets"
            )
            return
        fillets = self.form_step("fillets", "caulk", "caulk fillets, tool before skin")
        if fillets is None:
            return
        cure = Spread(
            silicone_cure_minutes(self.job.fillet_radius), HANDS_ON.sigma
        )
        self.form_step("peel", "caulk", "peel squeeze-out, clean residue")
        peel = self.steps.pop()
        gap = Gap(
            "silicone cure",
            "caulk",
            fillets,
            Threshold("silicone cure", cure, "silicone", "shop", ESTIMATE),
        )
        self.steps.append(replace(peel, gaps=(gap,)))

    def release_gaps(self) -> tuple[Gap, ...]:
        haze = self.threshold("release haze")
        return (Gap("release haze", "release", StepKey("wax"), haze),)

    # -- the pour

    def weigh_off(self) -> None:
        phase: Phase = "face coat"
        look = (self.steps[-1].key,)
        if self.wants("mock weigh-off"):
            look = (
                self.add(
                    "mock-weigh-off",
                    phase,
                    "mock weigh-off: enough of every item",
                    pour_day=True,
                ),
            )
        for step, words in (
            ("set-up", "set up gun, rollers, plastic, fog, gloves"),
            ("sand-moisture", "sand moisture, correct the water"),
            ("weigh-dry", "dry weigh-off, tick each item"),
            ("weigh-wet", "wet weigh-off, lids on"),
        ):
            self.add(step, phase, words, after=look, pour_day=True)

    def face_coat(self) -> None:
        ready = tuple(
            step.key for step in self.steps if step.key.step in WEIGH_OFF
        )
        mixed = [
            self.add(
                "mix-face" if self.order.face_batches == 1 else f"mix-face-{number}",
                "face coat",
                "mix face batch: shear, rest, remix",
                rate="mix-face",
                equipment=("mixer",),
                after=ready if number == 1 else None,
                unbroken=True,
            )
            for number in range(1, self.order.face_batches + 1)
        ]
        flow = self.add(
            "flow-check",
            "face coat",
            "flow check and mix temperature",
            after=(mixed[0],),
            unbroken=True,
        )
        self.spray(flow, mixed)

    def spray(self, flow: StepKey, mixed: list[StepKey]) -> None:
        zones = self.takeoff.zones
        field = RATES["spray-field"].minutes(self.whole)
        corners = RATES["spray-corners"].minutes(self.whole)
        done = 0.0
        previous = flow
        for zone in zones:
            share = zone.face_m2 / self.takeoff.face_m2
            fillet = zone.fillet_m / self.takeoff.fillet_m if corners else 0.0
            batch = mixed[_batch_for(done, len(mixed))]
            previous = self.add(
                "spray",
                "face coat",
                f"spray {zone.name}: corners first, then crossing passes",
                zone=zone.name,
                work=field * share + corners * fillet,
                equipment=("gun",),
                after=tuple(dict.fromkeys((previous, batch))),
                gaps=(
                    Gap(
                        "",
                        "face coat",
                        batch,
                        closes=self.threshold("face pot life"),
                        from_start=True,
                    ),
                ),
                unbroken=True,
            )
            done += share

    def face_window(self, zone: str, *, name: str, lead: float = 0.0) -> Gap:
        return Gap(
            name,
            "wait",
            StepKey("spray", zone),
            self.threshold("face opens"),
            self.threshold("face closes") if name else None,
            lead=lead,
        )

    def back_coat(self) -> None:
        first_zone = self.takeoff.zones[0].name
        count = self.order.batches
        for_first = (count + 1) // 2
        self.mix_back(1, self.face_window(first_zone, name="", lead=MIX_AHEAD))
        rolled = self.lift(1, 1, for_first)
        between = self.between_lifts(rolled)
        rolled = self.lift(2, min(for_first + 1, count), count, between)
        after_lifts = tuple(rolled)
        if self.takeoff.inserts:
            after_lifts = (
                self.add(
                    "inserts",
                    "back coat",
                    "set inserts in their pads, jig left on",
                    after=after_lifts,
                    unbroken=True,
                ),
            )
        self.add(
            "screed",
            "compaction",
            "screed and trowel the back level",
            after=after_lifts,
            unbroken=True,
        )

    def lift(
        self,
        lift: int,
        first: int,
        last: int,
        between: tuple[StepKey, ...] = (),
    ) -> list[StepKey]:
        """Adds one lift zone by zone with the batches it uses; returns the rolls."""
        zones = self.takeoff.zones
        crew = max(1, min(MOST_PACKERS, self.hands // len(zones)))
        batches = max(1, last - first + 1)
        rolled: list[StepKey] = []
        done = 0.0
        for zone in zones:
            share = zone.face_m2 / self.takeoff.face_m2
            begin = min(last, first + _batch_for(done, batches))
            end = min(last, first + _batch_for(done + share - 1e-6, batches))
            window = (
                self.face_window(zone.name, name="face wait")
                if lift == 1
                else self.lift_window(zone.name, zone.upright_m2, zone.face_m2)
            )
            if lift > 1 and begin == first:
                self.mix_back(begin, replace(window, name="", closes=None, lead=MIX_AHEAD))
            quantities = Quantities(
                flat=zone.face_m2 - zone.upright_m2, upright=zone.upright_m2
            )
            work = RATES["lift"].minutes(quantities)
            place = self.add(
                f"lift-{lift}",
                "back coat",
                f"place lift {lift} in {zone.name}, light hand first",
                zone=zone.name,
                work=work,
                crew=crew,
                after=(_batch(begin), StepKey("spray", zone.name), *between),
                gaps=(window, *(self.pot_life(n) for n in range(begin, end + 1))),
                unbroken=True,
            )
            each = work / crew / (end - begin + 1)
            then = min(last, first + _batch_for(done + share, batches))
            for number in range(begin + 1, max(end, then) + 1):
                used = each * (number - begin - 1 + USED_WHEN_MIXING)
                self.mix_back(number, self.batch_use(place, used))
            rolled.append(
                self.add(
                    f"roll-{lift}",
                    "compaction",
                    f"roll lift {lift} in {zone.name}, two directions",
                    zone=zone.name,
                    work=RATES["roll"].minutes(quantities),
                    crew=crew,
                    after=(place,),
                    gaps=(
                        Gap(
                            "",
                            "compaction",
                            place,
                            closes=self.threshold("roll by"),
                        ),
                    ),
                    unbroken=True,
                )
            )
            done += share
        return rolled

    def pot_life(self, number: int) -> Gap:
        return Gap(
            "",
            "back coat",
            _batch(number),
            closes=self.threshold("back pot life"),
            from_start=True,
        )

    def batch_use(self, place: StepKey, minutes: float) -> Gap:
        """The wait until so little of the batch in hand is left that the next is due."""
        use = Threshold("batch use", Spread(minutes), "plain", "shop", PRACTICE)
        return Gap("", "back coat", place, use, from_start=True)

    def mix_back(self, number: int, gap: Gap) -> None:
        """Adds the mixing of a back batch, unless it is there already."""
        if any(step.key == _batch(number) for step in self.steps):
            return
        before = () if number == 1 else (_batch(number - 1),)
        self.add(
            _batch(number).step,
            "back coat",
            f"mix back batch {number} of {self.order.batches}, fibre last and slow",
            rate="mix-back",
            equipment=("mixer",),
            after=(*before, gap.after) if number == 1 else before,
            gaps=(gap,),
            unbroken=True,
        )

    def lift_window(self, zone: str, upright: float, face: float) -> Gap:
        tall = upright > face / 2
        prefix = "upright lift 2" if tall else "lift 2"
        return Gap(
            "stiffen" if tall else "lift wait",
            "wait",
            StepKey("lift-1" if tall else "roll-1", zone),
            self.threshold(f"{prefix} opens"),
            self.threshold(f"{prefix} closes"),
        )

    def between_lifts(self, rolled: list[StepKey]) -> tuple[StepKey, ...]:
        """Adds scrim and foam, if any; returns what lift 2 waits for."""
        after = tuple(rolled)
        if self.wants("scrim"):
            after = (
                self.add(
                    "scrim",
                    "back coat",
                    "scrim on fresh lift 1, lapped, rolled in gently",
                    after=after,
                    unbroken=True,
                ),
            )
        if self.takeoff.foam_count:
            after = (
                self.add(
                    "foam",
                    "back coat",
                    "bed and pin foam cores on plastic lift 1",
                    after=after,
                    unbroken=True,
                ),
            )
        return after if after != tuple(rolled) else ()

    # -- the cure

    def cure(self) -> None:
        screed = StepKey("screed")
        after = (screed,)
        if self.wants("coupon"):
            after = (
                self.add(
                    "coupon", "cure", "coupon board and name tag", unbroken=True
                ),
            )
        cover = self.add(
            "cover",
            "cure",
            "cover with plastic, edges sealed, no loose flaps",
            after=after,
            gaps=(Gap("", "cure", screed, closes=self.threshold("cover by")),),
            unbroken=True,
        )
        self.add(
            "wash-tools", "cure", "wash tools before set", after=(screed,), unbroken=True
        )
        before = (cover,)
        if self.wants("green trim"):
            before = (
                self.add(
                    "green-trim",
                    "cure",
                    "trim green: flange, threads, arris",
                    after=(cover,),
                    gaps=(
                        Gap(
                            "green wait",
                            "cure",
                            StepKey(f"mix-back-{self.order.batches}"),
                            self.threshold("green trim opens"),
                            self.threshold("green trim closes"),
                            from_start=True,
                        ),
                    ),
                ),
            )
        self.add(
            "blankets", "cure", "blankets on, probe in, log the shop", after=before
        )

    def demould(self) -> None:
        tender = isinstance(self.job.shape, Piece) and (
            self.job.shape.legs or self.job.shape.basins
        )
        name = "basin or leg demould" if tender else "demould"
        self.add(
            "back-grind",
            "grind",
            "grind the back level in the form",
            equipment=("grinder",),
            after=(StepKey("cover"), StepKey("blankets")),
            gaps=(Gap("cure", "cure", StepKey("screed"), self.threshold(name)),),
        )
        self.add(
            "demould",
            "grind",
            f"demould {self.takeoff.piece_kg:.0f} kg, flip, set on bearers",
            crew=self.lifters,
        )
        self.add("ease-edges", "grind", "clean fillets, ease edges")
        self.add("defect-map", "grind", "map defects, photo, before any slurry")

    # -- the finish

    def since_screed(self, name: str, threshold: str, phase: Phase) -> tuple[Gap, ...]:
        return (Gap(name, phase, StepKey("screed"), self.threshold(threshold)),)

    def finish(self) -> None:
        finish = self.job.finish
        if finish.kind == "light":
            gaps = self.since_screed("hardening", "hone", "cure")
            self.add("hand-sand", "sand", "light wet hand sand", gaps=gaps)
        elif finish.kind == "acid":
            gaps = self.since_screed("acid age", "acid wash", "cure")
            words = "acid wash, rinse, neutralise, rinse"
            self.add("acid-wash", "sand", words, gaps=gaps)
        for grit in range(1, finish.grits + 1):
            self.add(
                f"hone-{grit}",
                "grind",
                f"hone wet, grit {grit} of {finish.grits}",
                rate="hone",
                equipment=("polisher",),
                gaps=self.since_screed("hardening", "hone", "cure")
                if grit == 1
                else (),
            )
        for coat in range(1, finish.slurry + 1):
            self.add(
                f"slurry-{coat}",
                "slurry",
                f"slurry coat {coat} of {finish.slurry}",
                rate="slurry",
                gaps=self.since_screed("slurry age", "slurry", "cure")
                if coat == 1
                else (),
            )
            self.add(
                f"sand-{coat}",
                "sand",
                "sand the slurry off, colour level",
                rate="sand",
                gaps=(
                    Gap(
                        f"slurry set {coat}",
                        "slurry",
                        StepKey(f"slurry-{coat}"),
                        self.threshold("slurry sand-off"),
                    ),
                ),
            )
        self.add("wash-down", "sand", "wash, squeegee, slow fans")

    def seal(self) -> None:
        finish = self.job.finish
        film = finish.sealer not in PENETRATING_FAMILIES
        self.add(
            "dryness-check",
            "seal",
            "dryness and room check before coat 1",
            gaps=(Gap("drying", "seal", StepKey("wash-down"), self.dry()),),
        )
        self.add(
            "mask",
            "seal",
            "mask and tack",
            gaps=self.since_screed("film age", "film age", "seal") if film else (),
        )
        opens, closes = RECOAT[finish.sealer]
        for coat in range(1, finish.coats + 1):
            recoat = Gap(
                f"recoat wait {coat}",
                "seal",
                StepKey(f"coat-{coat - 1}"),
                Threshold("recoat opens", opens, "coating", "shop", PRACTICE),
                Threshold("recoat closes", closes, "coating", "shop", PRACTICE),
            )
            self.add(
                f"coat-{coat}",
                "seal",
                f"sealer coat {coat} of {finish.coats}",
                rate="coat",
                gaps=(recoat,) if coat > 1 else (),
            )
        last_coat = self.steps[-1].key
        self.add("check-over", "seal", "check over, photos, care sheet")
        wrap = (Gap("film hardening", "seal", last_coat, self.threshold("film wrap")),)
        self.add("wrap", "seal", "wrap, on edge", gaps=wrap if film else ())
        ship = self.since_screed("ship age", "ship", "seal")
        if self.wants("crate"):
            self.add("crate", "seal", "crate on edge, cut-outs braced", gaps=ship)
            ship = ()
        if self.wants("install"):
            crew = max(2, self.lifters) if self.hands > 1 else 1
            words = "deliver, dry fit, set, seam"
            self.add("install", "seal", words, crew=crew, gaps=ship, pausable=True)

    def dry(self) -> Threshold:
        threshold = self.threshold("dry to seal")
        shape = self.job.shape
        shell = shape.thickness
        if isinstance(shape, Piece) and shape.foam:
            shell = (shell - shape.foam.thickness) / 2
        factor = drying_thickness_factor(shell * 1000)
        return replace(threshold, spread=threshold.spread.scaled(factor))


def _batch(number: int) -> StepKey:
    """The step that mixes a back batch."""
    return StepKey(f"mix-back-{number}")


def _batch_for(done: float, batches: int) -> int:
    """Index of the batch in hand when a share of the work is done (0 to 1)."""
    return min(batches - 1, int(done * batches + 1e-9))


ENTRIES = ("form", "weigh-off", "face coat")
"""Where a pour may be joined: from its form, its weigh-off or its face mix."""


def steps_before(process: Process, entry: str) -> list[StepKey]:
    """Returns the steps that are taken as done when a pour is joined at an entry."""
    before: list[StepKey] = []
    if entry == "form":
        return before
    for step in process.steps:
        name = step.key.step
        if name.startswith("mix-face") or (entry == "weigh-off" and name in WEIGH_OFF):
            break
        before.append(step.key)
    return before
