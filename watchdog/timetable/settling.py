"""Every time of an event as it is meant: floating ones in the zone of the settings, UNTIL in the form that fits.

What means no time is a fault with its line. Works on the parsed component and changes it.
"""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from watchdog.timetable.faults import UnreadableCalendar
from watchdog.timetable.lines import Slim

MEND = "Mend or leave out that event, and fetch or export the calendar again"
_TIMES = ("DTSTART", "DTEND", "RECURRENCE-ID", "RDATE", "EXDATE")
_ONCE = ("DTSTART", "DTEND", "DURATION", "RECURRENCE-ID", "STATUS", "SEQUENCE")
_DAY = timedelta(days=1)


def settle(event: Any, line: int, left: Slim, zone: ZoneInfo) -> None:
    """Every time of the event as it is meant. Raises UnreadableCalendar where it means none."""

    def refused(name: str, fault: str, remedy: str = MEND) -> UnreadableCalendar:
        return UnreadableCalendar(fault, remedy, left.places.get((line, name), line))

    for name, _ in event.errors:
        raise refused(str(name).upper(), f"{name or 'a line of an event'} cannot be understood")
    for name in _ONCE:
        if isinstance(event.get(name), list):
            raise refused(name, f"an event has {name} more than once")
    if "DTSTART" not in event:
        raise refused("DTSTART", "an event has no beginning (DTSTART)")
    for name in _TIMES:
        written = event.get(name, [])
        for each in written if isinstance(written, list) else [written]:
            parts = each.dts if hasattr(each, "dts") else [each]
            if "TZID" in each.params and any(_naive(part.dt) for part in parts):
                fault = f"the time zone of {name} is neither known here nor described in the calendar"
                raise refused(name, fault, "Export it with time zones (VTIMEZONE), or with names such as Europe/Lisbon")
            for part in parts:
                part.dt = _meant(part.dt, zone)
    begins, ends = event["DTSTART"].dt, event["DTEND"].dt if "DTEND" in event else None
    if ends is not None:
        if isinstance(begins, datetime) != isinstance(ends, datetime):
            raise refused("DTEND", "an event has a time of day at one end alone")
        if stamp(ends, zone) < stamp(begins, zone):
            raise refused("DTEND", "an event ends before it begins")
        if ends == begins and not isinstance(begins, datetime):  # many write one day so, against the standard
            event["DTEND"].dt = begins + _DAY
    if "DURATION" in event and event["DURATION"].dt < timedelta(0):
        raise refused("DURATION", "an event lasts less than nothing")
    for rule in rules(event):
        if "UNTIL" in rule:
            rule["UNTIL"] = [_until(rule["UNTIL"], begins, zone)]


def _until(written: Any, begins: date, zone: ZoneInfo) -> date:
    """The end of a rule in the form that goes with its start: a day for days, else UTC."""
    until = written[0] if isinstance(written, list) else written
    if not isinstance(begins, datetime):
        return until.date() if isinstance(until, datetime) else until
    local = begins.tzinfo or zone
    if not isinstance(until, datetime):
        until = datetime(until.year, until.month, until.day, 23, 59, 59, tzinfo=local)
    return (until if until.tzinfo is not None else until.replace(tzinfo=local)).astimezone(UTC)


def rules(event: Any) -> list[Any]:
    """The recurrence rules of an event; the library makes a list of several alone."""
    written = event.get("RRULE", [])
    return written if isinstance(written, list) else [written]


def _naive(moment: Any) -> bool:
    """Whether a time names no zone; of a period its start tells."""
    moment = moment[0] if isinstance(moment, tuple) else moment
    return isinstance(moment, datetime) and moment.tzinfo is None


def _meant(moment: Any, zone: ZoneInfo) -> Any:
    if isinstance(moment, tuple):
        return tuple(_meant(part, zone) for part in moment)
    return moment.replace(tzinfo=zone) if isinstance(moment, datetime) and moment.tzinfo is None else moment


def stamp(moment: date, zone: ZoneInfo) -> float:
    """A day begins at its midnight in `zone`; a time that the change of clocks skips counts by the offset before it."""
    if isinstance(moment, datetime):
        return moment.timestamp()
    return datetime(moment.year, moment.month, moment.day, tzinfo=zone).timestamp()
