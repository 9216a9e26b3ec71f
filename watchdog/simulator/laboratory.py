"""Traffic recordings made at full speed: a poller or a streaming computer and the machine under simulated time, no port
between them."""

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from watchdog.core.moment import Moment
from watchdog.core.traffic import TrafficLine
from watchdog.dialect.pace import Pace
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.listeners import Carrier, Ear, Poller
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.script import Director, Event
from watchdog.simulator.streaming import Streaming, StreamingComputer

EPOCH = 1_772_442_000.0
"""2026-03-02T09:00:00Z, a Monday: where recordings begin unless told otherwise"""
MOTION = "motion"
"""name of the sensor in the filament's path"""
PACE = Pace()


@lru_cache(maxsize=8)
def sample_options(family: str = "A") -> Options:
    """A machine of `family` with every sample job on its card."""
    return Options(family=family, files=tuple((name, make()) for name, make in SAMPLES.items()))


class Recording(NamedTuple):
    """What was recorded, and what was done to the machine meanwhile, which no line tells."""

    lines: list[TrafficLine]
    happened: list[tuple[float, str]]
    """s since the beginning, and what the script let happen"""
    ends: list[float]
    """s since the beginning of each end of a job, early or not; to a second"""
    readings: list[tuple[Moment, str, float]]
    """what the sensors beside the machine told: when, which, and the mm of filament that it has counted"""


def run(
    script: str | tuple[Event, ...],
    *,
    seed: int = 0,
    duration: float,
    pace: Pace | None = PACE,
    options: Options | None = None,
    reports: bool = False,
    begin: float = EPOCH,
    clock_steps: Sequence[tuple[float, float]] = (),
) -> list[TrafficLine]:
    """The recording of `duration` s of a machine's life with what `script` lets happen.

    The watch's own poller asks, as `pace` says, one question at a time, and looks once a second; with `pace` None it only
    listens. With `reports` it may order the machine's own reports, where the family has them. Without `options` it is a
    machine of family A with the sample jobs on its card. The first line's time is `begin`; the last one says that the watch
    stopped. Each of `clock_steps` is (s since the beginning, s): from then on the stamps are so much later (a clock that is
    set, or local time when summer begins); the machine's life goes on evenly.
    """
    recording = record(script, seed=seed, duration=duration, pace=pace, options=options, reports=reports, begin=begin)
    if not clock_steps:
        return recording.lines

    def stepped(line: TrafficLine) -> TrafficLine:
        by = sum(by for at, by in clock_steps if line.stamp - begin >= at)
        return TrafficLine(line.stamp + by, line.direction, line.text)

    return [stepped(line) for line in recording.lines]


def record(
    script: str | tuple[Event, ...],
    *,
    seed: int = 0,
    duration: float,
    pace: Pace | None = PACE,
    options: Options | None = None,
    reports: bool = False,
    begin: float = EPOCH,
    enough: Callable[[float, Recording], bool] | None = None,
    streaming: Streaming | None = None,
    motion: float | None = None,
) -> Recording:
    """As `run`, with the ground truth. It ends early when `enough` says so of the time (s) and what there is by then.

    With `streaming` it is the log of a computer that streams, which `pace` does not concern: no watch asks beside it. With
    `motion` a wheel in the filament's path tells once a second how far it has turned, in whole steps of so many mm.
    """
    machine = SimulatedMachine(options or sample_options(), seed)
    director = Director(machine, script)
    ear: Ear
    if streaming is None:
        ear = Poller(machine, begin, pace, reports)
    else:
        machine.computer = StreamingComputer(machine, streaming)
        ear = Carrier(machine, begin, machine.computer)
    ear.remark(0.0, "link opened")
    recording = Recording(ear.lines, director.happened, [], [])
    running = False
    for second in range(1, int(duration) + 1):
        ear.let(director, float(second))
        if motion is not None:
            at = Moment(float(second), begin + second)
            recording.readings.append((at, MOTION, machine.filament.moved // motion * motion))
        if running and not machine.at_work:
            recording.ends.append(float(second))
        running = machine.at_work
        if enough is not None and enough(float(second), recording):
            duration = float(second)
            break
    ear.let(director, duration)
    ear.remark(duration, "watch stopped")
    return recording
