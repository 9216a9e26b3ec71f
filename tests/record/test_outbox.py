"""The outbox: what is due, what became of it, and that nothing in it is lost or doubled."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.record.batch import Batch
from watchdog.record.outbox import LONGEST_WAIT, UnknownParcel
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record

T0 = Moment(500.0, 1_772_442_000.0)


def tell(nth: int = 1, kind: TellKind = TellKind.ALARM, seconds: float = 0.0) -> Tell:
    at = Moment(T0.elapsed + seconds, T0.stamp + seconds)
    return Tell(at, kind, "job-stalled", 1, Priority.HIGH, T0, nth, {"still_s": 300}, 300.0)


def batch(*tells: Tell, people: tuple[str, ...] = ("workshop lead",)) -> Batch:
    raised = AlarmChanged(T0, "job-stalled", 1, Transition.RAISED, Priority.HIGH, {})
    return Batch("doorway-1", tells[0].at, (raised, *tells), tuple((one, who) for one in tells for who in people))


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
