"""Lists out of the record. `since` is included, `until` is not; newest first, as a person looks for them."""

from typing import Any

from watchdog.core.effects import Priority
from watchdog.record.pen import Pen, read_facts
from watchdog.record.rows import EventRow, IncidentRow, MinuteRow, Standing

_FOREVER = 1e300  # a stamp beyond every stamp
_RANKS = tuple(Priority)  # urgent first


# Something was said of the incident of the outer statement, of an alarm of it, or of a job that ran then.
_SAID = (
    "EXISTS (SELECT 1 FROM label_now AS now WHERE {what} AND (now.kind = 'incident' AND now.subject = incident.id"
    " OR now.kind = 'alarm' AND now.subject IN (SELECT alarm.id FROM alarm WHERE alarm.incident = incident.id)"
    " OR now.kind IN ('job', 'first-layer') AND now.subject IN (SELECT job.id FROM job WHERE job.machine = incident.machine"
    " AND job.started <= coalesce(incident.quiet, 1e300) AND coalesce(job.ended, 1e300) >= incident.opened)))"
)


def incidents(
    pen: Pen,
    since: float | None,
    until: float | None,
    machine: str | None,
    alarm: str | None,
    open_only: bool,
    limit: int,
    cause: str | None = None,
    label: str | None = None,
) -> tuple[IncidentRow, ...]:
    """Incidents that touch the time from `since` to `until`."""
    rows = pen.all(
        "SELECT id FROM incident WHERE opened < ? AND (quiet IS NULL OR quiet >= ?) AND (? IS NULL OR machine = ?)"
        " AND (? IS NULL OR EXISTS (SELECT 1 FROM alarm WHERE incident = incident.id AND name = ?))"
        " AND (NOT ? OR EXISTS (SELECT 1 FROM alarm WHERE incident = incident.id AND cleared IS NULL AND let_go IS NULL))"
        f" AND (? IS NULL OR {_SAID.format(what='? = now.cause')})"
        f" AND (? IS NULL OR {_SAID.format(what='? IN (now.outcome, now.usefulness)')}) ORDER BY id DESC LIMIT ?",
        _FOREVER if until is None else until,
        -_FOREVER if since is None else since,
        machine,
        machine,
        alarm,
        alarm,
        int(open_only),
        cause,
        cause,
        label,
        label,
        limit,
    )
    return tuple(found for (number,) in rows if (found := incident_row(pen, number)) is not None)


def incident_row(pen: Pen, number: int) -> IncidentRow | None:
    """One incident as it stands in a list; None when there is none of this number."""
    row = pen.one("SELECT id, machine, opened, quiet FROM incident WHERE id = ?", number)
    if row is None:
        return None
    alarms = pen.all(
        "SELECT name, priority, acknowledged_by, cleared IS NULL AND let_go IS NULL FROM alarm WHERE incident = ? ORDER BY id",
        number,
    )
    messages = pen.one("SELECT count(*) FROM parcel WHERE incident = ?", number)
    found, of_machine, opened, quiet = row
    return IncidentRow(
        found,
        of_machine,
        opened,
        quiet,
        sum(stands for *_, stands in alarms),
        tuple(dict.fromkeys(name for name, *_ in alarms)),
        min((Priority(priority) for _, priority, *_ in alarms), key=_RANKS.index, default=Priority.LOW),
        tuple(dict.fromkeys(by for *_, by, _ in alarms if by is not None)),
        0 if messages is None else messages[0],
    )


def standing(pen: Pen, machine: str | None) -> tuple[Standing, ...]:
    """Alarms that are not cleared, most urgent first."""
    rows = pen.all(
        "SELECT machine, name, occurrence, incident, priority, evidence, raised, acknowledged, acknowledged_by, returned,"
        " coalesce((SELECT transition = 'shelved' FROM transition WHERE machine = alarm.machine AND name = alarm.name"
        "  AND transition IN ('shelved', 'unshelved') ORDER BY id DESC LIMIT 1), 0)"
        " FROM alarm WHERE cleared IS NULL AND let_go IS NULL AND (? IS NULL OR machine = ?) ORDER BY raised, id",
        machine,
        machine,
    )
    found = [
        Standing(
            name,
            alarm,
            nth,
            incident,
            Priority(priority),
            read_facts(evidence),
            raised,
            taken,
            by,
            returned,
            bool(shelved),
        )
        for name, alarm, nth, incident, priority, evidence, raised, taken, by, returned, shelved in rows
    ]
    return tuple(sorted(found, key=lambda alarm: _RANKS.index(alarm.priority)))


_EVENTS = """
SELECT stamp, machine, 'alarm', name || ' ' || transition, evidence, by_whom, id FROM transition WHERE {where}
UNION ALL
SELECT stamp, machine, 'state', axis || ' ' || before || ' → ' || after, '{{}}', NULL, id FROM state_change WHERE {where}
UNION ALL
SELECT stamp, job_change.machine, 'job', 'job ' || number || ' ' || event, '{{}}', job_change.why, job_change.id
  FROM job_change JOIN job ON job.id = job_change.job WHERE {job_where}
UNION ALL
SELECT stamp, machine, 'noted', kind, facts, NULL, id FROM noted WHERE {where}
ORDER BY 1 DESC, 7 DESC LIMIT ?
"""
_WHERE = "stamp < ? AND stamp >= ? AND (? IS NULL OR machine = ?)"


def events(pen: Pen, since: float | None, until: float | None, machine: str | None, limit: int) -> tuple[EventRow, ...]:
    """Everything that happened, alarms and states and jobs and notes together."""
    bounds: list[Any] = [_FOREVER if until is None else until, -_FOREVER if since is None else since, machine, machine]
    statement = _EVENTS.format(where=_WHERE, job_where=_WHERE.replace("machine =", "job_change.machine ="))
    rows = pen.all(statement, *bounds * 4, limit)
    return tuple(
        EventRow(at, of_machine, kind, what, _with(kind, read_facts(facts), word))
        for at, of_machine, kind, what, facts, word, _ in rows
    )


def _with(kind: str, facts: Any, word: str | None) -> dict[str, float | int | str | None]:
    """Who acknowledged, or why a job ended, beside the facts."""
    return dict(facts) if word is None else {**facts, "by" if kind == "alarm" else "why": word}


def minutes(pen: Pen, machine: str, since: float, until: float) -> tuple[MinuteRow, ...]:
    """Minute summaries of `machine`, oldest first."""
    rows = pen.all(
        "SELECT minute * 60.0, nozzle_low / 10.0, nozzle_sum / 10.0 / nullif(nozzle_count, 0), nozzle_high / 10.0,"
        " nozzle_target / 10.0, bed_low / 10.0, bed_sum / 10.0 / nullif(bed_count, 0), bed_high / 10.0, bed_target / 10.0,"
        " progress FROM telemetry WHERE machine = (SELECT id FROM machine WHERE name = ?) AND minute * 60.0 >= ?"
        " AND minute * 60.0 < ? ORDER BY minute",
        machine,
        since,
        until,
    )
    return tuple(MinuteRow(*row) for row in rows)
