"""The one protective action: cool a nozzle that stands hot with nobody answering. Off unless the settings ask for it.

The heater is switched off once, by M104 S0 (and M140 S0 for the bed if wanted; RepRap community wiki, page "G-code"), and only
while every reason not to is absent. What cannot be told counts as a reason. Afterwards the watch looks whether the target
went to 0 and the temperature falls, and says so either way. What is to be done is stored a look before it is done, so that a
watch that is killed in between lets it be, rather than do it twice. It is never done again until a person has acknowledged an
alarm of this machine or a job has been started: whoever set the heat anew may be standing there.

It is advisory like the rest: a frozen controller, a stuck relay or a cut cable does not obey.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from watchdog.core.alarms.standing import Phase, Standing
from watchdog.core.effects import Effect, Noted, Priority, Tell, TellKind
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Execution, Hotend, Link, Snapshot, Source

ALARM = "hot-idle"
"""the alarm that it answers"""
NOZZLE_OFF, BED_OFF = "M104 S0", "M140 S0"
COMMANDS = frozenset({NOZZLE_OFF, BED_OFF})
"""the only lines of this kind that may ever go out"""
DUE, LET_BE = "cooling-due", "cooling-let-be"
"""kinds of the notes that it is about to be done, and that it was not, since that cannot be told"""
NOTED = "cooling"
"""what the record says at the moment of sending"""
COOLED, NOT_COOLED = "nozzle-cooled", "nozzle-not-cooled"
"""names of the two notices"""

_IDLE = frozenset({Execution.READY, Execution.COMPLETE, Execution.STOPPED})


@dataclass(frozen=True, slots=True)
class Limits:
    """When it may act. All times our choice, no source: long enough that a person would have answered or begun."""

    enabled: bool = False
    unanswered: float = 600.0
    """s that `hot-idle` has stood without an acknowledgement: the alarm's own time to respond"""
    idle_for: float = 900.0
    """s since the last job ended, since the watch began to see, and since somebody last set the heat"""
    bed: bool = False
    """switch the bed off as well"""
    heard_within: float = 10.0
    """s: nothing is sent to a machine that has not just spoken"""
    falls_by: float = 10.0
    """°C below the temperature at the time of sending that prove the cooling"""
    check_after: float = 180.0
    """s within which it must have fallen by so much. Free cooling from 200 °C takes well under a minute for 10 °C; no source"""


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between two looks."""

    spent: bool = False
    """it has been done, and no person has been seen since"""
    job: int | None = None
    """number of the last job at that time"""
    sent_at: float | None = None
    """elapsed; None once the outcome has been told"""
    was: float | None = None
    """°C at that time"""
    times: int = 0
    """how often it was done on this machine"""
    ready: float | None = None
    """elapsed at which it was found to be due; it is sent at the next look, when this is stored"""


@dataclass(frozen=True, slots=True)
class Deed:
    """What is to be done now."""

    commands: tuple[str, ...] = ()
    """lines for the machine, in order; empty nearly always"""
    effects: tuple[Effect, ...] = ()


NOTHING = Deed()


def look(limits: Limits, memory: Memory, seen: Snapshot, hot_idle: Standing, at: Moment) -> tuple[Memory, Deed]:
    """One look, once a second. `hot_idle` is that alarm's standing in the machine's book."""
    if not limits.enabled and memory.sent_at is None:
        return memory, NOTHING
    memory = _person_seen(memory, seen)
    if memory.sent_at is not None:
        return _followed(limits, memory, seen, at)
    if memory.ready is not None and seen.sighted_since > memory.ready:  # another run of the watch: perhaps it was sent
        let_be = replace(memory, ready=None, spent=True, job=_number(seen))
        return let_be, Deed(effects=(Noted(at, LET_BE, {}),))
    if hot_idle.phase is not Phase.UNACKNOWLEDGED or next(reasons_not_to(limits, memory, seen, hot_idle, at), None):
        return (memory if memory.ready is None else replace(memory, ready=None)), NOTHING
    if memory.ready is None:
        return replace(memory, ready=seen.at), Deed(effects=(Noted(at, DUE, {"nozzle": seen.nozzle.now}),))
    commands = (NOZZLE_OFF, BED_OFF) if limits.bed and (seen.bed.target or 0) > 0 else (NOZZLE_OFF,)
    facts: Evidence = {"sent": ", ".join(commands), "nozzle": seen.nozzle.now, "target": seen.nozzle.target}
    after = Memory(True, _number(seen), seen.at, seen.nozzle.now, memory.times + 1)
    return after, Deed(commands, (Noted(at, NOTED, facts),))


def unsent(memory: Memory) -> Memory:
    """The port did not take the command that the last look gave: nothing has been done, so nothing is followed or told.
    It is due still."""
    return replace(memory, spent=False, sent_at=None, was=None, times=memory.times - 1, ready=memory.sent_at)


def acknowledged(memory: Memory) -> Memory:
    """A person has answered an alarm of this machine: should it come to it, the action may be done once more."""
    return replace(memory, spent=False) if memory.spent else memory


def reasons_not_to(limits: Limits, memory: Memory, seen: Snapshot, hot_idle: Standing, at: Moment) -> Iterator[str]:
    """Why nothing may be sent now, a sentence each; nothing when it may."""
    if not limits.enabled:
        yield "the settings do not ask for it"
    if seen.source is not Source.SERIAL:
        yield "the machine is only listened to"
    if memory.spent:
        yield "it has been done before, and no person has been seen since"
    yield from _by_alarm(limits, hot_idle, at)
    yield from _by_job(limits, seen)
    yield from _by_wire(limits, seen)
    yield from _by_heat(limits, seen)


def _by_alarm(limits: Limits, hot_idle: Standing, at: Moment) -> Iterator[str]:
    if hot_idle.phase is Phase.ACKNOWLEDGED:
        yield "somebody has taken the alarm on"
    elif hot_idle.phase is not Phase.UNACKNOWLEDGED or hot_idle.raised is None:
        yield "no hot-idle alarm stands"
    elif at.elapsed - hot_idle.raised.elapsed < limits.unanswered:
        yield "somebody may still answer"
    if hot_idle.shelf is not None:
        yield "somebody has shelved the alarm"
    if hot_idle.suppressed_by is not None:
        yield f"the alarm only follows from {hot_idle.suppressed_by}"


def _by_job(limits: Limits, seen: Snapshot) -> Iterator[str]:
    if seen.active is None:
        yield "it cannot be told whether a job is active"
    elif seen.active or (seen.job is not None and seen.job.ended is None):
        yield "a job is active"
    if seen.execution not in _IDLE:
        yield f"the machine is {seen.execution.value}"
    if seen.heating_up is not False:
        yield "the machine may be heating up for a job"
    if seen.job is not None and seen.job.ended is not None and seen.at - seen.job.ended < limits.idle_for:
        yield "a job has ended not long ago"
    if seen.chosen_at is not None:
        yield "a job has been chosen"
    if seen.waits_for_person:
        yield "the machine waits for a person"
    if seen.flow_at is not None and seen.at - seen.flow_at < limits.idle_for:
        yield "filament was moved not long ago"


def _by_wire(limits: Limits, seen: Snapshot) -> Iterator[str]:
    if seen.link is not Link.AVAILABLE:
        yield "the link is not available"
    if seen.heard is None or seen.at - seen.heard > limits.heard_within or seen.unanswered:
        yield "the machine does not answer just now"
    if seen.blocking_since is not None:
        yield "the machine is at work on a command"
    if seen.at - seen.sighted_since < limits.idle_for:
        yield "the watch has not seen the machine for long enough"
    if seen.restarted_at is not None and seen.at - seen.restarted_at < limits.idle_for:
        yield "the controller has restarted not long ago"


def _by_heat(limits: Limits, seen: Snapshot) -> Iterator[str]:
    nozzle = seen.nozzle
    if seen.hotend is not Hotend.HOT or nozzle.now is None:
        yield "the nozzle is not known to be hot"
    if not nozzle.target:
        yield "the nozzle's heater is off, or its target is not known"
    if nozzle.target_since is None or seen.at - nozzle.target_since < limits.idle_for:
        yield "somebody has set the heat not long ago"


def _person_seen(memory: Memory, seen: Snapshot) -> Memory:
    """A job that was started after the action shows that somebody was there."""
    return replace(memory, spent=False) if memory.spent and _number(seen) != memory.job else memory


def _number(seen: Snapshot) -> int | None:
    """Of the present or last job."""
    return None if seen.job is None else seen.job.number


def _followed(limits: Limits, memory: Memory, seen: Snapshot, at: Moment) -> tuple[Memory, Deed]:
    """Whether the machine obeyed."""
    now, was = seen.nozzle.now, memory.was
    waited = seen.at - (memory.sent_at or 0.0)
    if now is not None and was is not None and not seen.nozzle.target and was - now >= limits.falls_by:
        return replace(memory, sent_at=None), Deed(effects=_told(COOLED, Priority.LOW, memory, seen, at))
    if waited < limits.check_after:
        return memory, NOTHING
    return replace(memory, sent_at=None), Deed(effects=_told(NOT_COOLED, Priority.HIGH, memory, seen, at))


def _told(name: str, priority: Priority, memory: Memory, seen: Snapshot, at: Moment) -> tuple[Effect, ...]:
    facts: Evidence = {"was": memory.was, "nozzle": seen.nozzle.now, "target": seen.nozzle.target}
    return (
        Noted(at, name, facts),
        Tell(at, TellKind.NOTICE, name, memory.times, priority, at, 1, facts, None),
    )
