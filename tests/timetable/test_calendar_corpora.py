"""Calendars of many programs, as the two libraries ship them with their own tests: read as the libraries read them, or named.

What this holds is that the slimming, the settling of times and the rules of this room lose nothing that was there. What
differs on purpose is listed with its reason.
"""

import warnings
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events  # type: ignore[import-untyped]

from watchdog.core.timetable import Kind
from watchdog.timetable.faults import UnreadableCalendar
from watchdog.timetable.options import Meaning
from watchdog.timetable.reading import periods

LISBON = ZoneInfo("Europe/Lisbon")
START, STOP = datetime(2010, 1, 1, tzinfo=LISBON), datetime(2030, 1, 1, tzinfo=LISBON)
FOLDERS = (
    Path(str(files("recurring_ical_events"))) / "test" / "calendars",
    Path(str(files("icalendar"))) / "tests" / "calendars",
)
CORPUS = sorted(file for folder in FOLDERS for file in folder.glob("*.ics"))
OTHERWISE = {
    "Germany_Holidays": "whole days that end on the day on which they begin are days here",
    "example": "the same",
    "issue_75_range_parameter": "UNTIL as a day includes that day",
    "issue_86_x_wr_timezone_without_time_zone_in_dt": "a time without zone is in the zone of the settings",
}
needs_corpus = pytest.mark.skipif(len(CORPUS) < 150, reason="the libraries were installed without their tests")


def ours(file: Path) -> list[tuple[float, float]]:
    found = periods(file.read_bytes(), Meaning(Kind.LESSON), START.timestamp(), STOP.timestamp(), LISBON)
    return [(period.start, period.end) for period in found]


def theirs(file: Path) -> list[tuple[float, float]]:
    """What the libraries say by themselves, without what is no period here."""

    def stamp(moment: date) -> float:
        if not isinstance(moment, datetime):
            moment = datetime(moment.year, moment.month, moment.day)  # noqa: DTZ001
        return (moment if moment.tzinfo is not None else moment.replace(tzinfo=LISBON)).timestamp()

    found = set()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for calendar in icalendar.Calendar.from_ical(file.read_bytes(), multiple=True):
            for event in recurring_ical_events.of(calendar).between(START.astimezone(UTC), STOP.astimezone(UTC)):
                span = stamp(event["DTSTART"].dt), stamp(event["DTEND"].dt)
                if span[1] > span[0] and event.get("STATUS") != "CANCELLED":
                    found.add(span)
    return sorted(found)


@needs_corpus
@pytest.mark.parametrize("file", CORPUS, ids=lambda file: file.stem)
def test_each_calendar_is_read_as_the_libraries_read_it_or_refused(file: Path) -> None:
    try:
        found = ours(file)
    except UnreadableCalendar:
        return  # counted below
    try:
        expected = theirs(file)
    except ValueError:
        return  # broken where it tells no time of an event: of no concern here
    assert (found == expected) is (file.stem not in OTHERWISE)


@needs_corpus
def test_few_of_them_are_refused_and_all_for_a_reason() -> None:
    """Of what real programs write nothing may be refused that can be understood. Most of these were made to be refused; the
    count holds for the versions in config/constraints.txt."""
    kinds: dict[str, list[str]] = {}
    for file in CORPUS:
        try:
            ours(file)
        except UnreadableCalendar as fault:
            kinds.setdefault(fault.fault, []).append(file.stem)
    assert {fault: len(names) for fault, names in kinds.items()} == {
        "an event has no beginning (DTSTART)": 16,
        "it holds no calendar": 6,
        "the time zone of DTSTART is neither known here nor described in the calendar": 5,
        "DTSTART cannot be understood": 3,
        "it ends in the middle: VCALENDAR is not closed": 3,
        "the times of an event do not fit together": 3,
        "an event ends before it begins": 2,
        "an event has DTSTART more than once": 2,
        "DURATION cannot be understood": 1,
        "EXDATE cannot be understood": 1,
        "RRULE cannot be understood": 1,
        "a line of an event cannot be understood": 1,
        "an event has a time of day at one end alone": 1,
        "END:VCALENDARD closes nothing that is open": 1,
        "END:VTOOD closes nothing that is open": 1,
    }
