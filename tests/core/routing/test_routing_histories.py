"""Whatever happens at a machine and whoever answers, in any order, at any hour: the rules of the routing hold.

The alarms are the real ones, with delays of seconds. What comes out is judged from the outside, by a bookkeeping of our own.
"""

import copy
from collections import defaultdict
from dataclasses import replace
from zoneinfo import ZoneInfo

import hypothesis.strategies as st
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from pydantic import TypeAdapter

from watchdog.core.alarms import book as alarms
from watchdog.core.alarms.book import Book
from watchdog.core.alarms.standing import Phase, announced
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import AlarmChanged, Effect, Priority, Tell, TellKind, Transition
from watchdog.core.events import Acknowledge, Shelve, Unshelve
from watchdog.core.finding import Finding
from watchdog.core.hours import Span, Week
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.routing import Ladder, Lessons, Memory, Outside, Recipient, RoutingPlan, Rung, advance, usual
from watchdog.core.timetable import Kind, Period, Timetable

MEMORIES = TypeAdapter(Memory)
SOME = ("heat-runaway", "silent-hot", "link-lost", "card-fault", "job-stalled", "job-late", "hot-idle", "silent")
SMALL = {
    name: replace(TABLE[name], on_delay=float(place % 3), off_delay=float(place % 4)) for place, name in enumerate(SOME)
}
SMALL["hot-idle"] = replace(SMALL["hot-idle"], re_alarm_after=900.0)
SMALL["job-late"] = replace(SMALL["job-late"], re_alarm_after=1800.0)
URGENT, HIGH, LOW = Priority.URGENT, Priority.HIGH, Priority.LOW
NAMES = ("workshop-lead", "duty-warden", "evening-tutor", "caretaker")
BEGIN = 1_772_442_000.0

recipients = st.lists(
    st.tuples(st.sampled_from(NAMES), st.frozensets(st.sampled_from(list(Priority)), min_size=1), st.booleans()),
    min_size=1,
    max_size=4,
    unique_by=lambda one: one[0],
).map(lambda found: tuple([Recipient(*one) for one in found]))
rungs = st.lists(
    st.builds(
        Rung,
        st.sampled_from([*NAMES, "duty", "next", "everybody", "nobody-there"]),
        st.sampled_from([0.0, 5.0, 60.0, 120.0, 600.0, 3600.0]),
        st.booleans(),
    ),
    max_size=4,
).map(lambda found: tuple(sorted(found, key=lambda rung: rung.after)))
ladders = st.builds(Ladder, rungs, st.sampled_from(Lessons), st.sampled_from(Outside))
plans = recipients.map(usual) | st.builds(
    RoutingPlan, recipients, st.dictionaries(st.sampled_from(list(Priority)), ladders)
)
spans = st.tuples(st.integers(-20, 200), st.integers(1, 48))
periods = st.lists(
    st.builds(
        lambda span, kind, who: Period(
            BEGIN + span[0] * 1800, BEGIN + (span[0] + span[1]) * 1800, kind, (who,) if kind is Kind.DUTY else ()
        ),
        spans,
        st.sampled_from(Kind),
        st.sampled_from(NAMES),
    ),
    max_size=6,
).map(lambda found: tuple(sorted(found)))
WEEK = Week(tuple((Span(780, 1260),) for _ in range(7)))
timetables = st.none() | st.builds(
    Timetable,
    st.sampled_from([ZoneInfo("Europe/Lisbon"), ZoneInfo("America/Halifax")]),
    st.none() | st.just(WEEK),
    periods,
    st.none(),
    st.sampled_from([None, None, "not readable"]),
)
names = st.sampled_from(SOME)
findings = st.builds(
    Finding,
    present=st.sampled_from([True, True, False, None]),
    evidence=st.dictionaries(
        st.sampled_from(["nozzle", "byte"]), st.integers(0, 300) | st.text(max_size=3), max_size=1
    ),
    urgent=st.sampled_from([False, False, True]),
)


