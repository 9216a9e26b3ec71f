"""What the daily digest says: counts of the last day from the record."""

from watchdog.core.finding import Evidence
from watchdog.core.materials import MATERIALS
from watchdog.record.reader import Reader
from watchdog.review.due import Due, judge, named
from watchdog.service.entries import UNNAMED
from watchdog.settings.model import Machine, Settings
from watchdog.settings.review import items_of


def sum_up(record: Reader, settings: Settings, since: float, until: float) -> Evidence:
    """Counts from `since` to `until` (stamps): jobs by ending, alarms by priority, what nobody has judged yet; and what is
    due, as text, if anything is."""
    jobs = [job for job in record.jobs(since, until) if job.ended is not None and since <= job.ended < until]
    alarms = record.occurrences(since, until)
    due = named(look(record, settings))
    return {
        "jobs": len(jobs),
        "completed": sum(job.ending == "completed" for job in jobs),
        "incidents": len({alarm.incident for alarm in alarms}),
        "urgent": sum(alarm.priority.value == "urgent" for alarm in alarms),
        "high": sum(alarm.priority.value == "high" for alarm in alarms),
        "low": sum(alarm.priority.value == "low" for alarm in alarms),
        "unanswered": sum(alarm.acknowledged is None and alarm.cleared is None for alarm in alarms),
        "unlabelled": len(record.unlabelled()),
        **({"due": due} if due else {}),
    }


def look(record: Reader, settings: Settings, machine: str | None = None) -> tuple[Due, ...]:
    """Everything that is kept for `machine`, or for every machine of the settings."""
    found: list[Due] = []
    for name in [machine] if machine is not None else sorted(settings.machines) or [UNNAMED]:
        told = settings.machines.get(name, Machine())
        items = items_of(settings.upkeep, name)
        hot_from = told.melts_at or MATERIALS[told.material].melts_at
        rows = record.upkeep(name, [item.name for item in items], hot_from)
        found += [judge(item, row) for item, row in zip(items, rows, strict=True)]
    return tuple(found)
