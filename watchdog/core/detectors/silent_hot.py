"""Silent and hot: the port is there, the machine does not answer, and it was hot or at work when last heard.

Looks at  what is owed and unanswered, when the machine last spoke (s), the heat and the job of that time.
Present   after `quiet`, or what this machine's own longest silence in healthy jobs makes of it (`core.patience`); while a
          command runs that rightly keeps it quiet, after `blocking`. Absent again at the first word.
          While the port is gone nobody can tell whether it would answer. A controller that has said that it halts falls
          silent by its own rule: its halt is urgent already and sends the same person to the same place.
Because   heater or extruder may be running on with nobody in control.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.patience import silence
from watchdog.core.sight import unanswered
from watchdog.core.snapshot import Link, Snapshot

NAME = "silent-hot"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a hot machine may be silent."""

    quiet: float = limit(20, "s", "many answers are due in that time; project's choice", least=5, most=600)
    floor: float = limit(
        10, "s", "what a machine that always answers may tighten it to: half of it; project's choice", least=5, most=600
    )
    queries: int = limit(4, "1", "in a row without an answer; project's choice", least=1, most=100)
    blocking: float = limit(
        180, "s", "homing and probing without a word; common practice, no source", least=5, most=3600
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    heard: float | None = None  # s, elapsed: the last word when it was told; None while it is not told


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    heard = seen.heard
    if heard is None:
        return memory, UNKNOWN
    if seen.faults and any(fault.halted for _, fault in seen.faults):
        return _FRESH, ABSENT
    here = seen.link is Link.AVAILABLE
    quiet = silence(seen.usual, limits.quiet, limits.floor)
    if not seen.heat_when_lost or (here and seen.at - heard < quiet):
        return (memory if memory.heard is None else _FRESH), ABSENT
    if not here:
        return memory, UNKNOWN
    answer = memory.heard == heard or unanswered(seen, quiet, limits.queries, limits.blocking)
    if answer is None:
        return memory, UNKNOWN
    if not answer:
        return (memory if memory.heard is None else _FRESH), ABSENT
    return (memory if memory.heard == heard else Memory(heard)), Finding(
        True,
        {
            "unheard_for_s": round(seen.at - heard),
            "unanswered": seen.unanswered,
            "last_nozzle": seen.nozzle.now,
            "last_target": seen.nozzle.target,
        },
    )
