"""One recording, made and judged: what was done to the machine, and which alarms came."""

from collections.abc import Callable
from typing import NamedTuple

from tests.bench.faults.cases import Case
from tests.bench.faults.watching import Limits, effects, watch
from watchdog.core.effects import AlarmChanged, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile
from watchdog.core.traffic import TrafficLine
from watchdog.service.replay import Heard
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.laboratory import EPOCH, Recording, record
from watchdog.simulator.population import Drawn, draw, healthy_day, lesson
from watchdog.simulator.scenes import SCENES

AFTERWARDS = 180.0  # s that are recorded after a scene's last job
LONGEST = 5400.0  # s: a job on a slow bed, the fault and the time until its alarm is due


class Told(NamedTuple):
    """Something about one alarm, s since the beginning of the recording."""

    alarm: str
    at: float
    priority: str


class Outcome(NamedTuple):
    """What became of one recording."""

    fault: str
    """the name of its case; '' for a healthy one"""
    seed: int
    family: str
    traits: tuple[str, ...]
    hours: float
    onset: float | None
    """s since the beginning; None when the fault found nothing to strike, or the recording is healthy"""
    raised: tuple[Told, ...]
    annunciated: tuple[Told, ...]
    """first messages to people; no reminder and no all-clear"""
    grown: tuple[Told, ...]
    """messages that an incident which people know of has become urgent"""
    standing: int
    """alarms that had not gone when the recording ended"""


def faulty(case: Case, seed: int) -> tuple[Drawn, Recording, float | None]:
    """The recording of a case, and when its condition began."""
    machine = draw(seed, streamed=case.streamed, motion=case.motion)
    if case.scene:
        scene = SCENES[case.fault]
        machine = scene.machine(machine)

        def over(now: float, recording: Recording) -> bool:
            return len(recording.ends) >= scene.jobs and now >= recording.ends[scene.jobs - 1] + AFTERWARDS

        return machine, _record(machine, scene.script(machine), scene.seconds, over), 0.0

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


def _record(
    machine: Drawn, script: str, duration: float, enough: Callable[[float, Recording], bool] | None
) -> Recording:
    return record(
        script,
        seed=machine.seed,
        duration=duration,
        options=machine.options,
        pace=machine.pace,
        reports=machine.reports,
        enough=enough,
        streaming=machine.streaming,
        motion=machine.motion,
    )


def heard(line: TrafficLine, clock_step: tuple[float, float]) -> Heard:
    """A line as the watch meets it. `elapsed` knows nothing of a wall clock that is set meanwhile."""
    elapsed = line.stamp - EPOCH
    since, by = clock_step
    stamp = line.stamp + (by if elapsed > since else 0.0)
    return Moment(elapsed, stamp), line.direction, line.text


def judged(
    case: str,
    machine: Drawn,
    recording: Recording,
    onset: float | None,
    limits: Limits,
    clock_step: tuple[float, float] = (0.0, 0.0),
    files: tuple[JobFile, ...] = (),
) -> Outcome:
    """The recording through the core that watches live. `clock_step`: s since the beginning, and s that its clock is set on."""
    raised: list[Told] = []
    annunciated: list[Told] = []
    grown: list[Told] = []
    standing: set[str] = set()
    lines = (heard(line, clock_step) for line in recording.lines)
    for effect in effects(watch(machine, limits, files), lines, recording.readings):
        match effect:
            case AlarmChanged(at, alarm, _, Transition.RAISED, priority):
                raised.append(Told(alarm, at.elapsed, priority.value))
                standing.add(alarm)
            case AlarmChanged(_, alarm, _, Transition.RETURNED | Transition.CLEARED):
                standing.discard(alarm)
            case Tell(at, TellKind.ALARM, alarm, _, priority):
                annunciated.append(Told(alarm, at.elapsed, priority.value))
            case Tell(at, TellKind.ESCALATED, alarm, _, priority):
                grown.append(Told(alarm, at.elapsed, priority.value))
    hours = (recording.lines[-1].stamp - recording.lines[0].stamp) / 3600
    return Outcome(
        case,
        machine.seed,
        machine.options.family,
        machine.traits,
        hours,
        onset,
        tuple(raised),
        tuple(annunciated),
        tuple(grown),
        len(standing),
    )
