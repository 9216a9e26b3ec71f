"""One event into the memory: a line, a second, the end of a blind time, somebody's expectation."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from watchdog.core.effects import Effect, Noted
from watchdog.core.events import Expectation, Line, Resumed
from watchdog.core.machine import asleep, axes, card, chosen, controller, feed, heat, jobs, people, stream, wire
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.limits import Limits
from watchdog.core.machine.memory import Memory
from watchdog.core.moment import Moment
from watchdog.core.observations import (
    Acknowledged,
    Action,
    Busy,
    CardHeld,
    CardIdle,
    CardPresent,
    CardProgress,
    Command,
    Fault,
    FileNamed,
    FileOpened,
    HostResumed,
    Idle,
    JobDone,
    JobProgress,
    JobStopped,
    LinkDown,
    LinkUp,
    Position,
    Remark,
    Resend,
    ResetCause,
    Started,
    Temperatures,
    Waiting,
    WatchStarted,
    WatchStopped,
)
from watchdog.core.snapshot import Link
from watchdog.core.traffic import Direction

_LONGEST_TICK = 5.0  # s: more between two ticks was not seen, so nothing is added up over it


def observe(limits: Limits, memory: Memory, line: Line) -> tuple[Memory, tuple[Effect, ...], bool]:
    """Take one line of traffic in.

    The last value is True when the line may complete a condition by itself (a fault, a restart, another state), so that
    the detectors should judge at once rather than at the next tick. Never raises.
    """
    draft = Draft(limits, memory, line.at)
    if line.direction is not Direction.REMARK:
        asleep.line(draft)
    if line.direction is Direction.RECEIVED:
        wire.hear(draft)
        for seen in line.meaning:
            work = _RECEIVED.get(type(seen))
            if work is not None:
                work(draft, seen)
    elif line.direction is Direction.SENT:
        for seen in line.meaning:
            if type(seen) is Command:
                stream.sent(draft, seen)
                at_once = chosen.COMMANDS.get(seen.code)
                if at_once is not None:
                    at_once(draft, seen)
    else:
        for seen in line.meaning:
            work = _REMARKS.get(type(seen))
            if work is not None:
                work(draft, seen)
    if draft.moved_axes(memory):
        axes.settle(draft)
    elif draft.nozzle is not memory.nozzle:
        axes.settle_hotend(draft)
    return draft.memory(), tuple(draft.effects), draft.judge


def tick(limits: Limits, memory: Memory, at: Moment) -> tuple[Memory, tuple[Effect, ...]]:
    """What time alone changes: readings grow stale, waits fade, a stream that fell silent has ended. Once a second."""
    draft = Draft(limits, memory, at)
    now, sight = draft.now, draft.sight
    job = draft.running()
    may_be_job = job is not None or draft.stream.first is not None
    if may_be_job and draft.ticked_at is not None and heat.heating_up(limits, draft, now):
        passed = min(max(0.0, now - draft.ticked_at), _LONGEST_TICK)
        if job is not None:
            draft.progress = draft.progress._replace(heating=draft.progress.heating + passed)
        else:
            draft.stream = draft.stream._replace(heating=draft.stream.heating + passed)
    if job is not None:
        stream.quiet(draft)
        if sight.doubt and draft.card_job() is not None and _settled(draft) and heat.off(draft):
            jobs.lose(draft)
    elif not sight.known and _settled(draft):
        draft.sight = sight._replace(known=True)
    if draft.wait is not None:
        people.faded(draft)
    axes.settle(draft)
    draft.ticked_at = now
    return draft.memory(), tuple(draft.effects)


def _settled(draft: Draft) -> bool:
    """The machine has been heard for long enough that a job would have shown itself."""
    since = draft.sight.since
    return (
        draft.sight.link is Link.AVAILABLE
        and draft.heard is not None
        and draft.heard >= since
        and draft.now - since >= draft.limits.settled_after
    )


def resumed(limits: Limits, memory: Memory, event: Resumed) -> tuple[Memory, tuple[Effect, ...]]:
    """The watch sees again after a blind time: nothing told before stands for the present until it is told again.

    A job that ran stays in doubt. It goes on as the same one when the card tells the same size and no smaller place, or
    when the stream's lines go on; else it has ended, 'lost'. That the watch
    was blind is for the caller to note.
    """
    draft = Draft(limits, memory, event.at)
    asleep.woke(draft, event.blind)
    wire.go_blind(draft)
    axes.settle(draft)
    draft.ticked_at = draft.now
    return draft.memory(), tuple(draft.effects)


def expected(memory: Memory, event: Expectation) -> Memory:
    """Somebody tells what the present job should take; without a job that runs it says nothing."""
    job = memory.job
    if job is None or job.ended is not None:
        return memory
    return memory._replace(job=replace(job, expected=event.seconds, expected_by=event.by, expected_late=None))


def _blind(draft: Draft, seconds: float) -> None:
    """A blind time that only the recording tells of."""
    wire.go_blind(draft)
    draft.effects.append(Noted(draft.at, "blind", {"seconds": round(seconds, 3)}))
    draft.judge = True


def _watch_started(draft: Draft, _seen: WatchStarted) -> None:
    if draft.heard is not None:
        _blind(draft, max(0.0, draft.now - draft.heard))


def _host_resumed(draft: Draft, seen: HostResumed) -> None:
    asleep.woke(draft, seen.seconds)
    _blind(draft, seen.seconds)


def _watch_stopped(draft: Draft, _seen: WatchStopped) -> None:
    wire.go_blind(draft)


def _position(draft: Draft, seen: Position) -> None:
    draft.feed = feed.told(draft.feed, seen, draft.now, draft.streamed_job() is not None)


def _queued(draft: Draft, seen: Command) -> None:
    """The machine's panel put a command into its own queue; it was not sent over the wire."""
    at_once = chosen.COMMANDS.get(seen.code)
    if at_once is not None:
        at_once(draft, seen)


_Work = Callable[[Draft, Any], None]  # each handler takes the one kind of observation that it stands beside

_RECEIVED: dict[type, _Work] = {
    Acknowledged: wire.acknowledged,
    Temperatures: heat.report,
    CardProgress: card.progress,
    CardIdle: lambda draft, _seen: card.idle(draft),
    CardHeld: lambda draft, _seen: card.held(draft),
    JobDone: lambda draft, _seen: card.done(draft),
    JobStopped: lambda draft, _seen: card.stopped(draft),
    JobProgress: stream.claimed,
    FileOpened: chosen.opened,
    FileNamed: chosen.named,
    CardPresent: chosen.mounted,
    Remark: chosen.remark,
    Command: _queued,
    Busy: people.busy,
    Idle: wire.idle,
    Waiting: people.waiting,
    Action: people.action,
    Resend: wire.resend,
    Position: _position,
    Started: controller.started,
    ResetCause: controller.reset_cause,
    Fault: controller.fault,
}
_REMARKS: dict[type, _Work] = {
    LinkUp: wire.link_up,
    LinkDown: wire.link_down,
    WatchStarted: _watch_started,
    WatchStopped: _watch_stopped,
    HostResumed: _host_resumed,
}
