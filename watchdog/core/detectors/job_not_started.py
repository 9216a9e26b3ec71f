"""Job not started: a file is chosen and the heat for it stands, but its counter stays at the start.

Looks at  the file chosen, the card counter, nozzle and bed against their targets (°C).
Present   once all of it has stood for `stands`, nothing warming up any more; absent again when the job moves, its heat is
          taken off or the choice ends.
Because   heat stands for nothing. A known trap after a card swap: the controller keeps the old card's table.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Execution, Heater, Origin, Snapshot

NAME = "job-not-started"


@dataclass(frozen=True, slots=True)
class Limits:
    """When a job that does not begin is told."""

    stands: float = limit(
        180, "s", "starting takes a walk to the panel; common practice, no source", least=30, most=3600
    )
    reached: float = limit(
        10, "°C", "this near the target the heat is there; common practice, no source", least=2, most=50
    )
    belongs: float = limit(
        600,
        "s",
        "heat that is asked for later than this after the choice is for something else; project's choice",
        most=7200,
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    heated_since: float | None = None  # s, elapsed: the heat was reached with the file waiting
    told: bool = False


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    waits_since = _waits_since(seen)
    if waits_since is None:
        if blind(seen):
            return memory, UNKNOWN
        return (memory if memory.heated_since is None else _FRESH), ABSENT
    target, since = seen.nozzle.target, seen.nozzle.target_since
    if seen.waits_for_person or (target is not None and target <= 0):
        return _FRESH, ABSENT
    if since is not None and since > waits_since + limits.belongs:
        return _FRESH, ABSENT
    if target is None or seen.nozzle.now is None or blind(seen):
        return memory, UNKNOWN
    if seen.heating_up and not memory.told:  # the bed, too, where its target is not told while the machine waits for it
        return _FRESH, ABSENT
    if memory.heated_since is None:
        if not (_there(seen.nozzle, limits.reached) and _there(seen.bed, limits.reached)):
            return memory, ABSENT
        memory = Memory(seen.at)
    stood = seen.at - max(memory.heated_since or seen.at, waits_since, seen.sighted_since)
    if stood < limits.stands and not memory.told:
        return memory, ABSENT
    if not memory.told:
        memory = Memory(memory.heated_since, told=True)
    return memory, Finding(True, {"nozzle": round(seen.nozzle.now, 1), "target": target, "stands_for_s": round(stood)})


def _waits_since(seen: Snapshot) -> float | None:
    """When the choice was made; None when no job waits for its start."""
    if seen.chosen_at is not None:
        return seen.chosen_at
    job = seen.job
    if seen.execution is not Execution.PREPARING or job is None or job.moved_at is not None or job.progress != 0:
        return None
    return job.started if job.origin is Origin.CARD and job.ended is None else None


def _there(heater: Heater, reached: float) -> bool:
    """At its target, or not asked to heat."""
    return heater.now is None or heater.target is None or heater.now >= heater.target - reached
