"""One step of one watched machine: `step(watch, world, event) -> (world, effects)`.

The live service, replay, the demonstration and the tests all run these lines, so the same traffic always gives the same
alarms. Durations mature on ticks; a line that completes a condition by itself (a reported fault, a banner) is judged at once.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from watchdog.core import learning, machine, sensors, supervision
from watchdog.core import spool as spools
from watchdog.core.alarms import book as alarms
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.conditions import UNAVAILABLE, conditions
from watchdog.core.detectors import Detector
from watchdog.core.effects import Effect, JobChanged, Noted, Priority, StateChanged
from watchdog.core.events import (
    Acknowledge,
    Allowed,
    Event,
    Expectation,
    Forget,
    HostEnds,
    Impaired,
    Line,
    Measured,
    Resumed,
    Shelve,
    SpoolSet,
    Tick,
    Unshelve,
)
from watchdog.core.expectation import History, learn
from watchdog.core.finding import Evidence
from watchdog.core.learning import Habits, usual
from watchdog.core.moment import Moment
from watchdog.core.observations import Setting, Unread
from watchdog.core.outlook import JobFile, Outlook, expected_of, look_ahead
from watchdog.core.sensors import Reading, SensorSpec
from watchdog.core.snapshot import Job, Snapshot, Source
from watchdog.core.spool import Spool
from watchdog.core.timetable import Timetable


@dataclass(frozen=True, slots=True)
class Armed:
    """A detector with this machine's limits."""

    detector: Detector
    limits: Any
    """the detector's own `Limits`"""


@dataclass(frozen=True, slots=True)
class Watch:
    """With what a machine is watched. Filled from the settings, never changed by a step."""

    name: str
    source: Source
    machine: machine.Limits
    armed: tuple[Armed, ...]
    table: Mapping[str, Alarm]
    expected: Mapping[str, float] = field(default_factory=dict)
    """s that a job should take by the operator's word, by file name in lower case"""
    learns: bool = False
    """somebody has agreed that the machine's healthy jobs may be learnt from"""
    files: tuple[JobFile, ...] = ()
    """job files with their plans"""
    sensors: tuple[SensorSpec, ...] = ()
    """those beside this machine"""
    timetable: Timetable | None = None
    """when somebody is there; None where nobody has said, and nothing is judged by it"""


@dataclass(frozen=True, slots=True)
class Counts:
    """What came over the wire since the watch first began."""

    lines: int = 0
    unparsed: int = 0
    """lines that meant nothing to the dialect"""
    damaged: int = 0
    """lines that hold bytes which are no text; one of which a part was understood is not among the unparsed"""


class World(NamedTuple):
    """All that is remembered of one machine. Plain values: it can be stored, compared and replayed from the middle."""

    machine: machine.Memory
    memories: tuple[Any, ...]
    """each armed detector's own `Memory`, in the order of `Watch.armed`"""
    book: alarms.Book
    counts: Counts = Counts()
    conditions: tuple[tuple[str, str], ...] = ()
    """subject → level, as last told"""
    answers: tuple[bool | None, ...] = ()
    """the detectors' last answers, so that conditions are worked out only when one changed"""
    impairments: tuple[str, ...] = ()
    history: History = History()
    """what this machine's own jobs have taught"""
    blind: float = 0.0
    """s of the present job that nobody saw"""
    outlook: Outlook | None = None
    """what is expected of the present job"""
    habits: Habits = Habits()
    """what healthy jobs have shown to be usual; only where `Watch.learns`"""
    settings: tuple[Setting, ...] = ()
    """what the machine last listed of its own speeds, accelerations and corner limits, one of each code"""
    readings: tuple[Reading, ...] = ()
    """what the sensors last said"""
    spool: Spool | None = None
    """the account of the loaded spool; None until somebody has said what is on it"""
    allowed: int | None = None
    """number of the job that may run on after the supervised hours"""
    hours: supervision.Told | None = None
    """who is there, as last worked out; never stored"""
    host_ends: tuple[float, str] | None = None
    """stamp of a planned shutdown or restart of the watching computer, and which of them"""


_BY_TOOL = frozenset({"M92", "M201", "M203", "M566"})  # `T1 E…` names an extruder there; elsewhere T is a value

_UNSENT, _UNSENT_SHARE = 200, 0.02
"""own commands of its file that a stream may lack at its end and still count as done: what is sent within the 5 s between two
looks ahead. Project's choice"""

