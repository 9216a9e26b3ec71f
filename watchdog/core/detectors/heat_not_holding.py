"""Heat not holding: the nozzle was at its target in a job and then stays below it.

Looks at  nozzle temperature and target (°C); whether a job is active and not held.
Present   once it has been `drop` below the target for `hold` without coming back by half of `drop`; absent again within
          half of `drop`. Not while the job is
          held: some machines let the nozzle cool then, and it warms up again before the job goes on.
Because   layers bond badly, or a fan duct, heater or sensor is loose.
"""

from dataclasses import dataclass, replace

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Execution, Snapshot

NAME = "heat-not-holding"


@dataclass(frozen=True, slots=True)
class Limits:
    """When a droop is told."""

    drop: float = limit(10.0, "°C", "below the target; common practice, no source", least=3, most=100)
    hold: float = limit(30.0, "s", "a fan gust passes within seconds; common practice, no source", least=5, most=600)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    reached: float | None = None  # °C: the target that the nozzle has been at
    low_since: float | None = None  # s, elapsed
    lowest: float | None = None  # °C: since `low_since`


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    now, target = seen.nozzle.now, seen.nozzle.target
    if seen.active is None or now is None or target is None:
        return memory, UNKNOWN
    held = seen.waits_for_person or seen.execution is Execution.PAUSED or seen.execution is Execution.WAITING
    if not seen.active or held or target <= 0:
        return (memory if memory.reached is None else _FRESH), ABSENT
    gap = target - now
    if gap <= limits.drop / 2:
        return (memory if memory.reached == target and memory.low_since is None else Memory(target)), ABSENT
    if memory.reached != target:  # still heating up: another detector's business
        return (memory if memory.reached is None else _FRESH), ABSENT
    if memory.low_since is None:
        if gap >= limits.drop:
            memory = Memory(target, seen.at, now)
        return memory, ABSENT
    low_for = seen.at - memory.low_since
    if memory.lowest is None or now < memory.lowest:
        memory = replace(memory, lowest=now)
    elif now >= memory.lowest + limits.drop / 2 and low_for < limits.hold:
        return Memory(target, seen.at, now), ABSENT  # it comes back: a pause that cooled it, and not a loss of heat
    if low_for < limits.hold:
        return memory, ABSENT
    return memory, Finding(
        True, {"heater": "nozzle", "nozzle": round(now, 1), "target": target, "below_for_s": round(low_for)}
    )
