"""A jam that nothing but the heater's power shows, on a simulated machine that has taught what is usual for it."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from watchdog.core.effects import AlarmChanged, Transition
from watchdog.core.events import Line, Tick
from watchdog.core.learning import LEAST, SUBJECTS
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile
from watchdog.core.step import Watch, World, begin, step
from watchdog.dialect import read
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.laboratory import EPOCH, run, sample_options

NAME = "oar-collar.gcode"
LESSON = 40 * 60  # s from one job to the next


@cache
def watching() -> Watch:
    """The watch of a machine that may be learnt from, with the plan of its job."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / NAME
        file.write_bytes(SAMPLES[NAME]())
        plan = plan_file(file, MachineLimits(homing=24.0, probing=40.0))
    plain = watch_of("doorway-1", Machine(learn=True), Settings())
    return replace(plain, files=(JobFile(NAME, plan),))


def told(script: str, duration: float, seed: int, before: World | None = None) -> Iterator[World | AlarmChanged]:
    """What is told of flow, then the world at the end."""
    watch, due = watching(), 1.0
    world = begin(watch, Moment(0.0, EPOCH))
    if before is not None:
        world = world._replace(habits=before.habits)
    for line in run(script, seed=seed, duration=duration, options=sample_options()):
        at = Moment(line.stamp - EPOCH, line.stamp)
        while due <= at.elapsed:
            world, effects = step(watch, world, Tick(Moment(due, EPOCH + due)))
            yield from (effect for effect in effects if isinstance(effect, AlarmChanged))
            due += 1.0
        world, effects = step(watch, world, Line(at, line.direction, line.text, read(line.direction, line.text)))
    yield world


@cache
def taught() -> World:
    """After so many healthy jobs that there are habits."""
    script = "".join(
        f"at {LESSON * nth + 10} s choose {NAME}\nat {LESSON * nth + 15} s start\n" for nth in range(LEAST)
    )
    *alarms, world = told(script, LESSON * LEAST, seed=4)
    assert alarms == []
    assert isinstance(world, World)
    return world


def test_jobs_with_plans_teach_what_flow_takes() -> None:
    shown = taught().habits.shown
    assert set(shown) == set(SUBJECTS)
    assert 0.03 <= shown["melt-share"].middle <= 0.06
    assert shown["flow-noise"].middle < 0.03 * shown["flow-power"].middle


@pytest.mark.parametrize("fault", ["nozzle-jam", "run-out-unseen"])
@pytest.mark.parametrize("seed", [5, 6])
def test_a_jam_is_found_in_the_heaters_power(fault: str, seed: int) -> None:
    script = f"at 10 s choose {NAME}\nat 15 s start\nat 50 % of the job fault {fault}"
    raised = [
        effect
        for effect in told(script, 1500.0, seed, taught())
        if isinstance(effect, AlarmChanged) and effect.transition is Transition.RAISED
    ]
    assert [effect.alarm for effect in raised] == ["flow-lost"]
    assert float(str(raised[0].evidence["power_short_percent"])) > 2


@pytest.mark.parametrize("seed", [5, 6])
def test_a_healthy_job_is_not(seed: int) -> None:
    assert [*told(f"at 10 s choose {NAME}\nat 15 s start", 1800.0, seed, taught())][:-1] == []


def test_nothing_is_inferred_before_the_machine_has_taught() -> None:
    script = f"at 10 s choose {NAME}\nat 15 s start\nat 50 % of the job fault nozzle-jam"
    assert [*told(script, 1500.0, 5)][:-1] == []