class Histories(RuleBasedStateMachine):
    """One machine, its alarms and its people; a second memory is frozen to JSON and thawed before every step."""

    def __init__(self) -> None:
        super().__init__()
        self.book, self.memory, self.thawed = Book(), Memory(), Memory()
        self.seen = {name: Finding(False) for name in SOME}
        self.elapsed, self.stamp = 500.25, BEGIN
        self.silenced: dict[tuple[str, int], bool] = defaultdict(bool)
        self.ordered: dict[tuple[str, int], set[tuple[str, int]]] = defaultdict(set)

    @initialize(plan=plans, timetable=timetables)
    def school(self, plan: RoutingPlan, timetable: Timetable | None) -> None:
        self.plan, self.timetable = plan, timetable

    @property
    def at(self) -> Moment:
        return Moment(self.elapsed, self.stamp)

    def route(self, said: tuple[Effect, ...]) -> tuple[Order, ...]:
        before = copy.deepcopy(self.memory)
        after, orders = advance(self.plan, self.timetable, self.memory, said, self.at)
        assert self.memory == before, "a memory is never changed in place"
        self.thawed = MEMORIES.validate_json(MEMORIES.dump_json(self.thawed))
        assert advance(self.plan, self.timetable, self.thawed, said, self.at) == (after, orders)
        self.thawed, self.memory = after, after
        self.only_forward(before)
        self.judge(said, orders)
        return orders

    def only_forward(self, before: Memory) -> None:
        """A ladder is climbed and never descended; nobody who heard of an alarm is forgotten while it stands."""
        for alarm, case in self.memory.cases.items():
            old = before.cases.get(alarm)
            if old is None or old.occurrence != case.occurrence:
                continue
            if old.since == case.since and old.priority is case.priority:
                assert case.rung >= old.rung
            unheard = {one.person for one in old.told if one.waits is not None and not one.earlier}
            assert {one.person for one in old.told} - {one.person for one in case.told} <= unheard
            times = {one.person: one.times for one in old.told}
            assert all(one.times >= times.get(one.person, 0) for one in case.told if one.person not in unheard)

    def judge(self, said: tuple[Effect, ...], orders: tuple[Order, ...]) -> None:
        for effect in said:
            if isinstance(effect, Tell):
                identity = (effect.alarm, effect.occurrence)
                mine = [order for order in orders if (order.tell.alarm, order.tell.occurrence) == identity]
                if effect.kind is not TellKind.ALL_CLEAR:
                    self.silenced[identity] = False
                if effect.kind in (TellKind.ALARM, TellKind.ESCALATED) and effect.priority is not LOW:
                    assert mine, "a pressing alarm reached nobody"
                    assert any(order.not_before is None for order in mine)
            elif isinstance(effect, AlarmChanged) and effect.transition in (
                Transition.ACKNOWLEDGED,
                Transition.SHELVED,
            ):
                self.silenced[effect.alarm, effect.occurrence] = True
        for order in orders:
            self.judge_order(order)

    def judge_order(self, order: Order) -> None:
        tell = order.tell
        identity = (tell.alarm, tell.occurrence)
        assert order.person in {person.name for person in self.plan.people}
        assert order.why
        assert order.not_before is None or order.not_before > self.stamp
        if tell.kind is TellKind.ALL_CLEAR:
            assert order.person in {person for person, _ in self.ordered[identity]}, (
                "an all-clear of what they never heard"
            )
            return
        assert not self.silenced[identity], "told after somebody took it on"
        assert (order.person, tell.nth) not in self.ordered[identity], "told the same message twice"
        assert order.not_before is None or tell.priority is LOW, "a pressing message waits"
        assert tell.at == self.at
        assert tell.kind is not TellKind.REMINDER or self.ordered[identity], "a reminder of what nobody was told"
        self.ordered[identity].add((order.person, tell.nth))

    @rule(name=names, finding=findings)
    def turns(self, name: str, finding: Finding) -> None:
        self.seen[name] = finding

    @rule(seconds=st.sampled_from([0.0, 1.0, 3.0, 61.0, 121.0, 301.0, 601.0, 3601.0, 40_000.0]), twice=st.booleans())
    def time_passes(self, seconds: float, twice: bool) -> None:
        for _ in range(1 + twice):
            self.elapsed += seconds
            self.stamp += seconds
            self.book, said = alarms.advance(SMALL, self.book, self.seen, self.at)
            self.route(said)

    @rule(by=st.sampled_from([-7200.0, -60.0, 3600.0]))
    def the_clock_is_set(self, by: float) -> None:
        self.stamp += by

    @rule(name=names, by=st.sampled_from([*NAMES, "front-desk"]))
    def acknowledge(self, name: str, by: str) -> None:
        self.book, said = alarms.acknowledge(SMALL, self.book, Acknowledge(self.at, name, by, "link"))
        self.route(said)

    @rule(name=names, seconds=st.sampled_from([5.0, 300.0, 3600.0]))
    def shelve(self, name: str, seconds: float) -> None:
        self.book, said = alarms.shelve(SMALL, self.book, Shelve(self.at, name, seconds, NAMES[0], "at work on it"))
        self.route(said)

    @rule(name=names)
    def unshelve(self, name: str) -> None:
        self.book, said = alarms.unshelve(SMALL, self.book, Unshelve(self.at, name, NAMES[0]))
        self.route(said)

    @invariant()
    def what_is_followed_is_what_stands(self) -> None:
        for alarm, case in self.memory.cases.items():
            standing = self.book.alarms[alarm]
            assert announced(standing) or standing.phase is Phase.RETURNED
            assert standing.occurrence == case.occurrence

    @invariant()
    def without_news_nothing_changes(self) -> None:
        if self.memory.due is None or self.elapsed < self.memory.due:
            again = advance(self.plan, self.timetable, self.memory, (), self.at)
            assert again[0] is self.memory
            assert again[1] == ()


TestHistories = Histories.TestCase
TestHistories.settings = settings(max_examples=200, stateful_step_count=40, deadline=None)
