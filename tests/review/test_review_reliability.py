"""Failures of a machine: a handbook's case study, reference libraries, and no trend out of too little."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil
from typing import Any

import pytest
from scipy import stats

from watchdog.record.rows import JobRow
from watchdog.record.term_rows import Result
from watchdog.review.figures import figures
from watchdog.review.parts.reliability import Reliability
from watchdog.review.rows import House, Rows
from watchdog.statistics.count_cusum import design_bernoulli

HOUR, DAY = 3600.0, 86_400.0
BEGIN = 1_772_409_600.0
MakeJob = Callable[..., JobRow]
# NIST/SEMATECH e-Handbook, 8.2.2.3: failures of one system in 1,500 h
HANDBOOK = (5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478)
END = 1500


def of_machine(house: House, jobs: Sequence[JobRow]) -> Reliability:
    filled = Rows(tuple(jobs), (), (), (), (), ())
    (found,) = figures(filled, BEGIN - DAY, BEGIN + 9_000 * DAY, house).reliability
    return found


def history(job: MakeJob, failures: Sequence[float], end: float, longest: float) -> list[JobRow]:
    """Jobs of at most `longest` hours, so that the machine fails at these running hours."""
    jobs: list[JobRow] = []
    at = 0.0
    for until, outcome in [*((hour, Result.FAILED) for hour in failures), (end, Result.GOOD)]:
        parts = max(1, ceil((until - at) / longest))
        for nth in range(parts):
            said = outcome if nth == parts - 1 else Result.GOOD
            jobs.append(job(len(jobs), said, active=(until - at) / parts * HOUR, cause="nozzle-jam"))
        at = until
    return jobs


def test_the_handbooks_case_study(house: House, job: MakeJob) -> None:
    found = of_machine(house, history(job, HANDBOOK, END, 10))
    assert found.jobs > 100
    assert found.running == pytest.approx(END * HOUR)
    assert [at / HOUR for at in found.failures] == pytest.approx(HANDBOOK)
    assert found.trend is not None
    assert found.trend.reversals == 33
    assert found.trend.reversals_improving == pytest.approx(0.036275, abs=5e-7)
    assert found.trend.laplace == pytest.approx(-1.326949, abs=5e-7)
    assert found.trend.laplace_improving == pytest.approx(0.092263, abs=5e-7)
    assert found.verdict == "none shown"  # of two tests neither shows it at 1.25 %
    assert found.duane is not None
    assert found.duane.slope == pytest.approx(0.613561, abs=5e-7)


def test_bounds_of_the_time_between_failures(house: House, job: MakeJob) -> None:
    found = of_machine(house, history(job, HANDBOOK, END, 10)).between
    assert found is not None
    assert found.estimate == pytest.approx(150 * HOUR)
    assert found.low == pytest.approx(2 * END * HOUR / stats.chi2.ppf(0.95, 22))
    assert found.high == pytest.approx(2 * END * HOUR / stats.chi2.ppf(0.05, 20))


def test_two_failures_in_800_hours(house: House, job: MakeJob) -> None:
    """NIST/SEMATECH e-Handbook, 8.4.5.1: 127.07 h to 2251.23 h at 90 %."""
    found = of_machine(house, history(job, (300, 500), 800, 100)).between
    assert found is not None
    assert found.low / HOUR == pytest.approx(127.069, abs=5e-4)
    assert found.high is not None
    assert found.high / HOUR == pytest.approx(2251.229, abs=5e-4)


def test_no_failure_bounds_from_below_alone(house: House, job: MakeJob) -> None:
    found = of_machine(house, [job(nth, active=367 * HOUR / 4) for nth in range(4)]).between
    assert found is not None
    assert (found.estimate, found.high) == (None, None)
    assert found.low / HOUR == pytest.approx(159.386, abs=5e-4)


def test_a_trend_needs_a_hundred_jobs(house: House, job: MakeJob) -> None:
    """Whoever is told of a trend acts on it, and on fewer jobs it is chance."""
    late = [job(nth, Result.FAILED if nth >= 92 else Result.GOOD) for nth in range(99)]
    found = of_machine(house, late)
    assert (found.trend, found.verdict) == (None, "too few to tell")
    found = of_machine(house, [*late, job(99)])
    assert found.trend is not None
    assert found.verdict == "worsening"


def test_a_trend_needs_five_failures(house: House, job: MakeJob) -> None:
    found = of_machine(house, [job(nth, Result.FAILED if nth >= 396 else Result.GOOD) for nth in range(400)])
    assert (len(found.failures), found.trend, found.verdict, found.duane) == (4, None, "too few to tell", None)


def test_early_failures_are_an_improvement(house: House, job: MakeJob) -> None:
    found = of_machine(house, [job(nth, Result.FAILED if 0 < nth < 8 else Result.GOOD) for nth in range(200)])
    assert found.verdict == "improving"


def test_failures_at_even_distances_are_no_trend(house: House, job: MakeJob) -> None:
    """Equal gaps between failures, as equal jobs make them, must not look like a machine that gets worse."""
    found = of_machine(house, [job(nth, Result.FAILED if nth % 20 == 10 else Result.GOOD) for nth in range(200)])
    assert found.trend is not None
    assert found.verdict == "none shown"


def test_only_failures_of_the_machine_count(house: House, job: MakeJob) -> None:
    failed = Result.FAILED
    jobs = [
        job(0, failed, cause="feed-tangle"),
        job(1, failed, cause="overhang", origin="machine"),
        job(2, failed, cause="nozzle-jam"),
        job(3, failed),
        job(4, failed, origin="operator"),
        job(5, None, ending="halted"),
        job(6, Result.GOOD, ending="halted"),
        job(7, None, ending="abandoned"),
    ]
    assert [at / HOUR for at in of_machine(house, jobs).failures] == [2, 3, 4, 6]


def test_running_time_that_nobody_knows_is_said_and_not_made_up(house: House, job: MakeJob) -> None:
    found = of_machine(house, [job(0, active=None), job(1, active=None, seconds=None), job(2)])
    assert (found.running, found.jobs_without_time) == (7200.0, 1)
    nothing = of_machine(house, [job(0, Result.FAILED, active=None, seconds=None)])
    assert (nothing.between, nothing.duane, nothing.trend) == (None, None, None)


def test_the_sum_chart_walks_as_designed(house: House, job: MakeJob) -> None:
    """By hand: each judged job takes one unit away, each failed one adds the scale."""
    chart = design_bernoulli(0.01, 0.05, 1000)
    said = [Result.GOOD, Result.FAILED, None, Result.UNKNOWN, Result.GOOD, Result.FAILED, Result.FAILED, Result.FAILED]
    found = of_machine(house, [job(nth, outcome) for nth, outcome in enumerate(said)]).cusum
    unit = chart.scale
    assert found.chart == chart
    assert found.sums == (0, unit - 1, unit - 2, 2 * unit - 3, 3 * unit - 4, 4 * unit - 5)
    assert found.first == next(nth for nth, value in enumerate(found.sums, 1) if value >= chart.limit)
    assert found.healthy_run >= 1000
    assert found.bad_run < 100


def test_machines_are_told_apart(house: House, job: MakeJob) -> None:
    jobs: tuple[Any, ...] = (job(0), job(1, machine="loft-1", outcome=Result.FAILED))
    filled = Rows(jobs, (), (), (), (), ())
    found = figures(filled, BEGIN, BEGIN + 98 * DAY, replace(house, plastics={})).reliability
    assert [(one.machine, one.jobs, len(one.failures)) for one in found] == [("doorway-1", 1, 0), ("loft-1", 1, 1)]
