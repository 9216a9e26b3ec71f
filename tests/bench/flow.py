"""How often `flow-lost` is right, how soon, and how often it cries wolf, on simulated machines that have taught it.

    python -m tests.bench.flow [--seeds 80] [--first 20000]

Each drawn machine (`watchdog.simulator.population`) first executes `LESSONS`, healthy, with their plans known, and so teaches
what is usual for it. Then a fault strikes somewhere in a short job and in a long one; a healthy day of four hours and the
lessons once more follow. All is judged by the core that watches live. Limits were looked at on seeds from 1000, what is
told of it comes from 20000 on.
"""

import argparse
import multiprocessing
import os
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import NamedTuple

from tests.bench.faults.sums import share
from watchdog.core.effects import AlarmChanged, Transition
from watchdog.core.events import Line, Tick
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile
from watchdog.core.step import Watch, World, begin, step
from watchdog.dialect import read
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.laboratory import EPOCH, Recording, record
from watchdog.simulator.population import LONG_NAME, SEGMENTS, SHORT, Drawn, draw, healthy_day
from watchdog.statistics.proportions import clopper_pearson
from watchdog.statistics.rates import rate_upper

LESSONS = (LONG_NAME, "block-sheave.gcode", "rudder-pintle.gcode", SEGMENTS, SHORT, "block-sheave.gcode", LONG_NAME)
FAULTS = ("nozzle-jam", "run-out-unseen", "tangle", "sensor-drifting", "slow")
APART = 2400  # s from one lesson to the next
DAY = 4 * 3600.0  # s
RESPOND = 300.0  # s


class Heard(NamedTuple):
    """What became of one recording."""

    raised: tuple[float, ...]
    judged: float
    """s in which it could tell, while a job built"""
    world: World


def follow(watching: Watch, recording: Recording, habits: World | None = None) -> Heard:
    """The recording through the core, with what a machine has taught before."""
    world: World | None = None
    raised: list[float] = []
    judged, due = 0, 1.0
    for line in recording.lines:
        at = Moment(line.stamp - EPOCH, line.stamp)
        if world is None:
            world = begin(watching, at)
            world = world._replace(habits=habits.habits) if habits is not None else world
        while due <= at.elapsed:
            world, effects = step(watching, world, Tick(Moment(due, at.stamp - (at.elapsed - due))))
            due += 1.0
            raised += [
                due for told in effects if isinstance(told, AlarmChanged) and told.transition is Transition.RAISED
            ]
            memory = world.memories[0]
            judged += memory.since is not None and memory.last.present is not None
        world, effects = step(watching, world, Line(at, line.direction, line.text, read(line.direction, line.text)))
    assert world is not None
    return Heard(tuple(raised), judged, world)


class Result(NamedTuple):
    """What one machine showed."""

    taught: bool
    faults: dict[str, tuple[float | None, bool]]
    """by fault and job: s from its onset to the alarm within `RESPOND`, None where none came; and whether one came before it"""
    healthy: tuple[int, float]
    """alarms, and s judged"""


def planned(machine: Drawn) -> Watch:
    """The watch of this machine, with the plans of its files and the consent to learn; one condition alone."""
    whole = watch_of("doorway-1", Machine(material=machine.material, poll=machine.pace.temperature), Settings())
    armed = tuple(each for each in whole.armed if each.detector.NAME == "flow-lost")
    limits = MachineLimits(homing=machine.options.homing, probing=machine.options.probing)
    files = []
    with TemporaryDirectory() as folder:
        for nth, (name, content) in enumerate(machine.options.files):
            file = Path(folder) / f"{nth}.gcode"
            file.write_bytes(content)
            files.append(JobFile(name, plan_file(file, limits)))
    return replace(whole, armed=armed, files=tuple(files), learns=True)


def over(fault: str, now: float, recording: Recording) -> bool:
    """The time to respond has passed."""
    return any(what == f"fault {fault}" and now > at + RESPOND + 30 for at, what in recording.happened)


def tried(seed: int) -> Result:
    """One machine, taught, struck and left in peace."""
    machine = draw(seed, streamed=False)  # a stream is recognised by its content, which has tests of its own
    watching = planned(machine)
    make = partial(record, options=machine.options, pace=machine.pace, reports=machine.reports)
    lessons = "".join(
        f"at {30 + APART * nth} s choose {name}\nat {35 + APART * nth} s start\n" for nth, name in enumerate(LESSONS)
    )
    taught = follow(watching, make(lessons, seed=seed, duration=APART * len(LESSONS))).world
    random, struck = Random(f"flow {seed}"), {}
    for fault in FAULTS:
        part = random.uniform(25.0, 60.0)
        for kind, name, duration in (("short", SHORT, 2400.0), ("long", LONG_NAME, 3600.0)):
            script = f"at 20 s choose {name}\nat 24 s start\nat {part:.0f} % of the job fault {fault}"
            recording = make(script, seed=seed + 10**6, duration=duration, enough=partial(over, fault))
            at = next((at for at, what in recording.happened if what == f"fault {fault}"), None)
            if at is None:
                continue
            raised = follow(watching, recording, taught).raised
            delay = next((each - at for each in raised if at <= each <= at + RESPOND), None)
            struck[f"{fault}, {kind} job"] = (delay, any(each < at for each in raised))
    days = (
        follow(watching, make(healthy_day(machine, DAY), seed=seed + 2 * 10**6, duration=DAY), taught),
        follow(watching, make(lessons, seed=seed + 3 * 10**6, duration=APART * len(LESSONS)), taught),
    )
    healthy = sum(len(day.raised) for day in days), sum(day.judged for day in days)
    return Result("flow-power" in taught.habits.shown, struck, healthy)


def lines(results: list[Result]) -> Iterator[str]:
    """The table."""
    able = [result for result in results if result.taught]
    yield f"{len(able)} of {len(results)} machines taught enough; the others can tell nothing and are counted as missed"
    found: dict[str, list[tuple[float | None, bool]]] = defaultdict(list)
    for result in results:
        for fault, one in result.faults.items():
            found[fault].append(one)
    for fault, trials in found.items():
        delays = sorted(delay for delay, _ in trials if delay is not None)
        low, high = clopper_pearson(len(delays), len(trials))
        after = f", after {delays[len(delays) // 2]:.0f} s, 95 % within {share(delays, 95):.0f} s" if delays else ""
        early = sum(before for _, before in trials)
        yield f"{fault}: {len(delays)} of {len(trials)} ({100 * low:.0f}-{100 * high:.0f} %){after}; {early} before it"
    wrong, hours = sum(result.healthy[0] for result in able), sum(result.healthy[1] for result in able) / 3600
    bound = 1000 * rate_upper(wrong, hours)
    yield f"healthy: {wrong} alarms in {hours:.0f} h of judged flow; fewer than {bound:.0f} in 1,000 h (95 %)"


def main() -> int:
    """Try the machines on every processor and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=80)
    parser.add_argument("--first", type=int, default=20_000)
    wanted = parser.parse_args()
    results = []
    with multiprocessing.get_context("spawn").Pool(os.cpu_count()) as pool:
        for nth, result in enumerate(pool.imap(tried, range(wanted.first, wanted.first + wanted.seeds)), 1):
            results.append(result)
            print(f"{nth} of {wanted.seeds} machines", file=sys.stderr, flush=True)
    print("\n".join(lines(results)), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
