"""The export: every table that a review needs, whole, from one moment, and none that is the watch's own."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, JobChanged, Noted, Priority, StateChanged, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.traffic import Direction
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.export import TABLES, UnknownTable
from watchdog.record.labels import Words
from watchdog.record.minutes import Minute, Spread
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, Measured, RawLine
from watchdog.record.term_rows import Result, Subject

T0 = Moment(500.0, 1_772_442_000.0)
OWN = {"moment", "world", "machine", "salt"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A record with a row or more in every table."""
    file = tmp_path / "record.db"
    tell = Tell(T0, TellKind.ALARM, "hot-idle", 1, Priority.HIGH, T0, 1, {"nozzle": 204.6}, 300.0)
    effects = (
        JobChanged(T0, "started", 1, "HOOK.GCO", None, "card", 0.0),
        AlarmChanged(T0, "hot-idle", 1, Transition.RAISED, Priority.HIGH, {"nozzle": 204.6}),
        tell,
        StateChanged(T0, "link", "available", "unavailable"),
        Noted(T0, "odd-traffic", {"lines": 3}),
    )
    around = Excerpt(
        (RawLine(0, T0, Direction.RECEIVED, "ok T:204.6 /0.0"),),
        (Measured(0, T0, 204.6, 0.0, None, None, None),),
        minutes=(Minute(29_540_700, Spread(200.0, 206.0, 406.0, 2), 205.0),),
    )
    with Record.open(file, T0) as record:
        record.new_sheet("doorway-1", at=T0.stamp - 60, by="workshop lead")
        record.commit(Batch("doorway-1", T0, effects, (Order(tell, "workshop lead"),), "{}", around))
        summary = JobSummary(T0, 1, "card", T0.stamp, "lost", None, filament_mm=12.5)
        record.commit(Batch("doorway-1", T0, summaries=(summary,)))
        record.log_attempts([Attempt(1, "phone", T0.stamp, Outcome.DELIVERED, "")], {}, [1])
        record.label(Subject.JOB, 1, Words(Result.FAILED), at=T0.stamp, by="workshop lead", how="command")
        record.done("doorway-1", "nozzle", at=T0.stamp, by="workshop lead")
        spool = record.load_spool(
            "doorway-1", at=T0.stamp, by="workshop lead", material="PLA", density=1.24, diameter=1.75, empty=220.0
        )
        record.weigh_spool(spool, at=T0.stamp + 60, by="workshop lead", weight=900.0)
        record.measure_filament("doorway-1", at=T0.stamp, by="workshop lead", mm=1.74)
    return file


def test_every_table_is_exported_but_the_watchs_own(path: Path) -> None:
    """A table that somebody adds and forgets here would be missing from every figure that is worked out anew."""
    with closing(sqlite3.connect(path)) as connection:
        names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert set(TABLES) == {name for name in names if not name.startswith("sqlite_")} - OWN


@pytest.mark.parametrize("table", sorted(TABLES))
def test_the_rows_of_a_table_come_whole_and_fit_into_json(path: Path, table: str) -> None:
    with Record.read(path) as reader:
        rows = list(reader.export_rows(table))
    assert rows
    assert json.loads(json.dumps(rows, allow_nan=False)) == rows
    with closing(sqlite3.connect(path)) as connection:
        (count,) = connection.execute(f"SELECT count(*) FROM {table}").fetchone()
    assert len(rows) == count


def test_a_job_is_exported_with_its_sheet_and_without_its_name(path: Path) -> None:
    with Record.read(path) as reader:
        (job,) = reader.export_rows("job")
    assert (job["file"], job["sheet"], job["sheet_age"], job["filament_mm"], job["ending"]) == (
        None,
        1,
        0,
        12.5,
        "lost",
    )


def test_temperatures_are_exported_in_degrees(path: Path) -> None:
    with Record.read(path) as reader:
        (minute,) = reader.export_rows("telemetry")
    assert (minute["machine"], minute["stamp"], minute["nozzle_high"]) == ("doorway-1", 29_540_700 * 60, 206.0)
    assert minute["nozzle_sum"] / minute["nozzle_count"] == 203.0


@pytest.mark.parametrize("table", [*sorted(OWN), "sqlite_master", "job; DROP TABLE job"])
def test_the_watchs_own_memory_is_not_exported(path: Path, table: str) -> None:
    with Record.read(path) as reader, pytest.raises(UnknownTable, match="no such table; there are alarm, attempt"):
        next(reader.export_rows(table))


def test_a_review_and_its_export_see_one_and_the_same_moment(path: Path) -> None:
    """While the report is being made the next job ends; figures worked out anew must still be equal."""
    later = Moment(T0.elapsed + 9_000, T0.stamp + 9_000)
    ended = Batch("doorway-1", later, (JobChanged(later, "completed", 2, None, None, "card", 60.0),))
    with Record.read(path) as reader, Record.open(path, T0) as record:
        with reader.one_moment():
            before = len(reader.jobs(limit=None))
            rows = reader.export_rows("job")
            next(rows)
            record.commit(ended)
            assert len(reader.jobs(limit=None)) == before == 1
            assert list(rows) == []
        assert len(reader.jobs(limit=None)) == 2
        assert len(list(reader.export_rows("job"))) == 2


def test_an_export_that_is_left_in_the_middle_holds_nothing(path: Path) -> None:
    with Record.read(path) as reader:
        rows = reader.export_rows("transition")
        next(rows)
        del rows
        with Record.open(path, T0) as record:
            record.done("doorway-1", "lubrication", at=T0.stamp, by="workshop lead")
        assert [row.item for row in reader.upkeep_done()] == ["nozzle", "lubrication"]


def test_messages_are_listed_in_bulk_with_what_became_of_them(path: Path) -> None:
    with Record.read(path) as reader:
        (message,) = reader.messages()
        (occurrence,) = reader.occurrences()
        assert reader.messages(T0.stamp + 1) == reader.messages(person="duty warden") == ()
    assert (message.person, message.kind, message.attempts) == ("workshop lead", TellKind.ALARM, 1)
    assert (message.delivered, message.not_before, message.loud) == (T0.stamp, None, False)
    assert (occurrence.messages, occurrence.first_told) == (1, T0.stamp)
