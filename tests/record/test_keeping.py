"""What is removed in time, and what never is."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, JobChanged, Noted, Priority, StateChanged, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.traffic import Direction
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.export import TABLES
from watchdog.record.keeping import AT_ONCE, Keeping
from watchdog.record.labels import Words
from watchdog.record.minutes import Minute
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, Measured, RawLine
from watchdog.record.term_rows import Result, Subject, Usefulness

DAY = 86_400.0


def at(days: float, seconds: float = 0.0) -> Moment:
    return Moment(10_000.0 + days * DAY + seconds, 1_772_442_000.0 + days * DAY + seconds)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with Record.open(tmp_path / "record.db", at(0)) as opened:
        yield opened


def incident(record: Record, days: float, *, ended: bool = True, rows: int = 4) -> None:
    """An alarm with a message, a state, a note and some lines and readings; beside it, hours away, the same without it."""
    raised = at(days)
    occurrence = int(days) + 1
    tell = Tell(raised, TellKind.ALARM, "hot-idle", occurrence, Priority.HIGH, raised, 1, {}, None)
    effects = (
        AlarmChanged(raised, "hot-idle", occurrence, Transition.RAISED, Priority.HIGH, {}),
        tell,
        StateChanged(raised, "hotend", "heating", "hot"),
        Noted(raised, "link", {}),
    )
    lines = tuple(RawLine(n, raised, Direction.RECEIVED, "ok") for n in range(rows))
    readings = tuple(Measured(n, raised, 205.0, None, None, None, None) for n in range(rows))
    around = Excerpt(lines, readings, minutes=(Minute(int(raised.stamp // 60)),))
    record.commit(Batch("doorway-1", raised, effects, (Order(tell, "workshop lead"),), None, around))
    if ended:
        end = at(days, 60)
        cleared = AlarmChanged(end, "hot-idle", occurrence, Transition.CLEARED, Priority.HIGH, {})
        record.commit(Batch("doorway-1", end, (cleared,)))
    far = at(days, 20_000)
    record.commit(Batch("doorway-1", far, (StateChanged(far, "hotend", "hot", "cold"), Noted(far, "link", {}))))


def test_old_states_and_lines_go_and_incidents_stay(record: Record) -> None:
    incident(record, 0)
    incident(record, 300)
    pruned = record.prune(at(401))
    assert (pruned.states, pruned.notes, pruned.lines, pruned.readings, pruned.more) == (1, 1, 4, 4, False)
    old, young = record.incident(1), record.incident(2)
    assert old is not None
    assert young is not None
    assert (old.lines, old.lines_dropped, old.readings_dropped) == ((), 4, 4)
    assert len(old.states) == len(old.notes) == len(old.messages) == len(old.alarms) == 1
    assert len(young.lines) == len(young.readings) == 4
    assert (
        len(record.events(limit=1_000)) == 2 * (2 + 2 + 2) - 2
    )  # steps of the alarms, states and notes, but for what went
    minute = at(0).stamp // 60 * 60
    assert len(record.minutes("doorway-1", minute, minute + 60)) == 1
    assert len(record.due(at(401).stamp)) == 2  # a message that could not be delivered for a year still waits


def test_what_people_said_and_did_and_every_job_stay_for_good(record: Record) -> None:
    """The review of the third year compares it with the first one."""
    begin, end = at(0), at(0, 900)
    record.commit(Batch("doorway-1", begin, (JobChanged(begin, "started", 1, None, None, "card", 0.0),)))
    summary = JobSummary(end, 1, "card", begin.stamp, "completed", 900.0, filament_mm=100.0)
    record.commit(Batch("doorway-1", end, (Noted(end, "blind", {"seconds": 60}),), summaries=(summary,)))
    incident(record, 1)
    record.label(Subject.JOB, 1, Words(Result.GOOD), at=end.stamp, by="workshop lead", how="command")
    record.label(Subject.FIRST_LAYER, 1, Words(Result.GOOD), at=end.stamp, by="workshop lead", how="link")
    record.label(Subject.ALARM, 1, Words(usefulness=Usefulness.USEFUL), at=end.stamp, by="workshop lead", how="command")
    record.done("doorway-1", "nozzle", at=end.stamp, by="workshop lead")
    record.new_sheet("doorway-1", at=end.stamp, by="workshop lead")
    spool = record.load_spool(
        "doorway-1",
        at=end.stamp,
        by="workshop lead",
        material="PLA",
        density=1.24,
        diameter=1.75,
        net=500.0,
        empty=220.0,
    )
    record.weigh_spool(spool, at=end.stamp, by="workshop lead", weight=700.0)
    record.measure_filament("doorway-1", at=end.stamp, by="workshop lead", mm=1.74)
    record.log_attempts([Attempt(1, "phone", end.stamp, Outcome.FAILED, "no network")], {})
    kept = [table for table in TABLES if table not in {"state_change", "noted", "raw_line", "reading", "incident"}]
    before = {table: list(record.export_rows(table)) for table in kept}
    assert all(before.values())
    assert record.prune(at(4_000), Keeping(rows=0)).lines > 0
    assert {table: list(record.export_rows(table)) for table in kept} == before


def test_nothing_that_is_young_goes(record: Record) -> None:
    incident(record, 0)
    assert record.prune(at(399))[:4] == (0, 0, 0, 0)


def test_an_incident_that_stands_keeps_its_lines_however_old(record: Record) -> None:
    incident(record, 0, ended=False)
    pruned = record.prune(at(800), Keeping(rows=0))
    assert (pruned.states, pruned.lines, pruned.readings) == (0, 0, 0)


def test_too_many_lines_cost_the_oldest_incidents_theirs(record: Record) -> None:
    """The memory card must not fill up, however much goes wrong in one term."""
    for days in range(4):
        incident(record, days, rows=10)
    pruned = record.prune(at(4), Keeping(rows=25))
    assert (pruned.lines, pruned.readings) == (20, 20)
    kept = [record.incident(number) for number in range(1, 5)]
    assert [len(one.lines) for one in kept if one is not None] == [0, 0, 10, 10]


def test_one_call_removes_a_bounded_number_of_rows(record: Record) -> None:
    """A message must not wait for minutes because a year's rows are being removed."""
    states = tuple(StateChanged(at(0, nth / 100), "link", "a", "b") for nth in range(AT_ONCE + 5))
    record.commit(Batch("doorway-1", at(0), states))
    first = record.prune(at(500))
    assert (first.states, first.more) == (AT_ONCE, True)
    second = record.prune(at(500))
    assert (second.states, second.more) == (5, False)