Step = tuple[World, tuple[Effect, ...]]


def begin(watch: Watch, at: Moment) -> World:
    """A world in which nothing has been seen yet."""
    memories = tuple(armed.detector.Memory() for armed in watch.armed)
    return World(machine.begin(at, watch.source), memories, alarms.Book())


def step(watch: Watch, world: World, event: Event) -> Step:
    """What the world is after `event`, and what should be recorded and told because of it. Same arguments, same answer."""
    if isinstance(event, Line):
        return _line(watch, world, event)
    if isinstance(event, Tick):
        seen, effects = machine.tick(watch.machine, world.machine, event.at)
        world = _with_machine(world, seen)
        if effects:
            effects = _cut_short(watch, world, effects)
            world = _taught(watch, world, event.at, effects)
        return _judge(watch, world, event.at, effects)
    return _rare(watch, world, event)


def look(watch: Watch, world: World, at: Moment) -> Snapshot:
    """What is known of the machine at this moment."""
    seen = machine.snapshot(watch.machine, world.machine, at)
    more: dict[str, Any] = {}  # one copy for all: a snapshot has many fields, and this is done every second
    if world.impairments:
        more["impairments"] = world.impairments
    if world.counts.damaged:
        more["damaged"], more["lines_heard"] = world.counts.damaged, world.counts.lines
    if world.host_ends is not None and world.host_ends[0] > at.stamp:
        more["host_ends"], more["host_ends_how"] = world.host_ends
    if watch.sensors:
        more["sensors"] = sensors.sensed(watch.sensors, world.readings, at.elapsed, seen.sighted_since)
    if watch.timetable is not None:
        more["presence"] = supervision.told(watch.timetable, world.hours, at.stamp).presence
    if watch.learns and world.habits.shown:
        more["usual"] = world.habits.shown
    if world.spool is not None:
        more["spool"] = world.spool.left
    job = seen.job
    if job is not None and job.ended is None:
        if world.allowed == job.number:
            more["may_outlast"] = True
        if world.outlook is not None and world.outlook.job == job.number:
            more |= _expected(world.outlook, job)
    return replace(seen, **more) if more else seen


def _expected(outlook: Outlook, job: Job) -> dict[str, Any]:
    """What the outlook adds to a snapshot of its own, running job."""
    ahead = outlook.forecast
    return {
        "job": expected_of(job, outlook),
        "finish_late": None if ahead is None else ahead.finish.high,
        "needed": outlook.needed,
        "flow_planned": outlook.flow,
    }


def stale_sensors(world: World, watch: Watch, at: Moment) -> tuple[str, ...]:
    """A sentence for each sensor of this machine that has gone quiet: what impairs the watch, see `Impaired`."""
    if not watch.sensors:
        return ()
    sighted = world.machine.sight.since
    return sensors.stale_sentences(sensors.sensed(watch.sensors, world.readings, at.elapsed, sighted))


def _with_machine(world: World, seen: machine.Memory) -> World:
    if seen is world.machine:
        return world
    return world._replace(machine=seen)


def _line(watch: Watch, world: World, event: Line) -> Step:
    seen, effects, judge_now = machine.observe(watch.machine, world.machine, event)
    counts = world.counts
    first = event.meaning[0] if event.meaning else None
    if isinstance(first, Unread):
        counts = Counts(counts.lines + 1, counts.unparsed + 1, counts.damaged + first.damaged)
    else:
        last = event.meaning[-1] if len(event.meaning) > 1 else None
        spoilt = isinstance(last, Unread) and last.damaged  # its `ok` was whole, what follows was not
        counts = Counts(counts.lines + 1, counts.unparsed, counts.damaged + spoilt)
    world = world._replace(machine=seen, counts=counts)
    if type(first) is Setting:
        world = _listed(world, first)
    if effects:
        effects = _cut_short(watch, world, effects)
        world = _taught(watch, world, event.at, effects)
    return _judge(watch, world, event.at, effects) if judge_now else (world, effects)


def _listed(world: World, told: Setting) -> World:
    """The latest of each code. A machine may list one code in two lines (axes, then extruder): letters that are not there yet
    are added, any other line takes the place of the one before."""
    values = told.values
    if told.code in _BY_TOOL:
        if dict(values).get("T"):
            return world  # of a second extruder
        values = tuple(pair for pair in values if pair[0] != "T")
    before = next((known for known in world.settings if known.code == told.code), None)
    if before is not None and not {letter for letter, _ in before.values} & {letter for letter, _ in values}:
        values = (*before.values, *values)
    if not values or (before is not None and before.values == values):
        return world
    others = [known for known in world.settings if known.code != told.code]
    return world._replace(settings=tuple(sorted((*others, Setting(told.code, values)))))


