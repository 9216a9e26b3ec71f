"""Temperature implausible: a sensor says what cannot be, or the machine calls it broken.

Looks at  nozzle and bed readings (°C), one after the other, heater power, damaged lines, and the machine's own report.
Present   when two readings in a row lie outside what a sensor can mean; when a reading leaps up by `rises` a second or falls
          by `falls` a second and the next one confirms it, or single ones stand out `slips` times within `slips_within`;
          when a reading repeats to the last digit for `frozen` while the power changes; or when reported. Absent again after
          `settle` of plausible readings. One odd reading alone may be a damaged line: those carry no checksum. Where lines
          are damaged (one in the last `noisy`) no number of single ones proves more.
          A reported upper limit that the reading had climbed to is a runaway, and no broken sensor.
Because   control is lost: the block may be heating unseen.
"""

from dataclasses import dataclass, replace

from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.observations import FaultKind
from watchdog.core.sight import leapt, ran_up, reported
from watchdog.core.snapshot import Heater, Snapshot

NAME = "temperature-implausible"


@dataclass(frozen=True, slots=True)
class Limits:
    """What a sensor can mean."""

    lowest: float = limit(
        -9, "°C", "no workroom is this cold; open sensors read lower; common practice", least=-40, most=0
    )
    highest: float = limit(
        500, "°C", "no hot end gets there; broken sensors read higher; common practice", least=250, most=2000
    )
    rises: float = limit(
        13, "°C/s", "a heater of this kind makes 3 °C a second, a light block 5; project's choice", least=6, most=100
    )
    falls: float = limit(
        6, "°C/s", "a fan on the block takes 54 W at 205 °C, 5.4 °C a second of 10 J/K", least=3, most=100
    )
    slips: int = limit(3, "1", "a loose contact shows again, a damaged line hardly; project's choice", least=2, most=20)
    slips_within: float = limit(60, "s", "the time in which they are counted; project's choice", least=5, most=3600)
    noisy: float = limit(
        600, "s", "after a damaged line: one in some minutes, and digits are hit as well; project's choice", most=86400
    )
    frozen: float = limit(300, "s", "a live sensor wavers in its last digit; project's choice", least=60, most=7200)
    swing: float = limit(
        10, "%", "of full power: control works against what it reads; project's choice", least=2, most=100
    )
    settle: float = limit(
        60, "s", "of plausible readings before it counts as over; project's choice", least=5, most=3600
    )


@dataclass(frozen=True, slots=True)
class Trace:
    """What is remembered of one sensor. Times are those of readings."""

    lived: bool = False  # it has told something plausible: it is fitted
    bad_at: float | None = None  # the last proof
    why: str = ""
    doubt_at: float | None = None  # a reading that jumped and is not confirmed yet
    doubt_from: float = 0.0  # °C before it
    judged_at: float | None = None  # the reading that settled a doubt
    slips: tuple[float, ...] = ()  # single readings that stood out
    same_since: float | None = None
    power_low: int = 0
    power_high: int = 0
    doubt: float = 0.0  # °C: the doubted reading
    apart_at: float | None = None  # a reading that differs, too long after the one before it to be called a leap


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    nozzle: Trace = Trace(lived=True)  # every machine has one
    bed: Trace = Trace()
    ran_up: bool | None = None  # what the controller's report of its upper limit means; None while there is none
    damaged: int = 0  # lines, as last seen
    damaged_at: float | None = None  # s, elapsed: when their number last grew


_KINDS = (FaultKind.SENSOR_LOW, FaultKind.SENSOR_HIGH, FaultKind.SENSOR)
_LOW = (FaultKind.SENSOR_LOW,)
_LEAPT = "jumped"
_APART = 40.0  # °C: what differs so much over a long gap may be odd; the way back from it proves nothing
_FULL_SCALE = 100  # as printed: full power is 127 or 255; a highest power below this has not shown the scale


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    damaged, damaged_at = memory.damaged, memory.damaged_at
    if seen.damaged != damaged:
        damaged, damaged_at = seen.damaged, seen.at if seen.damaged > damaged else damaged_at
    noisy = damaged_at is not None and seen.at - damaged_at < limits.noisy
    nozzle, bed = _follow(limits, memory.nozzle, seen.nozzle, noisy), _follow(limits, memory.bed, seen.bed, noisy)
    up = ran_up(seen, memory.ran_up) if seen.faults else None
    kept = (nozzle, bed, up, damaged, damaged_at)
    if any(after is not before for after, before in zip(kept, _parts(memory), strict=True)):
        memory = Memory(*kept)
    if seen.faults and (told := reported(seen, _LOW if up else _KINDS)) is not None:
        return memory, told
    if nozzle.bad_at is not None and seen.nozzle.now is not None:
        return memory, Finding(True, _evidence("nozzle", seen.nozzle, nozzle))
    if bed.bad_at is not None and seen.bed.now is not None:
        return memory, Finding(True, _evidence("bed", seen.bed, bed))
    if seen.nozzle.now is None or (seen.bed.now is None and (bed.bad_at is not None or seen.bed.target)):
        return memory, UNKNOWN
    return memory, ABSENT


