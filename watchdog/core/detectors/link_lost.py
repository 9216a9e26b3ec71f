"""Link lost: the port or connection itself is gone over a machine that was hot or at work when last heard.

Looks at  the link (s since it went), the heat and the job when the machine was last heard.
Present   after `gone`; absent again when the link is back. Never heard, nobody can tell.
Because   the watch is blind over a hot machine; a job from the card usually goes on.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Link, Snapshot

NAME = "link-lost"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long the link may be away."""

    gone: float = limit(30, "s", "a reconnection takes less; common practice, no source", least=2, most=3600)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    told: bool = False


_FRESH = Memory()
_TOLD = Memory(True)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if seen.link is Link.AVAILABLE:
        return (_FRESH if memory.told else memory), ABSENT
    if seen.heard is None:
        return memory, UNKNOWN
    if not seen.heat_when_lost:
        return (_FRESH if memory.told else memory), ABSENT
    # counted from when the watch itself could see again, but what was told before a blind time stays told
    if not memory.told and seen.at - max(seen.link_since, seen.sighted_since) < limits.gone:
        return memory, ABSENT
    return _TOLD, Finding(
        True, {"gone_for_s": round(seen.at - seen.link_since), "unheard_for_s": round(seen.at - seen.heard)}
    )