def _rare(watch: Watch, world: World, event: Event) -> Step:
    if isinstance(event, Acknowledge):
        book, effects = alarms.acknowledge(watch.table, world.book, event)
        return world._replace(book=book), effects
    if isinstance(event, Shelve):
        book, effects = alarms.shelve(watch.table, world.book, event)
        return world._replace(book=book), effects
    if isinstance(event, Unshelve):
        book, effects = alarms.unshelve(watch.table, world.book, event)
        return world._replace(book=book), effects
    if isinstance(event, Impaired):
        return _judge(watch, world._replace(impairments=event.reasons), event.at, ())
    if isinstance(event, Resumed):
        seen, effects = machine.resumed(watch.machine, world.machine, event)
        blind = Noted(event.at, "blind", {"seconds": round(event.blind)})
        world = _with_machine(world, seen)._replace(blind=world.blind + event.blind)
        return _judge(watch, world, event.at, (blind, *effects))
    if isinstance(event, Expectation):
        noted = Noted(event.at, "expectation", {"seconds": round(event.seconds), "by": event.by})
        return _with_machine(world, machine.expected(world.machine, event)), (noted,)
    if isinstance(event, Measured):
        readings, changed = sensors.measured(watch.sensors, world.readings, event)
        facts: Evidence = {} if changed is None else {"sensor": event.sensor, "from": changed[0], "to": changed[1]}
        return world._replace(readings=readings), (Noted(event.at, "sensor", facts),) if facts else ()
    if isinstance(event, Allowed):
        return _allowed(watch, world, event)
    if isinstance(event, SpoolSet):
        before = None if world.spool is None else round(world.spool.left)
        left = event.left
        facts = {"left_mm": None if left is None else round(left), "by": event.by, "before_mm": before}
        spool = None if left is None else Spool(left, event.by, event.at.elapsed)
        return world._replace(spool=spool), (Noted(event.at, "spool", facts),)
    if isinstance(event, HostEnds):
        planned = None if event.ends_at is None else (event.ends_at, event.how)
        if planned == world.host_ends:
            return world, ()
        seconds = None if event.ends_at is None else round(event.ends_at - event.at.stamp)
        noted = Noted(event.at, "host-ends", {"in_s": seconds, "how": event.how})
        return _judge(watch, world._replace(host_ends=planned), event.at, (noted,))
    if isinstance(event, Forget):
        taught: Evidence = {"jobs": len(world.history.jobs), "habits": len(usual(world.habits)), "by": event.by}
        return world._replace(habits=Habits(), history=History()), (Noted(event.at, "forgotten", taught),)
    raise TypeError(f"no such event: {event!r}")


def _allowed(watch: Watch, world: World, event: Allowed) -> Step:
    """Somebody takes the present job on; without one there is nothing to allow, and the next one is not meant."""
    job = machine.snapshot(watch.machine, world.machine, event.at).job
    if job is None or job.ended is not None:
        return world, (Noted(event.at, "not-allowed", {"by": event.by, "why": "no job runs"}),)
    facts: Evidence = {"job": job.number, "by": event.by, "stays": event.stays, "how": event.how}
    return world._replace(allowed=job.number), (Noted(event.at, "allowed-to-outlast", facts),)


def _cut_short(watch: Watch, world: World, effects: tuple[Effect, ...]) -> tuple[Effect, ...]:
    """A stream that is stopped in its program ends like one that is done: heat off, then quiet. Its file knows better."""
    outlook = world.outlook
    if outlook is None or outlook.place is None:
        return effects
    commands = next((file.commands for file in watch.files if file.plan.digest == outlook.digest), None)
    if commands is None or commands.total - outlook.place <= max(_UNSENT, _UNSENT_SHARE * commands.total):
        return effects
    why = f"the stream ended after {outlook.place} of {commands.total} commands"
    return tuple(
        effect._replace(event="abandoned", why=why)
        if isinstance(effect, JobChanged) and effect.event == "completed" and effect.number == outlook.job
        else effect
        for effect in effects
    )


