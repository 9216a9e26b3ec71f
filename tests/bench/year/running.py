"""A year through the real alarms, the real routing and the real pace, from event to event.

Findings come from outside, and people acknowledge or do not; everything between is the project's own. Each machine is looked at
when something happens and when something that was promised falls due (a delay, a reminder, a rung), to the whole second.
"""

import heapq
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import count
from math import ceil
from random import Random
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from tests.bench.year.drawing import MACHINES, Incident, incidents
from tests.bench.year.school import ANSWERS, FIRST, LEAD, PLAN, days, stamp, timetables
from watchdog.core import routing
from watchdog.core.alarms import book as alarms
from watchdog.core.alarms.standing import REST, Phase, announced
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import AlarmChanged, Effect, Priority, Tell, TellKind, Transition
from watchdog.core.events import Acknowledge
from watchdog.core.finding import Finding
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.routing.pace import Pace, may_send_at
from watchdog.core.timetable import Presence, Timetable, presence

FOUND_LATER = 12 * 3600.0
"""s after which a latched alarm that nobody answered is found by somebody who looks at the status"""


class Parcel(NamedTuple):
    """One order in the outbox."""

    machine: str
    order: Order
    at: float


class Message(NamedTuple):
    """What one person got at one time."""

    person: str
    at: float
    urgent: bool
    lesson: bool
    supervised: bool
    parcels: tuple[Parcel, ...]


@dataclass
class Life:
    """One occurrence as seen from outside."""

    machine: str
    alarm: str
    priority: Priority
    raised: float
    here: Presence
    """at the raising, or when it became urgent"""
    first: tuple[Order, ...] = ()
    """orders of that same step"""
    ended: float | None = None
    """first acknowledged, returned or cleared"""
    lifted: bool = False
    followed: bool = False
    """it was suppressed for a time: its ladder rested"""
    told: dict[str, float] = field(default_factory=dict)
    """by person: when the first demand was ordered since `raised`"""


@dataclass
class Year:
    """Everything that came out."""

    zone: str
    lives: list[Life] = field(default_factory=list)
    messages: list[Message] = field(default_factory=list)
    looks: int = 0
    collapsed: int = 0
    """parcels that went with another one"""
    withdrawn: int = 0
    answered: int = 0


@dataclass
class _Machine:
    book: alarms.Book = field(default_factory=alarms.Book)
    memory: routing.Memory = field(default_factory=routing.Memory)
    findings: dict[str, Finding] = field(default_factory=dict)
    present: dict[str, Incident] = field(default_factory=dict)
    lives: dict[str, Life] = field(default_factory=dict)


