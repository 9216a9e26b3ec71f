"""Spool short: the job still needs more filament than the spool holds.

Looks at  mm that the rest of the job's plan asks for, and mm left by the account of the spool (`core.spool`).
Present   while the need exceeds what is left less `reserve`; absent again when it is at most what is left, the job ends, or
          somebody says that another spool is loaded. Both shrink alike, so once told it stays for the job.
Unknown   without a plan, and where nobody has said what is on the spool.
Because   it runs out in the job, at an hour that nobody chose.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Snapshot

NAME = "spool-short"


@dataclass(frozen=True, slots=True)
class Limits:
    """How far the account is trusted."""

    reserve: float = limit(
        0.05, "1", "of what is left: scales, winding ends and the length in the feed; project's choice", most=0.9
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    job: int | None = None  # number of the job that it was told of


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    job, left, needed = seen.job, seen.spool, seen.needed
    if left is None:
        return memory, UNKNOWN
    if seen.active is False:
        return (memory if memory.job is None else _FRESH), ABSENT
    if seen.active is None or job is None or needed is None:
        return memory, UNKNOWN
    told = memory.job == job.number
    if needed <= (left if told else left * (1 - limits.reserve)):
        return (memory if memory.job is None else _FRESH), ABSENT
    evidence = {"needed_mm": round(needed), "left_on_spool_mm": round(left), "short_mm": round(max(0.0, needed - left))}
    return (memory if told else Memory(job.number)), Finding(True, evidence)
