"""A school year of Tidewater Evening College (made up): who is there when, who is told, and how each of them answers."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import cache
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.effects import Priority
from watchdog.core.hours import Span, Week
from watchdog.core.routing import Ladder, Lessons, Outside, Recipient, RoutingPlan, Rung
from watchdog.core.timetable import Kind, Period, Timetable

LEAD, WARDEN, TUTOR, CARETAKER = "workshop-lead", "duty-warden", "evening-tutor", "caretaker"
FIRST, LAST = date(2025, 9, 1), date(2026, 8, 31)
"""both changes of the clocks lie between: 26 October and 29 March in Lisbon, 2 November and 8 March in Halifax"""
ZONES = ("Europe/Lisbon", "America/Halifax")

URGENT, HIGH, LOW = Priority.URGENT, Priority.HIGH, Priority.LOW
MINUTE = 60.0
PLAN = RoutingPlan(
    (
        Recipient(LEAD),
        Recipient(WARDEN, frozenset({URGENT, HIGH})),
        Recipient(TUTOR),
        Recipient(CARETAKER, frozenset({URGENT}), outside=True),
    ),
    {
        URGENT: Ladder(
            (Rung("duty"), Rung(WARDEN, 2 * MINUTE), Rung("everybody", 4 * MINUTE, loud=True)), outside=Outside.NAMED
        ),
        HIGH: Ladder((Rung("duty"), Rung(WARDEN, 10 * MINUTE), Rung("everybody", 15 * MINUTE, loud=True))),
        LOW: Ladder((Rung("duty"), Rung("next", 86400.0)), Lessons.WAIT, Outside.WAIT),
    },
)

WEEK = Week((*((Span(780, 1260),) for _ in range(4)), (Span(600, 960),), (Span(600, 780),), ()))
_STARTS = {0: (780, 890, 1000, 1110), 4: (600, 710, 820), 5: (600,)} | dict.fromkeys((1, 2, 3), (780, 890, 1000, 1110))
LESSON = 90  # min; the breaks between are 20 min
_HOLIDAYS = (  # first and last day; made up, at the times of year at which schools are shut
    (date(2025, 10, 27), date(2025, 10, 31)),
    (date(2025, 12, 22), date(2026, 1, 3)),
    (date(2026, 2, 16), date(2026, 2, 18)),
    (date(2026, 3, 30), date(2026, 4, 11)),
    (date(2026, 5, 1), date(2026, 5, 1)),
    (date(2026, 8, 3), date(2026, 8, 16)),
)


class Answers(NamedTuple):
    """How likely somebody sees one message, and the median s until they take it on. Assumed, no source."""

    share: float
    median: float


ANSWERS: dict[str, dict[str, Answers]] = {
    LEAD: {"lesson": Answers(0.6, 240), "hours": Answers(0.9, 90), "outside": Answers(0.4, 900)},
    WARDEN: {"lesson": Answers(0.8, 120), "hours": Answers(0.8, 120), "outside": Answers(0.2, 1200)},
    TUTOR: {"lesson": Answers(0.5, 240), "hours": Answers(0.7, 120), "outside": Answers(0.2, 1200)},
    CARETAKER: {"lesson": Answers(0.7, 180), "hours": Answers(0.7, 180), "outside": Answers(0.85, 150)},
}


def days() -> list[date]:
    """Every day of the year."""
    return [FIRST + timedelta(days=n) for n in range((LAST - FIRST).days + 1)]


def on_holiday(day: date) -> bool:
    """Whether the school is shut."""
    return any(first <= day <= last for first, last in _HOLIDAYS)


def stamp(day: date, minutes: float, zone: ZoneInfo) -> float:
    """A time on the wall, in minutes since midnight, as a stamp."""
    return (datetime(day.year, day.month, day.day, tzinfo=zone) + timedelta(minutes=minutes)).timestamp()  # wall time


def periods(zone: ZoneInfo) -> list[Period]:
    """Lessons, duties and holidays of the whole year, in order."""
    found = []
    for day in days():
        for spans in WEEK.days[day.weekday()]:
            start, end = (stamp(day, minutes, zone) for minutes in spans)
            found.append(Period(start, end, Kind.DUTY, (LEAD,)))
        starts = () if on_holiday(day) else _STARTS.get(day.weekday(), ())
        found += [Period(stamp(day, at, zone), stamp(day, at + LESSON, zone), Kind.LESSON) for at in starts]
        if day.weekday() == 1:
            found.append(Period(stamp(day, 1020, zone), stamp(day, 1260, zone), Kind.DUTY, (TUTOR,)))
    for first, last in _HOLIDAYS:
        found.append(Period(stamp(first, 0, zone), stamp(last + timedelta(days=1), 0, zone), Kind.HOLIDAY))
    return sorted(found)


def changes(zone: ZoneInfo) -> list[date]:
    """The days on which the clocks change."""
    noons = {day: datetime(day.year, day.month, day.day, 12, tzinfo=zone).utcoffset() for day in days()}
    return [after for before, after in pairwise(noons) if noons[before] != noons[after]]


def timetables(zone_name: str, unreadable: date) -> Callable[[float], Timetable]:
    """The timetable as it is read week by week, five weeks ahead; in the week of `unreadable` no calendar can be read."""
    zone, all_of_it = ZoneInfo(zone_name), periods(ZoneInfo(zone_name))
    begin, bad = stamp(FIRST, 0, zone), stamp(unreadable, 0, zone)

    @cache
    def of_week(number: int) -> Timetable:
        start = begin + number * 7 * 86400
        near = tuple(one for one in all_of_it if one.end > start - 86400 and one.start < start + 37 * 86400)
        if start <= bad < start + 7 * 86400:
            return Timetable(zone, WEEK, trouble="the calendars could not be read")
        return Timetable(zone, WEEK, near, known_until=start + 60 * 86400)

    return lambda now: of_week(int((now - begin) // (7 * 86400)))
