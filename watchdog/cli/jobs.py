"""`jobs`: the register of jobs, newest first."""

import argparse
import json
from zoneinfo import ZoneInfo

from watchdog.cli.about import job_end, job_stuff, job_times, label_words
from watchdog.cli.common import DONE, FOUND_WRONG, Stop, complain, say, surroundings_of
from watchdog.cli.incidents import day
from watchdog.cli.plain import plain, when
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.record.rows import JobRow
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller


def run(asked: argparse.Namespace) -> int:
    """Print the list."""
    try:
        settings = surroundings_of(asked)
        zone = zone_of(settings)
        with Reader.read(of_caller(settings.places).record) as record:
            rows = record.jobs(day(asked.since, zone), day(asked.until, zone), asked.machine, asked.limit)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except RecordUnusable as unusable:
        complain(str(unusable))
        return FOUND_WRONG
    for row in rows:
        say(json.dumps(plain(row), ensure_ascii=False) if asked.json else _line(row, zone))
    if not rows and not asked.json:
        say("no jobs")
    return DONE


def _line(row: JobRow, zone: ZoneInfo) -> str:
    said = label_words(row.label) or "not judged"
    number = f"j{row.id}"
    return f"{number:>6}  {when(row.started, zone)}  {row.machine}  {job_end(row)}, {job_times(row)}; {job_stuff(row)}; {said}"
