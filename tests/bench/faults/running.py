"""The work of the bench, spread over the processors: which recordings, with which seeds."""

import gc
import multiprocessing
import os
import sys
import time
from collections.abc import Iterator, Sequence
from random import Random
from typing import NamedTuple

from tests.bench.faults.cases import CASES, Case
from tests.bench.faults.outcome import Outcome, faulty, healthy, judged
from tests.bench.faults.watching import planned
from watchdog.core.outlook import JobFile
from watchdog.simulator.scenes import SCENES

REPORTING = 20_000
"""first seed of the recordings that are reported; those from 10,000 were reported once and then mended after"""
TUNING = 1_000
"""first seed of those on which limits are looked at"""
HEALTHY = 500_000
"""added to the seeds of healthy recordings"""
DAY = 4.0  # h of one healthy recording


class Trade(NamedTuple):
    """A condition's main limit, at several values, and the fault that it is about."""

    alarm: str
    limit: str
    unit: str
    values: tuple[float, ...]
    fault: str
    """name of its case"""


TRADES: tuple[Trade, ...] = (
    Trade("hot-idle", "dose", "equivalent min", (5, 7.5, 10, 15, 20), "hot-after-load"),
    Trade("job-not-started", "stands", "s", (60, 120, 180, 300, 600), "job-not-started"),
    Trade("job-stalled", "unplanned", "s", (60, 120, 300, 450, 600), "stall"),
    Trade("silent-hot", "quiet", "s", (8, 12, 20, 40, 80), "frozen-hot"),
    Trade("heat-not-holding", "hold", "s", (5, 15, 30, 60, 120), "heater-open"),
    Trade("link-lost", "gone", "s", (2, 10, 30, 60, 120), "cable-pulled"),
    Trade("link-errors", "most", "lines", (400, 900, 1847, 3000, 6000), "cable-noisy, streamed"),
    Trade("extruding-in-place", "most", "mm", (5, 15, 30, 60, 120), "places-lost, streamed"),
    Trade("host-suspended", "asleep", "s", (5, 15, 30, 90, 240), "computer-asleep, streamed"),
    Trade("feed-slipping", "share", "1", (0.3, 0.5, 0.7, 0.8, 0.9), "tangle, streamed, motion sensor"),
)
"""every condition has the same number of values, so that one replay tries the first of each, the next one the second …"""
TRIES = 5


class Task(NamedTuple):
    """One recording to make and judge."""

    case: Case | None
    """None: healthy"""
    seed: int
    hours: float = DAY
    trades: bool = False
    """judge it with every value of `TRADES`, not with the defaults"""


def work(task: Task) -> tuple[Task, list[Outcome]]:
    """Carry out one task; the same task gives the same outcomes."""
    if task.case is None:
        machine, recording = healthy(task.seed, task.hours)
        name, onset = "", None
    else:
        name = task.case.name
        machine, recording, onset = faulty(task.case, task.seed)
    # Every tenth machine's computer has its clock set meanwhile, by an hour as in spring and autumn or by some seconds.
    random = Random(f"clock {task.seed}")
    step = (3600.0, random.choice((3600.0, -3600.0, 7.5, -2.0)) if random.random() < 0.1 else 0.0)
    files: tuple[JobFile, ...] = ()
    if task.case is not None and task.case.scene:
        scene = SCENES[task.case.fault]
        step = scene.clock_step or step
        if task.case.planned:
            files = planned(machine, scene.file)
    if not task.trades:
        return task, [judged(name, machine, recording, onset, {}, step, files)]
    tried = [{trade.alarm: {trade.limit: trade.values[nth]} for trade in TRADES} for nth in range(TRIES)]
    return task, [judged(name, machine, recording, onset, limits, step) for limits in tried]


def reported(seeds: int, hours: float, cases: Sequence[Case] = CASES, first: int = REPORTING) -> list[Task]:
    """What the tables are made of; long recordings first, so that the processors end together. All faults of one seed
    stand together: they strike the same machine, which is then drawn once."""
    days = [Task(None, HEALTHY + first + nth) for nth in range(round(hours / DAY))]
    return days + [Task(case, first + nth) for nth in range(seeds) for case in cases]


def tuning(seeds: int, hours: float) -> list[Task]:
    """What the trade-off curves are made of."""
    faults = {trade.fault for trade in TRADES}
    days = [Task(None, HEALTHY + TUNING + nth, trades=True) for nth in range(round(hours / DAY))]
    struck = [case for case in CASES if case.name in faults]
    return days + [Task(case, TUNING + nth, trades=True) for nth in range(seeds) for case in struck]


def _rarely_collected() -> None:
    """A recording is a hundred thousand small tuples without a cycle: looking for some takes time and finds nothing."""
    gc.set_threshold(100_000, 20, 20)


def carried_out(tasks: Sequence[Task], processes: int | None = None) -> Iterator[tuple[Task, list[Outcome]]]:
    """Each task with its outcomes, in the order of `tasks`; progress on stderr."""
    began = shown = time.monotonic()
    with multiprocessing.get_context("spawn").Pool(processes or os.cpu_count(), _rarely_collected) as pool:
        for nth, done in enumerate(pool.imap(work, tasks), 1):
            yield done
            if nth == len(tasks) or time.monotonic() - shown > 10:
                shown = time.monotonic()
                print(f"{nth:,} of {len(tasks):,} recordings, {shown - began:.0f} s", file=sys.stderr, flush=True)
