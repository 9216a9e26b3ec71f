"""What one commit stores, and that storing it a second time changes nothing."""

import itertools
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from watchdog.core.effects import (
    AlarmChanged,
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
from watchdog.record.batch import Batch, Committed
from watchdog.record.store import Record

T0 = Moment(1_000.0, 1_772_442_847.25)


def after(seconds: float) -> Moment:
    return Moment(T0.elapsed + seconds, T0.stamp + seconds)


RAISED = AlarmChanged(T0, "hot-idle", 1, Transition.RAISED, Priority.HIGH, {"nozzle": 204.6, "dose_min": 10})
TELL = Tell(T0, TellKind.ALARM, "hot-idle", 1, Priority.HIGH, T0, 1, {"nozzle": 204.6, "why": None}, 300.0)
BATCH = Batch(
    "doorway-1",
    T0,
    (
        RAISED,
        TELL,
        StateChanged(T0, "hotend", "heating", "hot"),
        JobChanged(T0, "started", 3, None, None, "card", 0.0),
        Noted(T0, "link", {"up": 1}),
    ),
    (Order(TELL, "workshop lead"), Order(TELL, "duty warden")),
    '{"machine": {}}',
)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with Record.open(tmp_path / "record.db", T0) as opened:
        yield opened


def counts(path: Path) -> dict[str, int]:
    tables = ("incident", "alarm", "transition", "state_change", "job", "job_change", "noted", "parcel", "world")
    with closing(sqlite3.connect(path)) as connection:
        return {table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in tables}


def test_a_commit_stores_every_part_of_its_batch(record: Record) -> None:
    assert record.commit(BATCH) == Committed(incident=1, parcels=2)
    assert counts(record.path) == {
        "incident": 1,
        "alarm": 1,
        "transition": 1,
        "state_change": 1,
        "job": 1,
        "job_change": 1,
        "noted": 1,
        "parcel": 2,
        "world": 1,
    }
    assert record.world("doorway-1") == ('{"machine": {}}', T0)
    assert record.world("loft-1") is None
    assert record.last_moment() == T0


def test_a_batch_that_is_committed_again_doubles_nothing(record: Record) -> None:
    """The disk was full at the very end, so the service commits again: nobody must be called twice for it."""
    record.commit(BATCH)
    before = counts(record.path)
    assert record.commit(BATCH).parcels == 0
    assert counts(record.path) == before
    assert len(record.due(T0.stamp)) == 2


def test_everything_is_there_after_the_file_is_opened_again(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    with Record.open(path, T0) as record:
        record.commit(BATCH)
    with Record.open(path, after(60)) as record:
        assert [parcel.tell for parcel in record.due(T0.stamp)] == [TELL, TELL]
        assert [alarm.alarm for alarm in record.standing()] == ["hot-idle"]
        assert record.rescued is None


def test_the_file_can_be_read_by_its_owner_alone(record: Record) -> None:
    """File names can hold pupils' names."""
    record.commit(BATCH)
    files = sorted(record.path.parent.iterdir())
    assert record.path in files
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}


def test_a_commit_is_flushed_before_anybody_is_told(record: Record) -> None:
    """WAL with NORMAL would let a power cut take back what somebody has already been told."""
    with record._looking() as pen:
        assert pen.one("PRAGMA journal_mode") == ("wal",)
        assert pen.one("PRAGMA synchronous") == (2,)  # FULL
        assert pen.one("PRAGMA foreign_keys") == (1,)
        assert pen.one("PRAGMA busy_timeout") == (5000,)


def test_a_message_that_has_nobody_to_go_to_leaves_a_trace(record: Record) -> None:
    record.commit(BATCH._replace(orders=()))
    assert record.due(T0.stamp) == ()
    (note,) = [event for event in record.events() if event.what == "told-nobody"]
    assert note.facts == {"alarm": "hot-idle", "occurrence": 1, "message": "alarm", "nth": 1}


def test_a_watch_that_lost_its_memory_still_gets_its_first_alarm_out(record: Record) -> None:
    """It counts from 1 again: the message of a new alarm must not be taken for the one of last week."""
    record.commit(BATCH)
    week = after(7 * 86_400)
    tell = TELL._replace(at=week, since=week)
    record.commit(Batch("doorway-1", week, (RAISED._replace(at=week), tell), (Order(tell, "workshop lead"),)))
    assert len(record.due(week.stamp)) == 3
    (standing,) = record.standing()
    assert standing.raised == week.stamp
    assert standing.incident == 2


def test_alarms_that_nobody_follows_any_more_are_let_go(record: Record) -> None:
    record.commit(BATCH)
    assert record.let_go("doorway-1", after(50), "not in the settings") == 1
    assert record.standing() == ()
    assert record.let_go("doorway-1", after(60), "not in the settings") == 0
    (row,) = record.incidents()
    assert (row.quiet, row.standing) == (after(50).stamp, 0)


def test_a_world_is_stored_by_itself_too(record: Record) -> None:
    record.save_world("loft-1", "{}", T0)
    record.save_world("loft-1", '{"later": 1}', after(5))
    assert record.world("loft-1") == ('{"later": 1}', after(5))
    assert record.last_moment() == after(5)


def test_a_record_taken_away_under_the_service_is_begun_anew(record: Record) -> None:
    """Writing on into a deleted file would lose every alarm of the term without a word."""
    record.commit(BATCH)
    record.path.unlink()
    record.commit(BATCH)
    assert counts(record.path)["parcel"] == 2


FACTS = st.dictionaries(
    st.text(max_size=8),
    st.none() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=20),
)
TIMES = st.floats(min_value=0, max_value=4e9)
MOMENTS = st.builds(Moment, TIMES, TIMES)
OCCURRENCES = itertools.count(1)
TELLS = st.builds(
    Tell,
    MOMENTS,
    st.sampled_from(TellKind),
    st.sampled_from(["hot-idle", "job-stalled"]),
    st.just(1),
    st.sampled_from(Priority),
    MOMENTS,
    st.integers(1, 10**4),
    FACTS,
    st.none() | st.floats(0, 1e6),
)


@given(tell=TELLS)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_message_comes_out_of_the_outbox_as_it_went_in(record: Record, tell: Tell) -> None:
    tell = tell._replace(occurrence=next(OCCURRENCES))  # the record is shared by the examples
    record.commit(Batch("loft-1", tell.at, (tell,), (Order(tell, "evening tutor"),)))
    parcels = [parcel for parcel in record.due(tell.at.stamp) if parcel.tell == tell]
    assert parcels
    record.log_attempts((), {}, [parcel.id for parcel in parcels])


WILD = st.text(st.characters(codec=None, categories=None), max_size=30)  # half characters and NUL, too


@given(text=WILD, size=st.integers(), number=st.floats())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_garbled_value_keeps_a_batch_out_of_the_record(record: Record, text: str, size: int, number: float) -> None:
    """A file name of noise or a size of forty digits must not cost the alarm that was in the same step."""
    raised = RAISED._replace(evidence={"text": text, "size": size, "number": number}, note=text)
    effects = (
        raised,
        JobChanged(T0, "started", 1, text, size, "card", 0.0, text),
        Noted(T0, text, {text: number}),
        StateChanged(T0, text, text, text),
    )
    record.commit(BATCH._replace(effects=effects))
    assert record.incident(1) is not None
    assert record.events()
