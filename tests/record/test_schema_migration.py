"""Older files are brought up to date, newer and foreign ones are left alone."""

import gzip
import itertools
import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.effects import AlarmChanged, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record import schema
from watchdog.record.batch import Batch
from watchdog.record.faults import RecordUnusable
from watchdog.record.store import Record

T0 = Moment(100.0, 1_772_442_000.0)
LATE = Moment(200_100.0, 1_772_642_000.0)
TELL = Tell(T0, TellKind.ALARM, "hot-idle", 1, Priority.HIGH, T0, 1, {}, None)
BATCH = Batch(
    "doorway-1",
    T0,
    (AlarmChanged(T0, "hot-idle", 1, Transition.RAISED, Priority.HIGH, {}), TELL),
    (Order(TELL, "workshop lead"),),
)

NEXT = """
-- A later script: where the papers of an incident lie; and nothing; is split; at these.
ALTER TABLE incident ADD COLUMN shelf TEXT;
CREATE TABLE drawer (id INTEGER PRIMARY KEY, kind TEXT NOT NULL DEFAULT 'a;b');
UPDATE incident SET shelf = 'from before';
"""
LATER = (*schema.SCRIPTS, NEXT)


def version(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def rows_of(path: Path, columns: dict[str, list[str]]) -> dict[str, set[tuple[Any, ...]]]:
    """Every row of each table, in these columns."""
    with closing(sqlite3.connect(path)) as connection:
        return {
            table: set(connection.execute(f"SELECT {', '.join(names)} FROM {table}"))
            for table, names in columns.items()
        }


@pytest.fixture(params=sorted((Path(__file__).parent / "older").glob("*.db.gz")), ids=lambda file: file.name[:4])
def older(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A record as an older version of this program wrote it: two machines, jobs, alarms, messages in every state."""
    path = tmp_path / "older.db"
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    assert version(path) < len(schema.SCRIPTS)
    return path


def test_a_file_of_each_older_version_is_taken_over_without_loss(older: Path) -> None:
    """An update of the program in the middle of term keeps the term's incidents and what waits in the outbox."""
    with closing(sqlite3.connect(older)) as connection:
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        columns = {
            table: [name for _, name, *_ in connection.execute(f"PRAGMA table_info({table})")]
            for (table,) in tables.fetchall()
        }
    before = rows_of(older, columns)
    assert all(before.values())  # no table is empty
    with Record.open(older, LATE) as record:
        assert record.rescued is None
        assert rows_of(older, columns) == before
        assert len(record.jobs()) == 21
        assert [row.acknowledged_by for row in record.incidents()][-1] == ("workshop lead",)
        waiting = record.due(LATE.stamp)
        assert [(parcel.not_before, parcel.loud, parcel.why) for parcel in waiting] == [(None, False, "")] * 7
        for row in record.incidents():
            found = record.incident(row.id)
            assert found is not None
            assert len(found.messages) == row.messages
        told = record.told("workshop lead", 0.0)
        assert len(told) == 3
        record.commit(BATCH._replace(at=LATE))
    assert version(older) == len(schema.SCRIPTS)
    with closing(sqlite3.connect(older)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def test_the_present_version_can_be_brought_to_a_later_one(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    with Record.open(path, T0) as record:
        record.commit(BATCH)
    with Record.open(path, T0, scripts=LATER) as record:
        assert len(record.due(T0.stamp)) == 1
        assert record.standing()[0].alarm == "hot-idle"
        with record._looking() as pen:
            assert pen.all("SELECT shelf FROM incident") == [("from before",)]
            assert pen.all("SELECT * FROM drawer") == []
    assert version(path) == len(LATER)


def test_a_migration_that_fails_leaves_the_older_file_whole(tmp_path: Path) -> None:
    """The power goes in the middle of an update: the next start must not find half a schema."""
    path = tmp_path / "record.db"
    with Record.open(path, T0) as record:
        record.commit(BATCH)
    for nth in itertools.count(1):

        class Failing(sqlite3.Connection):
            left = nth

            def execute(self, *statement: Any) -> sqlite3.Cursor:
                type(self).left -= 1
                if type(self).left <= 0:
                    raise sqlite3.OperationalError("disk I/O error")
                return super().execute(*statement)

        with suppress(RecordUnusable):
            Record.open(path, T0, connecting=Failing, scripts=LATER).close()
        if Failing.left > 0:
            break
        with Record.open(path, T0) as record:  # the older program reads it as before
            assert len(record.due(T0.stamp)) == 1
    assert version(path) == len(LATER)
    assert nth > 10


def test_a_file_of_a_newer_version_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    with Record.open(path, T0, scripts=LATER) as record:
        record.commit(BATCH)
    before = path.read_bytes()
    with pytest.raises(RecordUnusable, match=rf"newer version \(schema {len(LATER)}") as caught:
        Record.open(path, T0)
    assert "Install the newer version" in caught.value.remedy
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["record.db"]
    with pytest.raises(RecordUnusable, match="newer version"):
        Record.read(path)
    assert path.read_bytes() == before


def test_another_programs_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    """A wrong path in the settings must not cost somebody their other data."""
    path = tmp_path / "accounts.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE account (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(RecordUnusable, match="another program's database"):
        Record.open(path, T0)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["accounts.db"]


def test_an_empty_file_becomes_a_record(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    path.touch()
    with Record.open(path, T0) as record:
        record.commit(BATCH)
        assert record.rescued is None
    assert version(path) == len(schema.SCRIPTS)


def test_a_script_without_its_last_semicolon_still_runs_whole(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    Record.open(path, T0, scripts=(*schema.SCRIPTS, "CREATE TABLE one (id);\nCREATE TABLE two (id)")).close()
    with closing(sqlite3.connect(path)) as connection:
        names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    assert {"one", "two"} <= names


def test_a_reader_of_an_older_file_is_told_to_start_the_watch(tmp_path: Path) -> None:
    """`emberward incidents` after an update, before the service has run: it may not change the file itself."""
    path = tmp_path / "record.db"
    path.touch()
    with pytest.raises(RecordUnusable, match="older version") as caught:
        Record.read(path)
    assert "Start the watch" in caught.value.remedy
    assert path.stat().st_size == 0
