"""Job stalled: a job is active, nothing explains a wait, and its progress does not move.

Looks at  progress (card bytes, streamed lines, the percentage that the machine reports), heating up, holds, waits.
Present   once it has stood still for longer than the plan's slowest stretch allows, or `unplanned` without a plan: less where
          this machine's counter has never stood so long in its healthy jobs. A wait whose own line tells its length (G4) is
          not counted. Absent again when it moves, is held, heats up or ends. While the machine does not answer nobody can
          tell.
Because   a nozzle that stands over the part melts into it. A jam cannot be seen this way; a frozen controller can.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.patience import stillness
from watchdog.core.snapshot import Execution, Job, Link, Snapshot

NAME = "job-stalled"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a job may stand still."""

    unplanned: float = limit(
        300, "s", "without a plan; longer than usual dwells; common practice, no source", least=60, most=7200
    )
    floor: float = limit(
        60, "s", "what a machine whose counter always moved in its healthy jobs may tighten that to; project's choice",
        least=30, most=7200,
    )  # fmt: skip
    factor: float = limit(1.5, "1", "times the plan's slowest stretch; project's choice", least=1, most=10)
    margin: float = limit(60, "s", "on top of that; project's choice", most=3600)
    answers_within: float = limit(
        20, "s", "an older word is no sign of what happens now; project's choice", least=5, most=600
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    excused_at: float | None = None  # s, elapsed: when the stillness last had a reason, or could not be seen
    stalled_at: float | None = None  # s, elapsed: when it was told
    job: int | None = None  # number of the job that was told


_FRESH = Memory()
_RUNNING = (Execution.PREPARING, Execution.BUILDING)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    job = seen.job
    if seen.active is False:
        return (memory if memory.excused_at is None and memory.stalled_at is None else _FRESH), ABSENT
    told = job is not None and memory.stalled_at is not None and memory.job == job.number
    if told and job is not None and job.moved_at is not None and job.moved_at > (memory.stalled_at or 0.0):
        memory, told = Memory(excused_at=job.moved_at), False
    if seen.active is None or job is None or not _answers(limits, seen):
        # what happens unseen is no stillness, but one that was told before stays told
        return (memory if told or seen.active is None else Memory(seen.at)), UNKNOWN
    if job.held_since is not None or seen.waits_for_person or seen.heating_up or seen.execution not in _RUNNING:
        return Memory(excused_at=seen.at), ABSENT
    since = _still_since(memory, seen, job)
    still = seen.at - since
    allowed = _allowed(limits, seen, job)
    if still < allowed and not told:
        return memory, ABSENT
    if seen.heating_up is None and seen.execution is Execution.PREPARING:
        return memory, UNKNOWN  # the bed may well be heating: some take longer than the limit
    if not told:
        memory = Memory(memory.excused_at, seen.at, job.number)
    return memory, Finding(
        True,
        {
            "still_for_s": round(seen.at - job.moved_at if job.moved_at is not None else still),
            "allowed_s": round(allowed),
            "progress": job.progress,
            "size": job.size,
            "nozzle": seen.nozzle.now,
        },
    )


def _answers(limits: Limits, seen: Snapshot) -> bool:
    if seen.link is Link.UNAVAILABLE or seen.heard is None:
        return False
    quiet = seen.at - seen.heard
    return quiet < limits.answers_within or quiet < 3 * (seen.rhythm or 0.0)


def _still_since(memory: Memory, seen: Snapshot, job: Job) -> float:
    since = max(job.started, seen.sighted_since, seen.link_since)
    dwells = None if seen.dwells is None else min(seen.dwells[1], seen.at)  # its own line tells how long it waits
    for reason in (job.moved_at, job.building_since, memory.excused_at, seen.blocking_since, dwells):
        if reason is not None and reason > since:
            since = reason
    return since


def _allowed(limits: Limits, seen: Snapshot, job: Job) -> float:
    if job.stall_limit is not None:
        return limits.factor * job.stall_limit + limits.margin
    if job.progress is not None:
        return stillness(seen.usual, limits.unplanned, limits.floor, limits.margin)
    if not job.percent:
        return limits.unplanned
    # only a whole percentage moves: one step of a long job may take longer than the limit
    whole = job.expected if job.expected is not None else 100 * (seen.at - job.started) / job.percent
    return max(limits.unplanned, 2 * whole / 100 + limits.margin)
