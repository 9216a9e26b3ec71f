"""The outbox: what is due, what became of it, and that nothing in it is lost or doubled."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.batch import Batch
from watchdog.record.outbox import ANSWERED, LONGEST_WAIT, OVER, UnknownParcel
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record

T0 = Moment(500.0, 1_772_442_000.0)


def tell(nth: int = 1, kind: TellKind = TellKind.ALARM, seconds: float = 0.0) -> Tell:
    at = Moment(T0.elapsed + seconds, T0.stamp + seconds)
    return Tell(at, kind, "job-stalled", 1, Priority.HIGH, T0, nth, {"still_s": 300}, 300.0)


def batch(*tells: Tell, people: tuple[str, ...] = ("workshop lead",)) -> Batch:
    raised = AlarmChanged(T0, "job-stalled", 1, Transition.RAISED, Priority.HIGH, {})
    return Batch("doorway-1", tells[0].at, (raised, *tells), tuple(Order(one, who) for one in tells for who in people))


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with Record.open(tmp_path / "record.db", T0) as opened:
        yield opened


def test_each_person_gets_a_parcel_of_each_message(record: Record) -> None:
    record.commit(batch(tell(), people=("workshop lead", "duty warden")))
    parcels = record.due(T0.stamp)
    assert [(parcel.person, parcel.machine, parcel.attempts) for parcel in parcels] == [
        ("workshop lead", "doorway-1", 0),
        ("duty warden", "doorway-1", 0),
    ]
    assert parcels[0].tell == tell()
    assert parcels[0].created == T0.stamp
    assert parcels[0].refused == frozenset()


def test_a_new_parcel_is_due_even_when_the_clock_was_set_back(record: Record) -> None:
    record.commit(batch(tell()))
    assert len(record.due(T0.stamp - 1_800)) == 1


def test_with_more_than_is_handed_out_at_once_nothing_urgent_is_left_behind(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Behind the flood of a long outage the one message that matters would wait its turn."""
    monkeypatch.setattr("watchdog.record.outbox.MOST_DUE", 3)
    pressing = tell(6)._replace(priority=Priority.URGENT)
    record.commit(batch(*(tell(nth) for nth in range(1, 6)), pressing))
    assert [parcel.tell.nth for parcel in record.due(T0.stamp)] == [1, 2, 6]


def test_a_failed_parcel_waits_for_its_next_try(record: Record) -> None:
    record.commit(batch(tell()))
    (parcel,) = record.due(T0.stamp)
    failed = Attempt(parcel.id, "phone", T0.stamp + 1, Outcome.FAILED, "no network")
    record.log_attempts([failed], {parcel.id: T0.stamp + 30})
    assert record.due(T0.stamp + 29.9) == ()
    (again,) = record.due(T0.stamp + 30)
    assert again.attempts == 1
    assert record.oldest_undelivered() == T0.stamp


def test_a_wait_that_only_a_stepped_clock_explains_is_no_wait(record: Record) -> None:
    """The clock ran a year ahead until the network came; the message must not wait for that year to pass."""
    record.commit(batch(tell()))
    (parcel,) = record.due(T0.stamp)
    record.log_attempts([], {parcel.id: T0.stamp + 365 * 86_400})
    assert len(record.due(T0.stamp)) == 1
    record.log_attempts([], {parcel.id: T0.stamp + LONGEST_WAIT})
    assert record.due(T0.stamp) == ()


def test_routes_that_refused_for_good_are_named(record: Record) -> None:
    record.commit(batch(tell()))
    (parcel,) = record.due(T0.stamp)
    attempts = [
        Attempt(parcel.id, "mail", T0.stamp, Outcome.REFUSED, "550 no such mailbox"),
        Attempt(parcel.id, "phone", T0.stamp, Outcome.FAILED, "time-out"),
    ]
    record.log_attempts(attempts, {})
    (again,) = record.due(T0.stamp)
    assert again.refused == {"mail"}
    assert again.attempts == 2


def test_a_delivered_parcel_leaves_the_outbox_and_stays_in_the_history(record: Record) -> None:
    """Afterwards somebody asks: who was told, and when?"""
    record.commit(batch(tell()))
    (parcel,) = record.due(T0.stamp)
    failed = Attempt(parcel.id, "phone", T0.stamp + 2, Outcome.FAILED, "time-out")
    taken = Attempt(parcel.id, "sms", T0.stamp + 9, Outcome.DELIVERED, "queued")
    record.log_attempts([failed, taken], {}, [parcel.id])
    assert record.due(T0.stamp + 10_000) == ()
    assert record.oldest_undelivered() is None
    incident = record.incident(1)
    assert incident is not None
    (message,) = incident.messages
    assert message.delivered == T0.stamp + 9
    assert [(attempt.route, attempt.outcome, attempt.at) for attempt in message.attempts] == [
        ("phone", Outcome.FAILED, T0.stamp + 2),
        ("sms", Outcome.DELIVERED, T0.stamp + 9),
    ]


