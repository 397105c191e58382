"""A shop day on a machine that sleeps, is set, restarts and reboots, told by a seed.

Twenty-four things are begun, each of which must ring a known real time later; what
rings is the program's own code over a log in memory.
"""

from __future__ import annotations

import asyncio
import random
from dataclasses import dataclass, field
from datetime import timedelta
from types import SimpleNamespace

from scheduling.alert import Alert
from scheduling.event import Event, new_event_id
from scheduling.folder import BARE
from scheduling.folding import fold
from scheduling.log import Log
from scheduling.ringer import Ringer
from scheduling.shop import Shop
from scheduling.snapshot import job_to_data, shop_to_data
from scheduling.steady import on_scale
from support.logs import FOLDER
from support.memorydisk import MemoryDisk
from support.virtual import Machine, VirtualTime, run_on
from tui.inmemory import Pour
from tui.pours import UNSURE
from tui.session import Session

SCENARIOS = ("session", "restart", "reboot", "wrong clock")
POUR = "bare.0401"
DEADLINES = 24
SPELL_S = 1800
"""Real seconds the program is up before and after it ends once."""


class Session24(Session):
    """A session whose waits are written in the log as notes: how long, in seconds."""

    def __init__(self, time, log):
        folder = SimpleNamespace(shop=Shop, log=FOLDER)
        super().__init__(folder, time)
        self.log = log

    def lay_out(self, name):
        state = fold(name, on_scale(self.events(name), self.time))
        alerts = sorted((_alert(note) for note in state.notes), key=lambda a: a.due)
        timeline = SimpleNamespace(at=None, finished=False)
        self.pours[name] = Pour(name, state, timeline, tuple(alerts), self.setting)


def _alert(note):
    number, seconds = note.text.split()
    return Alert(
        id=number,
        kind="window-open",
        shape="opens",
        due=note.at + timedelta(seconds=float(seconds)),
        pour=POUR,
        step="lift-1",
        zone="field",
        word="OPEN",
        line="Place lift 1.",
        chain=number,
    )


@dataclass
class Told:
    """What a day came to; lateness in seconds since somebody could have rung.

    ``unsure`` rang at once because the clock was behind the log, or wrong after the
    reboot. ``astride`` were begun before a reboot and the clock was set after it: a
    correction, or a mistake? Nobody can know; they go by the clock as it is set.
    """

    missed: list = field(default_factory=list)
    doubled: list = field(default_factory=list)
    early: list = field(default_factory=list)
    lateness: list = field(default_factory=list)
    unsure: int = 0
    astride: int = 0


