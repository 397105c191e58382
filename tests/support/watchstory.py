"""What can happen to a program whose bell is about to ring, each with its outcome."""

from __future__ import annotations

import os
import shutil
import signal
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from scheduling.clock import WallTime
from support.terminal import (
    Program,
    boot_s,
    is_alive,
    pour_due_in,
    rang,
    silent_shop,
    wait_until,
)
from tui.session import Session


@dataclass
class Outcome:
    """What became of a bell.

    Attributes:
        watch_s: Seconds after due at which the watch rang; None if it never did.
        program_s: The same of the program.
        left: Watches that are left over.
        screen: What the terminal was sent.
    """

    watch_s: float | None
    program_s: float | None
    left: list
    screen: bytes = b""
    took_s: float = 0.0


class Story:
    """One program with one bell; ``act`` happens to it before the bell is due."""

    def __init__(self, path, ahead=5.0, sabotage=""):
        self.shop = silent_shop(path)
        self.name, self.due = pour_due_in(self.shop, ahead)
        self.sabotage = sabotage
        self.took_s = 0.0

    def live(self, act, *, after=3.5, before=1.2):
        with Program(self.shop, sabotage=self.sabotage) as program:
            program.up()
            self.sleep_until(self.due - before)
            act(program)
            self.sleep_until(self.due + after)
            return self.outcome(program)

    def sleep_until(self, moment):
        time.sleep(max(0.0, moment - boot_s()))

    def outcome(self, program):
        watch = program.heard.rang_at()
        rings = rang(self.shop, self.name)
        return Outcome(
            None if watch is None else watch - self.due,
            rings[0] - self.due if rings else None,
            program.watches(),
            bytes(program.output),
            self.took_s,
        )

    def go(self, _program):
        """Lets the sabotage begin."""
        (self.shop.path / "go").touch()

    def answer_all(self):
        """Somebody at another terminal answers everything, now and to come."""
        session = Session(self.shop, WallTime())
        session.load()
        for pour in session.open_pours():
            session.put_away(pour.name)
            session.settle(pour.name)


def healthy(path, **options):
    return Story(path, **options).live(lambda _program: None)


def killed(path, **options):
    return Story(path, **options).live(lambda program: program.send(signal.SIGKILL))


def terminated(path, **options):
    return Story(path, **options).live(lambda program: program.send(signal.SIGTERM))


def stopped(path, **options):
    return Story(path, **options).live(lambda program: program.send(signal.SIGSTOP))


def blocked(path, **options):
    story = Story(path, sabotage="block", **options)
    return story.live(story.go, before=2.2)


def exploded(path, **options):
    story = Story(path, sabotage="explode", **options)
    return story.live(story.go, before=2.2)


def not_read(path, **options):
    story = Story(path, sabotage="flood", **options)
    return story.live(lambda program: program.reading.clear(), before=3.0, after=7)


def hung_up(path, **options):
    return Story(path, **options).live(lambda program: program.hang_up())


def left(path, **options):
    return Story(path, **options).live(lambda program: program.press(b"q"))


def watch_killed(path, **options):
    """The watch itself dies: it is replaced, and says so; ``took_s`` until then."""
    story = Story(path, **options)

    def act(program):
        (old,) = program.watches()
        os.kill(old, signal.SIGKILL)
        story.took_s = wait_until(
            lambda: any(pid != old for pid in program.watches()), 5
        )

    return story.live(act, before=2.5)


def answered_elsewhere(path, **options):
    """The watch rings for a dead program; ``took_s`` from the answer to silence."""
    story = Story(path, **options)
    with Program(story.shop) as program:
        program.up()
        program.send(signal.SIGKILL)
        wait_until(program.heard.rings_now, options.get("ahead", 5) + 5)
        story.answer_all()
        story.took_s = wait_until(lambda: not program.heard.rings_now(), 5)
        wait_until(lambda: not program.watches(), 5)
        return story.outcome(program)


def silenced_elsewhere(path, **options):
    """The watch rings for a dead program; ``took_s`` until silence from a script."""
    story = Story(path, **options)
    with Program(story.shop) as program:
        program.up()
        program.send(signal.SIGKILL)
        wait_until(program.heard.rings_now, options.get("ahead", 5) + 5)
        session = Session(story.shop, WallTime())
        session.load()
        event = session.silence(10)
        session.settle(event.pour)
        story.took_s = wait_until(lambda: not program.heard.rings_now(), 5)
        return story.outcome(program)


def taken_over(path, **options):
    """A new program takes over from the watch of a dead one, which ends."""
    story = Story(path, **options)
    with Program(story.shop) as program:
        program.up()
        (old,) = program.watches()
        program.send(signal.SIGKILL)
        wait_until(program.heard.rings_now, options.get("ahead", 5) + 5)
        with Program(story.shop) as again:
            again.up()
            wait_until(lambda: not is_alive(old), 5)
            wait_until(lambda: rang(story.shop, story.name), 5)
            time.sleep(1.5)
            assert not again.heard.rings_now()
            return story.outcome(program)


STORIES = {
    story.__name__: story
    for story in (
        healthy,
        killed,
        terminated,
        stopped,
        blocked,
        exploded,
        not_read,
        hung_up,
        left,
        watch_killed,
        answered_elsewhere,
        silenced_elsewhere,
        taken_over,
    )
}


def tell(folder, names, *, together=4, ahead=5.0):
    """Lives several stories at once; returns the outcome of each, in order."""
    numbered = list(enumerate(names))

    def one(each):
        number, name = each
        path = folder / f"{number}-{name}"
        try:
            return STORIES[name](path, ahead=ahead)
        finally:
            shutil.rmtree(path, ignore_errors=True)

    with ThreadPoolExecutor(together) as pool:
        return list(pool.map(one, numbered))
