"""Rows saved from a damaged file that cannot be right, or whose counterpart was lost."""

import sqlite3
from collections.abc import Collection
from typing import Final

from watchdog.core.effects import Priority, TellKind, Transition
from watchdog.core.traffic import Direction
from watchdog.record.parcels import Outcome
from watchdog.record.term_rows import Result, Subject, Usefulness

_TYPES: Final = {"REAL": "'real', 'integer', 'null'", "INTEGER": "'integer', 'null'", "TEXT": "'text', 'null'"}
_WORDS: Final = (
    ("alarm", "priority", Priority),
    ("transition", "priority", Priority),
    ("transition", "transition", Transition),
    ("parcel", "priority", Priority),
    ("parcel", "kind", TellKind),
    ("attempt", "outcome", Outcome),
    ("raw_line", "direction", Direction),
    ("label", "kind", Subject),
    ("label", "outcome", Result),
    ("label", "usefulness", Usefulness),
)
_CHILDREN: Final = (
    ("attempt", "parcel"),
    ("job_change", "job"),
    ("raw_line", "incident"),
    ("reading", "incident"),
    ("telemetry", "machine"),
    ("weighing", "spool"),
)


def mend(fresh: sqlite3.Connection, tables: Collection[str]) -> None:
    """Make the saved rows fit to be read and to refer to each other. In the caller's transaction."""
    _drop_nonsense(fresh, tables)
    # An alarm or a message is kept even when its counterpart is lost: an alarm without its incident gets a bare one of the
    # same number.
    fresh.execute(
        "INSERT INTO incident (id, machine, opened, opened_elapsed) SELECT incident, min(machine), min(raised),"
        " min(raised_elapsed) FROM alarm WHERE incident NOT IN (SELECT id FROM incident) GROUP BY incident"
    )
    fresh.execute("UPDATE parcel SET incident = NULL WHERE incident NOT IN (SELECT id FROM incident)")
    if "label" in tables:
        # What somebody said is kept, too; it names its machine and time, but no other row that takes the lost one's number.
        for kinds, table in (("'job', 'first-layer'", "job"), ("'incident'", "incident"), ("'alarm'", "alarm")):
            fresh.execute(
                f"UPDATE label SET subject = NULL WHERE kind IN ({kinds}) AND subject NOT IN (SELECT id FROM {table})"
            )
        fresh.execute("UPDATE diameter SET spool = NULL WHERE spool NOT IN (SELECT id FROM spool)")
    fresh.execute("UPDATE transition SET alarm = NULL WHERE alarm NOT IN (SELECT id FROM alarm)")
    for table, parent in ((child, parent) for child, parent in _CHILDREN if child in tables):
        fresh.execute(f"DELETE FROM {table} WHERE {parent} NOT IN (SELECT id FROM {parent})")


def _drop_nonsense(fresh: sqlite3.Connection, tables: Collection[str]) -> None:
    """A damaged page can give text where a time should be, or words that nobody wrote; such a row would fail its reader."""
    for table in tables:
        for _, column, kind, *_ in fresh.execute(f"PRAGMA table_info({table})").fetchall():
            fresh.execute(f"DELETE FROM {table} WHERE typeof({column}) NOT IN ({_TYPES[kind]})")
    for table, column, words in (known for known in _WORDS if known[0] in tables):
        known = ", ".join(f"'{word.value}'" for word in words)
        fresh.execute(f"DELETE FROM {table} WHERE {column} NOT IN ({known})")