class Story:
    """One day."""

    def __init__(self, seed, scenario):
        self.random = random.Random(f"{seed}/{scenario}")
        self.scenario = scenario
        self.machine = Machine()
        self.log = Log(FOLDER, MemoryDisk())
        self.due = {}
        self.begun = {}
        self.rang = {}
        self.answered = {}
        self.wrong = False
        self.unsure = set()
        self.rebooted = None
        self.steps = []

    def run(self):
        """Lives the day and judges it."""
        self.write("started", job=job_to_data(BARE), shop=shop_to_data(Shop()))
        self.spell(DEADLINES // 2)
        if self.scenario != "session":
            self.machine.off()
            away = self.random.uniform(1, 600)
            if self.scenario == "restart":
                self.machine.run(away)
                self.machine.on()
            else:
                self.wrong = self.scenario == "wrong clock"
                by = self.random.uniform(-400, 400) * 86400 if self.wrong else 0.0
                keeps = 0.0 if self.wrong else self.machine.wrong
                self.machine.reboot(away, by + keeps)
                self.rebooted = self.machine.real
        self.spell(DEADLINES - DEADLINES // 2)
        return self.judge()

    # -- the day

    def spell(self, starts):
        """The program is up for a while and things are begun."""
        run_on(self.machine, self.program(starts))

    async def program(self, starts):
        time = VirtualTime(self.machine)
        session = Session24(time, self.log)
        session.load()
        answers = []

        def on_ring(ring):
            if ring.repeat == 0:
                self.rang.setdefault(ring.alert.id, []).append(self.machine.real)
                if ring.alert.line.startswith(UNSURE):
                    self.unsure.add(ring.alert.id)
                session.rang(ring.alert, ring.late_s)
                answers.append((self.machine.real + 5, ring.alert))
            session.settle(POUR)

        def on_step(seconds):
            session.clock_was_set(seconds)
            session.settle(POUR)

        ringer = Ringer(
            time,
            source=session.ringing,
            next_due=session.next_due,
            on_ring=on_ring,
            on_quiet=lambda _alert: None,
            on_step=on_step,
        )
        ringer.start()
        plan = self.plan(starts)
        until = self.machine.mono + SPELL_S
        while self.machine.mono < until:
            while plan and plan[0][0] <= self.machine.mono:
                plan.pop(0)[1]()
            session.load()
            for at, alert in [each for each in answers if each[0] <= self.machine.real]:
                answers.remove((at, alert))
                if alert.id not in self.answered:
                    self.answered[alert.id] = self.machine.real
                    session.acknowledge(alert)
                    session.settle(POUR)
            await asyncio.sleep(1)
        ringer.stop()

    def plan(self, starts):
        """What happens when: begins, sleeps, steps of the clock."""
        now, pick = self.machine.mono, self.random.uniform
        plan = [(now + pick(0, SPELL_S * 0.9), self.begin) for _ in range(starts)]
        # The last of a step is a while before the end, so that it is noticed.
        plan += [(now + pick(0, SPELL_S - 30), self.sleep) for _ in range(3)]
        plan += [(now + pick(0, SPELL_S - 30), self.step) for _ in range(3)]
        return sorted(plan, key=lambda one: one[0])

    def begin(self):
        number = str(len(self.due))
        seconds = self.random.uniform(5, 1500)
        self.due[number] = self.machine.real + seconds
        self.begun[number] = self.machine.real
        self.write("note", text=f"{number} {seconds}")

    def sleep(self):
        self.machine.sleep_machine(self.random.uniform(10, 7200))

    def step(self):
        big = self.random.random() < 0.2
        reach = 400 * 86400 if big else 7200
        self.machine.step(self.random.uniform(-reach, reach))
        self.steps.append(self.machine.real)

    def write(self, kind, **data):
        """Another program on this machine writes an event, by the clock as it is."""
        time = VirtualTime(self.machine)
        now = time.now()
        event = Event(
            id=new_event_id(now),
            at=now,
            recorded_at=now,
            boot=time.boot(),
            zone_name="UTC",
            offset_min=0,
            pour=POUR,
            kind=kind,
            data=data,
        )
        self.log.append(event)

    # -- the judgement

    def judge(self):
        told = Told()
        for number, due in self.due.items():
            rings = self.rang.get(number, [])
            answered = self.answered.get(number)
            told.doubled += [number for at in rings[1:] if answered and at > answered]
            act = self.machine.could_act(due)
            first = rings[0] if rings else self.machine.real
            if self.is_astride(number, first):
                told.astride += 1
            elif not rings:
                if act + 2 < self.machine.real:
                    told.missed.append(number)
            elif first >= due - 0.1:
                told.lateness.append(max(first - act, 0.0))
            elif number in self.unsure or self.is_wrong(number):
                told.unsure += 1
            else:
                told.early.append((number, due - first))
        return told

    def is_astride(self, number, rang):
        """Whether the clock was set between a reboot and the bell of an older wait."""
        if self.rebooted is None or self.begun[number] >= self.rebooted:
            return False
        return any(self.rebooted < at <= rang for at in self.steps)

    def is_wrong(self, number):
        """Whether a wait from before a reboot was read by a wrong clock after it."""
        return self.wrong and self.begun[number] < self.rebooted
