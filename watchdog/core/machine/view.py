"""The memory as the detectors see it."""

from watchdog.core.machine import axes, heat, wire
from watchdog.core.machine.limits import Limits
from watchdog.core.machine.memory import Memory, Progress
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Execution, Heater, Job, Link, Snapshot


def snapshot(limits: Limits, memory: Memory, at: Moment) -> Snapshot:
    """What is known at `at`. Readings too old to stand for the present, or of a blind time, come as None."""
    now = at.elapsed
    sight, feed, wait, chosen = memory.sight, memory.feed, memory.wait, memory.chosen
    does = axes.execution(limits, memory, now)
    job = memory.job
    active = None if does is Execution.UNAVAILABLE else job is not None and job.ended is None
    linked = sight.link is Link.AVAILABLE
    return Snapshot(
        now,
        at.stamp,
        memory.source,
        sight.link,
        sight.link_since,
        does,
        memory.axes.since if does is memory.axes.execution else now,
        axes.hotend(limits, memory, now),
        sight.since,
        limits.melts_at,
        _shown(limits, memory, memory.nozzle, linked, now),
        _shown(limits, memory, memory.bed, linked, now),
        None if job is None else _merged(job, memory.progress),
        active,
        heat.heating_up(limits, memory, now) if linked else None,
        memory.heard,
        wire.owed_since(memory),
        wire.unanswered(limits, memory, now) if memory.owed else 0,
        memory.beat.usual,
        wire.blocking_since(memory) if memory.owed else None,
        wait is not None,
        None if wait is None else wait.since,
        wait is not None and wait.planned,
        feed.flow_at,
        feed.flowed,
        feed.in_place,
        memory.restart.at,
        memory.restart.cause,
        memory.restart.broke,
        memory.faults,
        memory.resends,
        memory.stream.numbered,
        memory.marks.byte_fell_at,
        memory.marks.card_gone_at,
        heat.last_hot(limits, memory),
        None if chosen is None else chosen.at,
        slept_at=memory.marks.slept_at,
        slept=memory.marks.slept,
        answer_gap=memory.beat.owing,
        dwells=memory.stream.dwells,
    )


def _shown(limits: Limits, memory: Memory, heater: Heater, linked: bool, now: float) -> Heater:
    if heater.now is None or (linked and not heat.stale(limits, memory.source, heater, now)):
        return heater
    return Heater(
        None, heater.target, None, heater.power_top, heater.at, heater.previous, heater.previous_at,
        heater.target_since, heater.target_at,
    )  # fmt: skip


def _merged(job: Job, progress: Progress) -> Job:
    """The job with its fast-moving part."""
    return Job(
        job.number, job.origin, job.file, job.size, job.started, job.started_stamp, progress.done, progress.moved_at,
        job.building_since, job.held_since, job.held, progress.heating, job.ended, job.ending, job.percent, job.left,
        job.left_at, job.expected, job.expected_by, job.expected_late, job.stall_limit, job.running,
    )  # fmt: skip