def test_what_is_logged_twice_counts_once(record: Record) -> None:
    record.commit(batch(tell()))
    (parcel,) = record.due(T0.stamp)
    failed = Attempt(parcel.id, "phone", T0.stamp, Outcome.FAILED, "")
    for _ in range(2):
        record.log_attempts([failed], {parcel.id: T0.stamp})
    assert record.due(T0.stamp)[0].attempts == 1


def test_a_parcel_can_be_given_up_with_its_reason(record: Record) -> None:
    """The person has left the settings: without this their parcel would stand as the oldest undelivered for good."""
    record.commit(batch(tell()))
    (parcel,) = record.due(T0.stamp)
    record.log_attempts([], {}, given_up={parcel.id: "no such person in the settings"})
    assert record.due(T0.stamp) == ()
    assert record.oldest_undelivered() is None
    incident = record.incident(1)
    assert incident is not None
    assert incident.messages[0].given_up_why == "no such person in the settings"
    assert incident.messages[0].delivered is None


def test_nothing_can_be_logged_for_a_message_that_was_not_committed(record: Record) -> None:
    """Whoever is told without the record is told what nobody can look up."""
    record.commit(batch(tell()))
    (parcel,) = record.due(T0.stamp)
    stray = Attempt(parcel.id + 1, "phone", T0.stamp, Outcome.DELIVERED, "")
    with pytest.raises(UnknownParcel):
        record.log_attempts([Attempt(parcel.id, "phone", T0.stamp, Outcome.FAILED, ""), stray], {}, [parcel.id + 1])
    assert record.due(T0.stamp)[0].attempts == 0


def test_reminders_and_the_all_clear_are_messages_of_their_own(record: Record) -> None:
    record.commit(batch(tell()))
    record.commit(batch(tell(2, TellKind.REMINDER, 300)))
    record.commit(batch(tell(2, TellKind.ALL_CLEAR, 310)))
    kinds = [parcel.tell.kind for parcel in record.due(T0.stamp + 400)]
    assert kinds == [TellKind.ALARM, TellKind.REMINDER, TellKind.ALL_CLEAR]
    assert record.oldest_undelivered() == T0.stamp


def waiting(record: Record, seconds: float, *, loud: bool = False) -> None:
    """A message that is collected for the break, `seconds` after the first moment."""
    order = Order(tell(), "workshop lead", T0.stamp + seconds, loud, "collected until the break")
    record.commit(batch(tell())._replace(orders=(order,)))


def steps(transition: Transition, seconds: float) -> Batch:
    at = Moment(T0.elapsed + seconds, T0.stamp + seconds)
    return Batch(
        "doorway-1", at, (AlarmChanged(at, "job-stalled", 1, transition, Priority.HIGH, {}, "lead", "command"),)
    )


def test_a_message_for_the_break_waits_for_the_break(record: Record) -> None:
    waiting(record, 1_500, loud=True)
    assert record.due(T0.stamp + 1_499.9) == ()
    (parcel,) = record.due(T0.stamp + 1_500)
    assert (parcel.not_before, parcel.loud, parcel.why) == (T0.stamp + 1_500, True, "collected until the break")
    incident = record.incident(1)
    assert incident is not None
    (message,) = incident.messages
    assert (message.not_before, message.loud, message.why) == (T0.stamp + 1_500, True, "collected until the break")


def test_a_message_for_the_next_morning_waits_longer_than_any_back_off(record: Record) -> None:
    waiting(record, 50_000)
    assert record.due(T0.stamp + 1) == ()
    assert record.oldest_undelivered() == T0.stamp + 50_000  # nothing is late yet
    assert record.due(T0.stamp - 60) == ()  # the clock was put right by a minute
    assert len(record.due(T0.stamp + 50_000)) == 1


def test_a_break_that_a_stepped_clock_put_years_ahead_is_not_waited_for(record: Record) -> None:
    waiting(record, 1_500)
    assert len(record.due(T0.stamp - 365 * 86_400)) == 1


