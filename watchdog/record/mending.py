"""Rows saved from a damaged file that cannot be right, or whose counterpart was lost."""

import sqlite3
from collections.abc import Iterable
from typing import Final

from watchdog.core.effects import Priority, TellKind, Transition
from watchdog.core.traffic import Direction
from watchdog.record.parcels import Outcome

_TYPES: Final = {"REAL": "'real', 'integer', 'null'", "INTEGER": "'integer', 'null'", "TEXT": "'text', 'null'"}
_WORDS: Final = (
    ("alarm", "priority", Priority),
    ("transition", "priority", Priority),
    ("transition", "transition", Transition),
    ("parcel", "priority", Priority),
    ("parcel", "kind", TellKind),
    ("attempt", "outcome", Outcome),
    ("raw_line", "direction", Direction),
)
_CHILDREN: Final = (
    ("attempt", "parcel"),
    ("job_change", "job"),
    ("raw_line", "incident"),
    ("reading", "incident"),
    ("telemetry", "machine"),
)


def mend(fresh: sqlite3.Connection, tables: Iterable[str]) -> None:
    """Make the saved rows fit to be read and to refer to each other. In the caller's transaction."""
    _drop_nonsense(fresh, tables)
    # An alarm or a message is kept even when its counterpart is lost: an alarm without its incident gets a bare one of the
    # same number.
    fresh.execute(
        "INSERT INTO incident (id, machine, opened, opened_elapsed) SELECT incident, min(machine), min(raised),"
        " min(raised_elapsed) FROM alarm WHERE incident NOT IN (SELECT id FROM incident) GROUP BY incident"
    )
    fresh.execute("UPDATE parcel SET incident = NULL WHERE incident NOT IN (SELECT id FROM incident)")
    fresh.execute("UPDATE transition SET alarm = NULL WHERE alarm NOT IN (SELECT id FROM alarm)")
    for table, parent in _CHILDREN:
        fresh.execute(f"DELETE FROM {table} WHERE {parent} NOT IN (SELECT id FROM {parent})")


def _drop_nonsense(fresh: sqlite3.Connection, tables: Iterable[str]) -> None:
    """A damaged page can give text where a time should be, or words that nobody wrote; such a row would fail its reader."""
    for table in tables:
        for _, column, kind, *_ in fresh.execute(f"PRAGMA table_info({table})").fetchall():
            fresh.execute(f"DELETE FROM {table} WHERE typeof({column}) NOT IN ({_TYPES[kind]})")
    for table, column, words in _WORDS:
        known = ", ".join(f"'{word.value}'" for word in words)
        fresh.execute(f"DELETE FROM {table} WHERE {column} NOT IN ({known})")
