"""`export`: what is read back equals the record, and every column is told."""

import json
import re
import sqlite3
import stat
import subprocess
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from watchdog.cli.columns import COLUMNS, TABLES
from watchdog.cli.export import cell, write
from watchdog.record import export as tables
from watchdog.record.reader import Reader

Command = Callable[..., subprocess.CompletedProcess[str]]
Value = str | float | int | None
_CELL = re.compile(r'("(?:[^"]|"")*"|[^,"\r\n]*)(,|\r\n|\Z)')


def read_csv(text: str) -> list[list[Value]]:
    """RFC 4180, with a quoted cell as a text and an empty one as nothing."""
    rows: list[list[Value]] = [[]]
    place = 0
    while place < len(text):
        found = _CELL.match(text, place)
        assert found is not None, text[place : place + 40]
        raw, place = found[1], found.end()
        value: Value = raw[1:-1].replace('""', '"') if raw.startswith('"') else None if raw == "" else _number(raw)
        rows[-1].append(value)
        if found[2] == "\r\n":
            rows.append([])
    return [row for row in rows if row]


def _number(raw: str) -> Value:
    if re.fullmatch(r"-?\d+", raw):
        return int(raw)
    try:
        return float(raw)
    except ValueError:
        return raw  # a heading


@pytest.fixture
def full(emberward: Command, logged: Path) -> Path:
    """The record with labels, a spool and hostile words."""
    for words in (
        ["label", "j2", "--outcome", "failed", "--cause", "feed-tangle", "--note", '=HYPERLINK("x"), "quoted", 50 %'],
        ["label", "a1", "--useful", "late"],
        ["sheet", "new", "--at", "2026-03-02T08:00+00:00"],
        ["spool", "load", "--grams", "1000", "--empty", "210", "--diameter", "1.74"],
        ["spool", "weigh", "640"],
        ["done", "nozzle"],
    ):
        done = emberward(*words, "--config", logged)
        assert done.returncode == 0, done.stderr
    return logged


def test_what_is_read_back_equals_the_record(emberward: Command, full: Path, tmp_path: Path) -> None:
    """To the last digit: a review is recomputed from these files."""
    done = emberward("export", tmp_path / "out", "--config", full)
    assert (done.returncode, done.stderr) == (0, "")
    rows = 0
    with Reader.read(tmp_path / "state" / "incidents.db") as record:
        for table in tables.TABLES:
            kept = list(record.export_rows(table))
            lines = (tmp_path / "out" / f"{table}.jsonl").read_text("utf-8").splitlines()
            assert [json.loads(line) for line in lines] == kept, table
            heading, *cells = read_csv((tmp_path / "out" / f"{table}.csv").read_bytes().decode("utf-8"))
            assert heading == list(COLUMNS[table]), table
            assert cells == [[row[column] for column in COLUMNS[table]] for row in kept], table
            rows += len(kept)
    assert f"{rows} rows of {len(tables.TABLES)} tables" in done.stdout
    assert not list(tmp_path.glob(".*.part"))


def test_every_column_of_the_record_is_told_with_its_meaning(full: Path, emberward: Command, tmp_path: Path) -> None:
    """A column that the README leaves out cannot be used by anybody."""
    assert list(COLUMNS) == list(TABLES)
    assert set(COLUMNS) == set(tables.TABLES)
    with closing(sqlite3.connect(tmp_path / "state" / "incidents.db")) as record:
        for table, statement in tables.TABLES.items():
            there = [column[0] for column in record.execute(f"{statement} LIMIT 0").description]
            assert list(COLUMNS[table]) == there or set(COLUMNS[table]) == set(there), table
    emberward("export", tmp_path / "out", "--config", full)
    readme = (tmp_path / "out" / "README.md").read_text("utf-8")
    for table, columns in COLUMNS.items():
        part = readme[readme.index(f"\n## {table}\n") :].partition("\n## ")[2]
        for column, meaning in columns.items():
            assert f"| `{column}` | {meaning} |" in part


def test_an_export_is_private_and_holds_no_salt(emberward: Command, full: Path, tmp_path: Path) -> None:
    """Notes are words about people's work; with the salt a file's name could be guessed from its hash."""
    emberward("export", tmp_path / "out", "--config", full)
    folder = tmp_path / "out"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}
    with closing(sqlite3.connect(tmp_path / "state" / "incidents.db")) as record:
        (salt,) = record.execute("SELECT hex FROM salt").fetchone()
    assert not any(salt in file.read_text("utf-8") for file in folder.iterdir())


def test_nothing_that_is_there_is_overwritten(emberward: Command, full: Path, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.mkdir()
    (taken / "job.csv").write_text("of last term")
    done = emberward("export", taken, "--config", full)
    assert (done.returncode, done.stdout) == (1, "")
    assert "nothing is overwritten" in done.stderr
    assert (taken / "job.csv").read_text() == "of last term"
    (tmp_path / "empty").mkdir()
    assert emberward("export", tmp_path / "empty", "--config", full).returncode == 0
    assert emberward("export", tmp_path / "taken" / "job.csv", "--config", full).returncode == 1
    assert emberward("export", tmp_path / "taken" / "job.csv" / "x", "--config", full).returncode == 1


def test_all_tables_are_of_one_moment(full: Path, tmp_path: Path, record_of: Callable[[], object]) -> None:
    """A label that comes while the export runs must not stand in one table and be missing in another."""
    (tmp_path / "out").mkdir()
    with Reader.read(tmp_path / "state" / "incidents.db") as record, record.one_moment():
        before = len(record.labels())
        with closing(sqlite3.connect(tmp_path / "state" / "incidents.db")) as other, other:
            other.execute(
                "INSERT INTO label (kind, subject, machine, subject_at, note, by_whom, how, at)"
                " VALUES ('job', 1, 'doorway-1', 0, 'meanwhile', 'x', 'command', 0)"
            )
        counts = write(record, tmp_path / "out", "now")
    assert counts["label"] == before
    assert "meanwhile" not in (tmp_path / "out" / "label.csv").read_text()


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (None, ""),
        ("", '""'),
        ('a "b"', '"a ""b"""'),
        ("a,b\r\nc", '"a,b\r\nc"'),
        (0, "0"),
        (0.1, "0.1"),
        (1e-9, "1e-09"),
    ],
)
def test_a_cell_tells_nothing_from_an_empty_text(value: object, written: str) -> None:
    assert cell(value) == written
