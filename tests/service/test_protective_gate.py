"""The last gate before the wire: what may go out to a machine, and in which moment."""

from collections import deque
from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.clock import Clock
from watchdog.core.alarms.book import Book
from watchdog.core.alarms.standing import Phase, Standing
from watchdog.core.alarms.table import TABLE
from watchdog.core.cooling import COMMANDS, Limits
from watchdog.core.detectors import MACHINE
from watchdog.core.effects import Noted
from watchdog.core.events import Line, Tick
from watchdog.core.machine import Limits as MachineLimits
from watchdog.core.moment import Moment
from watchdog.core.routing import Recipient, usual
from watchdog.core.snapshot import Source
from watchdog.core.step import Armed, Watch, World, begin, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.dialect.queries import permitted
from watchdog.service.beside import Wishes
from watchdog.service.health import Health
from watchdog.service.keeping import Keeping
from watchdog.service.watching import Ties, Watching
from watchdog.service.wires import Wire
from watchdog.settings.model import Machine
from watchdog.settings.places import Kept
from watchdog.sources.loop_lag import LoopLag

WATCH = Watch(
    "doorway-1",
    Source.SERIAL,
    MachineLimits(),
    tuple(Armed(detector, detector.Limits()) for detector in MACHINE),
    {detector.NAME: TABLE[detector.NAME] for detector in MACHINE},
)
HOT = "ok T:205.0 /205.0 B:24.0 /0.0 @:40 B@:0"


class HandClock(Clock):
    """Stands where it is put."""

    elapsed = 1500.0

    def now(self) -> Moment:
        return Moment(self.elapsed, 1.77e9 + self.elapsed)


class Port:
    """Takes lines, or has no room for them."""

    def __init__(self, room: bool = True) -> None:
        self.room = room
        self.lines: list[str] = []

    def send(self, text: str) -> bool:
        if self.room:
            self.lines.append(text)
        return self.room


def at(elapsed: float) -> Moment:
    return Moment(elapsed, 1.77e9 + elapsed)


def forgotten() -> World:
    """Hot and idle for 25 minutes, told for ten, and nobody has answered."""
    world = begin(WATCH, at(0))
    for second in range(1500):
        if second % 2 == 0:
            world, _ = step(WATCH, world, Line(at(second), Direction.RECEIVED, HOT, read(Direction.RECEIVED, HOT)))
        world, _ = step(WATCH, world, Tick(at(second)))
    stands = Standing(phase=Phase.UNACKNOWLEDGED, occurrence=1, raised=at(800))
    return world._replace(book=Book({"hot-idle": stands}))


@pytest.fixture(scope="module")
def world() -> World:
    return forgotten()


def worker(world: World, place: Path) -> tuple[Watching, HandClock]:
    clock = HandClock()
    ties = Ties(clock, Keeping(place / "incidents.db", clock, lambda why: None), lambda: None, lambda name, what: None)
    wishes = Wishes(usual((Recipient("workshop-lead"),)), cools=Limits(enabled=True))
    watching = Watching(WATCH, world, ties, wishes)
    assert ticked(watching, Port()) == ["cooling-due"]
    watching._stored = 1500.0  # as if the record had taken that step
    return watching, clock


def ticked(watching: Watching, port: Port) -> list[str]:
    """The names of what was noted by one tick at 1500 s."""
    watching.asks_through(port)
    decided = watching._on_tick(at(1500), watching.memories, ())
    watching.memories = decided.memories
    return [effect.kind for effect in decided.effects if isinstance(effect, Noted)]


def test_a_forgotten_nozzle_is_cooled_by_one_line(world: World, tmp_path: Path) -> None:
    watching, _ = worker(world, tmp_path)
    port = Port()
    assert ticked(watching, port) == ["cooling"]
    assert ticked(watching, port) == []
    assert port.lines == ["M104 S0"]


def test_what_does_not_lie_in_the_record_is_not_done(world: World, tmp_path: Path) -> None:
    """A watch that is killed right after would not know of it, and do it again with nobody there."""
    watching, _ = worker(world, tmp_path)
    watching._stored = 1499.0
    port = Port()
    assert ticked(watching, port) == []
    assert port.lines == []
    watching._stored = 1500.0
    assert ticked(watching, port) == ["cooling"]
    assert port.lines == ["M104 S0"]


def test_a_port_without_room_leaves_it_undone_and_it_is_tried_again(world: World, tmp_path: Path) -> None:
    """'The watch cut the heat, it does not cool' would send somebody to the mains switch for nothing."""
    watching, _ = worker(world, tmp_path)
    full, port = Port(room=False), Port()
    assert ticked(watching, full) == []
    assert not watching.memories.cooled.spent
    assert ticked(watching, port) == ["cooling"]
    assert port.lines == ["M104 S0"]


def test_what_was_heard_and_not_yet_looked_at_may_be_a_job(world: World, tmp_path: Path) -> None:
    """Somebody pressed start a moment ago."""
    watching, _ = worker(world, tmp_path)
    watching._queue = deque([Line(at(1500.1), Direction.RECEIVED, HOT, read(Direction.RECEIVED, HOT))])
    port = Port()
    assert ticked(watching, port) == []
    assert port.lines == []


def test_after_a_computer_that_was_held_up_nothing_is_sent_on_old_news(world: World, tmp_path: Path) -> None:
    watching, clock = worker(world, tmp_path)
    clock.elapsed = 1501.0
    port = Port()
    assert ticked(watching, port) == []
    assert port.lines == []


class Says:
    """A worker as far as the gate asks it."""

    def __init__(self, idle: bool | None, may_cool: bool) -> None:
        self.idle = idle
        self.may_cool = may_cool

    def asks_through(self, sender: object) -> None:
        pass


def gate(place: Path, idle: bool | None, may_cool: bool) -> Wire:
    kept = Kept(place, place / "control.sock")
    says = cast(Any, Says(idle, may_cool))
    return Wire("doorway-1", Machine(port="/dev/null"), kept, Clock(), says, Health(lambda why: None), LoopLag(), 0.0)


CODES = st.builds(
    "{}{} {}".format, st.sampled_from("GMTD"), st.integers(0, 1200), st.sampled_from(["", "S0", "S200", "P0 S0", "X1"])
)


@given(st.one_of(CODES, st.text(max_size=12), st.sampled_from([f"{one} " for one in COMMANDS])))
def test_in_that_moment_nothing_passes_but_the_two_lines_and_outside_it_neither(text: str) -> None:
    """A heater that is switched off in a job is a lost job; any other command could be worse."""
    for idle in (True, False, None):
        assert gate(Path("/"), idle, may_cool=False)._may_send(text) == permitted(text, idle)
        assert gate(Path("/"), idle, may_cool=True)._may_send(text) == (permitted(text, idle) or text in COMMANDS)
        for command in COMMANDS:
            assert not gate(Path("/"), idle, may_cool=False)._may_send(command)
            assert gate(Path("/"), idle, may_cool=True)._may_send(command)
    assert frozenset({"M104 S0", "M140 S0"}) == COMMANDS
