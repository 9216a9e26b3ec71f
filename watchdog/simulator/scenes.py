"""What looks like a fault and is none: each a machine, and what happens to it, in which nobody is to be called.

scene = SCENES["slow-bed"]
machine = scene.machine(draw(1007))
record(scene.script(machine), duration=scene.seconds, options=machine.options, …)
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import exp
from types import MappingProxyType
from typing import NamedTuple

from watchdog.simulator.jobs import make_job
from watchdog.simulator.population import LONG_NAME, SHORT, Drawn, begun

TWELVE_MINUTES = 720.0  # s
RESTING = "lettering with a long rest.gcode"


class Scene(NamedTuple):
    """One of them."""

    name: str
    summary: str
    """one line for a list"""
    script: Callable[[Drawn], str]
    machine: Callable[[Drawn], Drawn] = lambda machine: machine
    clock_step: tuple[float, float] | None = None
    """s since the beginning, and the s by which the wall clock is set on then"""
    jobs: int = 1
    """it is over some minutes after so many jobs have ended"""
    seconds: float = 3000.0
    """and after this at the latest"""
    file: str = SHORT
    """what its jobs are made of"""


def _job(name: str) -> Callable[[Drawn], str]:
    return lambda machine: "\n".join(begun(machine, 30.0, name))


def _again(machine: Drawn) -> str:
    """Somebody presses every three seconds; only after the end of a job does it start the next."""
    return "\n".join(line for at in range(30, 2300, 6) for line in begun(machine, float(at), SHORT))


def _slow_bed(machine: Drawn) -> Drawn:
    """Its watts are such that the bed needs twelve minutes from the room's temperature.

    T(t) = Ta + P/G (1 − exp(−t G/C))
    """
    bed = replace(machine.options.bed, capacity=900.0)
    rise = machine.heats[1] - machine.options.ambient
    watts = bed.loss * rise / (1.0 - exp(-TWELVE_MINUTES * bed.loss / bed.capacity))
    return replace(machine, options=replace(machine.options, bed=replace(bed, watts=watts)))


def _resting(machine: Drawn) -> Drawn:
    """Its card, or its computer, has a job that rests for seven minutes."""
    nozzle, bed = machine.heats
    job = make_job(layers=14, width=30.0, depth=20.0, nozzle=nozzle, bed=bed, dwell=420.0)
    return replace(machine, options=replace(machine.options, files=(*machine.options.files, (RESTING, job))))


SCENES: Mapping[str, Scene] = MappingProxyType(
    {
        scene.name: scene
        for scene in (
            Scene("second-job-at-once", "The next job starts the moment the last one ends.", _again, jobs=2),
            Scene("long-file-name", "A job whose file has a very long name.", _job(LONG_NAME), file=LONG_NAME),
            Scene(
                "long-dwell",
                "The job rests for seven minutes, as its file says (G4).",
                _job(RESTING),
                _resting,
                file=RESTING,
            ),
            Scene("slow-bed", "The bed takes twelve minutes.", _job(SHORT), _slow_bed),
            Scene("clock-step", "The clock is set back by 40 s.", _job(SHORT), clock_step=(500.0, -40.0)),
            Scene("summer-time", "Local time jumps by an hour.", _job(SHORT), clock_step=(500.0, 3600.0)),
        )
    }
)
"""every one by its name"""
