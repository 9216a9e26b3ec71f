"""Incidents: the alarms of one machine that belong together, with what surrounded them.

An incident opens with the first alarm, and takes in each alarm of its machine that is raised while one is present or within
five minutes after. Its window runs from ten minutes before the first alarm to five minutes after the last one returned.
"""

from typing import Final, NamedTuple

from watchdog.core.moment import Moment
from watchdog.record.pen import Pen
from watchdog.record.surroundings import BEFORE, Excerpt

AFTER: Final = 300.0
"""s recorded after the last alarm returned, and the time in which a new alarm still belongs to the incident"""
LONGEST: Final = 86_400.0
"""s after which an incident takes in no further alarm: one that stands for days would swallow all that follows"""
MOST_ROWS: Final = 20_000
"""lines, and readings, that one incident keeps"""
_FIRST: Final = 15_000
"""of those: what led to it and how it began …"""
_LAST: Final = 4_000
"""… and what ended it. The middle goes first; 1,000 rows of room, so that trimming is not done at every commit"""


class Near(NamedTuple):
    """An incident, as far as it matters for what comes next."""

    id: int
    opened: Moment
    quiet: Moment | None
    """when its last alarm returned; None while one is present"""

    def collects(self, at: Moment) -> bool:
        """Lines and readings at this moment belong to it."""
        return self.quiet is None or _between(self.quiet, at) <= AFTER


def latest(pen: Pen, machine: str, at: Moment) -> Near | None:
    """The latest incident of `machine` that collects at `at`; if none does, the latest one."""
    row = pen.one(
        "SELECT id, opened_elapsed, opened, quiet_elapsed, quiet FROM incident WHERE machine = ?"
        " ORDER BY quiet IS NULL OR quiet_elapsed >= ? DESC, id DESC LIMIT 1",
        machine,
        at.elapsed - AFTER,
    )
    if row is None:
        return None
    number, opened_elapsed, opened, quiet_elapsed, quiet = row
    return Near(number, Moment(opened_elapsed, opened), None if quiet is None else Moment(quiet_elapsed, quiet))


def for_alarm(pen: Pen, machine: str, at: Moment) -> int:
    """The incident to which an alarm belongs that is raised at `at`: the latest one, or a new one."""
    near = latest(pen, machine, at)
    if near is not None and near.collects(at) and _between(near.opened, at) < LONGEST:
        pen.run("UPDATE incident SET quiet = NULL, quiet_elapsed = NULL WHERE id = ?", near.id)
        return near.id
    return pen.add(
        "INSERT INTO incident (machine, opened, opened_elapsed) VALUES (?, ?, ?)", machine, at.stamp, at.elapsed
    )


def after_return(pen: Pen, incident: int, at: Moment) -> None:
    """An alarm of `incident` returned or was cleared at `at`: note when the last one has.

    An acknowledgement that clears a latched alarm hours later does not make the incident collect once more.
    """
    present = pen.one(
        "SELECT 1 FROM alarm WHERE incident = ? AND returned IS NULL AND cleared IS NULL AND let_go IS NULL LIMIT 1",
        incident,
    )
    if present is None:
        pen.run(
            "UPDATE incident SET quiet = ?, quiet_elapsed = ?"
            " WHERE id = ? AND (quiet_elapsed IS NULL OR ? <= quiet_elapsed + ?)",
            at.stamp,
            at.elapsed,
            incident,
            at.elapsed,
            AFTER,
        )


def keep(pen: Pen, machine: str, at: Moment, excerpt: Excerpt) -> None:
    """Write what lies in the window of the machine's latest incident at `at`; what was written before is left as it is."""
    near = latest(pen, machine, at) if excerpt.lines or excerpt.readings else None
    if near is None:
        return
    first = near.opened.elapsed - BEFORE
    last = None if near.quiet is None else near.quiet.elapsed + AFTER

    def inside(at: Moment) -> bool:
        return at.elapsed >= first and (last is None or at.elapsed <= last)

    lines = pen.run_each(
        "INSERT INTO raw_line (incident, elapsed, number, stamp, direction, text) VALUES (?, ?, ?, ?, ?, ?)"
        " ON CONFLICT (incident, elapsed, number) DO NOTHING",
        (
            (near.id, line.at.elapsed, line.number, line.at.stamp, line.direction.value, line.text)
            for line in excerpt.lines
            if inside(line.at)
        ),
    )
    readings = pen.run_each(
        "INSERT INTO reading (incident, elapsed, number, stamp, nozzle, nozzle_target, bed, bed_target, progress)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (incident, elapsed, number) DO NOTHING",
        (
            (near.id, seen.at.elapsed, seen.number, seen.at.stamp, *seen[2:])
            for seen in excerpt.readings
            if inside(seen.at)
        ),
    )
    pen.run(
        "UPDATE incident SET lines = lines + ?, lines_dropped = lines_dropped + ?, readings = readings + ? WHERE id = ?",
        lines,
        excerpt.dropped if lines else 0,
        readings,
        near.id,
    )
    _trim(pen, "raw_line", "lines", near.id)
    _trim(pen, "reading", "readings", near.id)


def _trim(pen: Pen, table: str, counter: str, incident: int) -> None:
    """Take rows from the middle once there are too many."""
    counted = pen.one(f"SELECT {counter} FROM incident WHERE id = ?", incident)
    if counted is None or counted[0] <= MOST_ROWS:
        return
    begin = pen.one(
        f"SELECT elapsed, number FROM {table} WHERE incident = ? ORDER BY elapsed, number LIMIT 1 OFFSET ?",
        incident,
        _FIRST - 1,
    )
    end = pen.one(
        f"SELECT elapsed, number FROM {table} WHERE incident = ? ORDER BY elapsed DESC, number DESC LIMIT 1 OFFSET ?",
        incident,
        _LAST - 1,
    )
    if begin is None or end is None:
        return
    gone = pen.run(
        f"DELETE FROM {table} WHERE incident = ? AND (elapsed, number) > (?, ?) AND (elapsed, number) < (?, ?)",
        incident,
        *begin,
        *end,
    )
    pen.run(
        f"UPDATE incident SET {counter} = {counter} - ?, {counter}_dropped = {counter}_dropped + ? WHERE id = ?",
        gone,
        gone,
        incident,
    )


def _between(earlier: Moment, later: Moment) -> float:
    """s from one to the other; by the wall clock where `elapsed` began afresh, because the watch had lost its memory."""
    if later.elapsed >= earlier.elapsed:
        return later.elapsed - earlier.elapsed
    return abs(later.stamp - earlier.stamp)
