"""A world on the disk and back: whatever the moment of a restart, the watch goes on as if nothing had been."""

import json
from collections.abc import Iterable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from watchdog.core.effects import Effect
from watchdog.core.events import Acknowledge, Event, Line, Shelve, Tick
from watchdog.core.moment import Moment
from watchdog.core.step import World, begin, step
from watchdog.dialect import read
from watchdog.service.frozen import freeze, history_in, thaw
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.laboratory import EPOCH, run

WATCH = watch_of("doorway-1", Machine(), Settings())
LESSONS = {
    "left hot": "at 20 s load\nat 16 min cool",
    "stall": "at 10 s choose oar-collar.gcode\nat 12 s start\nat 40 % of the job fault stall\nat 20 min stop\nat 21 min cool",
    "waits": "at 10 s choose oar-collar.gcode\nat 12 s start\nat 30 % of the job fault filament-change-waits",
    "halt": "at 10 s choose oar-collar.gcode\nat 12 s start\nat 30 % of the job fault halt",
}
DURATION = 1500.0


def events(script: str) -> list[Event]:
    """Lines and ticks of a lesson, with people who answer in between."""
    made: list[Event] = []
    due = 1.0
    for line in run(script, seed=11, duration=DURATION):
        at = Moment(line.stamp - EPOCH, line.stamp)
        while due <= at.elapsed:
            made.append(Tick(Moment(due, EPOCH + due)))
            due += 1.0
        made.append(Line(at, line.direction, line.text, read(line.direction, line.text)))
    half = Moment(DURATION * 0.6, EPOCH + DURATION * 0.6)
    answers: list[Event] = [Acknowledge(half, alarm, "lead", "command") for alarm in WATCH.table]
    answers.append(Shelve(half, "hot-idle", 300.0, "lead", "repair"))
    place = next(nth for nth, event in enumerate(made) if event.at.elapsed > half.elapsed)
    return [*made[:place], *answers, *made[place:]]


EVENTS = {name: events(script) for name, script in LESSONS.items()}


def played(world: World, ahead: Iterable[Event], frozen_at: frozenset[int] = frozenset()) -> tuple[World, list[Effect]]:
    said: list[Effect] = []
    for nth, event in enumerate(ahead):
        if nth in frozen_at:
            thawed = thaw(WATCH, freeze(WATCH, world))
            assert thawed is not None
            world = thawed[0]
        world, effects = step(WATCH, world, event)
        said += effects
    return world, said


STRAIGHT = {name: played(begin(WATCH, Moment(0.0, EPOCH)), ahead)[1] for name, ahead in EVENTS.items()}


@pytest.mark.parametrize("lesson", LESSONS)
def test_the_lessons_hold_what_is_to_be_kept(lesson: str) -> None:
    assert any(type(effect).__name__ == "Tell" for effect in STRAIGHT[lesson])


@pytest.mark.parametrize("lesson", LESSONS)
@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(places=st.sets(st.integers(1, 2500), min_size=1, max_size=4))
def test_frozen_and_thawed_at_any_event_the_same_is_said(lesson: str, places: set[int]) -> None:
    """A restart in the wrong second must cost no message and send none twice."""
    _, said = played(begin(WATCH, Moment(0.0, EPOCH)), EVENTS[lesson], frozenset(places))
    assert said == STRAIGHT[lesson]


def test_what_another_version_wrote_is_refused_and_not_misread() -> None:
    world, _ = played(begin(WATCH, Moment(0.0, EPOCH)), EVENTS["left hot"][:900])
    text = freeze(WATCH, world)
    parts = json.loads(text)
    for strange in ("", "{}", "[1]", text[:-20], json.dumps({**parts, "book": {"alarms": {"hot-idle": 7}}})):
        assert thaw(WATCH, strange) is None
    assert history_in("{}").jobs == ()


def test_a_detector_whose_memory_changed_starts_afresh_alone() -> None:
    world, _ = played(begin(WATCH, Moment(0.0, EPOCH)), EVENTS["left hot"][:900])
    parts = json.loads(freeze(WATCH, world))
    parts["memories"]["hot-idle"] = {"of another": "shape"}
    del parts["memories"]["job-late"]
    thawed = thaw(WATCH, json.dumps(parts))
    assert thawed is not None
    names = [armed.detector.NAME for armed in WATCH.armed]
    place = names.index("hot-idle")
    assert world.memories[place] != WATCH.armed[place].detector.Memory()
    assert thawed[0].memories[place] == WATCH.armed[place].detector.Memory()
    others = [nth for nth, name in enumerate(names) if name not in ("hot-idle", "job-late")]
    assert [thawed[0].memories[nth] for nth in others] == [world.memories[nth] for nth in others]
    assert thawed[0].book == world.book
