"""One incident with everything that is known of it."""

import re

from watchdog.core.effects import Priority, Transition
from watchdog.core.traffic import Direction
from watchdog.record import labels
from watchdog.record.incidents import AFTER
from watchdog.record.outbox import TELL_COLUMNS, read_tell
from watchdog.record.parcels import Outcome
from watchdog.record.pen import Pen, read_facts
from watchdog.record.queries import incident_row
from watchdog.record.rows import (
    AlarmRow,
    AttemptRow,
    Incident,
    JobStep,
    LineRow,
    Message,
    NoteRow,
    ReadingRow,
    StateRow,
    Step,
)
from watchdog.record.surroundings import BEFORE


def find(pen: Pen, reference: int | str) -> int | None:
    """The incident's number: as a number, or ``machine/alarm`` for an alarm that stands. None when there is none."""
    text = str(reference).strip().removeprefix("#")
    if re.fullmatch(r"\d{1,18}", text, re.ASCII):
        row = pen.one("SELECT id FROM incident WHERE id = ?", int(text))
    else:
        machine, _, alarm = text.rpartition("/")
        row = pen.one(
            "SELECT incident FROM alarm WHERE machine = ? AND name = ? AND cleared IS NULL AND let_go IS NULL"
            " ORDER BY id DESC LIMIT 1",
            machine,
            alarm,
        )
    return None if row is None else int(row[0])


def incident(pen: Pen, reference: int | str) -> Incident | None:
    """Everything about one incident; None when there is none."""
    number = find(pen, reference)
    if number is None:
        return None
    row = incident_row(pen, number)
    assert row is not None  # found in the same transaction
    window = pen.one(
        "SELECT machine, opened_elapsed - ?, coalesce(quiet_elapsed + ?, 1e300), readings_dropped, lines_dropped"
        " FROM incident WHERE id = ?",
        BEFORE,
        AFTER,
        number,
    )
    assert window is not None
    *near, readings_dropped, lines_dropped = window
    inside = "machine = ? AND elapsed >= ? AND elapsed <= ? ORDER BY elapsed, id"
    states = pen.all(f"SELECT stamp, axis, before, after FROM state_change WHERE {inside}", *near)
    jobs = pen.all(
        "SELECT job_change.stamp, event, number, file, since_start, job_change.why FROM job_change JOIN job ON job.id = job"
        " WHERE job_change.machine = ? AND elapsed >= ? AND elapsed <= ? ORDER BY elapsed, job_change.id",
        *near,
    )
    notes = pen.all(f"SELECT stamp, kind, facts FROM noted WHERE {inside}", *near)
    readings = pen.all(
        "SELECT stamp, nozzle, nozzle_target, bed, bed_target, progress FROM reading WHERE incident = ?"
        " ORDER BY elapsed, number",
        number,
    )
    lines = pen.all("SELECT stamp, direction, text FROM raw_line WHERE incident = ? ORDER BY elapsed, number", number)
    return Incident(
        row,
        _alarms(pen, number),
        labels.of_incident(pen, number),
        _messages(pen, number),
        tuple(StateRow(*state) for state in states),
        tuple(JobStep(*job) for job in jobs),
        tuple(NoteRow(at, kind, read_facts(facts)) for at, kind, facts in notes),
        tuple(ReadingRow(*reading) for reading in readings),
        readings_dropped,
        tuple(LineRow(at, Direction(direction), text) for at, direction, text in lines),
        lines_dropped,
    )


def _alarms(pen: Pen, number: int) -> tuple[AlarmRow, ...]:
    rows = pen.all(
        "SELECT id, name, occurrence, priority, evidence, raised, acknowledged, acknowledged_by, acknowledged_how, returned,"
        " cleared, let_go FROM alarm WHERE incident = ? ORDER BY raised_elapsed, id",
        number,
    )
    alarms = []
    for row, name, occurrence, priority, evidence, raised, taken, by, how, returned, cleared, let_go in rows:
        life = (raised, taken, by, how, returned, cleared, let_go)
        alarms.append(
            AlarmRow(row, name, occurrence, Priority(priority), read_facts(evidence), *life, _steps(pen, row))
        )
    return tuple(alarms)


def _steps(pen: Pen, alarm: int) -> tuple[Step, ...]:
    rows = pen.all(
        "SELECT stamp, transition, priority, evidence, by_whom, how, note FROM transition WHERE alarm = ? ORDER BY id",
        alarm,
    )
    return tuple(
        Step(at, Transition(transition), Priority(priority), read_facts(evidence), by, how, note)
        for at, transition, priority, evidence, by, how, note in rows
    )


def _messages(pen: Pen, number: int) -> tuple[Message, ...]:
    rows = pen.all(
        f"SELECT id, created, person, delivered, given_up, given_up_why, not_before, loud, why, {TELL_COLUMNS}"
        " FROM parcel WHERE incident = ?"
        " ORDER BY id",
        number,
    )
    messages = []
    for parcel, created, person, delivered, given_up, given_up_why, not_before, loud, why, *tell in rows:
        tried = pen.all("SELECT stamp, route, outcome, detail FROM attempt WHERE parcel = ? ORDER BY id", parcel)
        attempts = tuple(AttemptRow(at, route, Outcome(outcome), detail) for at, route, outcome, detail in tried)
        message = read_tell(tuple(tell))
        ended = (delivered, given_up, given_up_why)
        messages.append(Message(created, person, message, attempts, *ended, not_before, bool(loud), why))
    return tuple(messages)
