"""Sensor limit: a sensor beside the machine is beyond the limit that was set for it, or tells of smoke.

Looks at  every sensor that has a limit; smoke has one by its kind. Doors and the like without a limit are events, no alarm.
Present   once one has been beyond for `hold` (smoke: at once); absent again when all are within.
Urgent    smoke.
Unknown   without such a sensor, and while one of them is stale or cannot tell and none of the others is beyond: what is not
          known is not normal.
Because   somebody said that they want to look then.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Sensed, SensorKind, Snapshot

NAME = "sensor-limit"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a value must be beyond."""

    hold: float = limit(30, "s", "a draught, a hand or one odd value is over by then; project's choice", most=86400)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    beyond: tuple[tuple[str, float], ...] = ()  # sensors that are beyond, and since when (s, elapsed)


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    judged = [one for one in seen.sensors if one.low is not None or one.high is not None]
    if not judged:
        return (memory if memory == _FRESH else _FRESH), UNKNOWN
    known = dict(memory.beyond)
    beyond = [one for one in judged if _beyond(one)]
    # one that cannot tell keeps its time: it may well be beyond still
    unknown = {one.name for one in judged if one.value is None}
    since = {one.name: known.get(one.name, seen.at) for one in beyond}
    since |= {name: at for name, at in known.items() if name in unknown}
    kept = tuple(sorted(since.items()))
    memory = memory if kept == memory.beyond else Memory(kept)
    told = [one for one in beyond if one.kind is SensorKind.SMOKE or seen.at - since[one.name] >= limits.hold]
    if not told:
        return memory, UNKNOWN if unknown else ABSENT
    worst = min(told, key=lambda one: (one.kind is not SensorKind.SMOKE, since[one.name]))
    low = worst.low is not None and worst.value is not None and worst.value < worst.low
    evidence: Evidence = {
        "sensor": worst.name,
        "measures": worst.kind.value,
        "value": worst.value,
        "lowest_wanted" if low else "highest_wanted": worst.low if low else worst.high,
        "beyond_for_s": round(seen.at - since[worst.name]),
        "sensors_beyond": len(told),
    }
    if worst.unit:
        evidence = {**evidence, "measured_in": worst.unit}
    return memory, Finding(True, evidence, urgent=worst.kind is SensorKind.SMOKE)


def _beyond(one: Sensed) -> bool:
    if one.value is None:
        return False
    return (one.low is not None and one.value < one.low) or (one.high is not None and one.value > one.high)
