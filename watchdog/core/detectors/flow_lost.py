"""Flow lost (an inference): the heater's power says that no plastic is melted, while the plan feeds it.

Looks at  power, reading and target of the nozzle, filament that the plan feeds (mm/s over the last minute, by the progress
          made, so that a speed knob is allowed for), and this machine's own power, flow and noise in past jobs (`usual`).
Present   once a CUSUM over blocks of `block` s passes its limit; absent again when the power is back, or the job ends or is
          held.
          Nobody can tell without a plan, without `learn`, in the first minutes, at a flow whose power the noise hides, and
          where more power is missing than the whole flow takes: a fan has gone off then, or the room has changed.
Because   a jam, a tangled or an empty spool prints air, and nothing else on the wire shows it.

What a job's own first blocks show is the level that later ones are held to, as far from the usual as past jobs lay apart: rooms
differ from day to day. The design follows Siegmund's approximation (see `statistics.run_length`), h = ln(2k²L)/2k - 1.166.
"""

from dataclasses import dataclass, replace
from math import log, sqrt
from statistics import median
from typing import NamedTuple

from watchdog.core import melt
from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.snapshot import Execution, Snapshot

NAME = "flow-lost"

_READINGS = 5  # in a block at the least: a poll every 5 s gives 6
_OWN = 6  # blocks of a job that make its own level; our choice
_MINUTE = 60.0  # s: noise is learnt by the minute
_FINEST = 0.004  # share of the level: no noise is taken for less; our choice
_SLACK = 0.5  # share of what a flow other than the usual takes that may be wrong; our choice
_MORE = 1.8  # times what the whole flow takes: more is missing than no flow explains; our choice
_SHARE = 0.6  # of the limit that one block can add: two are needed at the least


@dataclass(frozen=True, slots=True)
class Limits:
    """How sure it must be."""

    block: float = limit(
        30, "s", "a heater's power follows a loss of flow within it; project's choice", least=10, most=300
    )
    apart: float = limit(
        1000, "h", "of judged flow between false alarms, for noise that is normal and independent; project's choice",
        least=10, most=1e6,
    )  # fmt: skip
    wider: float = limit(
        1.2, "1", "times the learnt noise, since it is neither; from simulated jobs, see the manual", least=1, most=5
    )
    reference: float = limit(
        0.3, "1", "share of the flow's power whose loss is borne; from simulated jobs", least=0.1, most=0.9
    )
    least: float = limit(
        1.5,
        "1",
        "the flow's power in units of the noise from which it is judged; from simulated jobs",
        least=1,
        most=20,
    )


class Block(NamedTuple):
    """Power and flow of one block."""

    power: float
    """for each K above the room"""
    flow: float


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    job: int = 0
    target: float | None = None  # °C
    since: float | None = None  # s, elapsed: begin of the present block
    held: melt.Held = melt.NONE
    spread: float = 0.0  # see `melt.at_target`
    together: float = 0.0
    own: tuple[Block, ...] = ()  # the job's first ones
    missing: float = 0.0  # the CUSUM, in units of the noise
    told: bool = False
    last: Finding = UNKNOWN


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if seen.active is False:
        return (_FRESH if memory.job or memory.told else memory), ABSENT
    job, target = seen.job, seen.nozzle.target
    if seen.active is None or job is None:
        return memory, UNKNOWN
    if "flow-power" not in seen.usual or "flow-noise" not in seen.usual or seen.flow_planned is None:
        return (_FRESH if memory.job else memory), UNKNOWN
    if memory.job != job.number or memory.target != target:
        memory = Memory(job.number, target)
    if job.building_since is None or not target or target <= melt.ROOM:
        return memory, UNKNOWN
    if seen.execution is not Execution.BUILDING or job.held_since is not None:
        return replace(memory, since=None, missing=0.0, told=False, last=UNKNOWN), ABSENT
    began = memory.since
    if began is None or began < seen.sighted_since:
        return replace(memory, since=seen.at, held=melt.NONE), memory.last
    memory = replace(memory, held=melt.read(memory.held, seen.nozzle))
    if seen.at - began < limits.block:
        return memory, memory.last
    memory = _judged(limits, memory, seen, seen.at - job.building_since, target)
    return replace(memory, since=seen.at, held=melt.NONE), memory.last


def _judged(limits: Limits, memory: Memory, seen: Snapshot, built: float, target: float) -> Memory:
    held, flow = memory.held, seen.flow_planned
    if held.readings < _READINGS or flow is None:
        return replace(memory, last=memory.last if memory.told else UNKNOWN)
    spread, together = memory.spread + held.spread, memory.together + held.together
    memory = replace(memory, spread=spread, together=together)
    if built < melt.SETTLE + limits.block or flow < melt.FLOWS:
        return replace(memory, missing=0.0, told=False, last=UNKNOWN)
    block = Block(melt.at_target(held, spread, together, target), flow)
    if len(memory.own) < _OWN:
        memory = replace(memory, own=(*memory.own, block))
    return _compared(limits, memory, seen, block)


def _compared(limits: Limits, memory: Memory, seen: Snapshot, block: Block) -> Memory:
    level, flow, share = _level(memory, seen)
    noise = limits.wider * max(seen.usual["flow-noise"].middle * sqrt(_MINUTE / limits.block), _FINEST * level)
    takes = melt.taken(level, flow, share)
    whole = takes * block.flow / noise
    if whole < limits.least:
        return replace(memory, missing=0.0, told=False, last=UNKNOWN)
    due = melt.due(level, flow, share, block.flow) - _SLACK * takes * abs(block.flow - flow)
    lacks = (due - block.power) / noise
    if lacks > _MORE * whole + 3:
        return memory if memory.told else replace(memory, missing=0.0, last=UNKNOWN)
    reference = max(0.75, limits.reference * whole)
    most = max(0.5, log(2 * reference**2 * limits.apart * 3600 / limits.block) / (2 * reference) - 1.166)
    missing = min(2 * most, max(0.0, memory.missing + min(lacks - reference, _SHARE * most)))
    told = missing > (0.0 if memory.told else most)
    evidence = {
        "planned_mm_s": round(block.flow, 2),
        "power_short_percent": round(100 * (1 - block.power / melt.due(level, flow, share, block.flow)), 1),
        "flow_takes_percent": round(100 * takes * block.flow / melt.due(level, flow, share, block.flow), 1),
        "jobs": seen.usual["flow-power"].jobs,
    }
    return replace(memory, missing=missing, told=told, last=Finding(True, evidence) if told else ABSENT)


def _level(memory: Memory, seen: Snapshot) -> tuple[float, float, float]:
    """The power that is usual, at which flow, and the share that melts, once the job has blocks of its own by these."""
    power, flow = seen.usual["flow-power"], seen.usual["flow"].middle
    share = seen.usual["melt-share"].middle
    if len(memory.own) < _OWN:
        return power.middle, flow, share
    here = median(block.flow for block in memory.own)
    due = melt.due(power.middle, flow, share, here)
    own = median(block.power for block in memory.own)
    return min(max(own, due - power.spread), due + power.spread), here, share
