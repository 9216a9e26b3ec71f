"""Outlasts supervision: the job may end after the last person has gone.

Looks at  the upper bound of the job's finish against the end of the present supervised hours, from the job's start on.
Present   while the bound lies behind that end; absent again once it lies `slack` before it, somebody takes the job on
          (`emberward allow`), or the job ends. When the hours end first, what was told stays told.
Unknown   without hours or an estimate, and while the timetable cannot be relied on.
Because   the job will run with nobody there. Told early, while it can still be put off.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Snapshot

NAME = "outlasts-supervision"


@dataclass(frozen=True, slots=True)
class Limits:
    """How far an estimate may move to and fro."""

    slack: float = limit(300, "s", "an estimate that moves a little does not take the message back", most=3600)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    job: int | None = None  # number of the job that it was told of


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    there, job, finish = seen.presence, seen.job, seen.finish_late
    if there is None:
        return memory, UNKNOWN
    if seen.active is False:
        return (memory if memory.job is None else _FRESH), ABSENT
    if seen.active is None or job is None:
        return memory, UNKNOWN
    told = memory.job == job.number
    if seen.may_outlast:
        return (memory if memory.job is None else _FRESH), ABSENT
    if there.trouble is not None:
        return memory, UNKNOWN
    if not there.supervised:  # it is unsupervised already: another condition's business, but the word stands
        return memory, Finding(True, {"job_runs": "yes"}) if told else ABSENT
    if finish is None:
        return memory, UNKNOWN
    if there.until is None or finish <= (there.until - limits.slack if told else there.until):
        return (memory if memory.job is None else _FRESH), ABSENT
    evidence = {
        "hours_end_in_s": round(there.until - seen.stamp),
        "may_last_s": round(finish - seen.stamp),
        "beyond_s": round(finish - there.until),
    }
    return (memory if told else Memory(job.number)), Finding(True, evidence)
