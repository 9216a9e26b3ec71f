"""Controller restarted: it sent its start-up banner while a job was active or heat was on.

Looks at  the last banner and what it broke; a job that begins after it.
Present   from the banner on; absent again when the next job begins, or `stands` after the last banner. A second banner in
          that time belongs to the same occurrence.
Because   the job is lost, and the heaters may be off over the part.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Snapshot

NAME = "controller-restarted"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a restart stands."""

    stands: float = limit(
        1800, "s", "by then the part is cold and the reset past; project's choice", least=60, most=86400
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    latest: float | None = None  # s, elapsed: the last banner judged
    broke_at: float | None = None  # s, elapsed: the banner that broke something; None when nothing stands
    restarts: int = 0  # banners from that one on


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    restarted = seen.restarted_at
    if restarted is not None and restarted != memory.latest:
        broke_at = memory.broke_at if memory.broke_at is not None or not seen.restart_broke else restarted
        memory = Memory(restarted, broke_at, 0 if broke_at is None else memory.restarts + 1)
    if memory.broke_at is None or memory.latest is None:
        return memory, UNKNOWN if blind(seen) else ABSENT
    job = seen.job
    begun = job is not None and job.ended is None and job.started > memory.latest
    if begun or seen.at - memory.latest >= limits.stands:
        return Memory(memory.latest), ABSENT
    return memory, Finding(
        True, {"since_s": round(seen.at - memory.broke_at), "cause": seen.reset_cause, "restarts": memory.restarts}
    )
