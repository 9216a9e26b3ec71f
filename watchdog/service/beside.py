"""What is decided beside the world of one machine after each step: who is told, the notices, the one protective action.

All of it is the core's; here the parts are put in a row and what they remember is kept together, as one value that goes to disk
with the world.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import NamedTuple

from pydantic import TypeAdapter, ValidationError

from watchdog.core import cooling
from watchdog.core.alarms.book import Book, standing
from watchdog.core.alarms.standing import REST, Phase, announced
from watchdog.core.effects import AlarmChanged, Effect, Noted, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.notices import blind, finished, first_layer
from watchdog.core.notices.day import Memory as DayMemory
from watchdog.core.notices.digest import Memory as DigestMemory
from watchdog.core.notices.notice import FIRST_LAYER, JOB_FINISHED, WAS_BLIND
from watchdog.core.orders import Order
from watchdog.core.routing import Memory as Routed
from watchdog.core.routing import RoutingPlan, advance
from watchdog.core.routing.engine import IN_SERVICE
from watchdog.core.snapshot import Snapshot
from watchdog.core.step import Watch, World
from watchdog.service.summing import USUAL_STOCK, Course, Stock, followed

NO_BOOK = Book()
SEEN_AGAIN = 60.0
"""s after which a blind time is told even if the machine has not told its heat since"""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the house asks for, beside the alarms."""

    routing: RoutingPlan
    unspoken: frozenset[str] = frozenset()
    """alarms that are recorded and told to nobody"""
    cools: cooling.Limits = field(default_factory=cooling.Limits)
    notices: frozenset[str] = frozenset()
    """names of the notices that somebody wants"""
    stock: Stock = USUAL_STOCK
    """what is loaded"""


class Repair(NamedTuple):
    """A machine that a person took out of service for a bounded time (ANSI/ISA-18.2, out-of-service)."""

    until: float
    """elapsed"""
    by: str
    reason: str
    ended_by: str | None = None
    """who ended it before its time, which is then `until`"""


@dataclass(frozen=True, slots=True)
class Memories:
    """What is remembered. Plain values."""

    routing: Routed = field(default_factory=Routed)
    cooled: cooling.Memory = field(default_factory=cooling.Memory)
    layer: first_layer.Memory = field(default_factory=first_layer.Memory)
    repair: Repair | None = None
    """set while the machine is out of service: only urgent alarms are told then, all are recorded"""
    course: Course | None = None
    """of the running job"""
    blinds: int = 0
    """blind times that were told"""
    day: DayMemory = field(default_factory=DayMemory)
    """only of the watch itself, as the next"""
    digest: DigestMemory = field(default_factory=DigestMemory)


@dataclass(frozen=True, slots=True)
class Blind:
    """A blind time that is still to be told. Not stored: a restart makes its own."""

    before: Snapshot
    """what was last known"""
    ended: Moment
    seconds: float


@dataclass(frozen=True, slots=True)
class Decided:
    """What one look came to."""

    memories: Memories
    effects: tuple[Effect, ...] = ()
    """beside those of the step"""
    orders: tuple[Order, ...] = ()
    commands: tuple[str, ...] = ()
    """lines for the machine; only ever of the protective action"""
    blind_told: bool = False


def after_step(
    wishes: Wishes, memories: Memories, watch: Watch, effects: Sequence[Effect], at: Moment, book: Book = NO_BOOK
) -> Decided:
    """Who is told because of a step, or because its time has come. `book`: the alarms after the step."""
    said: tuple[Effect, ...] = ()
    spoken = [effect for effect in effects if _told(wishes, memories, effect)]
    if memories.repair is not None and at.elapsed >= memories.repair.until:
        by = memories.repair.ended_by
        said = (Noted(at, IN_SERVICE, {"why": "its time is over"} if by is None else {"by": by}),)
        memories = replace(memories, repair=None)
        news = {effect.alarm for effect in effects if isinstance(effect, Tell)}
        untold = [tell for tell in _untold(memories, book, at) if tell.alarm not in news]
        spoken = [effect for effect in (*said, *untold, *effects) if _told(wishes, memories, effect)]
    away = memories.repair is not None
    routed, orders = advance(wishes.routing, watch.timetable, memories.routing, spoken, at, out_of_service=away)
    if routed is not memories.routing:
        memories = replace(memories, routing=routed)
    if any(isinstance(effect, AlarmChanged) and effect.transition is Transition.ACKNOWLEDGED for effect in effects):
        memories = replace(memories, cooled=cooling.acknowledged(memories.cooled))
    return Decided(memories, said, orders)


