"""Who is told when, in a school with a workshop lead, a duty warden, an evening tutor and a caretaker."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.effects import AlarmChanged, Effect, Noted, Priority, Tell, TellKind, Transition
from watchdog.core.hours import Span, Week
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.routing import (
    Ladder,
    Lessons,
    Memory,
    Outside,
    Recipient,
    RoutingPlan,
    Rung,
    Step,
    advance,
    explain,
    problems,
    usual,
)
from watchdog.core.timetable import Kind, Period, Timetable

LISBON = ZoneInfo("Europe/Lisbon")
URGENT, HIGH, LOW = Priority.URGENT, Priority.HIGH, Priority.LOW
LEAD, WARDEN, TUTOR, CARETAKER = "workshop-lead", "duty-warden", "evening-tutor", "caretaker"
PEOPLE = (
    Recipient(LEAD),
    Recipient(WARDEN, frozenset({URGENT, HIGH})),
    Recipient(TUTOR),
    Recipient(CARETAKER, frozenset({URGENT}), outside=True),
)
PLAN = usual(PEOPLE)
WEEK = Week((*((Span(780, 1260),) for _ in range(4)), (Span(600, 960),), (Span(600, 780),), ()))


def stamp(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=LISBON).timestamp()


def period(start: str, end: str, kind: Kind, *who: str) -> Period:
    return Period(stamp(start), stamp(end), kind, who)


SCHOOL = Timetable(
    LISBON,
    WEEK,
    (
        period("2026-03-02T14:50", "2026-03-02T16:20", Kind.LESSON),
        period("2026-03-03T17:00", "2026-03-03T21:00", Kind.DUTY, TUTOR),
        period("2026-03-05T00:00", "2026-03-06T00:00", Kind.HOLIDAY),
        period("2026-03-06T10:00", "2026-03-06T16:00", Kind.DUTY, CARETAKER),
    ),
)
BREAK, LESSON, TUESDAY = "2026-03-02T14:40", "2026-03-02T15:00", "2026-03-03T18:00"
NIGHT, HOLIDAY, FRIDAY = "2026-03-03T03:00", "2026-03-05T14:00", "2026-03-06T11:00"


class Talk:
    """A machine's alarms and what the routing makes of them; time in s since `begin`."""

    def __init__(self, begin: str, plan: RoutingPlan = PLAN, timetable: Timetable | None = SCHOOL) -> None:
        self.begin, self.plan, self.timetable = stamp(begin), plan, timetable
        self.memory = Memory()
        self.nth = 0

    def at(self, seconds: float) -> Moment:
        return Moment(5000.0 + seconds, self.begin + seconds)

    def say(self, seconds: float, *effects: Effect) -> tuple[Order, ...]:
        self.memory, orders = advance(self.plan, self.timetable, self.memory, effects, self.at(seconds))
        return orders

    def tell(
        self, seconds: float, kind: TellKind = TellKind.ALARM, priority: Priority = HIGH, alarm: str = "hot-idle"
    ) -> tuple[Order, ...]:
        self.nth += 1
        return self.say(
            seconds, Tell(self.at(seconds), kind, alarm, 1, priority, self.at(0), self.nth, {"nozzle": 205.0}, 300.0)
        )

    def change(
        self, seconds: float, *transitions: Transition, by: str | None = None, alarm: str = "hot-idle"
    ) -> tuple[Order, ...]:
        steps = [AlarmChanged(self.at(seconds), alarm, 1, step, HIGH, {}, by=by) for step in transitions]
        return self.say(seconds, *steps)

    def over(self, seconds: float, priority: Priority = HIGH) -> tuple[Order, ...]:
        """The condition has gone: as the alarms say it, all in one step."""
        self.nth += 1
        at = self.at(seconds)
        changes = [
            AlarmChanged(at, "hot-idle", 1, step, priority, {}) for step in (Transition.RETURNED, Transition.CLEARED)
        ]
        return self.say(
            seconds, *changes, Tell(at, TellKind.ALL_CLEAR, "hot-idle", 1, priority, self.at(0), self.nth, {}, None)
        )


