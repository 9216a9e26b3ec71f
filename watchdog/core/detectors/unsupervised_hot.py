"""Unsupervised hot: heat, or a job, at an hour at which nobody is there.

Looks at  the supervised hours; the nozzle's temperature, heater targets, and whether a job is active.
Present   once heat or a job has stood for `grace` outside the hours; absent again when somebody is there by the hours, or the
          machine has cooled below the melting point with its heaters off. A job that somebody took on (`emberward allow`) is no
          reason while it runs; what is hot after it is. A nozzle that is off and cools down is none either.
Urgent    on a holiday: nobody passes by until it is over.
Unknown   where no hours are set, and while the machine is not seen.
Because   nobody is there to catch a fault.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Hotend, Snapshot

NAME = "unsupervised-hot"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long after the hours is still the end of the lesson."""

    grace: float = limit(300, "s", "who closes up is there some minutes longer; project's choice", most=3600)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    since: float | None = None  # s, elapsed: heat or a job outside the hours


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    there = seen.presence
    if there is None:
        return memory, UNKNOWN
    if there.supervised:
        return (memory if memory.since is None else _FRESH), ABSENT
    hot = None if blind(seen) else _hot(seen)
    if hot is None:
        return memory, UNKNOWN
    if not hot:
        return (memory if memory.since is None else _FRESH), ABSENT
    if memory.since is None:
        memory = Memory(seen.at)
    lasted = seen.at - (memory.since or 0.0)
    if lasted < limits.grace:
        return memory, ABSENT
    evidence: Evidence = {
        "nozzle": seen.nozzle.now,
        "target": seen.nozzle.target,
        "bed_target": seen.bed.target,
        "job_runs": "yes" if seen.active else "no",
        "holiday": "yes" if there.holiday else "no",
        "unsupervised_for_s": round(lasted),
        "somebody_in_s": None if there.next is None else round(there.next - seen.stamp),
    }
    return memory, Finding(True, evidence, urgent=there.holiday)


def _hot(seen: Snapshot) -> bool | None:
    """Heat that needs somebody; None when that cannot be told."""
    if seen.active:
        return not seen.may_outlast
    if seen.heat_on or seen.hotend in (Hotend.HOT, Hotend.HEATING):
        return True
    return None if seen.active is None or seen.hotend is Hotend.UNKNOWN else False
