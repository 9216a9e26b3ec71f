"""Jobs: one row a job, one row a change, and what each came to."""

from watchdog.core.effects import JobChanged
from watchdog.record import names
from watchdog.record.batch import JobSummary
from watchdog.record.pen import Pen

_ENDINGS = ("completed", "abandoned")


def write(pen: Pen, machine: str, change: JobChanged, *, keep_names: bool) -> None:
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
        "UPDATE job SET size = coalesce(?, size), holds = holds + ? WHERE id = ?",
        change.size,
        int(change.event == "held"),
        job,
    )
    _name(pen, job, change.file, keep_names)
    if change.event in _ENDINGS:
        pen.run(
            "UPDATE job SET ended = ?, ending = ?, why = ?, seconds = ? WHERE id = ?",
            change.at.stamp,
            change.event,
            change.why,
            change.elapsed,
            job,
        )


def summarise(pen: Pen, machine: str, summary: JobSummary, *, keep_names: bool) -> None:
    """Record what a job came to. The same summary a second time changes nothing."""
    row = pen.one(
        "SELECT id FROM job WHERE machine = ? AND number = ? AND (ended IS NULL OR ended >= ?) ORDER BY id DESC LIMIT 1",
        machine,
        summary.number,
        summary.started,  # what ended before is another job of the same number: the watch had lost its memory
    )
    job = row[0] if row is not None else _add(pen, machine, summary.number, summary.origin, summary.started)
    pen.run(
        "UPDATE job SET ended = ?, ending = ?, seconds = coalesce(?, seconds), active = ?, held = ?, heating = ?,"
        " size = coalesce(?, size), digest = ?, planned = ?, planned_low = ?, planned_high = ?, planned_by = ?, material = ?,"
        " filament_mm = ?, filament_g = ? WHERE id = ?",
        summary.at.stamp,
        summary.ending,
        summary.seconds,
        summary.active,
        summary.held,
        summary.heating,
        summary.size,
        summary.digest,
        summary.planned,
        summary.planned_low,
        summary.planned_high,
        summary.planned_by,
        summary.material,
        summary.filament_mm,
        summary.filament_g,
        job,
    )
    _name(pen, job, summary.file, keep_names)


def _name(pen: Pen, job: int, file: str | None, keep: bool) -> None:
    if file is not None:
        kept = file if keep else None
        pen.run("UPDATE job SET file = ?, name_hash = ? WHERE id = ?", kept, names.hashed(pen, file), job)


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
    return _add(pen, machine, change.number, change.origin, change.at.stamp - change.elapsed)


def _add(pen: Pen, machine: str, number: int, origin: str, started: float) -> int:
    return pen.add(
        "INSERT INTO job (machine, number, origin, started) VALUES (?, ?, ?, ?)", machine, number, origin, started
    )
