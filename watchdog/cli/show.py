"""`show`: one incident in full, or one job."""

import argparse
import json
import shutil
from zoneinfo import ZoneInfo

from watchdog.cli import picture, timeline
from watchdog.cli.about import facts_text, label_line, of_job, register
from watchdog.cli.charts import LABEL, Frame, axis, chart, marked
from watchdog.cli.common import (
    DONE,
    FOUND_WRONG,
    Stop,
    complain,
    paint,
    plain_ascii,
    reference,
    say,
    surroundings_of,
    takes,
)
from watchdog.cli.plain import clock, plain, visible, when
from watchdog.cli.status import MARKS
from watchdog.core.alarms.table import TABLE
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.record.rows import AlarmRow, Incident, JobRow, Message
from watchdog.record.term_rows import Subject
from watchdog.service.subjects import NoSubject, missing, numbered
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller

NARROWEST, WIDEST = 40, 160  # columns of a chart with its labels


def run(asked: argparse.Namespace) -> int:
    """Print it, or draw it into a file."""
    try:
        settings = surroundings_of(asked)
        kept, zone = of_caller(settings.places), zone_of(settings)
        with Reader.read(kept.record) as record, record.one_moment():
            found = numbered(asked.id)
            if found is not None and found[0] is Subject.JOB:
                return _job(asked, record, found[1], zone)
            incident = _incident(record, asked.id)
            job = _job_of(record, incident)
            labels = () if job is None else record.labels_of(Subject.JOB, job.id)
    except (NoSubject, RecordUnusable) as refused:
        complain(str(refused))
        return FOUND_WRONG
    except Stop as stop:
        complain(str(stop))
        return stop.status
    if asked.json:
        say(json.dumps(plain(incident), ensure_ascii=False, indent=1))
        return DONE
    seen = timeline.curves(incident, job, timeline.kept_plan(kept.state / "plans", job))
    if asked.svg is not None:
        return _drawn(asked, incident, seen, zone)
    said = [label_line(label, zone) for label in sorted((*incident.labels, *labels), key=lambda label: label.at)]
    for line in lines(incident, zone, asked.lines, _charts(seen, zone, asked.ascii), said):
        say(plain_ascii(line) if asked.ascii else line)
    return DONE


def _incident(record: Reader, written: str) -> Incident:
    """By its number, as i12, by an alarm of it, or by one that stands."""
    found = numbered(written)
    if found is not None and found[0] is Subject.ALARM:
        numbers = [row.incident for row in record.occurrences() if row.id == found[1]]
        incident = record.incident(numbers[0]) if numbers else None
        if incident is None:
            raise missing(*found)
        return incident
    incident = record.incident(reference(written) if found is None else found[1])
    if incident is None:
        raise NoSubject(f"there is no incident {written!r}. `emberward incidents` lists them.")
    return incident


def _job_of(record: Reader, incident: Incident) -> JobRow | None:
    """The job that ran when the incident was opened, else the first that ran in it."""
    row = incident.row
    jobs = record.jobs(row.opened - 1, (row.quiet or row.opened) + 1, row.machine)
    running = [job for job in jobs if job.started <= row.opened]
    return running[0] if running else jobs[-1] if jobs else None


def _drawn(asked: argparse.Namespace, incident: Incident, seen: timeline.Curves, zone: ZoneInfo) -> int:
    row = incident.row
    title = f"incident {row.id}, {row.machine}: {', '.join(row.alarms)}, {when(row.opened, zone)}"
    try:
        picture.draw(title, seen, zone, asked.svg)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    say(f"drawn: {asked.svg}")
    return DONE


def _job(asked: argparse.Namespace, record: Reader, number: int, zone: ZoneInfo) -> int:
    job = record.job(number)
    if job is None:
        raise missing(Subject.JOB, number)
    labels = (*record.labels_of(Subject.JOB, number), *record.labels_of(Subject.FIRST_LAYER, number))
    if asked.json:
        say(json.dumps({**plain(job), "labels": plain(labels)}, ensure_ascii=False, indent=1))
        return DONE
    for line in (*of_job(record, job, zone), *register(job, zone)):
        say(line)
    say("said of it")
    for label in labels:
        say(f"  {label_line(label, zone)}")
    if not labels:
        say(f"  nothing yet: emberward label j{number} --outcome good")
    return DONE


