"""Watch impaired: something keeps the watch itself from its work.

Looks at  what the service found wrong with itself: delivery, record, disk, the timetable, sensors that have gone quiet.
Present   while there is anything of it.
Because   an alarm would reach nobody, or would not be kept.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, Finding
from watchdog.core.snapshot import Snapshot

NAME = "watch-impaired"


@dataclass(frozen=True, slots=True)
class Limits:
    """None: the service judges its own parts with their own limits."""


@dataclass(frozen=True, slots=True)
class Memory:
    """Nothing: the reasons are in the snapshot."""


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if not seen.impairments:
        return memory, ABSENT
    return memory, Finding(True, {"count": len(seen.impairments), "reasons": "; ".join(seen.impairments)})
