"""What a job or an alarm was, in three lines, for whoever is to judge it."""

from zoneinfo import ZoneInfo

from watchdog.cli.common import span
from watchdog.cli.plain import when
from watchdog.core.alarms.table import TABLE
from watchdog.record.reader import Reader
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import LabelNow, LabelRow, OccurrenceRow, Subject
from watchdog.service.said import one_line
from watchdog.service.subjects import LETTERS

FORETOLD = {
    "plan": "the plan of its file",
    "machine": "the machine",
    "file": "its file or the settings",
    "operator": "somebody",
    "history": "past jobs",
}
"""who foretold a duration, by what the record calls it"""
WIDEST = 110  # characters of a line


def of_job(record: Reader, job: JobRow, zone: ZoneInfo) -> list[str]:
    """A job, in three lines."""
    around = record.incidents(job.started, (job.ended or job.started) + 1, job.machine, limit=20)
    alarms = ", ".join(dict.fromkeys(name for incident in around for name in incident.alarms))
    return [
        f"j{job.id}  {job.machine}, a job of {when(job.started, zone)}: {job_end(job)}",
        f"  {job_times(job)}; {job_stuff(job)}",
        f"  alarms meanwhile: {alarms or 'none'}",
    ]


def register(job: JobRow, zone: ZoneInfo) -> list[str]:
    """The rest of what the register keeps of a job: times, what was foretold, its file."""
    times = [f"from {when(job.started, zone)}" + ("" if job.ended is None else f" to {when(job.ended, zone)}")]
    for what, seconds in (("executed", job.active), ("held", job.held), ("heating up", job.heating)):
        if seconds is not None:
            times.append(f"{what} {span(seconds)}")
    shown = [f"  {', '.join(times)}"]
    if job.planned is not None:
        between = ""
        if job.planned_low is not None and job.planned_high is not None:
            between = f" ({span(job.planned_low)} to {span(job.planned_high)})"
        shown.append(f"  foretold {span(job.planned)}{between}, by {FORETOLD.get(job.planned_by or '', 'somebody')}")
    size = "size not known" if job.size is None or job.origin != "card" else f"{job.size:,} bytes"
    digest = f", SHA-256 {job.digest[:12]}…" if job.digest else ""
    length = "" if job.filament_mm is None else f"; {job.filament_mm / 1000:.2f} m of filament"
    return [*shown, f"  file: {size}, {one_line(job.origin)}{digest}{length}"]


def of_alarm(row: OccurrenceRow, zone: ZoneInfo) -> list[str]:
    """One occurrence of an alarm, in three lines."""
    what = TABLE[row.alarm].what if row.alarm in TABLE else "an alarm of another version"
    end = row.cleared or row.returned or row.let_go
    lasted = "it stands" if end is None else f"over after {span(end - row.raised)}"
    told = "nobody was told"
    if row.first_told is not None:
        told = f"told {span(row.first_told - row.raised)} after it began, {row.messages} messages in all"
    taken = ""
    if row.acknowledged is not None:
        taken = f"; taken on by {row.acknowledged_by} after {span(row.acknowledged - row.raised)}"
    seen = facts_text(row.evidence)
    return [
        f"a{row.id}  {row.machine}, {row.alarm}: {what}; {when(row.raised, zone)}, {row.priority.value}",
        f"  {lasted}; {told}{taken}",
        f"  seen: {seen[:WIDEST] or 'nothing was noted'}",
    ]


def job_end(job: JobRow) -> str:
    """How it ended on the wire."""
    if job.ended is None:
        return "it runs"
    return f"{job.ending or 'unseen'}" + (f" ({one_line(job.why)})" if job.why else "")


def job_times(job: JobRow) -> str:
    """Real and planned duration, holds, and what was not seen."""
    parts = ["duration not known" if job.seconds is None else f"took {span(job.seconds)}"]
    if job.planned is not None:
        parts.append(f"planned {span(job.planned)}")
    if job.held:
        parts.append(f"held {span(job.held)}")
    if job.blind:
        parts.append(f"BLIND for {span(job.blind)}")
    return ", ".join(parts)


def job_stuff(job: JobRow) -> str:
    """Material, filament, build surface and file."""
    parts = [job.material or "material not known"]
    if job.filament_g is not None:
        parts.append(f"{job.filament_g:.0f} g")
    if job.sheet is not None:
        parts.append(f"sheet {job.sheet} after {job.sheet_age} jobs")
    name = one_line(job.file)[:60] if job.file else f"file #{job.name_hash[:8]}" if job.name_hash else ""
    return ", ".join([*parts, name] if name else parts)


def label_words(now: LabelNow) -> str:
    """What holds of it, as last said; empty when nothing was said."""
    parts = [word.value for word in (now.outcome, now.usefulness) if word is not None]
    if now.cause:
        parts.append(one_line(now.cause) + (f" ({one_line(now.origin)})" if now.origin else ""))
    elif now.origin:
        parts.append(f"origin {one_line(now.origin)}")
    parts += [f"remedy: {one_line(now.remedy)}"] if now.remedy else []
    parts += [f"note: {one_line(now.note)}"] if now.note else []
    return ", ".join(parts)


def label_line(row: LabelRow, zone: ZoneInfo) -> str:
    """One label: when, who, what."""
    said = LabelNow(row.outcome, row.cause, row.origin, row.remedy, row.note, row.usefulness)
    about = f"{LETTERS[row.kind]}{row.subject}" + (" first layer" if row.kind is Subject.FIRST_LAYER else "")
    return f"{when(row.at, zone)}  {about}: {label_words(said)}  (by {one_line(row.by)}, {row.how})"


def facts_text(facts: object) -> str:
    """Evidence in one line."""
    held = dict(facts) if hasattr(facts, "items") else {}  # type: ignore[call-overload]
    return ", ".join(f"{one_line(name)} {one_line(str(value))}" for name, value in held.items() if value is not None)
