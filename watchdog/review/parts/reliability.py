"""How often a machine fails, and whether that changes.

A failure of the machine is a job that a person called failed, of which nobody said that it came from elsewhere (design,
operator, material, supply); and a job that ended with a halt and of which nobody has said anything. Time is running time: the
seconds that the machine's jobs were executed, one after the other. The observation ends with the term, not with a failure.
"""

from collections.abc import Sequence
from functools import cache
from typing import Final, NamedTuple

from watchdog.record.rows import JobRow
from watchdog.review.parts.common import ENOUGH_JOBS, failed, judged, worked
from watchdog.review.parts.losses import OTHER, UNSAID, origin_of
from watchdog.review.rows import House
from watchdog.statistics import ageing, growth
from watchdog.statistics.count_cusum import Chart, bernoulli_run_length, design_bernoulli
from watchdog.statistics.mtbf import Mtbf, mtbf

CONFIDENCE: Final = 0.90
"""of the bounds of the time between failures, as the handbook's example has it"""
HEALTHY: Final = 0.01
BAD: Final = 0.05
"""shares of failed jobs that the chart tells apart"""
QUIET: Final = 1000.0
"""judged jobs that a healthy machine runs until the chart is wrong, on average: two school years and a half of 400"""
FEWEST: Final = 5
"""failures from which a trend is tested and drawn; with 4 the exact test cannot show any"""
SHOWS: Final = 0.0125
"""one-sided, for each of two tests: together they are wrong once in twenty (Bonferroni)"""


class Trend(NamedTuple):
    """Two tests of 'no trend'; chances that a machine without one looks so."""

    reversals: int
    reversals_improving: float
    reversals_worsening: float
    laplace: float
    """z: below 0 improving, above 0 worsening"""
    laplace_improving: float
    laplace_worsening: float


class Cusum(NamedTuple):
    """A chart of failed jobs among those judged."""

    chart: Chart
    healthy_run: float
    """judged jobs until it is wrong, on average, at 1 % failed"""
    bad_run: float
    """and until it tells, at 5 %"""
    sums: tuple[int, ...]
    """after each judged job, in units of 1/scale; after a signal it goes on"""
    first: int | None
    """number (from 1) of the judged job at which it first signalled"""


class Reliability(NamedTuple):
    """One machine."""

    machine: str
    jobs: int
    running: float
    """s"""
    jobs_without_time: int
    """these add nothing to it"""
    failures: tuple[float, ...]
    """running time of each, s"""
    between: Mtbf | None
    """s; None without any running time"""
    trend: Trend | None
    """None with too few jobs or failures"""
    verdict: str
    """'too few to tell', 'none shown', 'improving', 'worsening', 'contradictory'"""
    duane: growth.Duane | None
    """None with too few failures"""
    cusum: Cusum


def reliability(machine: str, of_term: Sequence[JobRow], house: House) -> Reliability:
    """One machine over a term; its jobs oldest first."""
    running, without, failures = 0.0, 0, []
    ended = [job for job in of_term if job.ended is not None]
    for job in ended:
        seconds = worked(job)
        without += seconds is None
        running += seconds or 0.0
        if _of_machine(job, house):
            failures.append(running)
    testable = len(failures) >= FEWEST and failures[0] > 0
    trend = _trend(failures, running) if testable and len(ended) >= ENOUGH_JOBS else None
    apart = testable and failures[0] < failures[-1]
    return Reliability(
        machine,
        len(ended),
        running,
        without,
        tuple(failures),
        mtbf(running, len(failures), CONFIDENCE) if running > 0 else None,
        trend,
        "too few to tell" if trend is None else _verdict(trend),
        growth.duane(failures) if apart else None,
        _cusum([failed(job) for job in ended if judged(job)]),
    )


def _of_machine(job: JobRow, house: House) -> bool:
    if failed(job):
        return origin_of(job, house) in ("machine", UNSAID, OTHER)
    return job.ending == "halted" and job.label.outcome is None


def _trend(failures: Sequence[float], running: float) -> Trend:
    gaps = ageing.gaps_between(failures)
    rises = ageing.reverse_arrangements(gaps)
    # Equal gaps are neither, so what falls is counted by itself: the test then claims less, never more.
    falls = ageing.reverse_arrangements([-gap for gap in gaps])
    return Trend(int(rises.statistic), rises.improving, falls.improving, *ageing.laplace(failures, running))


def _verdict(trend: Trend) -> str:
    improving = min(trend.reversals_improving, trend.laplace_improving) <= SHOWS
    worsening = min(trend.reversals_worsening, trend.laplace_worsening) <= SHOWS
    if improving and worsening:
        return "contradictory"
    return "improving" if improving else "worsening" if worsening else "none shown"


@cache
def _designed() -> tuple[Chart, float, float]:
    chart = design_bernoulli(HEALTHY, BAD, QUIET)
    return chart, bernoulli_run_length(chart, HEALTHY), bernoulli_run_length(chart, BAD)


def _cusum(failures: Sequence[bool]) -> Cusum:
    chart, healthy, bad = _designed()
    so_far, sums = 0, []
    for one in failures:
        so_far = chart.step(so_far, int(one))
        sums.append(so_far)
    first = next((nth for nth, value in enumerate(sums, 1) if chart.alarms(value)), None)
    return Cusum(chart, healthy, bad, tuple(sums), first)
