"""One recording, made and judged: what was done to the machine, and which alarms came."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any, NamedTuple

from tests.bench.faults.cases import Case
from watchdog.core.effects import AlarmChanged, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.step import Watch
from watchdog.core.traffic import TrafficLine
from watchdog.service.replay import Heard
from watchdog.service.replay import run as replay
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.laboratory import EPOCH, Recording, record
from watchdog.simulator.population import Drawn, draw, healthy_day, lesson

LONGEST = 5400.0  # s: a job on a slow bed, the fault and the time until its alarm is due
Limits = Mapping[str, Mapping[str, float]]
"""alarm → limit → value, where it is not the default"""


class Told(NamedTuple):
    """Something about one alarm, s since the beginning of the recording."""

    alarm: str
    at: float
    priority: str


class Outcome(NamedTuple):
    """What became of one recording."""

    fault: str
    """'' for a healthy one"""
    seed: int
    family: str
    traits: tuple[str, ...]
    hours: float
    onset: float | None
    """s since the beginning; None when the fault found nothing to strike, or the recording is healthy"""
    raised: tuple[Told, ...]
    annunciated: tuple[Told, ...]
    """first messages to people; no reminder and no all-clear"""
    standing: int
    """alarms that had not gone when the recording ended"""


def faulty(case: Case, seed: int) -> tuple[Drawn, Recording, float | None]:
    """The recording of a fault, and when its condition began."""
    machine = draw(seed)

    def onset(recording: Recording) -> float | None:
        struck = next((at for at, what in recording.happened if what == f"fault {case.fault}"), None)
        if struck is None or not case.from_job_end:
            return struck
        return next((end for end in recording.ends if end > struck), None)

    def enough(now: float, recording: Recording) -> bool:
        began = onset(recording)
        return (began is not None and now >= began + case.after) or (began is None and now > LONGEST / 2)

    script = lesson(machine, case.fault, in_job=FAULTS[case.fault].in_job)
    recording = _record(machine, script, LONGEST, enough)
    return machine, recording, onset(recording)


def healthy(seed: int, hours: float) -> tuple[Drawn, Recording]:
    """A recording in which nothing is wrong."""
    machine = draw(seed)
    return machine, _record(machine, healthy_day(machine, hours * 3600), hours * 3600, None)


def _record(machine: Drawn, script: str, duration: float, enough: Any) -> Recording:
    return record(
        script,
        seed=machine.seed,
        duration=duration,
        options=machine.options,
        pace=machine.pace,
        reports=machine.reports,
        enough=enough,
    )


def watch(machine: Drawn, limits: Limits) -> Watch:
    """The watch as its settings make it for this machine, with `limits` in the place of some defaults."""
    settings = Machine(material=machine.material, poll=machine.pace.temperature)
    made = watch_of("doorway-1", settings, Settings())
    armed = [replace(each, limits=replace(each.limits, **limits.get(each.detector.NAME, {}))) for each in made.armed]
    return replace(made, armed=tuple(armed))


def heard(line: TrafficLine, clock_step: float) -> Heard:
    """A line as the watch meets it. `elapsed` knows nothing of a wall clock that is set an hour into the recording."""
    elapsed = line.stamp - EPOCH
    stamp = line.stamp + (clock_step if elapsed > 3600 else 0.0)
    return Moment(elapsed, stamp), line.direction, line.text


def judged(
    fault: str, machine: Drawn, recording: Recording, onset: float | None, limits: Limits, clock_step: float = 0.0
) -> Outcome:
    """The recording through the core that watches live."""
    raised: list[Told] = []
    annunciated: list[Told] = []
    standing: set[str] = set()
    lines = map(partial(heard, clock_step=clock_step), recording.lines)
    for effect in replay(watch(machine, limits), lines):
        match effect:
            case AlarmChanged(at, alarm, _, Transition.RAISED, priority):
                raised.append(Told(alarm, at.elapsed, priority.value))
                standing.add(alarm)
            case AlarmChanged(_, alarm, _, Transition.RETURNED | Transition.CLEARED):
                standing.discard(alarm)
            case Tell(at, TellKind.ALARM, alarm, _, priority):
                annunciated.append(Told(alarm, at.elapsed, priority.value))
    hours = (recording.lines[-1].stamp - recording.lines[0].stamp) / 3600
    return Outcome(
        fault,
        machine.seed,
        machine.options.family,
        machine.traits,
        hours,
        onset,
        tuple(raised),
        tuple(annunciated),
        len(standing),
    )
