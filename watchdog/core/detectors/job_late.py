"""Job late: a job has been active for longer than it should take, holds not counted.

Looks at  time since the start without holds (s), against the expectation of plan, operator or machine.
Present   past the upper bound that somebody gave, else past expected × `factor` + `margin`; absent again when the job ends
          or the expectation grows well beyond the time so far. Without an expectation nobody can tell.
Because   it prints badly, or it will miss the hour at which somebody must be there.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Snapshot

NAME = "job-late"


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a job may run over."""

    factor: float = limit(1.25, "1", "before the machine has a history; project's choice", least=1, most=10)
    margin: float = limit(300, "s", "heating up and homing; project's choice", most=36000)
    slack: float = limit(60, "s", "an expectation that moves a little does not take the message back", most=3600)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    late: int | None = None  # number of the job that was found late


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    job = seen.job
    if seen.active is False:
        return (memory if memory.late is None else _FRESH), ABSENT
    if seen.active is None or job is None:
        return memory, UNKNOWN
    if job.expected_late is not None:
        bound = job.expected_late
    elif job.expected is not None:
        bound = limits.factor * job.expected + limits.margin
    else:
        return memory, UNKNOWN
    taken = seen.at - job.started - job.held
    if job.held_since is not None:
        taken -= seen.at - job.held_since
    was = memory.late == job.number
    if taken < (bound - limits.slack if was else bound):
        return (memory if memory.late is None else _FRESH), ABSENT
    evidence = {
        "taken_s": round(taken),
        "expected_s": None if job.expected is None else round(job.expected),
        "bound_s": round(bound),
        "expected_by": job.expected_by,
    }
    return (memory if was else Memory(job.number)), Finding(True, evidence)
