"""Hot idle: the nozzle stands hot with plastic in it, and no job runs.

Looks at  nozzle temperature and target (°C), execution, heating up, filament fed (mm).
Present   once the heat dose reaches `dose`, never before `floor` and at the latest after `cap` of heat; absent again when
          the nozzle is no longer hot, when its heater is off and it cools, and when a job becomes active.
Because   plastic that stays molten degrades, browns and clogs.

The dose (`core.dose`) is summed by trapezium from reading to reading; a gap between two readings counts as if it had
stayed hot. A flow thins it out; a job that builds starts it anew. What it gained while heating up for a job, and before it
was last cold, is told but not held against anybody.
"""

from dataclasses import dataclass, replace
from math import pi

from watchdog.core.dose import Kinetics, gained, purge, share_left
from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Execution, Hotend, Snapshot

NAME = "hot-idle"

_FALL = 0.5  # °C: a nozzle that cools on its own loses this in seconds, also one with a heavy block
_FALLS_WITHIN = 60.0  # s
_STEP = 40.0  # °C between two readings, and
_SLOPE = 10.0  # °C/s: no nozzle changes this fast. A damaged line (a lost dot or digit) then adds nothing to the dose


@dataclass(frozen=True, slots=True)
class Limits:
    """When a hot nozzle is told. The defaults of the material are PLA's."""

    dose: float = limit(
        10, "equivalent min", "normal moulding dwell is 2 to 9 min; project's choice", least=1, most=500
    )
    floor: float = limit(300, "s", "a question in class may come in between; common practice, no source", most=3600)
    cap: float = limit(
        1200, "s", "however cool the setback, nobody wants the heat; common practice, no source", most=1e5
    )
    preparing: float = limit(1200, "s", "a large bed takes 12 min to heat; common practice, no source", most=1e5)
    activation: float = limit(
        119, "kJ/mol", "PLA, 28.5 kcal/mol: McNeill & Leiper 1985, Polym. Degrad. Stab.", least=20, most=400
    )
    reference: float = limit(200, "°C", "usual nozzle temperature of the material", least=100, most=450)
    glass_transition: float = limit(
        60, "°C", "below it nothing flows; PLA 55 to 65, resin data sheets", least=-80, most=250
    )
    slack: float = limit(5, "°C", "noise of a reading, so that it does not come and go", least=0.5, most=50)
    filament: float = limit(1.75, "mm", "diameter of the usual filament", least=1, most=4)
    melt_volume: float = limit(62.83, "mm³", "2 mm bore, 20 mm of melt; typical, no source", least=5, most=1000)
    purge_from: float = limit(
        30, "equivalent min", "three times the first message; project's choice", least=1, most=5000
    )
    inspect_from: float = limit(120, "equivalent min", "twelve times; project's choice", least=1, most=5000)
    left_on_from: float = limit(
        480, "equivalent min", "8 h at the usual temperature; project's choice", least=1, most=5000
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    dose: float = 0.0  # equivalent min in the plastic that is in the nozzle now
    forgiven: float = 0.0  # equivalent min of it that are not held against the present idle
    hot_since: float | None = None  # s, elapsed: begin of the present heat without a job
    reading: float | None = None  # °C: the last one counted
    reading_at: float | None = None
    flowed: float = 0.0  # mm of filament when last looked
    fed_from: float = 0.0  # mm of filament when `hot_since` was set
    low: float | None = None  # °C: the lowest since the heater is off
    low_at: float = 0.0


_FRESH = Memory()
_NO_JOB = (
    Execution.READY,
    Execution.PAUSED,
    Execution.WAITING,
    Execution.STOPPED,
    Execution.COMPLETE,
    Execution.FAULTED,
)


def kinetics(limits: Limits) -> Kinetics:
    """The plastic's kinetics among the limits."""
    return Kinetics(limits.activation, limits.reference, limits.glass_transition)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if seen.execution is Execution.BUILDING:
        return (_FRESH if memory.reading_at is not None or memory.dose else memory), ABSENT
    now, read_at = seen.nozzle.now, seen.nozzle.at
    if now is None or read_at is None or seen.hotend is Hotend.UNKNOWN or _steps(memory, now, read_at):
        return memory, UNKNOWN
    if now < (seen.melts_at if memory.hot_since is None else seen.melts_at - limits.slack):
        if memory.hot_since is not None:
            memory = Memory(dose=memory.dose, forgiven=memory.dose)
        return memory, ABSENT
    if seen.execution is Execution.UNAVAILABLE:
        return memory, UNKNOWN
    memory = _follow(limits, memory, seen, now, read_at)
    if not _stands(limits, memory, seen, now):
        return memory, ABSENT
    hot_for = seen.at - (memory.hot_since or 0.0)
    judged = memory.dose - memory.forgiven
    if hot_for < limits.cap and (hot_for < limits.floor or judged < limits.dose):
        return memory, ABSENT
    return memory, Finding(True, _evidence(limits, memory, seen, now, hot_for))


def _steps(memory: Memory, now: float, read_at: float) -> bool:
    if memory.reading is None or memory.reading_at is None:
        return False
    return abs(now - memory.reading) >= max(_STEP, _SLOPE * (read_at - memory.reading_at))


def _follow(limits: Limits, memory: Memory, seen: Snapshot, now: float, read_at: float) -> Memory:
    """Count the time since the last reading, and the flow."""
    if memory.hot_since is None or memory.reading is None or memory.reading_at is None:
        begun = replace(memory, hot_since=read_at, reading=now, reading_at=read_at)
        return _cooling(replace(begun, flowed=seen.flowed, fed_from=seen.flowed), seen, now, read_at)
    if read_at == memory.reading_at and seen.flowed == memory.flowed:
        return _cooling(memory, seen, now, read_at)
    more = gained(kinetics(limits), max(0.0, read_at - memory.reading_at), memory.reading, now)
    area = pi * limits.filament**2 / 4  # mm²
    left = share_left(area * max(0.0, seen.flowed - memory.flowed), limits.melt_volume)
    forgiven = memory.forgiven + (more if _warms_for_a_job(limits, memory, seen) else 0.0)
    # once the melt has been replaced its time starts anew
    fresh = area * (seen.flowed - memory.fed_from) >= limits.melt_volume
    memory = replace(
        memory,
        dose=(memory.dose + more) * left,
        forgiven=forgiven * left,
        hot_since=read_at if fresh else memory.hot_since,
        reading=now,
        reading_at=read_at,
        flowed=seen.flowed,
        fed_from=seen.flowed if fresh else memory.fed_from,
    )
    return _cooling(memory, seen, now, read_at)


def _cooling(memory: Memory, seen: Snapshot, now: float, read_at: float) -> Memory:
    if seen.nozzle.target != 0:
        return memory if memory.low is None else replace(memory, low=None, low_at=0.0)
    if memory.low is None or now <= memory.low - _FALL:
        return replace(memory, low=now, low_at=read_at)
    return memory


def _prepares_too_long(limits: Limits, memory: Memory, seen: Snapshot) -> bool:
    """At its target all that time, and the job still does not build."""
    now, target = seen.nozzle.now, seen.nozzle.target
    if target is not None and (target <= 0 or now is None or now < target - limits.slack):
        return False
    return seen.at - max(seen.execution_since, memory.hot_since or 0.0) >= limits.preparing


def _warms_for_a_job(limits: Limits, memory: Memory, seen: Snapshot) -> bool:
    if seen.execution is Execution.PREPARING:
        return not _prepares_too_long(limits, memory, seen)
    return seen.heating_up is True


def _stands(limits: Limits, memory: Memory, seen: Snapshot, now: float) -> bool:
    """Nobody uses the heat, and nobody has switched it off."""
    if memory.low is not None and seen.at - memory.low_at < _FALLS_WITHIN and now < memory.low + limits.slack:
        return False
    return seen.execution in _NO_JOB or _prepares_too_long(limits, memory, seen)


def _evidence(limits: Limits, memory: Memory, seen: Snapshot, now: float, hot_for: float) -> Evidence:
    dose, amount = memory.dose, round(purge(memory.dose, limits.melt_volume))
    advice = "cool or start"
    if dose >= limits.left_on_from:
        advice = "left on"
    elif dose >= limits.inspect_from:
        advice = "inspect the nozzle"
    elif dose >= limits.purge_from:
        advice = f"purge {amount} mm³"
    return {
        "nozzle": round(now, 1),
        "target": seen.nozzle.target,
        "hot_for_s": round(hot_for),
        "dose_min": round(dose, 1),
        "advice": advice,
        "purge_mm3": amount,
    }
