"""Extruding in place: filament is fed while the nozzle stands still in a job.

Looks at  filament fed since X, Y or Z last moved (mm), by the lines of a stream or by positions that the machine tells; a
          card job whose positions are never told shows nothing.
Present   from `most` on, in at least two feeds since two equal positions may be chance; before the first plastic is laid
          from `purge` on, since a nozzle is primed in place. Not while somebody is waited for, nor for `changed` after it:
          new filament is loaded in place. Absent again when an axis moves or the job ends.
Because   plastic fills the machine.
"""

from dataclasses import dataclass, replace

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Execution, Origin, Snapshot

NAME = "extruding-in-place"


@dataclass(frozen=True, slots=True)
class Limits:
    """How much may be fed in one place."""

    most: float = limit(30, "mm", "a layer's prime or blob is less; project's choice", least=5, most=1000)
    purge: float = limit(
        100, "mm", "start scripts prime in place before the first line; project's choice", least=5, most=1000
    )
    changed: float = limit(
        120, "s", "filament that was changed is loaded and purged in place; project's choice", most=3600
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    fed: float = 0.0  # mm: fed in place when last looked at
    forgiven: float = 0.0  # mm of it that do not count: loaded after a change
    feeds: int = 0  # looks at which it had grown by what counts
    changed_at: float | None = None  # s, elapsed: the machine last waited for somebody or was held


_FRESH = Memory()
_WAITS = (Execution.PAUSED, Execution.WAITING)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    job = seen.job
    if blind(seen) or seen.active is None:
        return memory, UNKNOWN
    if not seen.active or job is None:
        return (memory if memory == _FRESH else _FRESH), ABSENT
    if job.origin is Origin.CARD and not seen.flowed:
        return memory, UNKNOWN  # nobody tells positions
    memory = _followed(limits, memory, seen)
    counts = memory.fed - memory.forgiven
    if counts < (limits.purge if job.building_since is None else limits.most) or memory.feeds < 2:
        return memory, ABSENT
    return memory, Finding(True, {"fed_in_place_mm": round(counts), "nozzle": seen.nozzle.now})


def _followed(limits: Limits, memory: Memory, seen: Snapshot) -> Memory:
    fed = seen.fed_in_place
    if seen.waits_for_person or seen.execution in _WAITS:
        return Memory(fed, fed, 0, seen.at)
    if fed < memory.fed:  # an axis moved: what was changed is loaded
        return Memory(fed, 0.0, 1 if fed else 0)
    if memory.changed_at is not None:
        if seen.at - memory.changed_at < limits.changed:
            return memory if fed == memory.fed else Memory(fed, fed, 0, memory.changed_at)
        memory = replace(memory, changed_at=None)
    return memory if fed == memory.fed else replace(memory, fed=fed, feeds=memory.feeds + 1)
