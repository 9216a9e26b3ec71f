"""What can be asked of the record."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.core.effects import (
    AlarmChanged,
    Effect,
    JobChanged,
    Noted,
    Priority,
    StateChanged,
    Tell,
    TellKind,
    Transition,
)
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.batch import Batch
from watchdog.record.minutes import Minute, Spread
from watchdog.record.rows import EventRow, JobRow, MinuteRow
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt
from watchdog.record.term_rows import LabelNow

BASE = Moment(5_000.0, 1_772_442_000.0)


def at(seconds: float) -> Moment:
    return Moment(BASE.elapsed + seconds, BASE.stamp + seconds)


def alarm(
    seconds: float, name: str, transition: Transition, priority: Priority = Priority.HIGH, **who: str
) -> AlarmChanged:
    return AlarmChanged(at(seconds), name, 1, transition, priority, {"at": seconds}, who.get("by"), who.get("how"))


def job(
    seconds: float, event: str, number: int, since: float, file: str | None = None, why: str | None = None
) -> Effect:
    return JobChanged(at(seconds), event, number, file, 812_345, "card", since, why)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with Record.open(tmp_path / "record.db", at(-1), keep_names=True) as opened:
        yield opened


def write(record: Record, *effects: Effect, machine: str = "doorway-1") -> None:
    for effect in effects:
        people = (Order(effect, "workshop lead"),) if isinstance(effect, Tell) else ()
        record.commit(Batch(machine, effect.at, (effect,), people))


def evening(record: Record) -> None:
    """A hot idle nozzle on one machine that somebody takes on, later a runaway on the other that nobody has seen yet."""
    write(
        record,
        job(-90, "started", 1, 0),
        job(-30, "held", 1, 60, "OAR.GCO"),
        job(-20, "resumed", 1, 70),
        job(-10, "completed", 1, 80),
        StateChanged(at(-10), "execution", "building", "complete"),
        alarm(0, "hot-idle", Transition.RAISED),
        Tell(at(0), TellKind.ALARM, "hot-idle", 1, Priority.HIGH, at(0), 1, {"nozzle": 204.0}, 300.0),
        alarm(40, "hot-idle", Transition.ACKNOWLEDGED, by="workshop lead", how="command"),
        alarm(60, "hot-idle", Transition.RETURNED),
        alarm(60, "hot-idle", Transition.CLEARED),
    )
    write(
        record,
        alarm(5_000, "job-late", Transition.RAISED, Priority.LOW),
        alarm(5_010, "heat-runaway", Transition.RAISED, Priority.URGENT),
        machine="loft-1",
    )


def test_incidents_are_listed_newest_first(record: Record) -> None:
    evening(record)
    loft, doorway = record.incidents()
    assert (loft.id, loft.machine, loft.opened, loft.quiet) == (2, "loft-1", at(5_000).stamp, None)
    assert (loft.alarms, loft.priority, loft.standing, loft.messages) == (
        ("job-late", "heat-runaway"),
        Priority.URGENT,
        2,
        0,
    )
    assert (doorway.quiet, doorway.acknowledged_by, doorway.messages) == (at(60).stamp, ("workshop lead",), 1)


def test_incidents_are_found_by_time_machine_alarm_and_state(record: Record) -> None:
    evening(record)

    def found(**asked: object) -> list[int]:
        return [row.id for row in record.incidents(**asked)]  # type: ignore[arg-type]

    assert found(since=at(61).stamp) == [2]
    assert found(since=at(60).stamp) == [2, 1]
    assert found(until=at(5_000).stamp) == [1]
    assert found(machine="doorway-1") == [1]
    assert found(alarm="heat-runaway") == [2]
    assert found(alarm="silent") == []
    assert found(open_only=True) == [2]
    assert found(limit=1) == [2]


def test_one_incident_shows_everything_in_the_order_of_time(record: Record) -> None:
    evening(record)
    found = record.incident(1)
    assert found is not None
    assert [step.event for step in found.jobs] == ["started", "held", "resumed", "completed"]
    assert found.jobs[0].file == "OAR.GCO"  # told only later
    assert [(state.before, state.after) for state in found.states] == [("building", "complete")]
    (one,) = found.alarms
    assert (one.acknowledged, one.acknowledged_by, one.acknowledged_how) == (at(40).stamp, "workshop lead", "command")
    assert (one.raised, one.returned, one.cleared, one.let_go) == (at(0).stamp, at(60).stamp, at(60).stamp, None)
    assert [step.transition.value for step in one.steps] == ["raised", "acknowledged", "returned", "cleared"]
    assert [step.evidence["at"] for step in one.steps] == [0, 40, 60, 60]
    (message,) = found.messages
    assert (message.person, message.tell.evidence, message.attempts) == ("workshop lead", {"nozzle": 204.0}, ())


@pytest.mark.parametrize(
    ("reference", "number"),
    [
        (2, 2),
        ("2", 2),
        ("#1", 1),
        (" 1 ", 1),
        ("loft-1/heat-runaway", 2),
        ("doorway-1/hot-idle", None),  # does not stand any more
        ("3", None),
        ("9" * 40, None),
        ("", None),
        ("²", None),
        ("heat-runaway", None),
    ],
)
def test_an_incident_is_named_by_number_or_by_a_standing_alarm(
    record: Record, reference: int | str, number: int | None
) -> None:
    evening(record)
    found = record.incident(reference)
    assert (None if found is None else found.row.id) == number


def test_standing_alarms_come_most_urgent_first(record: Record) -> None:
    evening(record)
    assert [(one.alarm, one.priority) for one in record.standing()] == [
        ("heat-runaway", Priority.URGENT),
        ("job-late", Priority.LOW),
    ]
    assert record.standing("doorway-1") == ()


def test_an_acknowledged_alarm_stands_until_it_is_cleared(record: Record) -> None:
    write(
        record,
        alarm(0, "heat-runaway", Transition.RAISED, Priority.URGENT),
        alarm(9, "heat-runaway", Transition.RETURNED, Priority.URGENT),
        alarm(20, "heat-runaway", Transition.ACKNOWLEDGED, Priority.URGENT, by="caretaker"),
    )
    (one,) = record.standing()
    assert (one.returned, one.acknowledged, one.acknowledged_by) == (at(9).stamp, at(20).stamp, "caretaker")
    assert one.shelved is False
    write(record, alarm(30, "heat-runaway", Transition.SHELVED, Priority.URGENT))
    assert record.standing()[0].shelved is True
    write(record, alarm(40, "heat-runaway", Transition.UNSHELVED, Priority.URGENT))
    assert record.standing()[0].shelved is False


def test_an_alarm_that_became_urgent_is_shown_so(record: Record) -> None:
    write(
        record,
        alarm(0, "card-fault", Transition.RAISED),
        alarm(30, "card-fault", Transition.ESCALATED, Priority.URGENT),
    )
    assert record.standing()[0].priority is Priority.URGENT
    assert record.incidents()[0].priority is Priority.URGENT


def test_jobs_are_listed_with_how_they_ended(record: Record) -> None:
    evening(record)
    write(record, job(100, "started", 2, 0), job(400, "abandoned", 2, 300, None, "stopped at the machine"))
    write(record, job(500, "started", 3, 0))
    three, two, one = record.jobs()
    assert one[:12] == (
        "doorway-1",
        1,
        "OAR.GCO",
        812_345,
        "card",
        at(-90).stamp,
        at(-10).stamp,
        "completed",
        None,
        80.0,
        1,
        1,
    )
    assert one[13:] == (*(None,) * 13, 0.0, LabelNow(*(None,) * 6))
    assert isinstance(one, JobRow)
    assert one.name_hash is not None
    assert (two.ending, two.why, two.seconds, two.holds) == ("abandoned", "stopped at the machine", 300.0, 0)
    assert (three.number, three.ended) == (3, None)
    assert [row.number for row in record.jobs(since=at(101).stamp, machine="doorway-1")] == [3, 2]
    assert [row.number for row in record.jobs(until=at(100).stamp)] == [1]


def test_a_job_whose_end_was_not_seen_does_not_run_for_ever(record: Record) -> None:
    write(record, job(0, "started", 1, 0), job(900, "started", 2, 0))
    assert [(row.number, row.ending) for row in record.jobs()] == [(2, None), (1, "unseen")]


def test_a_job_number_that_comes_again_is_another_job(record: Record) -> None:
    """The watch lost its memory and counts from 1 again."""
    write(record, job(0, "started", 1, 0), job(60, "completed", 1, 60))
    write(record, job(9_000, "held", 1, 50), job(9_100, "completed", 1, 150))
    write(record, job(9_100, "completed", 1, 150))
    assert [(row.started, row.ended) for row in record.jobs()] == [
        (at(8_950).stamp, at(9_100).stamp),
        (at(0).stamp, at(60).stamp),
    ]


def test_events_tell_everything_newest_first(record: Record) -> None:
    write(
        record,
        StateChanged(at(0), "hotend", "cold", "heating"),
        job(1, "started", 4, 0, why="card"),
        Noted(at(2), "blind", {"seconds": 40}),
        alarm(3, "hot-idle", Transition.ACKNOWLEDGED, by="desk"),
    )
    assert record.events() == (
        EventRow(at(3).stamp, "doorway-1", "alarm", "hot-idle acknowledged", {"at": 3, "by": "desk"}),
        EventRow(at(2).stamp, "doorway-1", "noted", "blind", {"seconds": 40}),
        EventRow(at(1).stamp, "doorway-1", "job", "job 4 started", {"why": "card"}),
        EventRow(at(0).stamp, "doorway-1", "state", "hotend cold → heating", {}),
    )
    assert [event.kind for event in record.events(since=at(1).stamp, until=at(3).stamp)] == ["noted", "job"]
    assert record.events(machine="loft-1") == ()
    assert len(record.events(limit=2)) == 2


def test_minutes_are_kept_and_put_together_over_a_restart(record: Record) -> None:
    number = int(BASE.stamp // 60)
    first = Minute(number, Spread(200.0, 205.0, 405.0, 2), 205.0, None, None, 10.0)
    second = Minute(number, Spread(190.0, 195.0, 385.0, 2), 0.0, Spread(60.0, 60.0, 60.0, 1), 60.0, None)
    other = Minute(number + 1)
    for minutes in ((first,), (second, other)):
        record.commit(Batch("doorway-1", at(0), surroundings=Excerpt(minutes=minutes)))
    record.commit(Batch("loft-1", at(0), surroundings=Excerpt(minutes=(first,))))
    start = number * 60.0
    assert record.minutes("doorway-1", start, start + 120) == (
        MinuteRow(start, 190.0, 197.5, 205.0, 205.0, 60.0, 60.0, 60.0, 60.0, 10.0),
        MinuteRow(start + 60, *[None] * 9),
    )
    assert record.minutes("doorway-1", start, start + 60)[0].nozzle_mean == 197.5
    assert record.minutes("nobody", start, start + 60) == ()


def test_the_commands_read_what_the_service_wrote(record: Record) -> None:
    evening(record)
    with Record.read(record.path) as reader:
        assert reader.incidents() == record.incidents()
        assert reader.incident(1) == record.incident(1)
        assert reader.standing() == record.standing()
        assert reader.jobs() == record.jobs()
        assert reader.last_moment() == at(5_010)
        assert not hasattr(reader, "commit")
