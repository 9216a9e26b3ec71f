"""Whatever a wire may bring: the state holds together, and it can be stored and read back."""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from watchdog.core.effects import Effect, JobChanged, StateChanged
from watchdog.core.events import Expectation, Line, Resumed
from watchdog.core.machine import Limits, Memory, begin, expected, observe, resumed, snapshot, tick
from watchdog.core.moment import Moment
from watchdog.core.observations import (
    Acknowledged,
    Action,
    Busy,
    CardHeld,
    CardIdle,
    CardPresent,
    CardProgress,
    Command,
    Fault,
    FaultKind,
    FileNamed,
    FileOpened,
    HostResumed,
    Idle,
    JobDone,
    JobElapsed,
    JobProgress,
    JobStopped,
    LineFault,
    LinkDown,
    LinkUp,
    Observation,
    Position,
    Reading,
    Remark,
    Resend,
    ResetCause,
    Started,
    Temperatures,
    Unread,
    Waiting,
    WatchStarted,
    WatchStopped,
)
from watchdog.core.snapshot import Execution, Hotend, Link, Snapshot, Source
from watchdog.core.traffic import Direction

LIMITS = Limits()
STORE = TypeAdapter(Memory)

_MOTION = [f"G{nth}" for nth in (0, 1, 1, 1, 2, 28, 29, 90, 91, 92)]
_MACHINE = (0, 18, 23, 24, 25, 27, 32, 73, 82, 83, 84, 104, 105, 106, 108, 109, 110, 140, 190, 524, 600, 999)
_CODES = [*_MOTION, *(f"M{nth}" for nth in _MACHINE), "T1", ""]
_HOLDS = ["pause", "paused", "resume", "resumed", "cancel", "start"]
_ACTIONS = [*_HOLDS, "prompt_begin", "prompt_end", "filament_runout", "poweroff", "odd"]

_number = st.floats(-1e4, 1e4, allow_nan=False).map(lambda value: round(value, 2))
_degrees = st.none() | st.sampled_from([-333.0, -15.0, 0.0, 24.0, 49.9, 150.0, 180.0, 204.0, 205.0, 260.0, 2000.0])
_target = st.none() | st.sampled_from([0.0, 60.0, 140.0, 205.0])
_reading = st.builds(Reading, _degrees, _target, st.none() | st.integers(0, 255))
_word = st.tuples(
    st.sampled_from("XYZEFSRPTN"), st.none() | st.sampled_from([0.0, 1.0, 2.5, -0.8, 60.0, 205.0]) | _number
)
_command = st.builds(
    Command,
    st.sampled_from(_CODES),
    st.lists(_word, max_size=4).map(tuple),
    st.sampled_from(["", "cleat.gco", "ä\\xff"]),
    st.none() | st.integers(0, 40),
)
_action = st.builds(
    Action,
    st.sampled_from(_ACTIONS),
    st.sampled_from(["", "T0", "filament_runout 0"]),
)
_said: st.SearchStrategy[Observation] = st.one_of(
    st.builds(Temperatures, st.none() | _reading, st.none() | _reading, st.just(()), st.booleans(), st.none(), _target),
    st.builds(
        CardProgress, st.sampled_from([0, 1, 300, 9_000, 50_000, 100_000]), st.sampled_from([0, 44_000, 100_000])
    ),
    st.builds(CardProgress, st.integers(0, 100_000), st.just(100_000), st.booleans()),
    st.sampled_from(
        [
            CardIdle(),
            CardHeld(),
            JobDone(),
            JobStopped(),
            Started(),
            Idle(),
            Acknowledged(),
            JobElapsed(5.0),
            Unread("x"),
        ]
    ),
    st.builds(FileOpened, st.none() | st.just("cleat.gco"), st.none() | st.sampled_from([44_000, 100_000])),
    st.builds(FileNamed, st.none() | st.just("CLEAT~1.GCO"), st.none() | st.just("cleat hook.gcode")),
    st.builds(JobProgress, st.none() | st.floats(0, 100), st.none() | st.floats(0, 1e5)),
    st.builds(Busy, st.sampled_from(["processing", "heating", "person", "input", "door", "other"])),
    st.builds(Acknowledged, st.none() | st.integers(0, 40)),
    st.builds(Resend, st.integers(0, 40)),
    st.builds(Fault, st.sampled_from(FaultKind), st.just("said"), st.none(), st.booleans()),
    st.builds(CardPresent, st.booleans()),
    st.builds(Position, *[st.none() | _number] * 4),
    st.builds(Remark, st.sampled_from(["echo:x", "echo:SUBROUTINE CALL target", "echo:END SUBROUTINE"])),
    st.sampled_from([ResetCause("watchdog"), Waiting("Press button"), LineFault("Error:checksum mismatch")]),
    _action,
    _command,
)
_remarked: st.SearchStrategy[Observation] = st.sampled_from(
    [LinkUp(), LinkDown("gone"), WatchStarted(), WatchStopped(), HostResumed(90.0)]
)
_gap = st.sampled_from([0.0, 0.05, 1.0, 2.0, 7.0, 31.0, 70.0, 900.0])
_event = st.one_of(
    st.tuples(_gap, st.just(Direction.RECEIVED), st.lists(_said, min_size=1, max_size=3)),
    st.tuples(_gap, st.just(Direction.RECEIVED), st.lists(_said, min_size=1, max_size=3)),
    st.tuples(_gap, st.just(Direction.SENT), st.lists(_command, max_size=1)),
    st.tuples(_gap, st.just(Direction.REMARK), st.lists(_remarked, max_size=1)),
    st.tuples(_gap, st.just("blind"), st.just([])),
    st.tuples(_gap, st.just("expectation"), st.just([])),
)
_events = st.lists(_event, max_size=60)
Events = list[tuple[float, str, list[Observation]]]


