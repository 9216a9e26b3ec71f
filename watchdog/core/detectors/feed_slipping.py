"""Feed slipping: a motion sensor shows less filament moving than the job asks for.

Looks at  filament that went past the sensor (mm) against what was asked for: the lines of a stream, or the plan at the card's
          counter, or positions that the machine tells.
Present   by a CUSUM of what is missing to `share`: S = max(0, S + share x asked - moved) reaches share x `over`. So after
          `over` where nothing moves, later where something does. A move is asked for up to `latency` before it is made, and
          is missing only then. Absent again once `well` has been fed with S below half of that (a tangled spool grips and
          lets go), or the job is held or ends.
Unknown   without a sensor, while it is stale, and where nobody can tell what is asked for.
Because   a jam or a tangled spool prints air. Where stretches of 5 mm are measured 1.5 mm off (standard deviation), healthy
          feeding runs more than 100 km between two false alarms (Siegmund's approximation, `statistics.run_length`).
"""

from dataclasses import dataclass, replace

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sensors import of_kind
from watchdog.core.sight import blind
from watchdog.core.snapshot import Execution, Job, Origin, SensorKind, Snapshot

NAME = "feed-slipping"


@dataclass(frozen=True, slots=True)
class Limits:
    """How much may be missing."""

    share: float = limit(
        0.7,
        "1",
        "of what is asked for; wheels slip some per cent, people turn the flow down; project's choice",
        most=0.95,
    )
    over: float = limit(
        20, "mm", "where nothing moves; one pulse of a coarse sensor is 7; project's choice", least=5, most=1000
    )
    well: float = limit(
        300,
        "mm",
        "fed as asked before it counts as mended; a tangle lets go for less; project's choice",
        least=5,
        most=5000,
    )
    latency: float = limit(20, "s", "moves wait in the machine's queue for their turn; project's choice", most=300)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots; mm are counted from where the comparison began."""

    job: int | None = None
    by: str = ""  # who tells what is asked for: 'stream', 'plan' or 'positions'
    asked_from: float = 0.0  # mm: what that count showed where the comparison began
    asked: float = 0.0
    moved: float = 0.0
    counter: float = 0.0  # mm: the sensor's own count
    read_at: float = 0.0  # s, elapsed
    waiting: tuple[tuple[float, float, float], ...] = ()  # when, asked, moved: asked for, perhaps not made yet
    settled: float = 0.0  # asked for so long ago that it must have been made
    least: tuple[float, float] = (0.0, 0.0)  # asked, moved: where least was missing
    base: float = 0.0  # mm: share x asked - moved from which S counts
    told: bool = False
    slipped: float = 0.0  # asked for and settled, when half of the limit or more was last missing


_FRESH = Memory()
_APART = 2.0  # s between two points that are kept
_LEAP = 300.0  # mm asked for between two looks: the job was taken for another file till now; project's choice
_DRAWN = 20.0  # mm: more at once is no drawing back but a counter that began anew; common practice, no source
_HELD = (Execution.PAUSED, Execution.WAITING)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    sensors = of_kind(seen, SensorKind.FILAMENT_MOTION) if seen.sensors else ()
    fresh = memory if memory == _FRESH else _FRESH
    if not sensors:
        return fresh, UNKNOWN
    job, counter, read_at = seen.job, sensors[0].value, sensors[0].at
    if seen.active is False or job is None or seen.execution in _HELD or seen.waits_for_person:
        return fresh, ABSENT
    by, asked = _asked(seen, job)
    if seen.active is None or blind(seen) or counter is None or read_at is None or asked is None:
        return (memory if memory.told and memory.job == job.number else fresh), UNKNOWN  # what was told stays told
    most = limits.share * limits.over
    if _broken(memory, seen, (job.number, by), asked, counter):
        told = memory.told and memory.job == job.number
        base = -most if told else 0.0
        memory = Memory(job.number, by, asked, counter=counter, read_at=read_at, base=base, told=told)
    else:
        memory = _followed(limits, memory, (asked, counter), (seen.at, read_at))
    missing = limits.share * memory.settled - memory.moved - memory.base
    if memory.told and missing >= most / 2:
        memory = replace(memory, slipped=memory.settled)
    elif memory.told and memory.settled - memory.slipped >= limits.well:
        return Memory(job.number, by, asked, counter=counter, read_at=read_at), ABSENT
    if missing > most or (missing == most and not memory.told):
        # no more is kept: feeding that is well again is then known as well after so many mm
        memory = replace(memory, base=memory.base + missing - most, told=True, slipped=memory.settled)
    if not memory.told:
        return memory, ABSENT
    gone, went = memory.settled - memory.least[0], max(0.0, memory.moved - memory.least[1])
    percent = round(100 * went / gone) if gone > 0 else None
    return memory, Finding(True, {"asked_mm": round(gone), "moved_mm": round(went), "came_through_percent": percent})


def _asked(seen: Snapshot, job: Job) -> tuple[str, float | None]:
    """Who tells how much was asked for, and mm on a count that grows."""
    if job.origin is Origin.STREAMED:
        return "stream", seen.flowed
    if seen.needed is not None:
        return "plan", -seen.needed
    return "positions", seen.flowed or None


def _broken(memory: Memory, seen: Snapshot, which: tuple[int, str], asked: float, counter: float) -> bool:
    """The comparison cannot go on: another job, another witness of what is asked, a gap in sight, a count that jumped."""
    if (memory.job, memory.by) != which or memory.read_at < seen.sighted_since:
        return True
    came = asked - memory.asked_from - memory.asked
    return not -_DRAWN <= came <= _LEAP or counter < memory.counter - _DRAWN


def _followed(limits: Limits, memory: Memory, mm: tuple[float, float], times: tuple[float, float]) -> Memory:
    """`memory` after one more look; `mm`: asked for and the sensor's count, `times`: now and when that was read."""
    asked, counter = max(memory.asked, mm[0] - memory.asked_from), mm[1]
    now, read_at = times
    moved = memory.moved + counter - memory.counter
    waiting, settled, least, base = memory.waiting, memory.settled, memory.least, memory.base
    if asked > memory.asked and (not waiting or now - waiting[-1][0] >= _APART):
        waiting = (*waiting, (now, asked, moved))
    elif read_at == memory.read_at:
        return memory if asked == memory.asked else replace(memory, asked=asked)
    while waiting and waiting[0][0] <= read_at - limits.latency:
        (_, settled, then), waiting = waiting[0], waiting[1:]
        if limits.share * settled - then < base:
            base, least = limits.share * settled - then, (settled, then)
    return Memory(
        memory.job,
        memory.by,
        memory.asked_from,
        asked,
        moved,
        counter,
        read_at,
        waiting,
        settled,
        least,
        base,
        memory.told,
        memory.slipped,
    )
