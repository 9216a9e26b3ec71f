"""Heating stalled: a heater is well below its target and does not gain, or the machine says that heating failed.

Looks at  nozzle and bed, temperature against target (°C), and the machine's own report.
Present   once it is `below` the target and has gained less than `gain` in `nozzle_window` (`bed_window`), or, of a nozzle whose
          warm-ups in healthy jobs are known, less than `share` of what it usually gains; absent again when
          it gains twice that, or comes within half of `below`. Not while the machine waits for a person or is paused without
          power: some switch the heater off then and leave the target.
Urgent    when the machine reports it and has halted for it.
Because   sensor or heater is loose, and the machine may push full power into it.
"""

from dataclasses import dataclass, replace

from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.observations import FaultKind
from watchdog.core.sight import HALTS, broken_off, reported
from watchdog.core.snapshot import Execution, Heater, Snapshot

NAME = "heating-stalled"


@dataclass(frozen=True, slots=True)
class Limits:
    """How slowly a heater may warm up."""

    below: float = limit(10, "°C", "nearer the target control throttles; common practice, no source", least=3, most=100)
    gain: float = limit(
        2, "°C", "more than noise; as controllers' own guards do; common practice, no source", least=0.5, most=20
    )
    nozzle_window: float = limit(
        40, "s", "a 40 W block gains 3 °C a second from cold; project's choice", least=10, most=600
    )
    share: float = limit(
        0.25, "1", "of this machine's own usual heating rate (learn), far below the target; project's choice", most=0.9
    )
    bed_window: float = limit(
        90, "s", "a large bed gains 2 °C a minute and more; common practice, no source", least=20, most=1800
    )


@dataclass(frozen=True, slots=True)
class Trace:
    """What is remembered of one heater."""

    mark: float | None = None  # °C from which the gain is counted; None while nothing is followed
    mark_at: float = 0.0  # s, elapsed: reading of `mark`
    told: bool = False


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    nozzle: Trace = Trace()
    bed: Trace = Trace()


_CALM = Trace()
_FAR = 50.0  # °C below the target, where the stretch begins on which the usual rate is learnt
_MOST = 30.0  # °C: whatever is usual, who gains this in the window warms up; project's choice
_KINDS = (FaultKind.HEATING_FAILED, FaultKind.HEAT_MODEL)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    own = seen.usual.get("heating-rate")
    usual = 0.0 if own is None else limits.share * own.middle * limits.nozzle_window
    nozzle, nozzle_stalls = _follow(limits, memory.nozzle, seen.nozzle, seen, limits.nozzle_window, usual)
    bed, bed_stalls = _follow(limits, memory.bed, seen.bed, seen, limits.bed_window)
    if nozzle is not memory.nozzle or bed is not memory.bed:
        memory = Memory(nozzle, bed)
    if seen.faults and (told := reported(seen, _KINDS)) is not None:
        halted = any(fault.halted or fault.kind in HALTS for _, fault in seen.faults)
        return memory, replace(told, urgent=True) if halted else told
    if nozzle_stalls:
        return memory, Finding(True, _evidence("nozzle", seen.nozzle, nozzle))
    if bed_stalls:
        return memory, Finding(True, _evidence("bed", seen.bed, bed))
    if nozzle_stalls is None or (bed_stalls is None and (seen.bed.now is not None or seen.bed.target is not None)):
        return memory, UNKNOWN
    return memory, ABSENT


def _follow(
    limits: Limits, trace: Trace, heater: Heater, seen: Snapshot, window: float, usual: float = 0.0
) -> tuple[Trace, bool | None]:
    now, target, read_at = heater.now, heater.target, heater.at
    if now is None or target is None or read_at is None:
        return trace, None
    near = limits.below / 2 if trace.told else limits.below
    if now > target - near or target <= 0 or _let_go(heater, seen):
        return (trace if trace.mark is None else _CALM), False
    if trace.mark is None:
        return Trace(now, read_at), False
    # the usual rate is that of a warm-up: a nozzle that a fan has cooled comes back otherwise
    gain = max(limits.gain, min(usual, _MOST)) if trace.mark <= target - _FAR else limits.gain
    if trace.told:
        # twice what would have kept it quiet, so that noise does not take it back
        # and a slow climb, told by the usual rate, until the target is near: it would come and go
        back = gain == limits.gain and now >= trace.mark + 2 * gain
        return (Trace(now, read_at), False) if back else (trace, True)
    if now >= trace.mark + gain or broken_off(heater, trace.mark_at, window, seen):
        return Trace(now, read_at), False
    if read_at - trace.mark_at < window:
        return trace, False
    return Trace(trace.mark, trace.mark_at, told=True), True


def _let_go(heater: Heater, seen: Snapshot) -> bool:
    return seen.waits_for_person or (seen.execution is Execution.PAUSED and not heater.power)


def _evidence(name: str, heater: Heater, trace: Trace) -> Evidence:
    gained = None if heater.now is None or trace.mark is None else round(heater.now - trace.mark, 1)
    return {"heater": name, name: heater.now, "target": heater.target, "gained_c": gained, "power": heater.power}