class _Running:
    def __init__(self, zone: str, seed: int, times: float) -> None:
        self.random = Random(f"{zone}/{seed}")
        self.year = Year(zone)
        self.timetable: Callable[[float], Timetable] = timetables(zone, self.random.choice(days()))
        self.begin = stamp(FIRST, 0, ZoneInfo(zone))
        self.machines = {name: _Machine() for name in MACHINES}
        self.outbox: dict[str, list[Parcel]] = defaultdict(list)
        self.sent: dict[str, list[float]] = defaultdict(list)
        self.events: list[tuple[float, int, Callable[..., None], tuple[Any, ...]]] = []
        self.order = count()
        for one in incidents(ZoneInfo(zone), self.random, times):
            self.later(one.at, self.starts, one)

    def later(self, at: float, act: Callable[..., None], *rest: Any) -> None:
        heapq.heappush(self.events, (at, next(self.order), act, rest))

    def run(self) -> Year:
        while self.events:
            now, _, act, rest = heapq.heappop(self.events)
            act(now, *rest)
        return self.year

    # ------------------------------------------------------------ what happens

    def starts(self, now: float, one: Incident) -> None:
        machine = self.machines[one.machine]
        if one.alarm not in machine.present:
            machine.present[one.alarm] = one
            machine.findings[one.alarm] = Finding(True, {"seen": 1}, urgent=False)
            if one.lifted:
                self.later(now + 90, self.lifts, one)
            self.later(now + one.lasts, self.ends, one)
            self.look(now, one.machine)

    def lifts(self, now: float, one: Incident) -> None:
        if self.machines[one.machine].present.get(one.alarm) is one:
            self.machines[one.machine].findings[one.alarm] = Finding(True, {"seen": 2}, urgent=True)
            self.look(now, one.machine)

    def ends(self, now: float, one: Incident) -> None:
        machine = self.machines[one.machine]
        if machine.present.get(one.alarm) is one:
            del machine.present[one.alarm]
            machine.findings[one.alarm] = Finding(False)
            self.look(now, one.machine)
            occurrence = machine.book.alarms.get(one.alarm, REST).occurrence
            self.later(now + FOUND_LATER, self.answers, LEAD, one.machine, one.alarm, occurrence)

    def answers(self, now: float, person: str, name: str, alarm: str, occurrence: int) -> None:
        machine = self.machines[name]
        standing = machine.book.alarms.get(alarm, REST)
        if standing.occurrence == occurrence and standing.phase in (Phase.UNACKNOWLEDGED, Phase.RETURNED):
            deed = Acknowledge(self.moment(now), alarm, person, "link")
            machine.book, said = alarms.acknowledge(TABLE, machine.book, deed)
            self.year.answered += 1
            self.route(now, name, said)
            still = machine.present.get(alarm)
            if still is not None:
                self.later(now + ceil(still.mends), self.ends, still)
        self.look(now, name)

    # ------------------------------------------------------------ the project's own

    def moment(self, now: float) -> Moment:
        return Moment(now - self.begin + 1000.0, now)

    def look(self, now: float, name: str) -> None:
        machine = self.machines[name]
        self.year.looks += 1
        machine.book, said = alarms.advance(TABLE, machine.book, machine.findings, self.moment(now))
        self.route(now, name, said)
        due = [at for at in self.due(machine) if at > self.moment(now).elapsed]
        if due:
            self.later(ceil(min(due)) + self.begin - 1000.0, self.look_if_due, name)

    def look_if_due(self, now: float, name: str) -> None:
        if any(at <= self.moment(now).elapsed for at in self.due(self.machines[name])):
            self.look(now, name)

    def due(self, machine: _Machine) -> Iterable[float]:
        for alarm, one in machine.book.alarms.items():
            row = TABLE[alarm]
            if one.due is not None:
                yield one.due
            if one.counted_at is not None:
                yield one.counted_at + (row.off_delay if announced(one) else row.on_delay) - one.held
        if machine.memory.due is not None:
            yield machine.memory.due

    def route(self, now: float, name: str, said: tuple[Effect, ...]) -> None:
        machine = self.machines[name]
        at = self.moment(now)
        machine.memory, orders = routing.advance(PLAN, self.timetable(now), machine.memory, said, at)
        for effect in said:
            if isinstance(effect, AlarmChanged):
                self.changed(now, name, effect, orders)
        for alarm, life in machine.lives.items():
            life.followed |= machine.book.alarms[alarm].suppressed_by is not None
        for order in orders:
            of = machine.lives.get(order.tell.alarm)
            if of is not None and demands(order.tell):
                of.told.setdefault(order.person, now)
            self.outbox[order.person].append(Parcel(name, order, now))
            self.later(max(now, order.not_before or now), self.deliver, order.person)

    def changed(self, now: float, name: str, change: AlarmChanged, orders: tuple[Order, ...]) -> None:
        lives = self.machines[name].lives
        if change.transition in (Transition.RAISED, Transition.ESCALATED):
            first = tuple(order for order in orders if order.tell.alarm == change.alarm)
            here = presence(self.timetable(now), now)
            lifted = change.transition is Transition.ESCALATED
            if lifted and change.alarm in lives:
                lives.pop(change.alarm).ended = now
            life = Life(name, change.alarm, change.priority, now, here, first, lifted=lifted)
            lives[change.alarm] = life
            self.year.lives.append(life)
        elif change.transition in (Transition.ACKNOWLEDGED, Transition.RETURNED, Transition.CLEARED):
            if change.alarm in lives:
                lives.pop(change.alarm).ended = now
            if change.transition is not Transition.RETURNED:
                self.withdraw(now, name, change)

    def withdraw(self, now: float, name: str, change: AlarmChanged) -> None:
        """As the record does it: what waits for its time and has become idle is taken back."""
        for parcels in self.outbox.values():
            for parcel in list(parcels):
                tell, waits = parcel.order.tell, parcel.order.not_before
                same = (parcel.machine, tell.alarm, tell.occurrence) == (name, change.alarm, change.occurrence)
                if same and tell.kind is not TellKind.ALL_CLEAR and waits is not None and waits > now:
                    parcels.remove(parcel)
                    self.year.withdrawn += 1

    def deliver(self, now: float, person: str) -> None:
        """What waits for one person goes as one message, at the pace of that person."""
        ready = [parcel for parcel in self.outbox[person] if (parcel.order.not_before or 0.0) <= now]
        if not ready:
            return
        urgent = any(demands(parcel.order.tell) and parcel.order.tell.priority is Priority.URGENT for parcel in ready)
        at = may_send_at(Pace(), self.sent[person], urgent, now)
        if at > now:
            self.later(at, self.deliver, person)
            return
        for parcel in ready:
            self.outbox[person].remove(parcel)
        if not urgent:
            self.sent[person] = [*(stamp for stamp in self.sent[person] if stamp > now - 4000), now]
        here = presence(self.timetable(now), now)
        self.year.messages.append(Message(person, now, urgent, here.lesson, here.supervised, tuple(ready)))
        self.year.collapsed += len(ready) - 1
        self.reads(now, person, ready, here)

    def reads(self, now: float, person: str, parcels: Iterable[Parcel], here: Presence) -> None:
        habit = ANSWERS[person]["lesson" if here.lesson else "hours" if here.supervised else "outside"]
        if self.random.random() >= habit.share:
            return
        after = ceil(habit.median * self.random.lognormvariate(0.0, 0.7))
        for parcel in parcels:
            tell = parcel.order.tell
            cause = self.machines[parcel.machine].present.get(tell.alarm)
            if demands(tell) and not (cause is not None and cause.deaf):
                self.later(now + after, self.answers, person, parcel.machine, tell.alarm, tell.occurrence)


def demands(tell: Tell) -> bool:
    """Whether it asks for something."""
    return tell.kind is not TellKind.ALL_CLEAR


def year(zone: str, seed: int, times: float = 1.0) -> Year:
    """One school year in `zone`. `times` multiplies every rate."""
    return _Running(zone, seed, times).run()
