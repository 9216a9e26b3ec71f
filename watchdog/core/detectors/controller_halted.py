"""Controller halted: the machine reports a halt, a kill, an emergency stop, or that it refuses to move.

Looks at  the faults that the machine reported and that still stand.
Present   at the report; absent again when the controller has restarted. Silence afterwards belongs to it. Not where the
          machine names a heater or its sensor as the cause: that heater's own alarm is then urgent and tells it.
Because   the job is lost, and the cause must be known before the power is cycled.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.sight import blind, halt_apart
from watchdog.core.snapshot import Snapshot

NAME = "controller-halted"


@dataclass(frozen=True, slots=True)
class Limits:
    """None: what the machine says is enough."""


@dataclass(frozen=True, slots=True)
class Memory:
    """Nothing: the faults that stand are in the snapshot."""


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if seen.faults and (halt := halt_apart(seen)) is not None:
        at, first = halt  # the cause comes first, 'halted' after it
        return memory, Finding(True, {"kind": first.kind.value, "text": first.text, "since_s": round(seen.at - at)})
    return memory, UNKNOWN if blind(seen) else ABSENT
