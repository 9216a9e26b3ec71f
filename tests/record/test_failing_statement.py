"""Whichever statement fails, once or for good: nothing that is to be told is lost, and the next start works."""

import itertools
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

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
from watchdog.core.traffic import Direction
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.faults import RecordUnusable
from watchdog.record.labels import Words
from watchdog.record.minutes import Minute
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, Measured, RawLine
from watchdog.record.term_rows import Result, Subject

SUMMARY = JobSummary(
    Moment(60.0, 1_772_442_060.0), 1, "card", 1_772_442_005.0, "halted", 5.0, file="HOOK.GCO", filament_g=4.5
)
EXPECTED = {("alarm", 1, "workshop lead"), ("alarm", 1, "duty warden"), ("all-clear", 1, "workshop lead")}


def failing(nth: int, lasting: bool) -> tuple[type[sqlite3.Connection], Callable[[], bool]]:
    """A connection whose `nth` statement, counted over all connections, fails; and whether that has happened."""
    counted = itertools.count(1)
    tripped = False

    def check() -> None:
        nonlocal tripped
        number = next(counted)
        if number == nth or (lasting and number > nth):
            tripped = True
            raise sqlite3.OperationalError("disk I/O error")

    class Failing(sqlite3.Connection):
        def execute(self, *statement: Any) -> sqlite3.Cursor:
            check()
            return super().execute(*statement)

        def executemany(self, *statement: Any) -> sqlite3.Cursor:
            check()
            return super().executemany(*statement)

    return Failing, lambda: tripped


def at(seconds: float) -> Moment:
    return Moment(seconds, 1_772_442_000.0 + seconds)


def batches() -> list[Batch]:
    """A lesson: hot idle is raised and told to two people, then the nozzle cools and one is told so."""
    alarm = Tell(at(10), TellKind.ALARM, "hot-idle", 1, Priority.HIGH, at(10), 1, {"nozzle": 205.0}, 300.0)
    clear = Tell(at(60), TellKind.ALL_CLEAR, "hot-idle", 1, Priority.HIGH, at(10), 1, {}, None)
    around = Excerpt(
        (RawLine(0, at(9), Direction.RECEIVED, "ok T:205.0 /0.0"),),
        (Measured(0, at(9), 205.0, 0.0, None, None, None),),
        minutes=(Minute(29_540_700, progress=1.0),),
    )
    first: tuple[Effect, ...] = (
        AlarmChanged(at(10), "hot-idle", 1, Transition.RAISED, Priority.HIGH, {}),
        StateChanged(at(10), "hotend", "cold", "hot"),
        JobChanged(at(10), "abandoned", 1, None, None, "card", 5.0),
        Noted(at(10), "blind", {"seconds": 9}),
        alarm,
    )
    second: tuple[Effect, ...] = (
        AlarmChanged(at(60), "hot-idle", 1, Transition.RETURNED, Priority.HIGH, {}),
        AlarmChanged(at(60), "hot-idle", 1, Transition.CLEARED, Priority.HIGH, {}),
        clear,
    )
    return [
        Batch("doorway-1", at(10), first, (Order(alarm, "workshop lead"), Order(alarm, "duty warden")), "1", around),
        Batch("doorway-1", at(60), second, (Order(clear, "workshop lead"),), "2", summaries=(SUMMARY,)),
    ]


def entered(record: Record) -> None:
    """What people say and do after the lesson, and say again when they were told that it could not be written."""
    stamp = at(70).stamp
    if not record.labels():
        words = Words(Result.FAILED, "left-hot")
        record.label(Subject.INCIDENT, 1, words, at=stamp, by="workshop lead", how="command")
    record.done("doorway-1", "nozzle", at=stamp, by="workshop lead")
    for nth in range(2):
        record.new_sheet("doorway-1", at=stamp + nth, by="workshop lead", why="worn")
    spool = record.load_spool(
        "doorway-1", at=stamp, by="workshop lead", material="PLA", density=1.24, diameter=1.75, net=500.0, empty=220.0
    )
    record.weigh_spool(spool, at=stamp + 1, by="workshop lead", weight=700.0)
    if not record.diameters():
        record.measure_filament("doorway-1", at=stamp, by="workshop lead", mm=1.74)