def _taught(watch: Watch, world: World, at: Moment, effects: tuple[Effect, ...]) -> World:
    """What a job's beginning or end changes: its blind time counts from nothing, and a whole job teaches."""
    for effect in effects:
        if not isinstance(effect, JobChanged):
            continue
        if effect.event == "started":
            world = world._replace(blind=0.0, outlook=None)
        elif effect.event == "completed":
            job = machine.snapshot(watch.machine, world.machine, at).job
            digest = None if world.outlook is None else world.outlook.digest
            plan = next((file.plan for file in watch.files if file.plan.digest == digest), None)
            if job is not None and job.number == effect.number:
                world = world._replace(history=learn(world.history, job, plan, world.blind), outlook=None)
                if world.spool is not None and plan is not None:
                    world = world._replace(spool=spools.finished(world.spool, job.number, plan.filament))
    return world


def _ahead(watch: Watch, world: World, seen: Snapshot, at: Moment) -> tuple[World, Snapshot, tuple[Effect, ...]]:
    """Look ahead on the present job, where plans or past jobs allow it; a file that has been recognised is noted."""
    before = world.outlook
    after = look_ahead(watch.files, world.history, before, seen, at, world.machine.sent)
    if after is before:
        return world, seen, ()
    noted: tuple[Effect, ...] = ()
    if after is not None and after.digest is not None and (before is None or before.digest != after.digest):
        total = None if after.forecast is None else round(after.forecast.total)
        noted = (Noted(at, "plan", {"job": after.job, "recognised_by": after.by, "expected_s": total}),)
    world = world._replace(outlook=after)
    return world, look(watch, world, at), noted


def _promised(watch: Watch, seen: Snapshot) -> float | None:
    """s that the operator gave for the file of the present job, where nobody has said anything of it yet."""
    job = seen.job
    if job is None or job.ended is not None or job.file is None or job.expected_by in {"operator", "plan"}:
        return None
    return watch.expected.get(job.file.lower())


def _judge(watch: Watch, world: World, at: Moment, effects: tuple[Effect, ...]) -> Step:
    """Let every detector look, then let the alarms take their steps."""
    if watch.timetable is not None:
        hours = supervision.told(watch.timetable, world.hours, at.stamp)
        if hours is not world.hours:
            world = world._replace(hours=hours)
    seen = look(watch, world, at)
    if seen.job is not None and (watch.files or world.history.jobs or watch.timetable is not None):
        world, seen, noted = _ahead(watch, world, seen, at)
        effects = (*effects, *noted)
    if watch.expected and (promised := _promised(watch, seen)) is not None:
        world, noted = _rare(watch, world, Expectation(at, promised, "operator"))
        effects = (*effects, *noted)
        seen = look(watch, world, at)
    if world.spool is not None:
        spool = spools.followed(world.spool, seen, world.outlook)
        if spool != world.spool:
            world = world._replace(spool=spool)
            seen = replace(seen, spool=spool.left)
    if watch.learns:
        world = world._replace(habits=learning.observe(world.habits, seen))
    memories = []
    found = []
    for armed, memory in zip(watch.armed, world.memories, strict=True):
        kept, finding = armed.detector.observe(armed.limits, memory, seen)
        memories.append(kept)
        found.append(finding)
    answered = tuple([finding.present for finding in found])  # a list: a generator takes twice as long, every second
    calm = answered == world.answers and True not in answered and alarms.all_at_rest(world.book)
    if calm and not seen.sensors:
        return world._replace(memories=tuple(memories)), effects
    findings = {armed.detector.NAME: finding for armed, finding in zip(watch.armed, found, strict=True)}
    told = world.conditions
    if answered != world.answers or seen.sensors:  # a sensor that goes quiet may change no detector's answer
        priorities = {name: alarm.priority if alarm.spoken else Priority.LOW for name, alarm in watch.table.items()}
        told = conditions(findings, priorities, seen.sensors)
    if calm and told == world.conditions:
        return world._replace(memories=tuple(memories)), effects
    if told is not world.conditions:
        before = dict(world.conditions)
        changes = (StateChanged(at, f"condition.{name}", before.get(name, UNAVAILABLE), level) for name, level in told)
        effects = (*effects, *(change for change in changes if change.before != change.after))
    book, steps = alarms.advance(watch.table, world.book, findings, at)
    world = world._replace(memories=tuple(memories), book=book, conditions=told, answers=answered)
    return world, (*effects, *steps) if steps else effects
