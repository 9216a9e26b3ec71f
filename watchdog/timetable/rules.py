"""How much work a recurrence rule (RFC 5545, section 3.3.10) asks for, before it is begun.

A rule that counts seconds from 1970 is legal and would keep the reader busy for hours. So the steps from its start to the end
of the window are counted beforehand. What this estimate cannot see (a rule that never comes true) ends with the time limit.
"""

from collections.abc import Mapping
from typing import Any

from watchdog.timetable.faults import UnreadableCalendar

MOST_STEPS = 400_000
"""steps of one rule: a daily event since 1970 makes 20,000, one every ten minutes for seven years 370,000; project's choice"""
MOST_STEPS_IN_ALL = 3_000_000
"""of a calendar: about 30 s of reading on a small computer; project's choice"""
_SECONDS = {
    "SECONDLY": 1.0,
    "MINUTELY": 60.0,
    "HOURLY": 3600.0,
    "DAILY": 86400.0,
    "WEEKLY": 7 * 86400.0,
    "MONTHLY": 28 * 86400.0,
    "YEARLY": 365 * 86400.0,
}
_DAYS = ("BYDAY", "BYMONTHDAY", "BYYEARDAY", "BYWEEKNO")
_TIMES = ("BYHOUR", "BYMINUTE", "BYSECOND")
_REMEDY = "No timetable needs it: write the event by its days, or with an end (UNTIL)"


def steps(rule: Mapping[str, Any], start: float, stop: float) -> int:
    """Steps that `rule`, begun at `start`, takes up to `stop` (stamps). Raises UnreadableCalendar where it can never end."""
    frequency = str(_first(rule, "FREQ")).upper()
    if frequency not in _SECONDS:
        raise UnreadableCalendar("a rule does not say how often (FREQ)", "Mend or leave out that event")
    interval = _first(rule, "INTERVAL", 1)
    if not isinstance(interval, int) or interval < 1:
        raise UnreadableCalendar("a rule never moves on (INTERVAL below 1)", "Mend or leave out that event")
    lists = {name: len(rule[name]) if isinstance(rule[name], list) else 1 for name in rule if name.startswith("BY")}
    if any(length > 400 for length in lists.values()):  # a list names days of a year at the most: 366
        raise UnreadableCalendar("a rule lists more than 400 values at once", "Mend or leave out that event")
    unit = _SECONDS[frequency]
    taken = max(0.0, stop - start) / (unit * interval) + 1
    count = _first(rule, "COUNT")
    if isinstance(count, int) and count > 0 and not lists:
        taken = min(taken, count)
    if unit > 86400 and any(name in lists for name in _DAYS):
        taken *= unit / 86400
    for name in _TIMES:
        if unit >= 86400:
            taken *= lists.get(name, 1)
    if taken > MOST_STEPS:
        raise UnreadableCalendar(f"a rule asks for about {taken:,.0f} steps from its beginning to now", _REMEDY)
    return int(taken)


def _first(rule: Mapping[str, Any], name: str, without: Any = None) -> Any:
    """The parsed rule keeps each part as a list."""
    value = rule.get(name, without)
    return (value[0] if value else without) if isinstance(value, list) else value