def _charts(seen: timeline.Curves, zone: ZoneInfo, plain_only: bool) -> list[str]:
    """As wide as the terminal."""
    if not any(value is not None for points in (seen.nozzle, seen.bed, seen.progress) for _, value in points):
        return []
    columns = shutil.get_terminal_size((80, 24)).columns
    width = min(WIDEST, max(NARROWEST, columns)) - LABEL
    frame = Frame(seen.since, seen.until, width, plain_only or not takes("█─°"))
    unit = "deg C" if frame.ascii else "°C"
    shown = chart(frame, "nozzle (line: target)", seen.nozzle, seen.nozzle_target, unit=unit)
    if any(value is not None for _, value in seen.bed):
        shown += chart(frame, "bed (line: target)", seen.bed, seen.bed_target, unit=unit, height=3)
    if any(value is not None for _, value in seen.progress):
        goal = f" (line: planned {seen.planned_by})" if seen.planned else ""
        shown += chart(frame, f"file read{goal}", seen.progress, seen.planned, unit="%")
    legend = f"{' ' * LABEL}{timeline.LEGEND}  ? not known"
    return [*shown, marked(frame, seen.marks), axis(frame, clock(seen.since, zone), clock(seen.until, zone)), legend]


def lines(incident: Incident, zone: ZoneInfo, most_lines: int, charts: list[str], said: list[str]) -> list[str]:
    """One incident as text: what stood, who was told, what the machine did and said, what people said of it."""
    row = incident.row
    shown = [paint(f"incident {row.id}", "bold") + f"  {row.machine}  {when(row.opened, zone)} ({zone.key})", ""]
    for alarm in incident.alarms:
        shown += _alarm(alarm, zone)
    shown += ["", paint("told", "bold")]
    shown += [f"  {line}" for message in incident.messages for line in _message(message, zone)] or ["  nobody"]
    if charts:
        shown += ["", *charts]
    shown += ["", paint("what happened", "bold")]
    happened = [(state.at, f"{state.axis}: {state.before} → {state.after}") for state in incident.states]
    happened += [(job.at, f"job {job.event}" + (f" ({visible(job.why)})" if job.why else "")) for job in incident.jobs]
    happened += [(note.at, f"{note.kind} {facts_text(note.facts)}") for note in incident.notes]
    shown += [f"  {clock(at, zone)}  {what}" for at, what in sorted(happened)] or ["  nothing else"]
    shown += ["", paint("said of it", "bold")]
    shown += [f"  {line}" for line in said] or [f"  nothing yet: emberward label {row.id} --cause …"]
    if incident.lines and most_lines > 0:
        left_out = len(incident.lines) - most_lines + incident.lines_dropped
        shown += ["", paint("traffic", "bold") + (f"  ({left_out} earlier lines: --lines)" if left_out > 0 else "")]
        shown += [
            f"  {clock(line.at, zone)} {line.direction.value} {visible(line.text)}"
            for line in incident.lines[-most_lines:]
        ]
    return shown


def _alarm(alarm: AlarmRow, zone: ZoneInfo) -> list[str]:
    mark, colour = MARKS[alarm.priority.value]
    row = TABLE.get(alarm.alarm)
    what = row.what if row is not None else ""
    shown = [f"{paint(mark, colour, 'bold')}  {alarm.alarm}: {what}  [{facts_text(alarm.evidence)}]  (a{alarm.id})"]
    if row is not None:
        shown.append(f"    first action: {row.action}. If nobody acts: {row.consequence}")
    for step in alarm.steps:
        how = f" ({step.how})" if step.how else ""
        by = f" by {visible(step.by)}{how}" if step.by else ""
        note = f": {visible(step.note)}" if step.note else ""
        shown.append(f"    {clock(step.at, zone)}  {step.transition.value}{by}{note}")
    return shown


def _message(message: Message, zone: ZoneInfo) -> list[str]:
    state = "waits" if message.delivered is None else f"taken by a server {clock(message.delivered, zone)}"
    if message.given_up is not None:
        state = f"given up: {message.given_up_why}"
    elif message.delivered is None and message.not_before is not None:
        state = f"waits until {clock(message.not_before, zone)}"
    why = f" ({message.why})" if message.why else ""
    loud = ", by all routes at once" if message.loud else ""
    shown = [
        f"{clock(message.created, zone)}  {message.person}: {message.tell.kind.value} {message.tell.alarm},"
        f" {state}{loud}{why}"
    ]
    shown += [
        f"            {clock(attempt.at, zone)}  {attempt.route} {attempt.outcome.value} {visible(attempt.detail)}"
        for attempt in message.attempts
        if attempt.outcome.value != "delivered"
    ]
    return shown