def deliver(record: Record, told: list[tuple[str, int, str]], stamp: float) -> None:
    for parcel in record.due(stamp):
        told.append((parcel.tell.kind.value, parcel.tell.nth, parcel.person))
        record.log_attempts([Attempt(parcel.id, "phone", stamp, Outcome.DELIVERED, "")], {}, [parcel.id])


def lesson(path: Path, told: list[tuple[str, int, str]], connecting: type[sqlite3.Connection]) -> None:
    """The service in small: deliver what waits, commit what is not in the record yet, deliver again."""
    with Record.open(path, at(0), connecting=connecting) as record:
        deliver(record, told, at(5).stamp)
        stored = record.world("doorway-1")
        for batch in batches()[int(stored[0]) if stored else 0 :]:
            try:
                record.commit(batch)
            except RecordUnusable:  # the service keeps the batch and tries again
                record.commit(batch)
            deliver(record, told, batch.at.stamp)
        entered(record)
        record.prune(at(100))


@pytest.mark.timeout(300)
@pytest.mark.parametrize("lasting", [False, True], ids=["once", "for good"])
def test_whichever_statement_fails_no_message_is_lost(tmp_path: Path, lasting: bool) -> None:
    """Fail the 1st, 2nd, 3rd … statement until a lesson ends unharmed; a bad disk must not cost a message."""
    for nth in itertools.count(1):
        path = tmp_path / f"{nth}.db"
        told: list[tuple[str, int, str]] = []
        connecting, tripped = failing(nth, lasting)
        with suppress(RecordUnusable):
            lesson(path, told, connecting)
        lesson(path, told, sqlite3.Connection)  # the service starts again on what is there
        assert set(told) == EXPECTED
        with Record.open(path, at(200)) as record:
            assert record.rescued is None
            assert record.due(at(200).stamp) == ()
            assert record.standing() == ()
            assert record.world("doorway-1") == ("2", at(60))
            assert [(row.ending, row.filament_g, row.label.outcome) for row in record.jobs()] == [("halted", 4.5, None)]
            assert [(row.cause, row.by) for row in record.labels()] == [("left-hot", "workshop lead")]
            assert [row.item for row in record.upkeep_done()] == ["nozzle"]
            assert [(row.ended, row.why) for row in record.sheets()] == [(at(71).stamp, "worn"), (None, None)]
            (spool,) = record.spools()
            assert spool.left_g == pytest.approx(480.0)
            assert (spool.weighed, spool.diameter) == (at(71).stamp, 1.74)
            assert [row.mm for row in record.diameters()] == [1.74]
            assert [(row.since, row.until) for row in record.blind()] == [(at(1).stamp, at(10).stamp)]
            incident = record.incident(1)
            assert incident is not None
            assert len(incident.lines) == len(incident.readings) == len(incident.notes) == 1
            assert {(one.tell.kind.value, one.tell.nth, one.person) for one in incident.messages} == EXPECTED
        if not tripped():
            assert nth > 60  # the sweep went through the whole lesson
            return


def test_a_commit_that_failed_is_told_so_and_leaves_nothing(tmp_path: Path) -> None:
    """Half a batch would be an alarm that nobody hears of, or a message about nothing."""
    connecting, tripped = failing(10_000, False)
    with Record.open(tmp_path / "count.db", at(0), connecting=connecting) as record:
        record.commit(batches()[0])
    assert not tripped()
    for nth in itertools.count(1):
        connecting, tripped = failing(nth, True)
        path = tmp_path / f"{nth}.db"
        with suppress(RecordUnusable), Record.open(path, at(0), connecting=connecting) as record:
            record.commit(batches()[0])
        if not tripped():
            break
        with Record.open(path, at(0)) as record:
            assert record.due(at(20).stamp) == ()
            assert record.incidents() == ()
            assert record.world("doorway-1") is None
    assert nth > 30  # the sweep went through opening and commit
