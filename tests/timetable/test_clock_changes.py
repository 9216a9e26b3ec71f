"""The two nights on which the clock changes, in two zones, in two years: a lesson is at its hour on the wall.

Lisbon changes at 01:00 UTC on the last Sundays of March and October; Halifax at 02:00 on the wall on the second Sunday of
March and the first of November (the time zone database).
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.timetable import Kind, Period
from watchdog.timetable.options import Meaning
from watchdog.timetable.reading import periods

Writes = Callable[..., bytes]
# zone, the Sunday, hours from UTC before and after
CHANGES = [
    ("Europe/Lisbon", "2026-03-29", 0, 1),
    ("Europe/Lisbon", "2026-10-25", 1, 0),
    ("Europe/Lisbon", "2027-03-28", 0, 1),
    ("Europe/Lisbon", "2027-10-31", 1, 0),
    ("America/Halifax", "2026-03-08", -4, -3),
    ("America/Halifax", "2026-11-01", -3, -4),
    ("America/Halifax", "2027-03-14", -4, -3),
    ("America/Halifax", "2027-11-07", -3, -4),
]
changes = pytest.mark.parametrize(
    ("zone", "sunday", "before", "after"), CHANGES, ids=[f"{z} {d}" for z, d, *_ in CHANGES]
)


def around(text: bytes, zone: str, sunday: str) -> tuple[Period, ...]:
    day = datetime.fromisoformat(sunday).replace(tzinfo=ZoneInfo(zone))
    first, last = day - timedelta(days=3), day + timedelta(days=4)
    return periods(text, Meaning(Kind.LESSON), first.timestamp(), last.timestamp(), ZoneInfo(zone))


def utc(day: datetime, hours: float) -> float:
    """The stamp of so many hours after the day's midnight UTC; no zone is asked."""
    return day.replace(tzinfo=UTC).timestamp() + 3600 * hours


@changes
@pytest.mark.parametrize("form", ["named", "floating"])
def test_a_lesson_keeps_its_hour(
    calendar_of: Writes, zone: str, sunday: str, before: int, after: int, form: str
) -> None:
    """An hour off on the Monday after, and the wrong person is told."""
    written = f";TZID={zone}" if form == "named" else ""
    text = calendar_of([f"DTSTART{written}:20260101T130000", f"DTEND{written}:20260101T143000", "RRULE:FREQ=DAILY"])
    day = datetime.fromisoformat(sunday)
    expected = []
    for offset in range(-3, 4):
        shift = before if offset < 0 else after
        start = utc(day + timedelta(days=offset), 13 - shift)
        expected.append((start, start + 5400))
    assert [(period.start, period.end) for period in around(text, zone, sunday)] == expected


@changes
def test_a_whole_day_is_as_long_as_the_day_is(
    calendar_of: Writes, zone: str, sunday: str, before: int, after: int
) -> None:
    text = calendar_of([f"DTSTART;VALUE=DATE:{sunday.replace('-', '')}"])
    day = datetime.fromisoformat(sunday)
    (period,) = around(text, zone, sunday)
    assert period.start == utc(day, -before)
    assert period.end == utc(day, 24 - after)
    assert (period.end - period.start) / 3600 == 24 + before - after


@changes
def test_a_night_keeps_its_length_or_its_hours_as_the_standard_says(
    calendar_of: Writes, zone: str, sunday: str, before: int, after: int
) -> None:
    """RFC 5545, section 3.8.5.3: with DTEND the exact length, with DURATION the nominal one; hours are exact in both."""
    saturday = datetime.fromisoformat(sunday) - timedelta(days=1)
    first = (saturday - timedelta(days=7)).strftime("%Y%m%d")
    following = (saturday - timedelta(days=6)).strftime("%Y%m%d")
    rule = "RRULE:FREQ=WEEKLY;COUNT=2"
    start = utc(saturday, 20 - before)
    for ending, length in (
        (f"DTEND:{following}T200000", 24.0),
        ("DURATION:P1D", 24.0 + before - after),
        ("DURATION:PT10H", 10.0),
        (f"DTEND:{following}T060000", 10.0),
    ):
        found = around(calendar_of([f"DTSTART:{first}T200000", ending, rule]), zone, sunday)
        assert [(period.start, (period.end - period.start) / 3600) for period in found] == [(start, length)], ending


def test_an_event_that_is_no_series_ends_where_it_says(calendar_of: Writes) -> None:
    (period,) = around(calendar_of(["DTSTART:20261024T200000", "DTEND:20261025T060000"]), "Europe/Lisbon", "2026-10-25")
    assert period.end - period.start == 11 * 3600


@pytest.mark.parametrize(
    ("zone", "sunday", "time", "hours"),
    [
        (
            "Europe/Lisbon",
            "2026-03-29",
            "013000",
            1.5,
        ),  # skipped: counts by the offset before, 01:30 UTC, 02:30 on the wall
        ("America/Halifax", "2026-03-08", "023000", 6.5),
        ("Europe/Lisbon", "2026-10-25", "013000", 0.5),  # there twice: the first one
        ("America/Halifax", "2026-11-01", "013000", 4.5),
    ],
)
def test_a_time_that_is_skipped_or_there_twice(
    calendar_of: Writes, zone: str, sunday: str, time: str, hours: float
) -> None:
    """RFC 5545, section 3.3.5: a skipped time counts by the offset before the gap, a double one is the first."""
    text = calendar_of([f"DTSTART;TZID={zone}:{sunday.replace('-', '')}T{time}", "DURATION:PT30M"])
    (period,) = around(text, zone, sunday)
    assert (period.start, period.end) == (
        utc(datetime.fromisoformat(sunday), hours),
        utc(datetime.fromisoformat(sunday), hours + 0.5),
    )
