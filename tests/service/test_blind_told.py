"""What is remembered of a machine when the watch went blind, for the sentence that tells of it afterwards."""

from pathlib import Path

from watchdog.clock import Clock
from watchdog.core.alarms.table import TABLE
from watchdog.core.detectors import MACHINE
from watchdog.core.events import Line, Resumed, Tick
from watchdog.core.machine import Limits as MachineLimits
from watchdog.core.moment import Moment
from watchdog.core.notices.notice import WAS_BLIND
from watchdog.core.routing import Recipient, usual
from watchdog.core.snapshot import Source
from watchdog.core.step import Armed, Watch, begin, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.service.beside import Wishes
from watchdog.service.keeping import Keeping
from watchdog.service.watching import Ties, Watching

WATCH = Watch(
    "doorway-1",
    Source.SERIAL,
    MachineLimits(),
    tuple(Armed(detector, detector.Limits()) for detector in MACHINE),
    {detector.NAME: TABLE[detector.NAME] for detector in MACHINE},
)


def at(elapsed: float) -> Moment:
    return Moment(elapsed, 1.77e9 + elapsed)


def line(elapsed: float, text: str) -> Line:
    return Line(at(elapsed), Direction.RECEIVED, text, read(Direction.RECEIVED, text))


def hot(elapsed: float) -> Line:
    return line(elapsed, "ok T:205.0 /205.0 B:24.0 /0.0 @:40 B@:0")


def test_a_nozzle_that_was_hot_when_the_watch_went_blind_is_told_as_hot(tmp_path: Path) -> None:
    """'Nozzle before: not known' after a restart of a minute hid that it had been left on; and a first line that holds no
    heat is waited out, or 'now' would be unknown as well."""
    world = begin(WATCH, at(0))
    for second in range(60):
        world, _ = step(WATCH, world, hot(second))
        world, _ = step(WATCH, world, Tick(at(second)))
    clock = Clock()
    ties = Ties(
        clock, Keeping(tmp_path / "incidents.db", clock, lambda why: None), lambda: None, lambda name, what: None
    )
    wishes = Wishes(usual((Recipient("workshop-lead"),)), notices=frozenset({WAS_BLIND}))
    watching = Watching(WATCH, world, ties, wishes)
    watching._step(Resumed(at(659), 600.0))
    watching._step(line(660, "ok"))
    assert watching._on_tick(at(660), watching.memories, ()).orders == ()
    watching._step(hot(662))
    (order,) = watching._on_tick(at(662), watching.memories, ()).orders
    assert (order.tell.alarm, order.tell.evidence["nozzle_before"], order.tell.evidence["nozzle_now"]) == (
        WAS_BLIND,
        205.0,
        205.0,
    )
