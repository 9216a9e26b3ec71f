"""Shapes that all figures share: a share, a middle, a sum, each with its count and, where it has one, its interval."""

from collections.abc import Iterable
from typing import Final, NamedTuple

from watchdog.record.rows import JobRow
from watchdog.record.term_rows import Result
from watchdog.statistics.proportions import wilson
from watchdog.statistics.ranks import percentile, percentile_interval

CONFIDENCE: Final = 0.95
"""of every interval that says no other"""
ENOUGH_JOBS: Final = 100
"""below so many nothing is said of a trend; project's choice: at 99 % success even 100 jobs hold one failure"""


class Part(NamedTuple):
    """So many of so many, with a Wilson interval; None where there are none to count."""

    counted: int
    of: int
    share: float | None
    low: float | None
    high: float | None


class Middle(NamedTuple):
    """The middle of some values, its interval by ranks, and what nine of ten stay below. None where there are too few."""

    of: int
    median: float | None
    low: float | None
    high: float | None
    p90: float | None


class Sum(NamedTuple):
    """What some jobs come to."""

    total: float
    known: int
    """jobs that it is summed from"""
    unknown: int
    """jobs of which nobody knows it: they add nothing"""


def part(count: int, of: int) -> Part:
    """A share with its interval."""
    return Part(count, of, count / of, *wilson(count, of, CONFIDENCE)) if of else Part(0, 0, None, None, None)


def middle(values: Iterable[float]) -> Middle:
    """The middle of any number of values."""
    known = list(values)
    if not known:
        return Middle(0, None, None, None, None)
    low, high = percentile_interval(known, 0.5, CONFIDENCE)
    return Middle(len(known), percentile(known, 0.5), low, high, percentile(known, 0.9))


def total(values: Iterable[float | None]) -> Sum:
    """A sum that says what it lacks."""
    listed = list(values)
    known = [value for value in listed if value is not None]
    return Sum(sum(known), len(known), len(listed) - len(known))


def worked(job: JobRow) -> float | None:
    """s that a job was executed; where that is not known, from its start to its end; None when neither is."""
    return job.seconds if job.active is None else job.active


def failed(job: JobRow) -> bool:
    """By a person's word."""
    return job.label.outcome is Result.FAILED


def judged(job: JobRow) -> bool:
    """A person said good or failed."""
    return job.label.outcome in (Result.GOOD, Result.FAILED)
