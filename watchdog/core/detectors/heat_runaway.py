"""Heat runaway: a heater rises although it is off, climbs or stays above its target, or the machine says so.

Looks at  nozzle and bed, temperature against target (°C), power, and the machine's own report of a runaway, or of its upper
          limit where the reading had climbed to it; and a mains meter, where there is one.
Present   at `rise` above the lowest since the target became 0, told from overshoot by `after_off` and from the bed's warmth
          by `warm` and `beside`, in two readings in a row; once it has climbed away from the target that it was at, by
          `far` or against power 0 (`core.climb`); or once `over` above a target without falling for `nozzle_window`
          (`bed_window`); or once the mains show a heater's power with all of them off, and one does not fall for
          `bed_window` (`core.stuck`). Absent again when it has fallen by `rise`, or is within half of `over` again. A
          report stands until the controller restarts or a job begins. A reading that leaps there at once is a sensor's, and
          tells nothing of the heat until it climbs on by `rise`.
Because   a heater that is stuck on is a fire and burn hazard.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

from watchdog.core import stuck
from watchdog.core.climb import Climb, Rules
from watchdog.core.climb import follow as climbed
from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.observations import FaultKind
from watchdog.core.sight import broken_off, leapt, ran_up, reported
from watchdog.core.snapshot import Heater, Snapshot

NAME = "heat-runaway"


@dataclass(frozen=True, slots=True)
class Limits:
    """When heat counts as out of control."""

    rise: float = limit(
        10, "°C", "above the lowest while off; more than a block's own lag; project's choice", least=5, most=50
    )
    after_off: float = limit(
        30, "s", "heat in the cartridge still reaches the sensor; common practice, no source", most=300
    )
    warm: float = limit(
        60, "°C", "room, sun and enclosure explain less than this; project's choice", least=30, most=150
    )
    beside: float = limit(
        10, "°C", "a nozzle parked over a hot bed warms, but not beyond it; project's choice", most=100
    )
    over: float = limit(
        15, "°C", "above the target; well past the overshoot of control; project's choice", least=8, most=100
    )
    far: float = limit(
        25,
        "°C",
        "3 °C a second and heat that is up to 6 s on its way overshoot by 18; project's choice",
        least=10,
        most=100,
    )
    coast: float = limit(
        10,
        "s",
        "with power 0: heat on its way has arrived, and the block falls; common practice, no source",
        least=5,
        most=120,
    )
    bed_coast: float = limit(90, "s", "the same of a thick plate; common practice, no source", least=20, most=1800)
    gain: float = limit(3, "°C", "in `coast`: more than noise; project's choice", least=1, most=20)
    nozzle_fall: float = limit(1, "°C", "in `nozzle_window`; less is noise; project's choice", least=0.3, most=10)
    nozzle_window: float = limit(
        20, "s", "a nozzle left to cool at 150 °C with a slow time constant of 20 min falls 2 °C", least=5, most=600
    )
    bed_fall: float = limit(0.5, "°C", "in `bed_window`; less is noise; project's choice", least=0.2, most=10)
    bed_window: float = limit(
        120, "s", "a bed 15 °C above the room with a slow time constant of 1 h falls 0.5 °C", least=20, most=3600
    )
    missing: float = limit(30, "s", "after a longer gap between readings the rise is followed anew", least=5, most=600)
    untold: float = limit(10, "s", "a target older than the reading may have been changed unseen", least=2, most=600)


@dataclass(frozen=True, slots=True)
class Trace:
    """What is remembered of one heater."""

    low: float | None = None  # °C: the lowest since it is followed; None while nothing needs to be followed
    low_at: float = 0.0  # s, elapsed: reading of `low`
    top: float | None = None  # °C: the highest since it was told; None while it is not told
    climb: Climb | None = None  # away from its target
    held: stuck.Held | None = None  # hot, off, and drawing power by the mains meter
    leapt: bool = False  # `low` is a reading that no heat can have made


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    nozzle: Trace = Trace()
    bed: Trace = Trace()
    ran_up: bool | None = None  # what the controller's report of its upper limit means; None while there is none


_CALM = Trace()
_KINDS = (FaultKind.RUNAWAY,)
_LIMIT = (FaultKind.RUNAWAY, FaultKind.SENSOR_HIGH, FaultKind.SENSOR)


@lru_cache(maxsize=16)
def _ways(limits: Limits) -> tuple[Rules, Rules]:
    """How a climb is judged, of the nozzle and of the bed."""
    nozzle = Rules(limits.far, limits.coast, limits.gain, limits.missing)
    return nozzle, nozzle._replace(coast=limits.bed_coast)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    bed_now = seen.bed.now
    beside = limits.warm if bed_now is None else max(limits.warm, bed_now + limits.beside)
    ways = _ways(limits)
    nozzle, nozzle_runs = _follow(
        limits, memory.nozzle, seen.nozzle, seen, limits.nozzle_window, limits.nozzle_fall, beside, ways[0]
    )
    bed, bed_runs = _follow(
        limits, memory.bed, seen.bed, seen, limits.bed_window, limits.bed_fall, limits.warm, ways[1]
    )
    draws = stuck.contradicted(seen)
    held = stuck.Rules(beside, limits.nozzle_fall, limits.bed_window, limits.missing)
    nozzle, nozzle_runs = _stuck(limits, nozzle, nozzle_runs, seen.nozzle, seen, draws, held)
    held = held._replace(floor=limits.warm, fall=limits.bed_fall)
    bed, bed_runs = _stuck(limits, bed, bed_runs, seen.bed, seen, draws, held)
    up = ran_up(seen, memory.ran_up) if seen.faults else None
    if nozzle is not memory.nozzle or bed is not memory.bed or up is not memory.ran_up:
        memory = Memory(nozzle, bed, up)
    if seen.faults and (told := reported(seen, _LIMIT if up else _KINDS)) is not None:
        return memory, told
    if nozzle_runs:
        return memory, Finding(True, _evidence("nozzle", seen.nozzle, nozzle, seen))
    if bed_runs:
        return memory, Finding(True, _evidence("bed", seen.bed, bed, seen))
    if nozzle_runs is None or (bed_runs is None and (bed_now is not None or seen.bed.target is not None)):
        return memory, UNKNOWN
    return memory, ABSENT


def _stuck(
    limits: Limits, trace: Trace, runs: bool | None, heater: Heater, seen: Snapshot, draws: bool, rules: stuck.Rules
) -> tuple[Trace, bool | None]:
    """What the mains meter adds to an answer that is not yet present."""
    if runs or not draws or _untold(limits, heater, seen):
        return (trace if trace.held is None else replace(trace, held=None)), runs
    held, is_stuck = stuck.follow(rules, trace.held, heater, seen)
    if is_stuck and heater.now is not None and held is not None:
        low = held.heat if trace.low is None else min(trace.low, held.heat)
        return Trace(low, held.since, heater.now), True
    return (trace if held == trace.held else replace(trace, held=held)), runs


def _follow(
    limits: Limits, trace: Trace, heater: Heater, seen: Snapshot, window: float, fall: float, warm: float, rules: Rules
) -> tuple[Trace, bool | None]:
    now, target, read_at = heater.now, heater.target, heater.at
    if now is None or target is None or read_at is None:
        # Two reports at once after a gap look like no gap, so what was followed up to it ends here already.
        return (trace if trace == _CALM or trace.top is not None else _CALM), None
    if trace.top is not None:
        if now <= trace.top - limits.rise or (target > 0 and now < target + limits.over / 2):
            return _CALM, False
        return (trace if now <= trace.top else replace(trace, top=now)), True
    if _untold(limits, heater, seen):
        above = target == 0 or now >= target + limits.over
        return (_CALM, None) if above else (trace if trace == _CALM else _CALM, False)
    climb, runs = climbed(rules, trace.climb, heater)
    if climb is not trace.climb:
        trace = replace(trace, climb=climb)
    if runs:
        low = trace.low if trace.low is not None else now
        return Trace(low, trace.low_at, now, climb), True
    if target > 0 and now < target + limits.over:
        return (trace if trace.low is None else Trace(climb=climb)), False
    return _above(limits, trace, heater, seen, window, fall, warm)


def _above(
    limits: Limits, trace: Trace, heater: Heater, seen: Snapshot, window: float, fall: float, warm: float
) -> tuple[Trace, bool | None]:
    """`over` above a target, or off."""
    now, target, read_at = heater.now, heater.target, heater.at
    assert now is not None
    assert read_at is not None
    # Of an off heater the higher of two readings makes the lowest, the lower one the rise: a damaged line makes neither.
    before = now if target else heater.previous
    if before is None:
        return trace, False
    if leapt(heater) and now > (heater.previous or 0.0) and not (trace.leapt and trace.low_at == read_at):
        return replace(trace, low=now, low_at=read_at, leapt=True), None
    if trace.low is None or broken_off(heater, trace.low_at, limits.missing, seen):
        return replace(trace, low=max(now, before), low_at=read_at, leapt=False), False
    if trace.leapt:
        return _after_leap(limits, trace, heater)
    if target:
        if now <= trace.low - fall:
            return replace(trace, low=now, low_at=read_at), False
        if read_at - trace.low_at < window:
            return trace, False
    else:
        just_off = heater.target_since is not None and read_at - heater.target_since < limits.after_off
        low, high = max(now, before), min(now, before)
        if low < trace.low or just_off:
            return replace(trace, low=low, low_at=read_at), False
        if high < trace.low + limits.rise or high < warm:
            return trace, False
    return replace(trace, top=now), True


def _after_leap(limits: Limits, trace: Trace, heater: Heater) -> tuple[Trace, bool | None]:
    """Where a sensor leapt to, it is not believed, unless it climbs on from there as heat does, or comes back down."""
    now, before, read_at = heater.now, heater.previous, heater.at
    if now is None or before is None or read_at is None or trace.low is None:
        return trace, None
    if max(now, before) <= trace.low - limits.rise:
        return _CALM, False
    if min(now, before) >= trace.low + limits.rise:
        return replace(trace, low=now, low_at=read_at, leapt=False), False
    return trace, None


def _untold(limits: Limits, heater: Heater, seen: Snapshot) -> bool:
    """The target is not the one that the machine follows now: some leave it out while they wait for heat."""
    if heater.target_at is not None:
        job = seen.job
        if job is not None and job.ended is None and heater.target_at < job.started:
            return True  # the job's own first orders have set another one
        if heater.at is None or heater.at - heater.target_at > limits.untold:
            return heater.at is not None
        if heater.at <= heater.target_at:
            return False  # told with this reading, or commanded since; else left out, perhaps while it waits for heat
    if heater.target != 0 or not seen.heating_up:
        return False
    # it heats and says that this one is off: unless the other one is what it waits for, the target has not been told
    return not any(_short(other) for other in (seen.nozzle, seen.bed))


def _short(heater: Heater) -> bool:
    return heater.now is not None and heater.target is not None and heater.now < heater.target - 2


def _evidence(name: str, heater: Heater, trace: Trace, seen: Snapshot) -> Evidence:
    told = {"heater": name, name: heater.now, "target": heater.target, "lowest_c": trace.low, "power": heater.power}
    drawn = stuck.watts(seen)
    return told if drawn is None else {**told, "mains_w": drawn}