def names(orders: Iterable[Order]) -> list[str]:
    return [order.person for order in orders]


# s, people, loud, waits until
_Step = tuple[int, list[str], bool, str | None]
# when, priority, every step while nobody answers
SITUATIONS: dict[str, tuple[str, Priority, list[_Step]]] = {
    "urgent in a lesson": (
        LESSON, URGENT, [(0, [LEAD], False, None), (120, [WARDEN], False, None), (240, [TUTOR, CARETAKER], True, None)],
    ),
    "high in a lesson": (
        LESSON, HIGH, [(0, [LEAD], False, None), (600, [WARDEN], False, None), (900, [TUTOR], True, None)],
    ),
    "low in a lesson": (LESSON, LOW, [(0, [LEAD], False, "2026-03-02T16:20"), (86400, [TUTOR], False, None)]),
    "low in a break": (BREAK, LOW, [(0, [LEAD], False, None), (86400, [TUTOR], False, None)]),
    "urgent on a Tuesday evening": (
        TUESDAY, URGENT, [(0, [TUTOR], False, None), (120, [LEAD], False, None), (240, [WARDEN, CARETAKER], True, None)],
    ),
    "high on a Tuesday evening": (
        TUESDAY, HIGH, [(0, [TUTOR], False, None), (600, [LEAD], False, None), (900, [WARDEN], True, None)],
    ),
    "low on a Tuesday evening": (TUESDAY, LOW, [(0, [TUTOR], False, None), (86400, [LEAD], False, None)]),
    "urgent at night": (
        NIGHT, URGENT, [(0, [CARETAKER], True, None), (120, [LEAD], False, None), (240, [WARDEN, TUTOR], True, None)],
    ),
    "high at night": (NIGHT, HIGH, [(0, [LEAD], False, None), (600, [WARDEN], False, None), (900, [TUTOR], True, None)]),
    "low at night": (
        NIGHT, LOW, [(0, [LEAD], False, "2026-03-03T13:00"), (86400, [TUTOR], False, "2026-03-04T13:00")],
    ),
    "urgent on a holiday": (
        HOLIDAY, URGENT, [(0, [CARETAKER], True, None), (120, [LEAD], False, None), (240, [WARDEN, TUTOR], True, None)],
    ),
    "low on a holiday": (HOLIDAY, LOW, [(0, [LEAD], False, "2026-03-06T10:00"), (86400, [TUTOR], False, None)]),
    "high while somebody is on duty who takes urgent ones only": (
        FRIDAY, HIGH, [(0, [LEAD], False, None), (600, [WARDEN], False, None), (900, [TUTOR], True, None)],
    ),
    "urgent while the caretaker is on duty": (
        FRIDAY, URGENT, [(0, [CARETAKER], False, None), (120, [LEAD], False, None), (240, [WARDEN, TUTOR], True, None)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SITUATIONS)
def test_while_nobody_answers_the_next_one_is_told(name: str) -> None:
    begin, priority, steps = SITUATIONS[name]
    talk = Talk(begin)
    seen = [(0.0, order) for order in talk.tell(0, priority=priority)]
    for second in (*range(1, 1000, 1), 86399, 86400):
        seen += [(float(second), order) for order in talk.say(second)]
    expected = [
        (after, person, loud, None if waits is None else stamp(waits))
        for after, people, loud, waits in steps
        for person in people
    ]
    assert [(after, order.person, order.loud, order.not_before) for after, order in seen] == expected
    assert all(order.tell.kind is TellKind.ALARM for _, order in seen), "it is no reminder to whoever hears it first"
    assert all(order.why for _, order in seen)


@pytest.mark.parametrize("name", SITUATIONS)
def test_what_is_explained_is_what_happens(name: str) -> None:
    """`status` and `test-alert` must not promise a caretaker who would sleep through it."""
    begin, priority, steps = SITUATIONS[name]
    told = explain(PLAN, SCHOOL, priority, Moment(7.0, stamp(begin)))
    assert [(step.after, list(step.people), step.loud) for step in told] == [step[:3] for step in steps]
    assert [step.not_before for step in told] == [None if step[3] is None else stamp(step[3]) for step in steps]


def test_a_moment_without_news_gives_the_same_memory_back() -> None:
    talk = Talk(BREAK)
    talk.tell(0)
    memory = talk.memory
    talk.say(1)
    talk.say(599, Noted(talk.at(599), "odd-traffic", {}))
    assert talk.memory is memory


def test_a_calendar_that_cannot_be_read_counts_as_on_duty_and_calls_who_takes_calls() -> None:
    """At night with a broken calendar the caretaker must hear of a runaway; in the afternoon the lead must."""
    talk = Talk(NIGHT, timetable=replace(SCHOOL, trouble="holidays.ics could not be read"))
    assert names(talk.tell(0, priority=URGENT)) == [LEAD, CARETAKER]
    low = Talk(NIGHT, timetable=replace(SCHOOL, trouble="holidays.ics could not be read"))
    assert [order.not_before for order in low.tell(0, priority=LOW)] == [None]


@pytest.mark.parametrize("timetable", [None, Timetable(LISBON)], ids=["no timetable", "no hours"])
def test_where_no_hours_are_named_nothing_waits_and_nobody_is_called_beside(timetable: Timetable | None) -> None:
    assert names(Talk(NIGHT, timetable=timetable).tell(0, priority=URGENT)) == [LEAD]
    assert [order.not_before for order in Talk(NIGHT, timetable=timetable).tell(0, priority=LOW)] == [None]


def test_at_night_with_nobody_named_everybody_is_called() -> None:
    talk = Talk(NIGHT, usual(tuple([person._replace(outside=False) for person in PEOPLE])))
    orders = talk.tell(0, priority=URGENT)
    assert names(orders) == [LEAD, WARDEN, TUTOR, CARETAKER]
    assert all(order.loud for order in orders)


@pytest.mark.parametrize(("priority", "told"), [(URGENT, [LEAD, WARDEN]), (HIGH, [LEAD, WARDEN]), (LOW, [])])
def test_what_nobody_takes_goes_to_everybody_unless_it_is_low(priority: Priority, told: list[str]) -> None:
    other = frozenset(set(Priority) - {priority})
    plan = usual((Recipient(LEAD, other), Recipient(WARDEN, other)))
    talk = Talk(BREAK, plan)
    orders = [*talk.tell(0, priority=priority), *talk.say(600), *talk.say(1200)]
    assert names(orders) == told


def test_one_person_alone_is_told_by_reminders_only() -> None:
    talk = Talk(BREAK, usual((Recipient(LEAD),)))
    assert names(talk.tell(0)) == [LEAD]
    assert not [order for second in range(1, 4000, 7) for order in talk.say(second)]
    assert [(order.person, order.loud) for order in talk.tell(4001, TellKind.REMINDER)] == [(LEAD, False)]


def test_a_reminder_goes_to_everybody_who_was_told_and_louder_after_the_loud_step() -> None:
    talk = Talk(BREAK)
    talk.tell(0)
    assert names(talk.tell(300, TellKind.REMINDER)) == [LEAD]
    talk.say(600)
    both = talk.tell(899, TellKind.REMINDER)
    assert [(order.person, order.loud, order.tell.kind) for order in both] == [
        (LEAD, False, TellKind.REMINDER),
        (WARDEN, False, TellKind.REMINDER),
    ]
    assert names(talk.say(900)) == [TUTOR], "the others have had this very message"
    assert [(order.person, order.loud) for order in talk.tell(2100, TellKind.REMINDER)] == [
        (LEAD, True), (WARDEN, True), (TUTOR, True),
    ]  # fmt: skip


def test_whoever_comes_on_duty_hears_the_next_reminder() -> None:
    """The tutor takes over at 17:00; the lead has left."""
    talk = Talk("2026-03-03T16:58")
    assert names(talk.tell(0)) == [LEAD]
    assert names(talk.tell(300, TellKind.REMINDER)) == [LEAD, TUTOR]


def test_an_urgent_alarm_that_outlasts_the_hours_finds_the_caretaker() -> None:
    talk = Talk("2026-03-02T20:59")
    assert names(talk.tell(0, priority=URGENT)) == [LEAD]
    assert names(talk.say(120)) == [WARDEN, CARETAKER]


def test_a_reminder_after_the_hours_finds_the_caretaker_too() -> None:
    plan = replace(PLAN, ladders={URGENT: Ladder((Rung("duty"),), outside=Outside.NAMED)})
    talk = Talk("2026-03-02T20:59", plan)
    assert names(talk.tell(0, priority=URGENT)) == [LEAD]
    assert names(talk.tell(30, TellKind.REMINDER, URGENT)) == [LEAD]
    assert [(order.person, order.loud) for order in talk.tell(120, TellKind.REMINDER, URGENT)] == [
        (LEAD, False), (CARETAKER, True),
    ]  # fmt: skip


def test_after_an_acknowledgement_nobody_is_told_but_that_it_is_over() -> None:
    talk = Talk(BREAK)
    talk.tell(0)
    talk.say(600)
    talk.change(650, Transition.ACKNOWLEDGED, by=WARDEN)
    assert not [order for second in range(651, 5000, 13) for order in talk.say(second)]
    orders = talk.over(5000)
    assert [(order.person, order.tell.kind) for order in orders] == [
        (LEAD, TellKind.ALL_CLEAR), (WARDEN, TellKind.ALL_CLEAR),
    ]  # fmt: skip
    assert talk.memory == Memory()


def test_an_all_clear_calls_back_who_is_on_the_way_and_else_waits_for_the_break() -> None:
    unanswered, taken = Talk(LESSON), Talk(LESSON)
    unanswered.tell(0)
    taken.tell(0)
    taken.change(30, Transition.ACKNOWLEDGED, by=LEAD)
    assert [order.not_before for order in unanswered.over(60)] == [None]
    assert [order.not_before for order in taken.over(60)] == [stamp("2026-03-02T16:20")]


def test_what_came_and_went_within_a_lesson_is_told_to_nobody() -> None:
    """Its message is taken back from the outbox before it was due, so there is nothing to call back."""
    talk = Talk(LESSON)
    assert len(talk.tell(0, priority=LOW)) == 1
    assert not talk.over(600, LOW)


def test_who_never_heard_of_it_hears_no_all_clear() -> None:
    """A colleague answered in the lesson, so the message was taken back before it was due."""
    talk = Talk(LESSON)
    talk.tell(0, priority=LOW)
    talk.change(60, Transition.ACKNOWLEDGED, by=WARDEN)
    assert not talk.over(2 * 3600, LOW)


def test_who_heard_of_it_before_the_lesson_hears_that_it_is_over() -> None:
    """Only the reminder was taken back."""
    talk = Talk(BREAK)
    talk.tell(0, priority=LOW)
    assert [order.not_before for order in talk.tell(3600, TellKind.REMINDER, LOW)] == [stamp("2026-03-02T16:20")]
    talk.change(4000, Transition.ACKNOWLEDGED, by=WARDEN)
    assert [(order.person, order.not_before) for order in talk.over(4060, LOW)] == [(LEAD, stamp("2026-03-02T16:20"))]


def test_an_all_clear_never_overtakes_the_message_that_it_ends() -> None:
    """A house may lower what latches: it returns, is not cleared, and its message still waits."""
    talk = Talk(NIGHT)
    (waits,) = [order.not_before for order in talk.tell(0, priority=LOW)]
    talk.timetable = replace(SCHOOL, trouble="not readable")
    talk.change(60, Transition.RETURNED)
    assert [order.not_before for order in talk.tell(60, TellKind.ALL_CLEAR, LOW)] == [waits]


def test_told_again_nobody_has_it_in_hand_and_the_all_clear_calls_back() -> None:
    talk = Talk(LESSON)
    talk.tell(0)
    talk.change(30, Transition.ACKNOWLEDGED, by=LEAD)
    talk.tell(1800, TellKind.REMINDER)
    assert [order.not_before for order in talk.over(1860)] == [None]


def test_what_waited_for_the_night_does_not_come_with_the_first_words_of_a_lesson() -> None:
    opening = period("2026-03-03T13:00", "2026-03-03T14:30", Kind.LESSON)
    early = replace(SCHOOL, periods=tuple(sorted((*SCHOOL.periods, opening))))
    assert [order.not_before for order in Talk(NIGHT, timetable=early).tell(0, priority=LOW)] == [
        stamp("2026-03-03T14:30")
    ]


def test_a_reminder_does_not_pile_up_on_a_message_that_still_waits() -> None:
    talk = Talk(NIGHT)
    assert len(talk.tell(0, priority=LOW)) == 1
    assert not talk.tell(3600, TellKind.REMINDER, LOW)
    assert names(talk.tell(11 * 3600, TellKind.REMINDER, LOW)) == [LEAD]
    assert names(talk.over(11 * 3600 + 60, LOW)) == [LEAD]


def test_what_becomes_urgent_goes_to_all_who_know_of_it_and_up_the_steeper_ladder() -> None:
    talk = Talk(BREAK)
    talk.tell(0)
    talk.say(600)
    orders = talk.tell(700, TellKind.ESCALATED, URGENT)
    assert [(order.person, order.tell.kind) for order in orders] == [
        (LEAD, TellKind.ESCALATED), (WARDEN, TellKind.ESCALATED),
    ]  # fmt: skip
    assert not talk.say(819)
    assert names(talk.say(820)) == [TUTOR], "the next who does not know"
    assert names(talk.say(940)) == [CARETAKER]


def test_an_urgent_alarm_that_grew_from_another_reaches_who_knows_of_that_and_who_is_first() -> None:
    """The warden is on the way to a nozzle that does not heat; now it is out of control."""
    talk = Talk(BREAK)
    talk.tell(0)
    talk.say(600)
    talk.begin, talk.nth = talk.begin + 24 * 3600 + 3 * 3600, 0  # the tutor's evening
    orders = talk.tell(650, TellKind.ESCALATED, URGENT, "heat-runaway")
    assert [(order.person, order.tell.kind) for order in orders] == [
        (LEAD, TellKind.ESCALATED), (WARDEN, TellKind.ESCALATED), (TUTOR, TellKind.ALARM),
    ]  # fmt: skip


def test_what_becomes_urgent_in_a_lesson_does_not_wait_with_the_low_message() -> None:
    talk = Talk(LESSON)
    assert talk.tell(0, priority=LOW)[0].not_before is not None
    assert [(order.person, order.not_before) for order in talk.tell(60, TellKind.ESCALATED, URGENT)] == [(LEAD, None)]


@pytest.mark.parametrize(
    ("begin", "priority", "by", "first", "later"),
    [
        (BREAK, HIGH, WARDEN, [WARDEN], [LEAD]),
        (BREAK, URGENT, WARDEN, [WARDEN, LEAD], [TUTOR]),
        (BREAK, HIGH, "the front desk's account", [LEAD], [WARDEN]),
        ("2026-03-02T20:55", HIGH, WARDEN, [LEAD], [WARDEN]),
        ("2026-03-02T20:55", URGENT, CARETAKER, [CARETAKER], [LEAD]),
    ],
    ids=[
        "who took it on",
        "an urgent one also the first rung",
        "nobody of ours",
        "who has gone home",
        "who takes calls",
    ],
)
def test_told_again_after_it_was_taken_on(
    begin: str, priority: Priority, by: str, first: list[str], later: list[str]
) -> None:
    """Who took it on knows it best; if they have left, the ladder goes on without them."""
    talk = Talk(begin)
    talk.tell(0, priority=priority)
    talk.change(30, Transition.ACKNOWLEDGED, by=by)
    assert names(talk.tell(1800, TellKind.REMINDER, priority)) == first
    assert names(talk.say(1800 + (120 if priority is URGENT else 600))) == later


def test_the_ladder_rests_on_a_shelf_and_while_the_condition_is_gone() -> None:
    shelved, gone = Talk(BREAK), Talk(BREAK)
    shelved.tell(0)
    shelved.change(30, Transition.SHELVED, by=LEAD)
    gone.tell(0, priority=URGENT)
    gone.change(30, Transition.RETURNED)
    for talk in (shelved, gone):
        assert not [order for second in range(31, 3000, 10) for order in talk.say(second)]
    shelved.change(3000, Transition.UNSHELVED)
    assert names(shelved.tell(3001, TellKind.REMINDER)) == [LEAD]
    assert names(gone.tell(3001, TellKind.REMINDER, URGENT)) == [LEAD]
    assert names(gone.say(3121)) == [WARDEN]


def test_an_alarm_that_only_follows_from_another_calls_nobody_else() -> None:
    """The cable is out: whoever goes for that finds the idle nozzle as well."""
    talk = Talk(BREAK)
    talk.tell(0)
    talk.nth = 0
    talk.tell(300, alarm="link-lost")
    assert not talk.say(600)
    assert names(talk.say(900)) == [WARDEN], "for link-lost alone"
    assert [order.tell.alarm for order in talk.change(1000, Transition.CLEARED, alarm="link-lost")] == ["hot-idle"] * 2


def test_it_rests_also_once_somebody_has_the_other_one_in_hand() -> None:
    talk = Talk(BREAK)
    talk.tell(0)
    talk.nth = 0
    talk.tell(300, alarm="link-lost")
    talk.change(310, Transition.ACKNOWLEDGED, by=LEAD, alarm="link-lost")
    assert not [order for second in range(311, 3000, 10) for order in talk.say(second)]


def test_a_notice_goes_once_and_at_once_to_the_first_rung() -> None:
    talk = Talk(LESSON)
    assert [(order.person, order.not_before) for order in talk.tell(0, TellKind.NOTICE, LOW, "first-layer")] == [
        (LEAD, None)
    ]
    assert talk.memory == Memory()


def test_what_the_record_let_go_of_is_followed_no_further() -> None:
    talk = Talk(BREAK)
    talk.tell(0)
    talk.say(10, Noted(talk.at(10), "let-go", {"alarm": "hot-idle", "occurrence": 1, "why": "another version"}))
    assert talk.memory == Memory()


def test_a_memory_that_was_lost_counts_from_the_raising() -> None:
    """After a restart that could not read its memory nobody must wait for the ladder from its start."""
    talk = Talk(BREAK)
    talk.nth = 3
    assert names(talk.tell(1000, TellKind.REMINDER)) == [LEAD, WARDEN, TUTOR]
    assert names(Talk(BREAK).over(10)) == [LEAD, WARDEN, TUTOR]


def test_a_stepped_clock_moves_no_rung() -> None:
    talk = Talk(BREAK)
    talk.tell(0)
    talk.begin += 7200
    assert not talk.say(599)
    talk.begin -= 14400
    assert names(talk.say(600)) == [WARDEN]


def test_a_rung_that_reaches_nobody_gives_way_to_the_next() -> None:
    plan = replace(PLAN, ladders={**PLAN.ladders, HIGH: Ladder((Rung("gone-away"), Rung(WARDEN, 600)))})
    assert names(Talk(BREAK, plan).tell(0)) == [WARDEN]
    nobody = replace(PLAN, ladders={**PLAN.ladders, HIGH: Ladder((Rung("gone-away"),))})
    assert names(Talk(BREAK, nobody).tell(0)) == [LEAD, WARDEN, TUTOR]
    assert names(Talk(BREAK, RoutingPlan(PEOPLE, {})).tell(0)) == [LEAD, WARDEN, TUTOR]


def test_a_step_that_only_makes_the_reminders_loud_is_explained_too() -> None:
    told = explain(usual(PEOPLE[:2]), None, HIGH, Moment(0.0, 0.0))
    assert told[-1] == Step(900.0, (), True, None, ())
    assert [step.people for step in told] == [(LEAD,), (WARDEN,), ()]


def with_high(*rungs: Rung, lessons: Lessons = Lessons.AT_ONCE, outside: Outside = Outside.LADDER) -> RoutingPlan:
    return replace(PLAN, ladders={**PLAN.ladders, HIGH: Ladder(rungs, lessons, outside)})


LAST = Rung("everybody", 900, loud=True)
FAULTS = {
    "the same person twice": (RoutingPlan((*PEOPLE, Recipient(LEAD)), PLAN.ladders), "workshop-lead stands there 2 times"),
    "a name with a meaning": (RoutingPlan((*PEOPLE, Recipient("duty")), PLAN.ladders), "another name"),
    "no ladder": (RoutingPlan(PEOPLE, {URGENT: PLAN.ladders[URGENT], LOW: PLAN.ladders[LOW]}), "has no step"),
    "no rung": (with_high(), "has no step"),
    "a late beginning": (with_high(Rung("duty", 60), LAST), "at once"),
    "a time that is none": (with_high(Rung("duty"), Rung("next", float("nan")), LAST), "no number"),
    "a time below 0": (with_high(Rung("duty", -1), LAST), "below 0"),
    "rungs out of order": (with_high(Rung("duty"), Rung(WARDEN, 1000), LAST), "everybody does not come later"),
    "nobody of that name": (with_high(Rung("headmaster"), LAST), "nobody called headmaster"),
    "somebody who is not told": (with_high(Rung("duty"), Rung(CARETAKER, 60), LAST), "caretaker is not told high alarms"),
    "the same one again": (with_high(Rung(WARDEN), Rung(WARDEN, 60), LAST), "Once is enough"),
    "an end that forgets the others": (with_high(Rung("duty"), Rung(WARDEN, 600)), "everybody after"),
    "a high one that waits": (with_high(Rung("duty"), LAST, lessons=Lessons.WAIT), "only low alarms may wait for the break"),
    "a high one that waits at night": (with_high(Rung("duty"), LAST, outside=Outside.WAIT), "next hours"),
    "calls to nobody who is told": (with_high(Rung("duty"), LAST, outside=Outside.NAMED), "none of those who take calls"),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_plan_that_cannot_be_followed_says_why(name: str) -> None:
    plan, words = FAULTS[name]
    (fault,) = problems(plan)
    assert words in str(fault)


def test_the_usual_plans_are_sound() -> None:
    assert problems(PLAN) == ()
    assert problems(usual(())) == ()
    assert problems(usual(PEOPLE[:1])) == ()


def test_every_fault_is_told_at_once() -> None:
    plan = with_high(Rung("headmaster"), Rung(CARETAKER, 60), lessons=Lessons.WAIT, outside=Outside.WAIT)
    assert len(problems(plan)) == 5


@pytest.mark.parametrize("priority", [URGENT, HIGH])
def test_even_a_faulty_plan_lets_nothing_pressing_wait(priority: Priority) -> None:
    waiting = Ladder((Rung("duty"),), Lessons.WAIT, Outside.WAIT)
    plan = RoutingPlan(PEOPLE, {priority: waiting})
    for begin in (LESSON, NIGHT):
        assert [order.not_before for order in Talk(begin, plan).tell(0, priority=priority)] == [None]