def _parts(memory: Memory) -> tuple[object, ...]:
    return memory.nozzle, memory.bed, memory.ran_up, memory.damaged, memory.damaged_at


def _follow(limits: Limits, trace: Trace, heater: Heater, noisy: bool) -> Trace:
    now, at = heater.now, heater.at
    if now is None or at is None:
        return trace
    before, before_at = heater.previous, heater.previous_at
    if now <= limits.lowest or now >= limits.highest:
        fitted = trace.lived or bool(heater.target)
        again = before is not None and (before <= limits.lowest or before >= limits.highest)
        return replace(trace, bad_at=at, why="outside its range") if again and fitted and trace.bad_at != at else trace
    if not trace.lived:
        trace = replace(trace, lived=True)
    if trace.bad_at is not None and at - trace.bad_at >= limits.settle:
        trace = replace(trace, bad_at=at) if _still_away(trace, heater, now) else replace(trace, bad_at=None, why="")
    if trace.doubt_at is not None:
        return trace if at <= trace.doubt_at else _settled(limits, trace, now, at, noisy)
    if before is None or before_at is None:
        return trace
    if trace.same_since is not None or now == before:
        trace = _repeated(limits, trace, heater, at, before_at)
    if at == trace.judged_at:
        return trace
    if not leapt(heater, limits.rises, limits.falls):
        most = _APART if heater.target else _APART / 2  # what is off does not warm up
        odd = abs(now - before) >= _APART or now - before >= most or leapt(heater, limits.falls, limits.falls)
        return trace if not odd or trace.apart_at == at else replace(trace, apart_at=at)
    if before <= limits.lowest or before >= limits.highest or before_at == trace.apart_at:
        return trace  # back from one odd reading
    return replace(trace, doubt_at=at, doubt_from=before, doubt=now)


def _still_away(trace: Trace, heater: Heater, now: float) -> bool:
    """It leapt from a target that is still asked for, and has not come back: what it tells now is the room, or nothing."""
    if trace.why != _LEAPT or not heater.target or trace.bad_at is None:
        return False
    if heater.target_since is not None and heater.target_since > trace.bad_at:
        return False
    return abs(now - trace.doubt_from) >= abs(trace.doubt - trace.doubt_from) / 2


def _settled(limits: Limits, trace: Trace, now: float, at: float, noisy: bool) -> Trace:
    """The reading after a leap: it confirms the leap, or shows that a single reading stood out."""
    calm = replace(trace, doubt_at=None, judged_at=at)
    if abs(now - trace.doubt_from) >= abs(trace.doubt - trace.doubt_from) / 2:
        return replace(calm, bad_at=at, why=_LEAPT)
    if noisy:
        return replace(calm, slips=())
    slips = (*(slip for slip in trace.slips if at - slip < limits.slips_within), trace.doubt_at or at)
    if len(slips) >= limits.slips:
        return replace(calm, slips=(), bad_at=at, why="stands out again and again")
    return replace(calm, slips=slips)


def _repeated(limits: Limits, trace: Trace, heater: Heater, at: float, before_at: float) -> Trace:
    power, top = heater.power, heater.power_top
    if heater.now != heater.previous or not heater.target or power is None or not top or top < _FULL_SCALE:
        return trace if trace.same_since is None else replace(trace, same_since=None)
    if trace.same_since is None:
        return replace(trace, same_since=before_at, power_low=power, power_high=power)
    same_for = at - trace.same_since
    if not trace.power_low <= power <= trace.power_high:
        trace = replace(trace, power_low=min(power, trace.power_low), power_high=max(power, trace.power_high))
    swings = 100 * (trace.power_high - trace.power_low) >= limits.swing * top
    if swings and same_for >= limits.frozen and trace.bad_at != at:
        return replace(trace, bad_at=at, why="repeats to the last digit")
    return trace


def _evidence(name: str, heater: Heater, trace: Trace) -> Evidence:
    return {"sensor": name, name: heater.now, "before_c": heater.previous, "why": trace.why, "target": heater.target}
