"""The rows of a review from the record's file. For a review of one moment open `Reader.one_moment` around it."""

from watchdog.record.reader import Reader
from watchdog.review.rows import HotMinute, House, Rows, machines_of


def recorded(record: Reader, since: float, until: float, house: House) -> Rows:
    """What a review of the time from `since` to `until` (not included) needs. Raises `RecordUnusable`."""
    jobs = tuple(sorted(record.jobs(limit=None), key=lambda job: (job.started, job.id)))
    occurrences = record.occurrences(since, until)
    blind = record.blind(since, until)
    sheets = record.sheets()
    hot = tuple(
        HotMinute(machine, minute.at)
        for machine in machines_of(house, jobs, occurrences, blind, sheets)
        for minute in record.minutes(machine, since, until)
        if minute.nozzle_high is not None and minute.nozzle_high >= house.plastic(machine).melts_at
    )
    return Rows(jobs, occurrences, record.messages(since, until), blind, sheets, hot)
