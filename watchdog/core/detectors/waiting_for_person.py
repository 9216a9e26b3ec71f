"""Waiting for a person: the machine holds and somebody must answer it.

Looks at  what the machine says it waits for, and holds by command.
Present   at once when nobody asked for the wait, else after `planned`; absent again when it goes on or the job ends.
Because   heat stands over the part; hot idle follows.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Execution, Snapshot

NAME = "waiting-for-person"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a wait may stand."""

    planned: float = limit(120, "s", "who asked for it is at the machine; common practice, no source", most=7200)


@dataclass(frozen=True, slots=True)
class Memory:
    """Nothing: the snapshot says since when it waits."""


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if blind(seen):
        return memory, UNKNOWN
    paused = seen.execution is Execution.PAUSED
    if not seen.waits_for_person and not paused:
        return memory, ABSENT
    since = seen.waits_since
    if since is None and seen.job is not None:
        since = seen.job.held_since  # outlives a blind time, which the state's own beginning does not
    if since is None:
        since = seen.execution_since
    planned = seen.wait_planned or not seen.waits_for_person  # a hold by command was somebody's wish
    waited = seen.at - since
    if planned and waited < limits.planned:
        return memory, ABSENT
    return memory, Finding(
        True,
        {
            "waits_for_s": round(waited),
            "planned": "yes" if planned else "no",
            "nozzle": seen.nozzle.now,
            "target": seen.nozzle.target,
        },
    )
