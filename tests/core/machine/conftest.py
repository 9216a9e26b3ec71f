"""A machine on the bench: lines go in by hand, one second after the other, and what is said about it is kept."""

from collections.abc import Callable

import pytest

from watchdog.core.effects import Effect, JobChanged, StateChanged
from watchdog.core.events import Line, Resumed
from watchdog.core.machine import Limits, Memory, begin, observe, resumed, snapshot, tick
from watchdog.core.moment import Moment
from watchdog.core.observations import (
    Acknowledged,
    CardProgress,
    Command,
    LinkUp,
    Observation,
    Reading,
    Temperatures,
)
from watchdog.core.snapshot import Snapshot, Source
from watchdog.core.traffic import Direction

NOON = 1_772_539_200.0  # s since 1970: a Tuesday


class Bench:
    """One machine under a hand-written sequence of lines."""

    def __init__(self, source: Source = Source.SERIAL, *, linked: bool = True) -> None:
        self.limits = Limits()
        self.now = 0.0
        self.memory: Memory = begin(self.at, source)
        self.effects: list[Effect] = []
        self.judge = False
        if linked:
            self.remark(LinkUp())

    @property
    def at(self) -> Moment:
        return Moment(self.now, NOON + self.now)

    @property
    def seen(self) -> Snapshot:
        return snapshot(self.limits, self.memory, self.at)

    def line(self, direction: Direction, *meaning: Observation) -> None:
        self.memory, told, self.judge = observe(self.limits, self.memory, Line(self.at, direction, "", meaning))
        self.effects.extend(told)

    def said(self, *meaning: Observation) -> None:
        """The machine says a line, a second after the one before."""
        self.wait(1)
        self.line(Direction.RECEIVED, *meaning)

    def sent(self, *commands: Command) -> None:
        """Lines are sent to the machine, without an answer yet."""
        for command in commands:
            self.line(Direction.SENT, command)

    def taken(self, *commands: Command) -> None:
        """Lines are sent, and each is acknowledged."""
        for command in commands:
            self.line(Direction.SENT, command)
            self.now += 0.1
            self.line(Direction.RECEIVED, Acknowledged())

    def remark(self, *meaning: Observation) -> None:
        """The recorder remarks on the link."""
        self.line(Direction.REMARK, *meaning)

    def wait(self, seconds: int) -> None:
        """Nothing but time passes, tick by tick."""
        for _ in range(seconds):
            self.now += 1
            self.memory, told = tick(self.limits, self.memory, self.at)
            self.effects.extend(told)

    def blind(self, seconds: float) -> None:
        """The watch sees nothing for a while, and then runs again."""
        self.now += seconds
        self.memory, told = resumed(self.limits, self.memory, Resumed(self.at, seconds))
        self.effects.extend(told)

    def heat(self, now: float | None, target: float | None, bed: float = 23.0, bed_target: float = 0.0) -> None:
        """A temperature report."""
        self.said(Temperatures(Reading(now, target), Reading(bed, bed_target)))

    def warm(self) -> None:
        """Two reports at printing heat, long after it was commanded."""
        self.heat(205.0, 205.0)
        self.heat(205.0, 205.0)

    def place(self, *bytes_read: int, size: int = 100_000) -> None:
        """Answers to the question how far the card was read."""
        for byte in bytes_read:
            self.said(CardProgress(byte, size))

    def building(self) -> None:
        """A card job that builds, at byte 30 000 of 100 000."""
        self.place(0)
        self.warm()
        self.place(10_000, 20_000, 30_000)
        self.effects.clear()

    def jobs(self) -> list[tuple[str, int, str | None]]:
        """What was told of jobs: event, number, why."""
        return [(told.event, told.number, told.why) for told in self.effects if isinstance(told, JobChanged)]

    def states(self, axis: str) -> list[str]:
        """The values that an axis took."""
        return [told.after for told in self.effects if isinstance(told, StateChanged) and told.axis == axis]


@pytest.fixture
def bench() -> Bench:
    """A machine that is asked over its port."""
    return Bench()


@pytest.fixture
def new_bench() -> Callable[..., Bench]:
    """For tests that need another kind of source."""
    return Bench


@pytest.fixture
def code() -> Callable[..., Command]:
    """A command: `code("G1", X=1, E=2)`."""

    def make(name: str, number: int | None = None, text: str = "", **words: float | None) -> Command:
        return Command(name, tuple((letter, value) for letter, value in words.items()), text, number)

    return make
