"""Jobs: one row a job, one row a change."""

from watchdog.core.effects import JobChanged
from watchdog.record.pen import Pen

_ENDINGS = ("completed", "abandoned")


def write(pen: Pen, machine: str, change: JobChanged) -> None:
    """Record one change of a job."""
    job = _job(pen, machine, change)
    fresh = pen.run(
        "INSERT INTO job_change (job, machine, event, since_start, why, elapsed, stamp) VALUES (?, ?, ?, ?, ?, ?, ?)"
        " ON CONFLICT (job, event, elapsed, stamp) DO NOTHING",
        job,
        machine,
        change.event,
        change.elapsed,
        change.why,
        *change.at,
    )
    if not fresh:
        return
    # The name is often told after the start, and the long one after the short one.
    pen.run(
        "UPDATE job SET file = coalesce(?, file), size = coalesce(?, size), holds = holds + ? WHERE id = ?",
        change.file,
        change.size,
        int(change.event == "held"),
        job,
    )
    if change.event in _ENDINGS:
        pen.run(
            "UPDATE job SET ended = ?, ending = ?, why = ?, seconds = ? WHERE id = ?",
            change.at.stamp,
            change.event,
            change.why,
            change.elapsed,
            job,
        )


def _job(pen: Pen, machine: str, change: JobChanged) -> int:
    """The row of the job. The number alone does not tell it: a watch that lost its memory counts from 1 again."""
    if change.event == "started":
        row = pen.one(
            "SELECT job FROM job_change JOIN job ON job.id = job WHERE job.machine = ? AND number = ?"
            " AND event = 'started' AND elapsed = ? AND stamp = ?",
            machine,
            change.number,
            *change.at,
        )
        return int(row[0]) if row is not None else _begin(pen, machine, change)
    row = pen.one(
        "SELECT id, ended FROM job WHERE machine = ? AND number = ? ORDER BY id DESC LIMIT 1", machine, change.number
    )
    if row is None or (row[1] is not None and row[1] < change.at.stamp):
        return _begin(pen, machine, change)
    return int(row[0])


def _begin(pen: Pen, machine: str, change: JobChanged) -> int:
    # A machine has one job at a time: what went before and was not seen to end has ended.
    pen.run("UPDATE job SET ended = ?, ending = 'unseen' WHERE machine = ? AND ended IS NULL", change.at.stamp, machine)
    return pen.add(
        "INSERT INTO job (machine, number, file, size, origin, started) VALUES (?, ?, ?, ?, ?, ?)",
        machine,
        change.number,
        change.file,
        change.size,
        change.origin,
        change.at.stamp - change.elapsed,
    )
