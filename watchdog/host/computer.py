"""What of the watching computer's state endangers the watch: sentences for the alarm `watch-impaired`, each with its remedy.

What swings by itself (memory, load, voltage, a clock that is being set) must have been wrong for a while; the disk and a
scheduled shutdown are told at once.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from watchdog.core.moment import Moment
from watchdog.host.vitals import Vitals


@dataclass(frozen=True, slots=True)
class Limits:
    """When it counts. Common practice, no source, where nothing else is said."""

    disk_free: int = 50_000_000
    """bytes: a term's record is smaller"""
    memory_free: int = 50_000_000
    """bytes: what the child that sends a message needs for its moment (measured: 46 MB)"""
    load: float = 4.0
    """runnable tasks a processor, over 5 min: the watch still gets its turn within a second, but barely"""
    lasts: float = 300.0
    """s that memory, load or clock must have been bad"""
    clock_matters: bool = True
    """whether anything hangs on the time of day: supervised hours, lessons"""
    undervoltage_counts: float = 3600.0
    """s that a dip of the supply is told of: it corrupts storage cards, and is gone when somebody looks"""
    shutdown_ahead: float = 43_200.0
    """s ahead that a scheduled shutdown is told"""


@dataclass(frozen=True, slots=True)
class Memory:
    """Since when which thing has been wrong (elapsed)."""

    since: Mapping[str, float] = field(default_factory=dict)
    dipped_at: float | None = None


def judge(limits: Limits, memory: Memory, vitals: Vitals, zone: ZoneInfo, at: Moment) -> tuple[Memory, tuple[str, ...]]:
    """What is wrong with the computer now, a sentence each; nothing when nothing is. What is not known is not wrong."""
    bad = _bad(limits, vitals)
    since = {name: memory.since.get(name, at.elapsed) for name in bad}
    dipped = at.elapsed if vitals.undervoltage else memory.dipped_at
    memory = replace(memory, since=since, dipped_at=dipped)
    sentences = [words for name, words in bad.items() if at.elapsed - since[name] >= limits.lasts or name == "disk"]
    if dipped is not None and at.elapsed - dipped < limits.undervoltage_counts:
        sentences.append("This computer's supply voltage was too low. Give it a stronger supply or a shorter cable.")
    if vitals.restart_wanted and vitals.restarts_itself:
        sentences.append(_UPDATED)
    sentences += _shutdown(limits, vitals, zone, at)
    return memory, tuple(sentences)


_UPDATED = (
    "An update waits for a restart of this computer, and its package timers restart it by themselves. "
    "Restart it while no job runs."
)


def _bad(limits: Limits, vitals: Vitals) -> dict[str, str]:
    return dict(_each(limits, vitals))


def _each(limits: Limits, vitals: Vitals) -> Iterator[tuple[str, str]]:
    if vitals.disk_free is not None and vitals.disk_free < limits.disk_free:
        free = vitals.disk_free // 1_000_000
        yield "disk", f"{free} MB are free on the disk. Make room, or the record cannot be written."
    if vitals.memory_free is not None and vitals.memory_free < limits.memory_free:
        free = vitals.memory_free // 1_000_000
        yield (
            "memory",
            f"{free} MB of memory are free. End what else runs on this computer, or messages cannot be sent.",
        )
    if vitals.load is not None and vitals.load > limits.load:
        yield "load", f"{vitals.load:.1f} tasks wait for each processor. End what else runs on this computer."
    if vitals.clock_kept is False and limits.clock_matters:
        yield (
            "clock",
            "Nothing keeps this computer's clock right. Switch time synchronisation on, or hours will be wrong.",
        )


def _shutdown(limits: Limits, vitals: Vitals, zone: ZoneInfo, at: Moment) -> list[str]:
    if vitals.ends_at is None or not -60 <= vitals.ends_at - at.stamp <= limits.shutdown_ahead:
        return []
    when = datetime.fromtimestamp(vitals.ends_at, zone).strftime("%a %H:%M")
    deed = "restart" if vitals.ends_how in {"reboot", "kexec", "soft-reboot"} else "be switched off"
    return [f"This computer is to {deed} at {when}. Cancel it with 'shutdown -c' if a job runs then."]
