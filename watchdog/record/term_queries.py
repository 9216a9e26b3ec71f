"""What the review of a term asks of alarms, messages and hot time: whole lists, oldest first."""

from watchdog.core.effects import Priority, TellKind
from watchdog.record.labels import NOW_COLUMNS, read_now
from watchdog.record.pen import Pen, read_facts
from watchdog.record.term_rows import HotTime, MessageRow, OccurrenceRow


def occurrences(
    pen: Pen, since: float, until: float, machine: str | None, alarm: str | None
) -> tuple[OccurrenceRow, ...]:
    """Occurrences of alarms that were raised in that time."""
    rows = pen.all(
        "SELECT alarm.id, incident, machine, name, occurrence, priority, evidence, raised, acknowledged, acknowledged_by,"
        " acknowledged_how, returned, cleared, let_go,"
        " (SELECT count(*) FROM parcel WHERE parcel.incident = alarm.incident AND parcel.alarm = alarm.name"
        "  AND parcel.occurrence = alarm.occurrence),"
        " (SELECT min(delivered) FROM parcel WHERE parcel.incident = alarm.incident AND parcel.alarm = alarm.name"
        f"  AND parcel.occurrence = alarm.occurrence), {NOW_COLUMNS}"
        " FROM alarm LEFT JOIN label_now AS now ON now.kind = 'alarm' AND now.subject = alarm.id"
        " WHERE raised >= ? AND raised < ? AND (? IS NULL OR machine = ?) AND (? IS NULL OR name = ?)"
        " ORDER BY raised, alarm.id",
        since,
        until,
        machine,
        machine,
        alarm,
        alarm,
    )
    return tuple(
        OccurrenceRow._make(
            (*row[:5], Priority(row[5]), read_facts(row[6]), *row[7:16], read_now(row[16:])),
        )
        for row in rows
    )


def messages(pen: Pen, since: float, until: float, machine: str | None, person: str | None) -> tuple[MessageRow, ...]:
    """Messages that were made in that time."""
    rows = pen.all(
        "SELECT id, incident, machine, alarm, occurrence, kind, nth, person, priority, at, created, not_before, loud, why,"
        " (SELECT count(*) FROM attempt WHERE attempt.parcel = parcel.id), delivered, given_up, given_up_why FROM parcel"
        " WHERE at >= ? AND at < ? AND (? IS NULL OR machine = ?) AND (? IS NULL OR person = ?) ORDER BY at, id",
        since,
        until,
        machine,
        machine,
        person,
        person,
    )
    return tuple(
        MessageRow._make(
            (*row[:5], TellKind(row[5]), *row[6:8], Priority(row[8]), *row[9:12], bool(row[12]), *row[13:]),
        )
        for row in rows
    )


def hot_time(pen: Pen, machine: str, since: float, until: float, hot_from: float) -> HotTime:
    """Minutes in which the nozzle was at `hot_from` °C or more; those that touch a job count as in a job."""
    row = pen.one(
        "SELECT coalesce(sum(busy), 0), coalesce(sum(NOT busy), 0) FROM (SELECT coalesce("
        # A machine has one job at a time, so the last one that had begun tells.
        " (SELECT coalesce(job.ended, 1e300) > minute * 60.0 FROM job WHERE job.machine = ?"
        "  AND job.started < minute * 60.0 + 60 ORDER BY job.started DESC LIMIT 1), 0) AS busy"
        " FROM telemetry WHERE machine = (SELECT id FROM machine WHERE name = ?) AND minute >= ? / 60.0 AND minute < ? / 60.0"
        " AND nozzle_high >= ?)",
        machine,
        machine,
        since,
        until,
        round(hot_from * 10),
    )
    assert row is not None  # a sum has a row
    return HotTime(*row)
