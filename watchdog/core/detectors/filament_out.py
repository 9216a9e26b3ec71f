"""Filament out: the machine reports that its filament has run out or is jammed, in a job.

Looks at  the machine's own reports within the present job, and whether it was held since.
Present   from the report on. Where the machine held the job for it (`held`), absent again once it goes on: somebody loaded
          filament. Where it did not, the job prints air: it stands until the job ends, or `stands` after the last report.
          A report of the same trouble again is the same occurrence while it stands.
Because   air is printed, or the job waits with the heat over the part.
"""

from dataclasses import dataclass, replace

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.observations import FaultKind
from watchdog.core.sight import blind, last_fault
from watchdog.core.snapshot import Execution, Snapshot

NAME = "filament-out"


@dataclass(frozen=True, slots=True)
class Limits:
    """When a job counts as held for it, and how long a report stands."""

    held: float = limit(
        30, "s", "a queue runs empty within this; loading filament takes longer; project's choice", least=5, most=600
    )
    stands: float = limit(600, "s", "after the last report; the time in which somebody looks", least=60, most=86400)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    job: int | None = None  # number of the job that it is about; None when nothing stands
    held_since: float | None = None  # s, elapsed
    was_held: bool = False
    over_at: float | None = None  # s, elapsed: reports up to here have been dealt with


_FRESH = Memory()
_KINDS = (FaultKind.FILAMENT_OUT, FaultKind.FILAMENT_JAM)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    report = last_fault(seen, _KINDS) if seen.faults else None
    job = seen.job
    if report is None or job is None or report[0] < job.started:
        return (memory if memory == _FRESH else _FRESH), UNKNOWN if blind(seen) else ABSENT
    at, fault = report
    if memory.over_at is not None and at <= memory.over_at:
        return memory, UNKNOWN if blind(seen) else ABSENT
    if job.ended is not None:
        return Memory(over_at=at), ABSENT
    if memory.job != job.number:
        memory = Memory(job.number)
    if not blind(seen) and seen.active is not None:
        memory = _followed(limits, memory, seen)
        loaded = memory.was_held and memory.held_since is None
        if loaded or (not memory.was_held and memory.held_since is None and seen.at - at >= limits.stands):
            return Memory(over_at=at), ABSENT
    return memory, Finding(
        True,
        {
            "kind": fault.kind.value,
            "text": fault.text,
            "since_s": round(seen.at - at),
            "job_held": "no" if memory.held_since is None else "yes",
            "nozzle": seen.nozzle.now,
        },
    )


def _followed(limits: Limits, memory: Memory, seen: Snapshot) -> Memory:
    """Whether the job is held, and has been for long enough that it was for this."""
    held = seen.waits_for_person or seen.execution is Execution.PAUSED or seen.execution is Execution.WAITING
    if not held:
        return memory if memory.held_since is None else replace(memory, held_since=None)
    if memory.held_since is None:
        return replace(memory, held_since=seen.at)
    if not memory.was_held and seen.at - memory.held_since >= limits.held:
        return replace(memory, was_held=True)
    return memory