class Walk:
    """A memory led through events, with everything that was told on the way."""

    def __init__(self, source: Source) -> None:
        self.now = 0.0
        self.memory = begin(self.at, source)
        self.effects: list[Effect] = []

    @property
    def at(self) -> Moment:
        return Moment(self.now, 1_772_539_200.0 + self.now)

    @property
    def seen(self) -> Snapshot:
        return snapshot(LIMITS, self.memory, self.at)

    def step(self, gap: float, kind: str, meaning: list[Observation]) -> None:
        self.now += gap
        told: tuple[Effect, ...]
        if kind == "blind":
            self.memory, told = resumed(LIMITS, self.memory, Resumed(self.at, gap))
        elif kind == "expectation":
            self.memory, told = expected(self.memory, Expectation(self.at, 60.0, "operator")), ()
        else:
            line = Line(self.at, Direction(kind), "", tuple(meaning))
            self.memory, told, _ = observe(LIMITS, self.memory, line)
        self.effects.extend(told)

    def tick(self) -> None:
        self.memory, told = tick(LIMITS, self.memory, self.at)
        self.effects.extend(told)


def _holds_together(seen: Snapshot, before: Snapshot) -> None:
    running = seen.job is not None and seen.job.ended is None
    assert seen.active is (None if seen.execution is Execution.UNAVAILABLE else running)
    if seen.link is Link.UNAVAILABLE:
        assert seen.execution is Execution.UNAVAILABLE
        assert seen.hotend is Hotend.UNKNOWN
        assert seen.nozzle.now is None
    if seen.execution in (Execution.PREPARING, Execution.BUILDING, Execution.PAUSED):
        assert running
    if seen.execution in (Execution.READY, Execution.COMPLETE, Execution.STOPPED, Execution.FAULTED):
        assert not running
    assert seen.waits_for_person is (seen.waits_since is not None)
    assert seen.flowed >= before.flowed
    assert seen.resends >= before.resends
    assert seen.lines_sent >= before.lines_sent
    assert len(seen.faults) <= 32
    assert seen.fed_in_place >= 0
    assert seen.unanswered >= 0
    if seen.job is not None:
        job = seen.job
        assert (job.ended is None) is (job.ending is None)
        assert job.held >= 0
        assert job.heating >= 0
        assert job.held_since is None or job.ended is None
        assert before.job is None or job.number >= before.job.number


