"""What people say of jobs, incidents and alarms. Each word is a row of its own: corrected by a later one, never erased."""

from collections.abc import Collection
from typing import Final, NamedTuple

from watchdog.record import sheets
from watchdog.record.pen import Pen, Row
from watchdog.record.term_rows import LabelNow, LabelRow, Result, Subject, Unlabelled, Usefulness

_OUTCOMES: Final = frozenset({Result.GOOD, Result.FAILED, Result.UNKNOWN})
_OF_FIRST_LAYERS: Final = frozenset({Result.GOOD, Result.BAD, Result.SKIPPED})
_PLACES: Final = {
    Subject.JOB: ("job", "started"),
    Subject.FIRST_LAYER: ("job", "started"),
    Subject.INCIDENT: ("incident", "opened"),
    Subject.ALARM: ("alarm", "raised"),
}
_COLUMNS: Final = (
    "id, kind, subject, machine, subject_at, outcome, cause, origin, remedy, note, usefulness, sheet, sheet_age, by_whom,"
    " how, at"
)


class BadLabel(ValueError):
    """A label that says nothing, or what cannot be said of its subject."""


class UnknownSubject(LookupError):
    """A label for something that is not in the record."""


class Words(NamedTuple):
    """What is said. None: nothing of that part, so that an earlier word on it stands."""

    outcome: Result | None = None
    cause: str | None = None
    """from the settings' list, as the origin; the record takes any"""
    origin: str | None = None
    remedy: str | None = None
    note: str | None = None
    usefulness: Usefulness | None = None
    """of alarms only"""


def put(pen: Pen, kind: Subject, subject: int, words: Words, at: float, by: str, how: str) -> int:
    """Add a label; its id."""
    if faults := _faults(kind, words):
        raise BadLabel("; ".join(faults))
    table, time = _PLACES[kind]
    row = pen.one(f"SELECT machine, {time} FROM {table} WHERE id = ?", subject)
    if row is None:
        raise UnknownSubject(f"no {table} {subject} in the record")
    machine, subject_at = row
    sheet = sheets.under(pen, machine, subject_at) if kind is Subject.FIRST_LAYER else None
    return pen.add(
        "INSERT INTO label (kind, subject, machine, subject_at, outcome, cause, origin, remedy, note, usefulness, sheet,"
        " sheet_age, by_whom, how, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        kind.value,
        subject,
        machine,
        subject_at,
        *(word.value if isinstance(word, Result | Usefulness) else word for word in words),
        *(sheet or (None, None)),
        by,
        how,
        at,
    )


def _faults(kind: Subject, words: Words) -> list[str]:
    faults = []
    if all(word is None for word in words):
        faults.append("the label says nothing: give an outcome, a cause, an origin, a remedy, a note or a usefulness")
    allowed = _OF_FIRST_LAYERS if kind is Subject.FIRST_LAYER else _OUTCOMES
    if words.outcome is not None and words.outcome not in allowed:
        known = ", ".join(sorted(allowed))
        faults.append(f"outcome: {words.outcome.value!r} cannot be said of a {kind.value}: say one of {known}")
    if words.usefulness is not None and kind is not Subject.ALARM:
        faults.append(f"usefulness: it is said of alarms, not of a {kind.value}: label the alarm instead")
    return faults


def of(pen: Pen, kind: Subject, subject: int) -> tuple[LabelRow, ...]:
    """Everything that was said of one subject, in the order in which it was said."""
    rows = pen.all(f"SELECT {_COLUMNS} FROM label WHERE kind = ? AND subject = ? ORDER BY id", kind.value, subject)
    return tuple(_row(row) for row in rows)


def of_incident(pen: Pen, incident: int) -> tuple[LabelRow, ...]:
    """What was said of an incident and of its alarms."""
    rows = pen.all(
        f"SELECT {_COLUMNS} FROM label WHERE kind = 'incident' AND subject = ? OR kind = 'alarm' AND subject IN"
        " (SELECT alarm.id FROM alarm WHERE alarm.incident = ?) ORDER BY id",
        incident,
        incident,
    )
    return tuple(_row(row) for row in rows)


def between(pen: Pen, since: float, until: float, machine: str | None, kind: Subject | None) -> tuple[LabelRow, ...]:
    """Labels of what began in that time, in the order in which they were said."""
    rows = pen.all(
        f"SELECT {_COLUMNS} FROM label WHERE subject_at >= ? AND subject_at < ? AND (? IS NULL OR machine = ?)"
        " AND (? IS NULL OR kind = ?) ORDER BY id",
        since,
        until,
        machine,
        machine,
        kind,
        kind,
    )
    return tuple(_row(row) for row in rows)


NOW_COLUMNS: Final = "now.outcome, now.cause, now.origin, now.remedy, now.note, now.usefulness"
"""of `label_now` under the name `now`, for `read_now`"""


def read_now(row: Row) -> LabelNow:
    """What stands in `NOW_COLUMNS`; all None where nothing was said."""
    outcome, cause, origin, remedy, note, usefulness = row
    return LabelNow(
        None if outcome is None else Result(outcome),
        cause,
        origin,
        remedy,
        note,
        None if usefulness is None else Usefulness(usefulness),
    )


_WAITING: Final = {
    Subject.JOB: "SELECT 'job', id, machine, ended, coalesce(ending, '') FROM job WHERE ended IS NOT NULL AND NOT EXISTS"
    " (SELECT 1 FROM label WHERE kind = 'job' AND subject = job.id AND outcome IS NOT NULL)",
    Subject.FIRST_LAYER: "SELECT 'first-layer', id, machine, started, coalesce(ending, '') FROM job WHERE NOT EXISTS"
    " (SELECT 1 FROM label WHERE kind = 'first-layer' AND subject = job.id)",
    Subject.INCIDENT: "SELECT 'incident', id, machine, opened, (SELECT group_concat(DISTINCT name) FROM alarm"
    " WHERE incident = incident.id) FROM incident WHERE NOT EXISTS"
    " (SELECT 1 FROM label WHERE kind = 'incident' AND subject = incident.id)",
    Subject.ALARM: "SELECT 'alarm', id, machine, raised, name FROM alarm WHERE NOT EXISTS"
    " (SELECT 1 FROM label WHERE kind = 'alarm' AND subject = alarm.id AND usefulness IS NOT NULL)",
}


def unlabelled(pen: Pen, kinds: Collection[Subject], machine: str | None, limit: int) -> tuple[Unlabelled, ...]:
    """What nobody has judged yet, newest first."""
    waiting = " UNION ALL ".join(_WAITING[kind] for kind in Subject if kind in kinds)
    if not waiting:
        return ()
    rows = pen.all(
        f"SELECT * FROM ({waiting}) WHERE ? IS NULL OR machine = ? ORDER BY 4 DESC, 2 DESC LIMIT ?",
        machine,
        machine,
        limit,
    )
    return tuple(Unlabelled(Subject(kind), number, of, at, what or "") for kind, number, of, at, what in rows)


def _row(row: Row) -> LabelRow:
    number, kind, subject, machine, subject_at, outcome, cause, origin, remedy, note, usefulness, *rest = row
    now = read_now((outcome, cause, origin, remedy, note, usefulness))
    return LabelRow(number, Subject(kind), subject, machine, subject_at, *now, *rest)
