"""What is kept how long, so that the record does not fill its disk.

Kept for good: incidents with their alarms, transitions and messages, jobs, and a summary a minute (about 30 MB a year for a
machine that is on day and night). Kept for a while: the rows below. Freed pages are used again; the file does not shrink.
"""

from typing import Final, NamedTuple

from watchdog.record.incidents import AFTER
from watchdog.record.pen import Pen
from watchdog.record.surroundings import BEFORE

AT_ONCE: Final = 20_000
"""rows of a table removed by one call, so that a message never waits long for the record"""
_DAY: Final = 86_400.0


class Keeping(NamedTuple):
    """How much is kept. Common practice, no source: a school year and the summer after it."""

    states_days: float = 400.0
    """state changes and notes that lie in no incident's window"""
    surroundings_days: float = 400.0
    """raw lines and readings of incidents that are over; the incident itself stays"""
    rows: int = 1_000_000
    """raw lines, and readings, of all incidents together (about 100 MB of lines); the oldest incidents' go first"""


KEEPING: Final = Keeping()


class Pruned(NamedTuple):
    """Rows removed."""

    states: int
    notes: int
    lines: int
    readings: int
    more: bool
    """call again: there was more than one call removes"""


def prune(pen: Pen, stamp: float, keeping: Keeping = KEEPING) -> Pruned:
    """Remove what is past its time at `stamp`."""
    states = _outside_incidents(pen, "state_change", stamp - keeping.states_days * _DAY)
    notes = _outside_incidents(pen, "noted", stamp - keeping.states_days * _DAY)
    lines = _surroundings(pen, "raw_line", "lines", stamp, keeping.surroundings_days, keeping.rows)
    readings = _surroundings(pen, "reading", "readings", stamp, keeping.surroundings_days, keeping.rows)
    return Pruned(states, notes, lines, readings, max(states, notes, lines, readings) >= AT_ONCE)


def _outside_incidents(pen: Pen, table: str, oldest: float) -> int:
    return pen.run(
        f"DELETE FROM {table} WHERE id IN (SELECT old.id FROM {table} AS old WHERE old.stamp < ? AND NOT EXISTS ("
        " SELECT 1 FROM incident WHERE incident.machine = old.machine AND old.elapsed >= opened_elapsed - ?"
        " AND (quiet_elapsed IS NULL OR old.elapsed <= quiet_elapsed + ?)) LIMIT ?)",
        oldest,
        BEFORE,
        AFTER,
        AT_ONCE,
    )


def _surroundings(pen: Pen, table: str, counter: str, stamp: float, days: float, most: int) -> int:
    """Whole incidents at a time, oldest first, never one that still collects."""
    counted = pen.one(f"SELECT coalesce(sum({counter}), 0) FROM incident")
    total = 0 if counted is None else counted[0]
    over = pen.all(
        f"SELECT id, quiet, {counter} FROM incident WHERE {counter} > 0 AND quiet < ? ORDER BY id", stamp - AFTER
    )
    gone = 0
    for incident, quiet, rows in over:
        if gone >= AT_ONCE:
            break
        if quiet >= stamp - days * _DAY and total - gone <= most:
            continue
        pen.run(f"DELETE FROM {table} WHERE incident = ?", incident)
        pen.run(
            f"UPDATE incident SET {counter} = 0, {counter}_dropped = {counter}_dropped + ? WHERE id = ?", rows, incident
        )
        gone += rows
    return gone
