"""Build surfaces: which sheet lay on a machine when, and how many jobs it has borne.

Which sheet a job had, and its age, is worked out from the times and stored nowhere: a sheet that is entered an hour late is
right all the same.
"""

from typing import Final

from watchdog.record.pen import Pen
from watchdog.record.term_rows import SheetRow

OF_JOB: Final = (
    "(SELECT sheet.id FROM sheet WHERE sheet.machine = job.machine AND sheet.started <= job.started"
    " AND (sheet.ended IS NULL OR sheet.ended > job.started) ORDER BY sheet.started DESC LIMIT 1)"
)
"""the sheet of a row of `job`"""
AGE_OF_JOB: Final = (
    f"(SELECT count(*) FROM job AS earlier JOIN sheet ON sheet.id = {OF_JOB} WHERE earlier.machine = job.machine"
    " AND earlier.started >= sheet.started AND (earlier.started, earlier.id) < (job.started, job.id))"
)
"""jobs that had begun on it before; only where it had a sheet"""


class OutOfOrder(ValueError):
    """An entry that contradicts a later one of the same machine."""


def begin(pen: Pen, machine: str, at: float, by: str, why: str | None, note: str) -> int:
    """A new sheet lies on the machine from `at` on, and the one before has ended, because of `why`; the new one's id."""
    same = pen.one("SELECT id FROM sheet WHERE machine = ? AND started = ?", machine, at)
    if same is not None:
        return int(same[0])
    later = pen.one("SELECT id FROM sheet WHERE machine = ? AND (started > ? OR ended > ?)", machine, at, at)
    if later is not None:
        raise OutOfOrder(f"{machine}: sheet {later[0]} was in use after that time: give a later one")
    end(pen, machine, at, by, why)
    return pen.add("INSERT INTO sheet (machine, started, started_by, note) VALUES (?, ?, ?, ?)", machine, at, by, note)


def end(pen: Pen, machine: str, at: float, by: str, why: str | None) -> int:
    """The sheet in use is taken off; how many that were (0 or 1)."""
    return pen.run(
        "UPDATE sheet SET ended = ?, ended_by = ?, why = ? WHERE machine = ? AND ended IS NULL AND started < ?",
        at,
        by,
        why,
        machine,
        at,
    )


def under(pen: Pen, machine: str, stamp: float) -> tuple[int, int] | None:
    """The sheet that lay on `machine` at `stamp` and the jobs that had begun on it before; None when none is known."""
    row = pen.one(
        "SELECT id, (SELECT count(*) FROM job WHERE job.machine = sheet.machine AND job.started >= sheet.started"
        " AND job.started < ?) FROM sheet WHERE machine = ? AND started <= ? AND (ended IS NULL OR ended > ?)"
        " ORDER BY started DESC LIMIT 1",
        stamp,
        machine,
        stamp,
        stamp,
    )
    return None if row is None else (row[0], row[1])


def listed(pen: Pen, machine: str | None) -> tuple[SheetRow, ...]:
    """Every sheet, oldest first."""
    rows = pen.all(
        "SELECT id, machine, started, started_by, ended, ended_by, why, note, (SELECT count(*) FROM job"
        " WHERE job.machine = sheet.machine AND job.started >= sheet.started AND (sheet.ended IS NULL"
        " OR job.started < sheet.ended)) FROM sheet WHERE ? IS NULL OR machine = ? ORDER BY started, id",
        machine,
        machine,
    )
    return tuple(SheetRow(*row) for row in rows)
