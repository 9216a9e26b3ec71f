"""Which job file a running job is, and what is therefore to be expected of it.

A job started at the panel names its file by a short name that depends on what else lies in the folder, or not at all. So a
file is known by its size in bytes, then by its name, and where two still fit, by the progress that each implies.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

from watchdog.core.expectation import Forecast, History, Prospect, forecast, prospect
from watchdog.core.moment import Moment
from watchdog.core.plan import Plan
from watchdog.core.snapshot import Job, Origin, Snapshot

EVERY = 5.0
"""s between two looks: the byte counter moves in steps of some seconds"""
TELLS = 0.05
"""share of the bytes from which progress tells two files of one size apart"""


@dataclass(frozen=True, slots=True)
class JobFile:
    """A job file that has been planned for this machine."""

    name: str
    """long name, without its folder"""
    plan: Plan


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is expected of the present job. Worked out again and again; never stored."""

    job: int
    """its number"""
    at: float
    """elapsed when it was worked out"""
    digest: str | None
    """content hash of the job's file; None while no plan fits"""
    by: str | None
    """what told the file: 'size', 'name' or 'progress'"""
    known: Prospect
    """what history and plan told before the job moved"""
    forecast: Forecast | None


def look_ahead(
    files: Sequence[JobFile], history: History, before: Outlook | None, seen: Snapshot, at: Moment
) -> Outlook | None:
    """The outlook on the job in `seen`; the one before while it is fresh; None when no job runs."""
    job = seen.job
    if job is None or job.ended is not None:
        return None
    if before is not None and before.job == job.number and at.elapsed - before.at < EVERY:
        return before
    file, by = which(files, job, at.elapsed)
    plan = file.plan if file is not None else None
    digest = None if plan is None else plan.digest
    same = before is not None and before.job == job.number and before.digest == digest
    known = before.known if before is not None and same else prospect(history, plan)
    operator = job.expected if job.expected_by == "operator" else None
    return Outlook(job.number, at.elapsed, digest, by, known, forecast(at, job, known, operator=operator))


def which(files: Sequence[JobFile], job: Job, now: float) -> tuple[JobFile | None, str | None]:
    """The file that `job` executes, and what told it; None while none fits, or several fit alike."""
    if job.origin is not Origin.CARD or job.size is None:
        return None, None
    fit = [file for file in files if file.plan.size == job.size]
    if len({file.plan.digest for file in fit}) == 1:
        return fit[0], "size"
    named = [file for file in fit if job.file is not None and _same_name(file.name, job.file)]
    if len({file.plan.digest for file in named}) == 1:
        return named[0], "name"
    fit = named or fit
    if not fit or job.progress is None or job.progress < TELLS * job.size:
        return None, None
    taken = max(1.0, now - job.started - job.held)
    return min(fit, key=lambda file: abs(log(taken / max(1.0, file.plan.seconds_at(job.progress or 0))))), "progress"


def expected_of(job: Job, outlook: Outlook | None) -> Job:
    """`job` as the detectors should see it: with what plan or history let expect."""
    ahead = None if outlook is None or outlook.job != job.number else outlook.forecast
    if ahead is None or ahead.by == "machine":  # the machine's own first word stands in the job already
        return job
    return replace(
        job,
        expected=ahead.total,
        expected_by=ahead.by,
        expected_late=ahead.late,
        stall_limit=ahead.stall_limit,
    )


def short_name(name: str) -> tuple[str, str]:
    """(beginning, extension) of the 8.3 name that a FAT file system gives a long one, its number left out."""
    stem, dot, extension = name.upper().rpartition(".")
    if not dot:
        stem, extension = name.upper(), ""
    kept = "".join(letter if letter.isalnum() or letter in "$%'-_@~`!(){}^#&" else "" for letter in stem)
    return kept, extension[:3]


def _same_name(long: str, told: str) -> bool:
    """`told`, long or 8.3, can be the name of the file `long`."""
    if long.casefold() == told.casefold():
        return True
    stem, _, extension = told.upper().rpartition(".")
    begins, tilde, number = stem.rpartition("~")
    kept, ending = short_name(long)
    if ending != extension:
        return False
    return kept.startswith(begins) and number.isdigit() if tilde else kept == stem
