"""A recording and the sensors beside the machine through the very core that watches live, under the recording's own time."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from watchdog.core.effects import Effect
from watchdog.core.events import Event, Line, Measured, Tick
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile
from watchdog.core.sensors import SensorSpec
from watchdog.core.snapshot import SensorKind, Source
from watchdog.core.step import Watch, begin, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
from watchdog.service.replay import Heard
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.laboratory import MOTION
from watchdog.simulator.population import Drawn

_SLEPT = re.compile(r"host resumed after ")
Limits = dict[str, dict[str, float]]
"""alarm → limit → value, where it is not the default"""


def planned(machine: Drawn, name: str) -> tuple[JobFile, ...]:
    """The plan of one of the machine's files, as the folder of job files gives it."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "job.gcode"
        file.write_bytes(dict(machine.options.files)[name])
        limits = MachineLimits(homing=machine.options.homing, probing=machine.options.probing)
        return (JobFile(name, plan_file(file, limits)),)


def watch(machine: Drawn, limits: Limits, files: tuple[JobFile, ...] = ()) -> Watch:
    """The watch as its settings make it for this machine, with `limits` in the place of some defaults."""
    settings = Machine(material=machine.material, poll=machine.pace.temperature)
    made = watch_of("doorway-1", settings, Settings())
    armed = [replace(each, limits=replace(each.limits, **limits.get(each.detector.NAME, {}))) for each in made.armed]
    made = replace(made, armed=tuple(armed), files=files)
    if machine.streaming is not None:
        made = replace(made, source=Source.LISTENING)
    if machine.motion is not None:
        made = replace(made, sensors=(SensorSpec(MOTION, SensorKind.FILAMENT_MOTION),))
    return made


def effects(
    watch: Watch, heard: Iterable[Heard], readings: Sequence[tuple[Moment, str, float]] = ()
) -> Iterator[Effect]:
    """Each effect as it comes about. Where a remark says that the computer slept, nobody looked meanwhile."""
    known = {sensor.name for sensor in watch.sensors}
    told = [Measured(*reading) for reading in readings if reading[1] in known]
    nth, world, due = 0, None, 0.0
    for at, direction, text in heard:
        if world is None:
            world, due = begin(watch, at), at.elapsed + 1.0
        if direction is Direction.REMARK and _SLEPT.match(text):
            due = at.elapsed + 1.0
            while nth < len(told) and told[nth].at.elapsed <= at.elapsed:
                nth += 1
        while due <= at.elapsed:
            events: list[Event] = []
            while nth < len(told) and told[nth].at.elapsed <= due:
                events.append(told[nth])
                nth += 1
            for event in (*events, Tick(Moment(due, at.stamp - (at.elapsed - due)))):
                world, found = step(watch, world, event)
                yield from found
            due += 1.0
        world, found = step(watch, world, Line(at, direction, text, read(direction, text)))
        if found:
            yield from found
