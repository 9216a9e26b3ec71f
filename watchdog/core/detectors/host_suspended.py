"""Host suspended: the computer that streams a job slept in the middle of it.

Looks at  how long the stream of the present or last job stood still while its computer slept: by that computer's own clock,
          or by a log in which both sides fell silent and then went on.
Present   when that was at least `asleep`; absent again when another job begins, or `stands` after it.
Because   the nozzle stood hot on the part all that time, and the job may be lost.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Snapshot

NAME = "host-suspended"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a sleep harms, and how long it is told."""

    asleep: float = limit(
        30, "s", "a nozzle that stands this long marks the part; project's choice", least=2, most=3600
    )
    stands: float = limit(1800, "s", "by then somebody has looked or the part is past; project's choice", least=60)


@dataclass(frozen=True, slots=True)
class Memory:
    """Nothing: when it slept is in the snapshot."""


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if seen.slept_at is None or seen.slept < limits.asleep or seen.at - seen.slept_at >= limits.stands:
        return memory, UNKNOWN if blind(seen) else ABSENT
    job = seen.job
    return memory, Finding(
        True,
        {
            "slept_s": round(seen.slept),
            "since_s": round(seen.at - seen.slept_at),
            "stream": "unknown" if job is None else job.ending or "goes on",
            "nozzle": seen.nozzle.now,
        },
    )
