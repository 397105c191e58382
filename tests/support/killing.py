"""Programs that write to a real folder and are killed at a random moment."""

from __future__ import annotations

import os
import signal
import time
from random import Random

from scheduling.log import Log
from support.logs import SLAB, TUB, event


class Killing:
    """Forks a writer again and again, kills it, and looks at what is there.

    Attributes:
        told: Events acknowledged, by pour, all rounds together.
        lost: Acknowledged events that were not there.
        unreadable: Rounds after which a pour could not be read or written.
        beyond: Events that were there without having been acknowledged.
    """

    def __init__(self, folder, seed=1):
        self.folder = folder
        self.random = Random(seed)
        self.told = 0
        self.lost = 0
        self.unreadable = 0
        self.beyond = 0
        self.most_beyond = 0
        self._rounds = 0
        self._next = 1
        self._sure = {SLAB: 0, TUB: 0}

    def round(self, longest_s=0.06):
        """One writer's life and death, and the log afterwards."""
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            _write_until_killed(self.folder, self._next, reading, writing)
        os.close(writing)
        time.sleep(0.003 + self.random.random() * longest_s)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(reading, "rb") as pipe:
            numbers = [int(number) for number in pipe.read().split()]
        self.told += len(numbers)
        self._look(numbers)

    def _look(self, numbers):
        self._rounds += 1
        for pour, odd in ((SLAB, 1), (TUB, 0)):
            told = {f"{n:012x}-0000" for n in numbers if n % 2 == odd}
            try:
                log = Log(self.folder)
                found = log.events(pour)
                ids = {each.id for each in found}
                self.lost += len(told - ids)
                self.lost += max(0, self._sure[pour] - len(found))
                beyond = len(found) - self._sure[pour] - len(told)
                self.beyond += beyond
                self.most_beyond = max(self.most_beyond, beyond)
                own = [int(each.id[:12], 16) for each in found if each.by == ""]
                self._next = max(self._next, max(own, default=0) + 1)
                log.append(event(1, pour=pour, id=f"after {self._rounds}", by="parent"))
                if self.random.random() < 0.2:
                    log.seal(pour)
                if len(Log(self.folder).events(pour)) != len(found) + 1:
                    self.unreadable += 1
                self._sure[pour] = len(found) + 1
                if log.faults():
                    self.unreadable += 1
            except Exception:  # noqa: BLE001 - whatever it is, it counts
                self.unreadable += 1
        if len(log.events(SLAB)) > 80:  # start anew, so that a round stays short
            for pour in (SLAB, TUB):
                log.seal(pour)
            self.folder.rename(self.folder.with_name(f"done-{self._rounds}"))
            self._sure = {SLAB: 0, TUB: 0}
            self._next += 1

    def summary(self, rounds):
        """One line of the counts."""
        return (
            f"S2 kill -9: {rounds} rounds, {self.told} acknowledged, {self.lost} lost, "
            f"{self.unreadable} unreadable, {self.beyond} there before they were told"
        )


def _write_until_killed(folder, number, reading, writing):
    try:
        os.close(reading)
        log = Log(folder)
        while True:
            pour = SLAB if number % 2 else TUB
            # Ids are numbers; times must stay within what an event can have.
            made = event(number % 10_000, pour=pour, id=f"{number:012x}-0000")
            log.append(made)
            os.write(writing, b"%d " % number)
            if number % 40 < 2:
                log.seal(pour)
            number += 1
    finally:
        os._exit(1)
