"""One job as a lesson about its machine: what each of its minutes shows, and what the whole of it says at its end."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Final, NamedTuple

from watchdog.core import melt
from watchdog.core.snapshot import Heater, Job, Snapshot
from watchdog.statistics.robust import sigma

MINUTE: Final = 60.0  # s
LONGEST: Final = frozenset({"unanswered", "progress-gap"})
"""subjects of which a job says the longest, since a condition waits longer than that. Of others: the median of its minutes"""
_MINUTES: Final = 240  # of one job; when they are full every second one makes room
_CLOSE: Final = 3.0  # °C from the target counts as held; our choice
_READINGS: Final = 10  # in a minute at the least, for the power at the target; our choice
_FLOWING: Final = 4  # such minutes in a job at the least; our choice


class Minute(NamedTuple):
    """The minute that is being counted."""

    since: float
    readings: int = 0
    power: float = 0.0
    """sum, % of the highest"""
    wavered: float = 0.0
    """sum of steps between readings, °C"""
    read_at: float | None = None
    unanswered: float = 0.0
    gap: float = 0.0
    held: melt.Held = melt.NONE


@dataclass(frozen=True, slots=True)
class Running:
    """The job that may teach."""

    number: int
    spoilt: bool = False
    minute: Minute | None = None
    moved_at: float | None = None
    found: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """values of its minutes so far, by subject; a single one of the longest ones"""
    spread: float = 0.0
    """see `melt.at_target`"""
    together: float = 0.0


def said(running: Running) -> dict[str, float]:
    """What a whole job says of each subject."""
    found = dict(running.found)
    powers, flows = found.pop("flow-power", ()), found.pop("flow", ())
    values = {subject: median(minutes) for subject, minutes in found.items()}
    if len(powers) >= _FLOWING:
        power, flow = median(powers), median(flows)
        off = [power - melt.due(own, fed, melt.MELTS, flow) for own, fed in zip(powers, flows, strict=True)]
        values |= {"flow": flow, "flow-power": power, "flow-noise": sigma(off)}
    return values


def followed(running: Running, job: Job, seen: Snapshot) -> Running:
    """The lesson after one more look, once a second."""
    if job.building_since is None:
        return running
    minute = running.minute
    if minute is None or minute.since < seen.sighted_since:
        return replace(running, minute=Minute(seen.at), moved_at=job.moved_at)
    if seen.at - minute.since >= MINUTE:
        running = _counted(running, minute, seen, seen.at - job.building_since)
        return replace(running, minute=Minute(seen.at), moved_at=job.moved_at)
    silent = 0.0 if seen.owed_since is None else seen.at - seen.owed_since
    gap = 0.0 if job.moved_at is None or running.moved_at is None else job.moved_at - running.moved_at
    minute = _read(minute, seen.nozzle)._replace(
        unanswered=max(minute.unanswered, silent, seen.answer_gap or 0.0),
        gap=max(minute.gap, gap),
        held=melt.read(minute.held, seen.nozzle),
    )
    return replace(running, minute=minute, moved_at=job.moved_at)


def _read(minute: Minute, nozzle: Heater) -> Minute:
    """The minute with one more reading of a held heat, if there is a new one."""
    now, target, power, top = nozzle.now, nozzle.target, nozzle.power, nozzle.power_top
    if now is None or not target or power is None or not top or nozzle.previous is None or nozzle.at == minute.read_at:
        return minute
    if abs(now - target) > _CLOSE:
        return minute
    return minute._replace(
        readings=minute.readings + 1,
        power=minute.power + 100 * power / top,
        wavered=minute.wavered + abs(now - nozzle.previous),
        read_at=nozzle.at,
    )


def _counted(running: Running, minute: Minute, seen: Snapshot, built: float) -> Running:
    """The job with one more minute, `built` s after its first plastic."""
    found, held, flow = running.found, minute.held, seen.flow_planned
    if minute.readings:
        found = _with(found, "holding-duty", minute.power / minute.readings)
        found = _with(found, "reading-noise", minute.wavered / minute.readings)
    if built > 2 * MINUTE:  # before that the longest silence may still be that of homing
        found = _with(found, "unanswered", minute.unanswered)
    if minute.gap:
        found = _with(found, "progress-gap", minute.gap)
    if held.readings >= _READINGS and seen.nozzle.target and seen.nozzle.target > melt.ROOM:
        spread, together = running.spread + held.spread, running.together + held.together
        running = replace(running, spread=spread, together=together)
        if flow is not None and flow >= melt.FLOWS and built >= melt.SETTLE + MINUTE:
            found = _with(found, "flow-power", melt.at_target(held, spread, together, seen.nozzle.target))
            found = _with(found, "flow", flow)
    return replace(running, found=found)


def _with(found: Mapping[str, tuple[float, ...]], subject: str, value: float) -> Mapping[str, tuple[float, ...]]:
    value = round(value, 6)
    if subject in LONGEST:
        return {**found, subject: (max((value, *found.get(subject, ()))),)}
    values = (*found.get(subject, ()), value)
    return {**found, subject: values if len(values) <= _MINUTES else values[::2]}