@pytest.mark.parametrize("source", Source)
@given(events=_events)
@settings(max_examples=150, deadline=None)
def test_any_traffic_leaves_a_state_that_holds_together(source: Source, events: Events) -> None:
    walk = Walk(source)
    for gap, kind, meaning in events:
        before = walk.seen
        walk.step(gap, kind, meaning)
        _holds_together(walk.seen, before)
        before = walk.seen
        walk.tick()
        _holds_together(walk.seen, before)
        assert walk.seen.execution is walk.memory.axes.execution
        assert walk.seen.hotend is walk.memory.axes.hotend


@given(events=_events)
@settings(max_examples=150, deadline=None)
def test_every_job_has_one_start_and_at_most_one_end(events: Events) -> None:
    walk = Walk(Source.SERIAL)
    for step in events:
        walk.step(*step)
        walk.tick()
    running: int | None = None
    held, last = False, 0
    for told in walk.effects:
        if not isinstance(told, JobChanged):
            continue
        if told.event == "started":
            assert running is None
            assert told.number == last + 1
            running, held, last = told.number, False, told.number
        else:
            assert told.number == running
            if told.event in ("completed", "abandoned"):
                running = None
            else:
                assert held is (told.event == "resumed")
                held = told.event == "held"
    job = walk.seen.job
    assert (job is not None and job.ended is None) is (running is not None)


@given(events=_events)
@settings(max_examples=100, deadline=None)
def test_the_told_changes_of_an_axis_are_a_chain(events: Events) -> None:
    walk = Walk(Source.SERIAL)
    for step in events:
        walk.step(*step)
        walk.tick()
    last = {"link": "unavailable", "execution": "unavailable", "hotend": "unknown"}
    for told in walk.effects:
        if isinstance(told, StateChanged):
            assert told.before == last[told.axis]
            assert told.after != told.before
            last[told.axis] = told.after
    assert last == {"link": walk.seen.link, "execution": walk.seen.execution, "hotend": walk.seen.hotend}


@given(events=_events, cut=st.integers(0, 60))
@settings(max_examples=100, deadline=None)
def test_a_memory_stored_at_any_line_goes_on_as_if_it_had_not_been(events: Events, cut: int) -> None:
    """A restart of the service must not change what is known."""
    whole, thawed = Walk(Source.SERIAL), Walk(Source.SERIAL)
    for nth, step in enumerate(events):
        if nth == cut:
            frozen = STORE.dump_json(thawed.memory)
            assert STORE.validate_json(frozen) == thawed.memory
            thawed.memory = STORE.validate_json(frozen)
        for walk in (whole, thawed):
            walk.step(*step)
            walk.tick()
    assert thawed.memory == whole.memory
    assert thawed.effects == whole.effects


def test_a_rich_memory_is_read_back_as_it_was(bench: Any, code: Callable[..., Command]) -> None:
    bench.building()
    bench.said(FileNamed("CLEAT~1.GCO", "Klampe für R-014.gcode"))
    bench.said(Fault(FaultKind.CARD_READ, "Error:SD read error", "nozzle"))
    bench.said(Position(1.0, 2.0, None, 4.5))
    bench.said(JobProgress(12.5, 600.0))
    bench.said(Busy("person"))
    bench.said(Action("paused", ""))
    bench.place(31_000)
    for _ in range(130):
        bench.said(Resend(3), Busy("person"))
    bench.sent(code("G29"), code("M117", text="Layer 3"), code("G1", 9, X=1.5, Y=None))
    bench.memory = expected(bench.memory, Expectation(bench.at, 3600.0, "operator"))
    memory = bench.memory
    assert len(memory.owed) == 3
    assert memory.wait is not None
    assert memory.hold is not None
    assert memory.beat.usual is not None
    thawed = STORE.validate_json(STORE.dump_json(memory))
    assert thawed == memory
    assert type(thawed) is Memory
    assert type(thawed.job) is type(memory.job)
    assert thawed.axes.execution is memory.axes.execution
    assert snapshot(LIMITS, thawed, bench.at) == bench.seen


def test_numbers_that_json_cannot_hold_are_not_kept(bench: Any) -> None:
    bench.sent(Command("G1", (("X", float("inf")), ("E", float("nan"))), ""))
    assert STORE.validate_json(STORE.dump_json(bench.memory)) == bench.memory
