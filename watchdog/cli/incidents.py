"""`incidents`: the incident log, newest first."""

import argparse
import json
from datetime import datetime
from zoneinfo import ZoneInfo

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, paint, say, span, surroundings_of
from watchdog.cli.plain import plain, when
from watchdog.cli.status import MARKS
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.record.rows import IncidentRow
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller


def run(asked: argparse.Namespace) -> int:
    """Print the list."""
    try:
        settings = surroundings_of(asked)
        zone = zone_of(settings)
        with Reader.read(of_caller(settings.places).record) as record:
            rows = record.incidents(
                day(asked.since, zone),
                day(asked.until, zone),
                asked.machine,
                asked.alarm,
                limit=asked.limit,
                cause=asked.cause,
                label=asked.label,
            )
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except RecordUnusable as unusable:
        complain(str(unusable))
        return FOUND_WRONG
    if asked.json:
        for row in rows:
            say(json.dumps(plain(row), ensure_ascii=False))
    elif not rows:
        say("no incidents")
    else:
        for row in rows:
            say(_line(row, zone))
    return DONE


def day(written: str | None, zone: ZoneInfo) -> float | None:
    """The stamp of a day, or of a moment in it; None for none. Raises Stop for what is no date."""
    if written is None:
        return None
    try:
        read = datetime.fromisoformat(written)
    except ValueError:
        raise Stop(USAGE, f"{written!r} is no date. Write 2026-03-02 or 2026-03-02T09:00.") from None
    return (read if read.tzinfo is not None else read.replace(tzinfo=zone)).timestamp()


def _line(row: IncidentRow, zone: ZoneInfo) -> str:
    mark, colour = MARKS[row.priority.value]
    end = "stands" if row.quiet is None else f"lasted {span(row.quiet - row.opened)}"
    if row.quiet is not None and row.standing:
        end += ", waits for an acknowledgement"
    by = f", taken on by {', '.join(row.acknowledged_by)}" if row.acknowledged_by else ""
    names = ", ".join(row.alarms)
    return f"{row.id:>5}  {when(row.opened, zone)}  {paint(f'{mark:<8}', colour)}  {row.machine}  {names}  {end}{by}"
