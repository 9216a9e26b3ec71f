"""Which job file a running job is, and what is therefore to be expected of it.

A job started at the panel names its file by a short name that depends on what else lies in the folder, or not at all. So a
file is known by its size in bytes, then by its name, and where two still fit, by the progress that each implies. A job
that a host streams has neither size nor name; its file is known by the commands themselves (`core.commands`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log
from typing import NamedTuple

from watchdog.core.commands import Commands, Sent
from watchdog.core.expectation import Forecast, History, Prospect, forecast, prospect
from watchdog.core.moment import Moment
from watchdog.core.plan import Plan
from watchdog.core.snapshot import Job, Origin, Snapshot

EVERY = 5.0
"""s between two looks: the byte counter moves in steps of some seconds"""
TELLS = 0.05
"""share of the bytes from which progress tells two files of one size apart"""
FLOW_OVER = 60.0
"""s over which the planned flow is told: a card's counter moves in steps"""


@dataclass(frozen=True, slots=True)
class JobFile:
    """A job file that has been planned for this machine."""

    name: str
    """long name, without its folder"""
    plan: Plan
    commands: Commands | None = None
    """what a stream of it would send; None: it cannot be recognised in a stream"""


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
    """what told the file: 'size', 'name', 'progress' or 'content'"""
    known: Prospect
    """what history and plan told before the job moved"""
    forecast: Forecast | None
    own: int = 0
    """of a streamed job: own commands that had been sent"""
    place: int | None = None
    """and how many of the file's that were; None when that cannot be told"""
    used: float | None = None
    """mm of filament that the plan asks for up to here; None while the place in the file is not known"""
    needed: float | None = None
    """mm that it asks for from here to the end"""
    fed: tuple[tuple[float, float], ...] = ()
    """(elapsed, `used`) of the looks of the last minute, oldest first"""

    @property
    def flow(self) -> float | None:
        """mm/s that the plan asked for over the last minute; None before half a minute of it is known."""
        if not self.fed:
            return None
        (began, before), (now, after) = self.fed[0], self.fed[-1]
        return max(0.0, after - before) / (now - began) if now - began >= FLOW_OVER / 2 else None


def look_ahead(
    files: Sequence[JobFile],
    history: History,
    before: Outlook | None,
    seen: Snapshot,
    at: Moment,
    sent: Sent | None = None,
) -> Outlook | None:
    """The outlook on the job in `seen`; the one before while it is fresh; None when no job runs.

    `sent`: what a streamed job has sent so far.
    """
    job = seen.job
    if job is None or job.ended is not None:
        return None
    if before is not None and before.job == job.number and at.elapsed - before.at < EVERY:
        return before
    read, own, place = None, 0, None
    if job.origin is Origin.STREAMED and sent is not None:
        last = before if before is not None and before.job == job.number else None
        file, own, place = followed(files, sent, last)
        by = None if file is None else "content"
        if file is not None and file.commands is not None and place is not None:
            read = file.commands.byte_at(place)
    else:
        file, by = which(files, job, at.elapsed)
    plan = file.plan if file is not None else None
    digest = None if plan is None else plan.digest
    same = before is not None and before.job == job.number and before.digest == digest
    known = before.known if before is not None and same else prospect(history, plan)
    operator = job.expected if job.expected_by == "operator" else None
    ahead = forecast(at, job, known, read=read, operator=operator)
    byte = job.progress if job.origin is Origin.CARD else read
    used = None if plan is None or byte is None else plan.filament_at(byte)
    needed = None if plan is None or used is None else max(0.0, plan.filament - used)
    fed = () if used is None else _fed(before if same else None, at.elapsed, used)
    return Outlook(job.number, at.elapsed, digest, by, known, ahead, own, place, used, needed, fed)


def _fed(before: Outlook | None, now: float, used: float) -> tuple[tuple[float, float], ...]:
    """The looks of the last minute, this one included."""
    kept = () if before is None else tuple(look for look in before.fed if now - look[0] <= FLOW_OVER)
    return (*kept, (now, used))


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


class Followed(NamedTuple):
    """How far a streamed job has got."""

    file: JobFile | None
    """None while it is not known"""
    own: int = 0
    """own commands that were sent"""
    place: int | None = None
    """how many of the file's that are; None when that cannot be told"""


def followed(files: Sequence[JobFile], sent: Sent, before: Outlook | None) -> Followed:
    """The file that is being streamed. `before`: the outlook on the same job, from the last look.

    Once known it stays known until what is sent is in no part of it, or is found in one other file only. After a time
    without sight the count is worth nothing until the place has been found anew.
    """
    own = sent.own
    known = next((file for file in files if before is not None and file.plan.digest == before.digest), None)
    near = own if sent.whole else None
    if before is not None and known is not None:
        near = before.place + own - before.own if before.place is not None and own >= before.own else None
        place = None if known.commands is None else known.commands.behind(sent, near)
        if place is not None:
            return Followed(known, own, place)
    found: dict[str, Followed] = {}
    for file in files:
        if file.commands is not None and file is not known:
            place = file.commands.behind(sent, own if sent.whole else None)
            if place is not None:
                found[file.plan.digest] = Followed(file, own, place)
    if len(found) == 1 and (known is None or known.commands is None or known.commands.foreign(sent, 1)):
        return next(iter(found.values()))
    if known is None or known.commands is None or known.commands.foreign(sent):
        return Followed(None, own)
    return Followed(known, own, None if near is None else min(near, known.commands.total))


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
