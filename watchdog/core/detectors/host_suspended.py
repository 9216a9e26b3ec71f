"""Host suspended: the computer that streams a job slept in the middle of it, or is to end before the job does.

Looks at  how long the stream of the present or last job stood still while its computer slept: by that computer's own clock,
          or by a log in which both sides fell silent and then went on; and when the watching computer is to be shut down or
          restarted, against the upper bound of a streamed job's finish.
Present   when the sleep was at least `asleep`; absent again when another job begins, or `stands` after it. Before the shutdown
          from the moment that the job cannot be over by then; `ahead` of it where nobody can tell when the job ends. Absent
          again when it is called off, or the job ends. A card job goes on without the computer, so nothing is said of one.
Because   the nozzle stands hot on the part all that time, and the job may be lost.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Origin, Snapshot

NAME = "host-suspended"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a sleep harms, how long it is told, and how soon a planned end."""

    asleep: float = limit(
        30, "s", "a nozzle that stands this long marks the part; project's choice", least=2, most=3600
    )
    stands: float = limit(1800, "s", "by then somebody has looked or the part is past; project's choice", least=60)
    ahead: float = limit(43_200, "s", "longer than a desktop job takes; project's choice", least=600, most=7 * 86_400)


@dataclass(frozen=True, slots=True)
class Memory:
    """Nothing: when it slept and when it ends is in the snapshot."""


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if seen.host_ends is not None and _ends_first(limits, seen, seen.host_ends):
        left = round(seen.host_ends - seen.stamp)
        return memory, Finding(True, {"host_ends_in_s": left, "how": seen.host_ends_how, "nozzle": seen.nozzle.now})
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


def _ends_first(limits: Limits, seen: Snapshot, ends: float) -> bool:
    """The computer ends while a job that may hang on it still runs."""
    job = seen.job
    if job is None or job.ended is not None or job.origin is not Origin.STREAMED or ends <= seen.stamp:
        return False
    return ends < seen.finish_late if seen.finish_late is not None else ends - seen.stamp <= limits.ahead
