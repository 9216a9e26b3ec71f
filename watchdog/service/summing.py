"""What a job came to, for the register: followed while it runs, summed up when it has ended.

Its file and what was expected of it are known only while it runs, and the filament that went into it only from its own
progress, so they are noted each second and kept with the world. A summary says None wherever something cannot be told.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import pi
from typing import NamedTuple

from watchdog.core.effects import Effect, JobChanged
from watchdog.core.materials import MATERIALS
from watchdog.core.plan import Plan
from watchdog.core.snapshot import Job, Origin, Snapshot
from watchdog.core.step import Watch, World
from watchdog.record.batch import JobSummary

_ENDED = frozenset({"completed", "abandoned"})


@dataclass(frozen=True, slots=True)
class Stock:
    """What is loaded, by the settings."""

    material: str
    density: float
    """g/cm³"""
    diameter: float
    """mm"""


USUAL_STOCK = Stock("PLA", MATERIALS["PLA"].density, 1.75)
"""of a machine of which nothing else is said"""


class Course(NamedTuple):
    """What is noted of the running job."""

    number: int
    fed_before: float
    """mm that had been fed when it was first seen (streamed jobs)"""
    digest: str | None = None
    planned: float | None = None
    """s, as first expected"""
    low: float | None = None
    high: float | None = None
    by: str | None = None
    filament: float | None = None
    """mm so far; None while it cannot be told"""


def followed(course: Course | None, watch: Watch, world: World, seen: Snapshot) -> Course | None:
    """`course` after one look, once a second; the same one where nothing is new."""
    job = seen.job
    if job is None or job.ended is not None:
        return course
    if course is None or course.number != job.number:
        course = Course(job.number, seen.flowed)
    outlook = world.outlook
    if outlook is not None and outlook.job == job.number:
        if course.planned is None and outlook.forecast is not None and outlook.forecast.done in (None, 0.0):
            course = _expected(course, seen, world)
        if outlook.digest != course.digest:
            course = course._replace(digest=outlook.digest)
    if course.planned is None and job.expected is not None:
        course = course._replace(planned=job.expected, high=job.expected_late, by=job.expected_by)
    filament = _fed(course, watch, seen, job)
    return course if filament is None or filament == course.filament else course._replace(filament=filament)


def summaries(
    course: Course | None, stock: Stock, watch: Watch, world: World, seen: Snapshot, effects: Iterable[Effect]
) -> tuple[JobSummary, ...]:
    """Of the job that ended by the step which said `effects`. `seen` is the moment after it."""
    found = []
    for effect in effects:
        job = seen.job
        if (
            isinstance(effect, JobChanged)
            and effect.event in _ENDED
            and job is not None
            and job.number == effect.number
        ):
            found.append(_sum(course, stock, watch, world, seen, job, effect))
    return tuple(found)


def _expected(course: Course, seen: Snapshot, world: World) -> Course:
    """The prediction at the start, with its bounds as whole durations."""
    ahead = None if world.outlook is None else world.outlook.forecast
    if ahead is None:
        return course
    gone = ahead.total - ahead.left.middle
    return course._replace(planned=ahead.total, low=gone + ahead.left.low, high=gone + ahead.left.high, by=ahead.by)


def _fed(course: Course, watch: Watch, seen: Snapshot, job: Job) -> float | None:
    """mm so far: streamed, as the lines tell; from a card, by the plan at the byte that was read."""
    plan = _plan(course, watch)
    if plan is not None and job.origin is Origin.CARD and job.progress is not None:
        return round(plan.filament_at(job.progress), 1)
    if job.origin is Origin.STREAMED:
        return round(max(0.0, seen.flowed - course.fed_before), 1)
    return None


def _sum(
    course: Course | None, stock: Stock, watch: Watch, world: World, seen: Snapshot, job: Job, end: JobChanged
) -> JobSummary:
    known = course if course is not None and course.number == job.number else Course(job.number, seen.flowed)
    plan = _plan(known, watch)
    filament = known.filament
    if end.event == "completed" and plan is not None and job.origin is Origin.CARD:
        filament = round(plan.filament, 1)
    unseen = min(world.blind, max(0.0, end.elapsed - job.held))
    return JobSummary(
        at=end.at,
        number=job.number,
        origin=job.origin.value,
        started=job.started_stamp,
        ending=end.event if job.ending in (None, "completed") else job.ending,
        seconds=end.elapsed,
        active=max(0.0, end.elapsed - job.held - unseen),
        held=job.held,
        heating=job.heating,
        file=job.file,
        size=job.size,
        digest=known.digest,
        planned=known.planned,
        planned_low=known.low,
        planned_high=known.high,
        planned_by=known.by,
        material=stock.material,
        filament_mm=filament,
        filament_g=None if filament is None else round(grams(filament, stock), 3),
    )


def grams(mm: float, stock: Stock) -> float:
    """Weight of `mm` of filament: π/4 · d² · length · density."""
    return pi / 4 * stock.diameter**2 * mm * stock.density / 1000


def _plan(course: Course, watch: Watch) -> Plan | None:
    if course.digest is None:
        return None
    return next((file.plan for file in watch.files if file.plan.digest == course.digest), None)
