"""Jobs with all that is known of them: what they came to, their sheet, their blind time, and what people said."""

from typing import Final

from watchdog.record import blindness, sheets
from watchdog.record.labels import NOW_COLUMNS, read_now
from watchdog.record.pen import Pen, Row
from watchdog.record.rows import JobRow

_FOREVER: Final = 1e300  # a stamp beyond every stamp
_JOB: Final = (
    "SELECT machine, number, file, size, job.origin, started, ended, ending, why, seconds, holds, job.id, name_hash, digest,"
    " active, held, heating, planned, planned_low, planned_high, planned_by, material, filament_mm, filament_g,"
    f" {sheets.OF_JOB} AS sheet_of_job, {sheets.AGE_OF_JOB}, {NOW_COLUMNS}"
    " FROM job LEFT JOIN label_now AS now ON now.kind = 'job' AND now.subject = job.id"
)


def jobs(
    pen: Pen, since: float | None, until: float | None, machine: str | None, limit: int | None
) -> tuple[JobRow, ...]:
    """Jobs that touch the time from `since` to `until`."""
    rows = pen.all(
        f"{_JOB} WHERE started < ? AND (ended IS NULL OR ended >= ?) AND (? IS NULL OR machine = ?)"
        " ORDER BY started DESC, job.id DESC LIMIT ?",
        _FOREVER if until is None else until,
        -_FOREVER if since is None else since,
        machine,
        machine,
        -1 if limit is None else limit,
    )
    return _job_rows(pen, rows)


def job(pen: Pen, number: int) -> JobRow | None:
    """One job; None when there is none."""
    return next(iter(_job_rows(pen, pen.all(f"{_JOB} WHERE job.id = ?", number))), None)


def _job_rows(pen: Pen, rows: list[Row]) -> tuple[JobRow, ...]:
    if not rows:
        return ()
    blind = blindness.spans(pen, None, min(row[5] for row in rows), _FOREVER)
    found = []
    for row in rows:
        facts, (sheet, age), now = row[:24], row[24:26], row[26:]
        ended = facts[6]
        unseen = None if ended is None else blindness.seconds(blind, facts[0], facts[5], ended)
        found.append(JobRow._make((*facts, sheet, None if sheet is None else age, unseen, read_now(now))))
    return tuple(found)