@pytest.mark.parametrize(
    ("transition", "why"), [(Transition.ACKNOWLEDGED, ANSWERED), (Transition.CLEARED, OVER)], ids=["answered", "over"]
)
def test_what_is_answered_or_over_before_its_time_is_not_said_any_more(
    record: Record, transition: Transition, why: str
) -> None:
    """At the break somebody would read that they must see to what was seen to an hour ago."""
    waiting(record, 1_500)
    record.commit(steps(transition, 600))
    assert record.due(T0.stamp + 2_000) == ()
    assert record.oldest_undelivered() is None
    incident = record.incident(1)
    assert incident is not None
    assert (incident.messages[0].given_up, incident.messages[0].given_up_why) == (T0.stamp + 600, why)


@pytest.mark.parametrize("transition", [Transition.RETURNED, Transition.SHELVED, Transition.ESCALATED])
def test_any_other_step_leaves_what_waits(record: Record, transition: Transition) -> None:
    waiting(record, 1_500)
    record.commit(steps(transition, 600))
    assert len(record.due(T0.stamp + 2_000)) == 1


def test_a_message_that_the_network_held_up_is_never_withdrawn(record: Record) -> None:
    """Somebody was meant to know by then: they learn of it late rather than never."""
    waiting(record, 100)
    (parcel,) = record.due(T0.stamp + 100)
    failed = Attempt(parcel.id, "phone", T0.stamp + 101, Outcome.FAILED, "no network")
    record.log_attempts([failed], {parcel.id: T0.stamp + 130})
    record.commit(steps(Transition.ACKNOWLEDGED, 50))  # the wall clock went back by two minutes
    record.commit(steps(Transition.CLEARED, 200))
    assert len(record.due(T0.stamp + 300)) == 1


def test_a_message_whose_time_has_come_is_never_withdrawn(record: Record) -> None:
    waiting(record, 100)
    record.commit(steps(Transition.CLEARED, 200))
    assert len(record.due(T0.stamp + 300)) == 1


def test_the_next_occurrence_and_other_machines_keep_what_waits(record: Record) -> None:
    waiting(record, 1_500)
    later = steps(Transition.CLEARED, 600)
    (change,) = later.effects
    assert isinstance(change, AlarmChanged)
    record.commit(later._replace(machine="loft-1"))
    record.commit(later._replace(effects=(change._replace(occurrence=2),)))
    record.commit(later._replace(effects=(change._replace(alarm="job-late"),)))
    assert len(record.due(T0.stamp + 1_500)) == 1


def test_the_all_clear_may_be_collected_too(record: Record) -> None:
    """It is committed with the very step that takes the other messages back."""
    record.commit(batch(tell()))
    over = steps(Transition.CLEARED, 600)
    clear = Order(tell(2, TellKind.ALL_CLEAR, 600), "workshop lead", T0.stamp + 1_500)
    record.commit(over._replace(effects=(*over.effects, clear.tell), orders=(clear,)))
    kinds = [parcel.tell.kind for parcel in record.due(T0.stamp + 1_500)]
    assert kinds == [TellKind.ALARM, TellKind.ALL_CLEAR]


def test_an_alarm_that_comes_and_goes_within_one_batch_leaves_nothing_to_say(record: Record) -> None:
    first, last = batch(tell()), steps(Transition.CLEARED, 5)
    order = Order(tell(), "workshop lead", T0.stamp + 1_500)
    both = Batch("doorway-1", last.at, (*first.effects, *last.effects), (order,))
    for _ in range(2):
        record.commit(both)
        assert record.due(T0.stamp + 1_500) == ()


def test_when_a_person_was_told_is_counted_by_messages_that_went_out(record: Record) -> None:
    """One message a person a minute: one that went out for three alarms together is one."""
    record.commit(batch(tell(), tell(2, TellKind.REMINDER, 1), tell(3, TellKind.REMINDER, 2)))
    record.commit(batch(tell(4, TellKind.REMINDER, 3), people=("duty warden",)))
    first, second, third, other = record.due(T0.stamp + 10)
    taken = [Attempt(one.id, "phone", T0.stamp + 10, Outcome.DELIVERED, "") for one in (first, second, other)]
    record.log_attempts(taken, {}, [first.id, second.id, other.id])
    record.log_attempts([Attempt(third.id, "phone", T0.stamp + 80, Outcome.DELIVERED, "")], {}, [third.id])
    assert record.told("workshop lead", T0.stamp) == (T0.stamp + 10, T0.stamp + 80)
    assert record.told("workshop lead", T0.stamp + 11) == (T0.stamp + 80,)
    assert record.told("caretaker", T0.stamp) == ()
