"""Older files are brought up to date, newer and foreign ones are left alone."""

import itertools
import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.effects import AlarmChanged, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.record import schema
from watchdog.record.batch import Batch
from watchdog.record.faults import RecordUnusable
from watchdog.record.store import Record

T0 = Moment(100.0, 1_772_442_000.0)
TELL = Tell(T0, TellKind.ALARM, "hot-idle", 1, Priority.HIGH, T0, 1, {}, None)
BATCH = Batch(
    "doorway-1",
    T0,
    (AlarmChanged(T0, "hot-idle", 1, Transition.RAISED, Priority.HIGH, {}), TELL),
    ((TELL, "workshop lead"),),
)

NEXT = """
-- A later script: people say of an incident what it was; and nothing; is split; at these.
ALTER TABLE incident ADD COLUMN label TEXT;
CREATE TABLE sheet (id INTEGER PRIMARY KEY, kind TEXT NOT NULL DEFAULT 'a;b');
UPDATE incident SET label = 'from before';
"""
LATER = (*schema.SCRIPTS, NEXT)


def version(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def test_each_older_version_is_brought_to_the_present_one(tmp_path: Path) -> None:
    """An update of the program in the middle of term keeps the term's incidents and what waits in the outbox."""
    for older in range(1, len(LATER)):
        path = tmp_path / f"{older}.db"
        with Record.open(path, T0, scripts=LATER[:older]) as record:
            record.commit(BATCH)
        assert version(path) == older
        with Record.open(path, T0, scripts=LATER) as record:
            assert len(record.due(T0.stamp)) == 1
            assert record.standing()[0].alarm == "hot-idle"
            with record._looking() as pen:
                assert pen.all("SELECT label FROM incident") == [("from before",)]
                assert pen.all("SELECT * FROM sheet") == []
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
