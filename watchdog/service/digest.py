"""What the daily digest says: counts of the last day from the record."""

from watchdog.core.finding import Evidence
from watchdog.record.store import Record
from watchdog.settings.model import Settings


def sum_up(record: Record, settings: Settings, since: float, until: float) -> Evidence:
    """Counts from `since` to `until` (stamps): jobs by ending, alarms by priority, what nobody has judged yet."""
    jobs = [job for job in record.jobs(since, until) if job.ended is not None and since <= job.ended < until]
    alarms = record.occurrences(since, until)
    return {
        "jobs": len(jobs),
        "completed": sum(job.ending == "completed" for job in jobs),
        "incidents": len({alarm.incident for alarm in alarms}),
        "urgent": sum(alarm.priority.value == "urgent" for alarm in alarms),
        "high": sum(alarm.priority.value == "high" for alarm in alarms),
        "low": sum(alarm.priority.value == "low" for alarm in alarms),
        "unanswered": sum(alarm.acknowledged is None and alarm.cleared is None for alarm in alarms),
        "unlabelled": len(record.unlabelled()),
    }
