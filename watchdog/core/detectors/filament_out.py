"""Filament out: the machine, or a sensor beside it, reports in a job that its filament has run out or is jammed.

Looks at  the machine's own reports within the present job, and whether it was held since; a filament-present sensor.
Present   from the report on. Where the machine held the job for it (`held`), absent again once it goes on: somebody loaded
          filament. Where it did not, the job prints air: it stands until the job ends, or `stands` after the last report.
          A report of the same trouble again is the same occurrence while it stands. By a sensor: once it has told in a job
          for `gone` that no filament is there, until it tells otherwise or the job ends; a stale sensor cannot tell.
Because   air is printed, or the job waits with the heat over the part.
"""

from dataclasses import dataclass, replace

from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.observations import FaultKind
from watchdog.core.sensors import of_kind
from watchdog.core.sight import blind, last_fault
from watchdog.core.snapshot import Execution, SensorKind, Snapshot

NAME = "filament-out"


@dataclass(frozen=True, slots=True)
class Limits:
    """When a job counts as held for it, and how long a report stands."""

    held: float = limit(
        30, "s", "a queue runs empty within this; loading filament takes longer; project's choice", least=5, most=600
    )
    stands: float = limit(600, "s", "after the last report; the time in which somebody looks", least=60, most=86400)
    gone: float = limit(10, "s", "a sensor's contact bounces as a splice or dust goes past; project's choice", most=600)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    job: int | None = None  # number of the job that it is about; None when nothing stands
    held_since: float | None = None  # s, elapsed
    was_held: bool = False
    over_at: float | None = None  # s, elapsed: reports up to here have been dealt with
    gone_since: float | None = None  # s, elapsed: a sensor misses the filament


_FRESH = Memory()
_KINDS = (FaultKind.FILAMENT_OUT, FaultKind.FILAMENT_JAM)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    sensors = of_kind(seen, SensorKind.FILAMENT_PRESENT) if seen.sensors else ()
    if not sensors:
        return _by_reports(limits, memory, seen)
    gone_since = memory.gone_since
    kept, reported = _by_reports(limits, memory if gone_since is None else replace(memory, gone_since=None), seen)
    if seen.active is False:
        return kept, reported
    values = [one.value for one in sensors if one.value is not None]
    if seen.active and values:
        gone_since = None if min(values) >= 0.5 else seen.at if gone_since is None else gone_since
    if gone_since is not None:
        kept = replace(kept, gone_since=gone_since)
    if reported.present:
        return kept, reported
    misses = seen.active and values and min(values) < 0.5
    if not misses or gone_since is None or seen.at - gone_since < limits.gone:
        return kept, UNKNOWN if seen.active is None or len(values) < len(sensors) else reported
    sensor = next(one.name for one in sensors if one.value is not None and one.value < 0.5)
    evidence: Evidence = {"sensor": sensor, "since_s": round(seen.at - gone_since), "nozzle": seen.nozzle.now}
    return kept, Finding(True, evidence)


def _by_reports(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
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
