"""How long this very job should take and still takes: the first of these that is known.

    1 plan       planned work by byte (or by the lines seen), times this machine's ratio real/planned
    2 machine    the time left that it reports itself (M73)
    3 file       a duration stated in the job file
    4 operator   what somebody said
    5 history    the median of this machine's jobs of just the same size

Holds are left out of every duration: while a job is held its finish is told as if it went on now.
"""

from dataclasses import dataclass
from math import isfinite
from statistics import median

from watchdog.core.expectation.history import History
from watchdog.core.expectation.left import Between, by_clock, by_progress
from watchdog.core.expectation.planned import Course, Planned, course
from watchdog.core.expectation.spread import MARGIN, Spread, spread
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Job, Origin

FEWEST = 3
"""jobs of just the same size before they tell anything: one may have been the odd one. Project's choice"""
_DAY = 86400.0  # s: a stall limit is a finite number, also where the job waits for a person


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is to be expected of a running job."""

    by: str
    """'plan', 'machine', 'file', 'operator' or 'history'"""
    left: Between
    """s, bounds included: each holds with 95 % where `ratio.by_ranks`, else by the margins of a young history"""
    total: float
    """s from start to end as expected now, holds not included"""
    late: float | None
    """s: past this total the job is late; None where only the machine's own, moving word is known"""
    finish: Between
    """wall-clock stamps for the same three"""
    ratio: Spread
    """real/planned, and how it was learnt"""
    done: float | None = None
    """planned s of work behind it; None without a plan"""
    share: float | None = None
    """of the planned work, 0 to 1"""
    stall_limit: float | None = None
    """s that the counter may rightly stand still here, at this machine's pace; None without a plan"""


@dataclass(frozen=True, slots=True)
class Prospect:
    """What is known before a job moves. Made once, when it starts or its plan is found; asked as often as one likes."""

    history: History
    course: Course | None
    """None without a plan"""
    ratio: Spread
    heat_ratio: Spread
    """real/planned waiting for heat"""


def prospect(history: History, plan: Planned | None = None) -> Prospect:
    """The history's ratios and the plan's course."""
    known = None if plan is None else course(plan)
    if known is None or known.work <= 0:
        return Prospect(history, None, spread(()), spread(()))
    return Prospect(history, known, spread(history.ratios), spread(history.heat_ratios))


def forecast(
    at: Moment,
    job: Job,
    known: Prospect,
    *,
    seen: float | None = None,
    read: int | None = None,
    stated: float | None = None,
    operator: float | None = None,
) -> Forecast | None:
    """What is to be expected of `job` now; None when it has ended, or nothing tells.

    Of a job whose progress is counted in lines: `read`, byte of its file that the lines streamed so far come to; or where
    that is not known, `seen`, planned s of work in them. `stated` and `operator`: s for the whole job.
    """
    if job.ended is not None:
        return None
    now = at.elapsed if job.held_since is None else job.held_since
    taken = max(0.0, now - job.started - job.held)
    if known.course is not None:
        return _planned(at, job, known, known.course, job.progress if job.origin is Origin.CARD else read, seen, taken)
    if job.left is not None and job.left_at is not None and isfinite(job.left):
        left = by_clock(spread(()), max(0.0, job.left), max(0.0, now - job.left_at))
        return _told(at, "machine", left, spread(()), taken, None)
    for by, seconds in (("file", stated), ("operator", operator)):
        if seconds is not None and isfinite(seconds) and seconds > 0:
            return _whole(at, by, seconds, spread(()), taken)
    same = known.history.same_size(job.size)
    if len(same) < FEWEST:
        return None
    usual = median(same)
    return _whole(at, "history", usual, spread([seconds / usual for seconds in same]), taken)


def _planned(
    at: Moment, job: Job, known: Prospect, path: Course, byte: int | None, seen: float | None, taken: float
) -> Forecast:
    done = path.work_at(byte) if byte is not None else None if seen is None else max(0.0, min(seen, path.work))
    worked = max(0.0, taken - job.heating)
    work = (
        by_clock(known.ratio, path.work, worked) if done is None else by_progress(known.ratio, path.work, done, worked)
    )
    heat = _heat_left(job, known, path, byte)
    left = Between(*(moving + warming for moving, warming in zip(work, heat, strict=True)))
    warming = max(job.heating + heat.high, known.heat_ratio.high * path.heat)
    stretch = None if byte is None else path.plan.stretch_at(byte) * max(1.0, known.ratio.middle)
    return Forecast(
        by="plan",
        left=left,
        total=taken + left.middle,
        late=known.ratio.late * path.work + MARGIN + warming,
        finish=_stamps(at, left),
        ratio=known.ratio,
        done=done,
        share=None if done is None else done / path.work,
        stall_limit=None if stretch is None else min(_DAY, stretch),
    )


def _heat_left(job: Job, known: Prospect, path: Course, byte: int | None) -> Between:
    """s of waiting for heat to come."""
    if job.building_since is None:  # a reader may be some lines ahead of the wait, so bytes do not tell what is over
        ahead, waited = path.heat, job.heating
    else:
        ahead, waited = (0.0 if byte is None else path.heat_after(byte)), 0.0
    ratio = known.heat_ratio
    return Between(*(max(0.0, factor * ahead - waited) for factor in (ratio.low, ratio.middle, ratio.high)))


def _whole(at: Moment, by: str, seconds: float, ratio: Spread, taken: float) -> Forecast:
    return _told(at, by, by_clock(ratio, seconds, taken), ratio, taken, ratio.late * seconds + MARGIN)


def _told(at: Moment, by: str, left: Between, ratio: Spread, taken: float, late: float | None) -> Forecast:
    return Forecast(by, left, taken + left.middle, late, _stamps(at, left), ratio)


def _stamps(at: Moment, left: Between) -> Between:
    return Between(*(at.stamp + seconds for seconds in left))