def _told(wishes: Wishes, memories: Memories, effect: Effect) -> bool:
    """Whether people are told of `effect`. Its transitions count all the same, so that a ladder ends with its alarm."""
    if getattr(effect, "alarm", None) in wishes.unspoken:
        return False
    if not isinstance(effect, Tell) or memories.repair is None:
        return True
    if effect.kind is TellKind.ALL_CLEAR:  # for whoever had heard of it before the repair
        case = memories.routing.cases.get(effect.alarm)
        return case is not None and case.occurrence == effect.occurrence
    return effect.priority is Priority.URGENT


def _untold(memories: Memories, book: Book, at: Moment) -> Iterator[Tell]:
    """What was raised while the machine was out of service, stands, and nobody was told of."""
    for alarm, one in standing(book):
        known = memories.routing.cases.get(alarm)
        if (
            announced(one)
            and one.phase is Phase.UNACKNOWLEDGED
            and one.shelf is None
            and one.suppressed_by is None
            and one.raised is not None
            and one.priority is not None
            and (known is None or known.occurrence != one.occurrence)
        ):
            left = None if one.due is None else max(0.0, one.due - at.elapsed)
            yield Tell(at, TellKind.ALARM, alarm, one.occurrence, one.priority, one.raised, 1, one.evidence, left)


def each_second(
    wishes: Wishes,
    memories: Memories,
    watch: Watch,
    world: World,
    seen: Snapshot,
    effects: Sequence[Effect],
    waiting: Blind | None,
    at: Moment,
) -> Decided:
    """The notices and the protective action. `effects`: of the steps since the last look; `waiting`: a blind time untold."""
    said: list[Effect] = []
    cooled, deed = cooling.look(
        _cools(wishes, memories), memories.cooled, seen, world.book.alarms.get(cooling.ALARM, REST), at
    )
    if cooled is not memories.cooled:
        memories = replace(memories, cooled=cooled)
    said += deed.effects
    course = followed(memories.course, watch, world, seen)
    if course is not memories.course:
        memories = replace(memories, course=course)
    if FIRST_LAYER in wishes.notices:
        memories = _first_layer(memories, watch, world, seen, at, said)
    if JOB_FINISHED in wishes.notices and effects and (told := finished.look(effects, seen)) is not None:
        said.append(told)
    over = waiting is not None and (
        (seen.heard is not None and seen.heard > waiting.ended.elapsed and seen.nozzle.now is not None)
        or at.elapsed - waiting.ended.elapsed >= SEEN_AGAIN
    )
    if over and waiting is not None and WAS_BLIND in wishes.notices:
        told = blind.look(waiting.before, seen, waiting.seconds, memories.blinds + 1, waiting.ended)
        if told is not None:
            memories = replace(memories, blinds=memories.blinds + 1)
            said.append(told._replace(at=at))
    if not said:
        return Decided(memories, commands=deed.commands, blind_told=over)
    routed, orders = advance(wishes.routing, watch.timetable, memories.routing, said, at)
    return Decided(replace(memories, routing=routed), tuple(said), orders, deed.commands, over)


def _cools(wishes: Wishes, memories: Memories) -> cooling.Limits:
    """Nobody can answer what nobody was told, and in a repair somebody may be at work on a nozzle that must be hot."""
    if memories.repair is not None or cooling.ALARM in wishes.unspoken:
        return replace(wishes.cools, enabled=False)
    return wishes.cools


def uncooled(decided: Decided) -> Decided:
    """`decided` without its protective action, which could not be sent."""
    left = tuple(one for one in decided.effects if not (isinstance(one, Noted) and one.kind == cooling.NOTED))
    memories = replace(decided.memories, cooled=cooling.unsent(decided.memories.cooled))
    return replace(decided, memories=memories, effects=left, commands=())


def notices(effects: Sequence[Effect]) -> bool:
    """Whether `effects` hold a notice."""
    return any(isinstance(effect, Tell) and effect.kind is TellKind.NOTICE for effect in effects)


def _first_layer(
    memories: Memories, watch: Watch, world: World, seen: Snapshot, at: Moment, said: list[Effect]
) -> Memories:
    outlook = world.outlook
    if seen.job is None or outlook is None or outlook.job != seen.job.number or outlook.forecast is None:
        return memories
    plan = next((file.plan for file in watch.files if file.plan.digest == outlook.digest), None)
    kept, told = first_layer.look(memories.layer, seen, plan, outlook.forecast.done, at)
    if told is not None:
        said.append(told)
    return memories if kept is memories.layer else replace(memories, layer=kept)


@cache
def _adapter() -> TypeAdapter[Memories]:
    return TypeAdapter(Memories)


def freeze(memories: Memories) -> object:
    """`memories` as plain JSON values."""
    return _adapter().dump_python(memories, mode="json")


def thaw(kept: object) -> Memories:
    """What `freeze` gave; fresh memories where it does not fit (another version wrote it)."""
    try:
        return _adapter().validate_json(json.dumps(kept))
    except (ValidationError, TypeError, ValueError):
        return Memories()
