"""``timeline``: the steps of one pour that nobody has begun, with their windows."""

from __future__ import annotations

import argparse
from datetime import datetime, tzinfo
from itertools import groupby
from pathlib import Path

from scheduling.air import dew_point
from scheduling.climate import Climate
from scheduling.clocks import Band
from scheduling.errors import BadInput, Fault
from scheduling.job import Job
from scheduling.notices import SprayAir, notices, spray_air
from scheduling.process import Process
from scheduling.sealing import seals, ships
from scheduling.shop import Mix
from scheduling.timeline import Span, Timeline
from scheduling.times import say
from scheduling.units import Units
from tui import output
from tui.care import care
from tui.session import Session
from tui.verbs.air import add_air, climate
from tui.verbs.arguments import Parser, Verbs, add_verb, whole
from tui.verbs.opening import find_job, open_taught, start_at

WHAT_HELPS = "another pair of hands, zones in turn, cover, or another day"
"""What may bring lift 1 into its window again."""

_WEEK_D = 6


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs, "timeline", "the steps of a job, with when they may be done"
    )
    parser.add_argument("job", metavar="JOB", help="a job file, or the id of a job")
    parser.add_argument(
        "--start", metavar="TIME", help="when it begins; else the shop's next opening"
    )
    add_air(parser)
    parser.add_argument(
        "--climate", metavar="CSV", help="what a logger recorded: time, temp, rh, wind"
    )
    parser.add_argument(
        "--casting",
        metavar="N",
        type=whole("--casting", 1, 99),
        default=1,
        help="which casting from the form",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the timeline."""
    session = open_taught(args)
    job = find_job(session, args.job)
    if args.casting > job.castings:
        want = f"1 to {job.castings}, the castings of {job.id}"
        raise BadInput(Fault("--casting", "", str(args.casting), want))
    start = start_at(session, args.start)
    air = climate(args, session.setting)
    try:
        timeline = session.setting.plan(job, start, climate=air, casting=args.casting)
    except ValueError as error:  # the shop's calendar has no day for it
        raise BadInput(Fault("shop.toml", "hours", "", str(error))) from error
    if args.json:
        mix = session.setting.mix(job)
        output.as_json(to_json(job, mix, timeline, air, session.zone))
    else:
        _Page(session, job, timeline, air, climate_words(args)).print()
    return 0


def climate_words(args: argparse.Namespace) -> str:
    """Says which climate the flags ask for."""
    if args.temp is not None:
        return "steady"
    if args.climate is not None:
        return f"{Path(args.climate).name} over the typical day, at the start"
    return "the shop's typical day, at the start"


# -- for programs


def to_json(
    job: Job, mix: Mix, timeline: Timeline, air: Climate, zone: tzinfo
) -> dict[str, object]:
    """Returns a timeline as JSON; times carry the shop's offset."""
    now = air.air(timeline.start)
    return {
        "job": job.id,
        "start": output.iso(timeline.start, zone),
        "conditions": {
            "temp_c": round(now.temp_c, 2),
            "rh_pct": round(now.rh_pct, 2),
            "wind_kmh": round(now.wind_kmh, 2),
        },
        "steps": [_step(span, zone) for span in timeline.spans],
        "demould": output.band(timeline.demould, zone),
        "seal": output.band(seals(timeline), zone),
        "ship": output.band(ships(timeline, mix), zone),
        "spraying": _spraying(spray_air(timeline, air), zone),
        "thresholds": [
            {"name": name, "standing": standing}
            for name, standing in standings(timeline.process).items()
        ],
        "notices": [
            {
                "what": one.what,
                "words": one.words,
                "standing": one.standing,
                "warns": one.warns,
            }
            for one in notices(timeline, air, job, mix, Units())
        ],
    }


def standings(process: Process) -> dict[str, str]:
    """Says where each threshold of a process is from, by name, as they come in it."""
    gaps = (gap for step in process.steps for gap in step.gaps)
    ends = (end for gap in gaps for end in (gap.opens, gap.closes) if end is not None)
    return {end.name: end.standing for end in ends}


def _spraying(air: SprayAir | None, zone: tzinfo) -> dict[str, object] | None:
    if air is None:
        return None
    return {
        "at": output.iso(air.at, zone),
        "evaporation_kg_m2h": round(air.uno, 3),
        "evaporation_menzel_kg_m2h": round(air.menzel, 3),
        "evaporation": air.word,
    }


def _step(span: Span, zone: tzinfo) -> dict[str, object]:
    slack = span.slack_min
    reference = span.reference_min
    return {
        "step": span.key.step,
        "phase": span.phase,
        "zone": span.key.zone or None,
        "kind": span.kind,
        "start": output.iso(span.start, zone),
        "finish": output.iso(span.finish, zone),
        "minutes": round(span.minutes, 3),
        "crew": span.crew,
        "equipment": list(span.equipment),
        "clock": span.clock or None,
        "reference_min": None if reference is None else round(reference, 3),
        "standing": span.standing or None,
        "opens": output.band(span.opens, zone),
        "closes": output.band(span.closes, zone),
        "finishes": output.band(span.finishes(), zone),
        "slack_min": None if slack is None else round(slack, 1),
        "caution": span.caution or None,
    }


# -- for people


class _Page:
    """One timeline on its way to a terminal."""

    def __init__(
        self, session: Session, job: Job, timeline: Timeline, air: Climate, which: str
    ) -> None:
        self.session = session
        self.zone = session.zone
        self.units = Units(session.shop.units)
        self.job = job
        self.timeline = timeline
        self.air = air
        self.which = which
        self.cautions: list[str] = []
        self.name_width = max(len(str(span.key)) for span in timeline.spans)

    def print(self) -> None:
        self.head()
        spans = sorted(self.timeline.spans, key=lambda span: span.start)
        for day, held in groupby(spans, key=lambda span: self.local(span.start).date()):
            output.line()
            output.line(f"{day:%a} {day.day} {day:%B}")
            for span in held:
                self.row(span)
        self.foot()

    def head(self) -> None:
        at = self.timeline.start
        now = self.air.air(at)
        output.line(f"{self.job.id}: {self.job.title}")
        output.line(f"from {say(at, self.zone, self.session.time.now())}")
        output.line(
            f"{self.units.temperature(now.temp_c)}, {now.rh_pct:.0f} % RH, wind "
            f"{self.units.speed(now.wind_kmh)} ({self.which})"
        )
        if now.rh_pct > 0:
            dew = self.units.temperature(dew_point(now.temp_c, now.rh_pct))
            output.line(f"dew point {dew}")
        spraying = spray_air(self.timeline, self.air)
        if spraying is not None:
            uno = self.units.evaporation(spraying.uno)
            menzel = self.units.evaporation(spraying.menzel)
            output.line(
                f"evaporation at the spraying: {spraying.word} "
                f"(Uno {uno}, Menzel {menzel})"
            )

    def row(self, span: Span) -> None:
        start = self.local(span.start)
        name = str(span.key).ljust(self.name_width)
        left = f"{start:%H:%M}  {name} {output.length(span.minutes):>8}"
        about = self.window(span) if span.kind == "wait" else self.work(span)
        if len(left) + 2 + len(about) <= output.width():
            output.line(f"{left}  {about}")
            return
        output.line(left)
        output.line(f"       {about}")

    def work(self, span: Span) -> str:
        words = ["1 hand" if span.crew == 1 else f"{span.crew} hands"]
        words.extend(span.equipment)
        if span.closes is not None:
            words.append(f"by {self.clock(span.closes.p50, span.start)}")
        text = ", ".join(words)
        caution = care(span, self.timeline.process, self.units)
        if not caution:
            return text
        if caution not in self.cautions:
            self.cautions.append(caution)
        return f"{text} [{self.cautions.index(caution) + 1}]"

    def window(self, span: Span) -> str:
        if span.opens is None:
            return f"{span.clock} clock: not within two months"
        text = f"opens {self.band(span.opens, span.start)}"
        if span.closes is not None:
            text += f" closes {self.clock(span.closes.p50, span.start)}"
        return text

    def foot(self) -> None:
        output.line()
        if self.timeline.demould is None:
            output.line("demould: not within reach of this climate")
        else:
            ready = self.band(self.timeline.demould, self.timeline.start)
            output.line(f"demould ready {ready}")
        self.ends()
        output.line("(in brackets: one time in ten sooner, one in ten later)")
        late = [words for span in self.timeline.steps() if (words := self.late(span))]
        for words in late:
            output.lines(f"! {words}", indent="  ")
        mix = self.session.setting.mix(self.job)
        for one in notices(self.timeline, self.air, self.job, mix, self.units):
            mark = "!" if one.warns else "-"
            output.lines(f"{mark} {one.words} ({one.standing})", indent="  ")
        self.origins()
        if self.cautions:
            output.line()
            for number, words in enumerate(self.cautions, 1):
                output.lines(f"[{number}] {words}", indent="    ")

    def origins(self) -> None:
        """Says where the thresholds are from, those of one standing together."""
        named: dict[str, list[str]] = {}
        for name, standing in standings(self.timeline.process).items():
            named.setdefault(standing, []).append(name)
        output.line()
        output.line("where the waits are from")
        for standing, names in named.items():
            output.lines(f"  {', '.join(names)}: {standing}", indent="    ")

    def ends(self) -> None:
        """Says when the job may be sealed and shipped."""
        mix = self.session.setting.mix(self.job)
        last = {"seal": seals(self.timeline), "ship": ships(self.timeline, mix)}
        for word, found in last.items():
            if found is not None:
                output.line(f"{word} from {self.band(found, self.timeline.start)}")

    def late(self, span: Span) -> str:
        """What to say about a step that cannot be done in time, or ""."""
        slack = span.slack_min
        if slack is None or span.closes is None or round(slack) >= 0:
            return ""
        if span.key.step.startswith("coat-"):
            return ""  # a notice says it, with what helps
        name = span.key.step.replace("-", " ")
        zone = f" in {span.key.zone}" if span.key.zone else ""
        over = output.length(-slack)
        if span.key.step.startswith("lift-"):
            wait = self.timeline.wait_for(span.key)
            in_time = wait is not None and wait.closes == span.closes
            bound = "the window closes" if in_time else "its batch is past use"
            return f"{name}{zone} ends {over} after {bound}: {WHAT_HELPS}"
        wanted = self.clock(span.closes.p50, span.start)
        return f"{name}{zone} ends {over} too late, it is wanted by {wanted}"

    def local(self, instant: datetime) -> datetime:
        return instant.astimezone(self.zone)

    def clock(self, instant: datetime, near: datetime) -> str:
        """Says a time, with its day where that is not the day of ``near``."""
        local = self.local(instant)
        days = (local.date() - self.local(near).date()).days
        if days == 0:
            return f"{local:%H:%M}"
        if days <= _WEEK_D:
            return f"{local:%a %H:%M}"
        return f"{local.day} {local:%b %H:%M}"

    def band(self, found: Band, near: datetime) -> str:
        early = self.clock(found.p10, near)
        late = self.clock(found.p90, found.p10)
        return f"{self.clock(found.p50, near)} ({early}-{late})"
