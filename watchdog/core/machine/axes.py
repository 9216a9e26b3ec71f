"""The machine's axes, from what is remembered: `execution` and `hotend`. Lost data makes `unavailable`, never `ready`."""

from watchdog.core.effects import StateChanged
from watchdog.core.machine import heat, jobs
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.limits import Limits
from watchdog.core.machine.memory import Memory
from watchdog.core.snapshot import Execution, Hotend, Link, Source


def execution(limits: Limits, seen: Draft | Memory, now: float) -> Execution:
    """What the machine is doing, as far as is known."""
    sight = seen.sight
    if sight.link is not Link.AVAILABLE or sight.doubt or seen.heard is None:
        return Execution.UNAVAILABLE
    patience = limits.unheard_serial if seen.source is Source.SERIAL else limits.unheard_listening
    if now - max(seen.heard, sight.since) > patience:
        return Execution.UNAVAILABLE
    job = seen.job
    if job is not None and job.ended is None:
        if seen.wait is not None:
            return Execution.WAITING
        if seen.hold is not None:
            return Execution.PAUSED
        return Execution.PREPARING if job.building_since is None else Execution.BUILDING
    if not sight.known:
        return Execution.UNAVAILABLE
    return Execution.WAITING if seen.wait is not None else seen.axes.rest


def hotend(limits: Limits, seen: Draft | Memory, now: float) -> Hotend:
    """How hot the nozzle is; `unknown` while the link is not there."""
    if seen.sight.link is not Link.AVAILABLE:
        return Hotend.UNKNOWN
    return heat.hotend(limits, seen, now)


def settle(draft: Draft) -> None:
    """Bring the axes in line with the rest of the memory, and tell what changed."""
    jobs.reconcile(draft)
    before = draft.axes
    does = execution(draft.limits, draft, draft.now)
    if does is not before.execution:
        draft.axes = before._replace(execution=does, since=draft.now)
        draft.effects.append(StateChanged(draft.at, "execution", before.execution.value, does.value))
        draft.judge = True
    settle_hotend(draft)


def settle_hotend(draft: Draft) -> None:
    """The same for the hot end alone: most lines change nothing else."""
    before = draft.axes.hotend
    nozzle = hotend(draft.limits, draft, draft.now)
    if nozzle is not before:
        draft.axes = draft.axes._replace(hotend=nozzle)
        draft.effects.append(StateChanged(draft.at, "hotend", before.value, nozzle.value))
