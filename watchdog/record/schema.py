"""The record's schema: numbered scripts, each run once and whole. The file's `user_version` tells how many it has seen."""

import sqlite3
from collections.abc import Iterator, Sequence
from importlib import resources
from pathlib import Path

from watchdog.record.faults import DamagedFile, RecordUnusable

OURS = 0x456D6277
"""`application_id` of a record: 'Embw'. A database that is not ours is never touched."""


def _scripts() -> tuple[str, ...]:
    folder = resources.files("watchdog.record") / "migrations"
    found = sorted((entry for entry in folder.iterdir() if entry.name.endswith(".sql")), key=lambda entry: entry.name)
    return tuple(entry.read_text(encoding="utf-8") for entry in found)


SCRIPTS = _scripts()
"""Script n (counted from 1) makes a file of version n - 1 one of version n. A script that was released is never changed."""


def version_of(connection: sqlite3.Connection, place: Path, scripts: Sequence[str] = SCRIPTS) -> int:
    """The file's schema version; 0 when it is empty. Only reads.

    `RecordUnusable` when it comes from a newer version of this program, or from another program; `DamagedFile` when it
    contradicts itself.
    """
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (owner,) = connection.execute("PRAGMA application_id").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if tables and owner != OURS:
        raise RecordUnusable(
            place,
            "the file is another program's database",
            "Name another file for the record; this one was left alone.",
        )
    if tables and version < 1:
        raise DamagedFile("it holds tables but no schema version")
    if version > len(scripts):
        raise RecordUnusable(
            place,
            f"the file was written by a newer version (schema {version}, this one knows up to {len(scripts)})",
            "Install the newer version again, or name another file; this one was left alone.",
        )
    return int(version)


def migrate(connection: sqlite3.Connection, version: int, scripts: Sequence[str] = SCRIPTS) -> None:
    """Bring a file of `version` to the present one. Each script is one transaction: done or not begun."""
    for number, script in enumerate(scripts[version:], start=version + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            for statement in _statements(script):
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {OURS}")
            connection.execute(f"PRAGMA user_version = {number}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _statements(script: str) -> Iterator[str]:
    """The script's statements one by one: `executescript` would commit before it begins."""
    collected = ""
    for line in script.splitlines(keepends=True):
        collected += line
        if sqlite3.complete_statement(collected):
            yield collected
            collected = ""
    if collected.strip():  # a statement without its end: let SQLite say so, rather than leave it out
        yield collected
