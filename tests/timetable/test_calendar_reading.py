"""What an event of a calendar becomes: its zone, its length, its exceptions."""

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.timetable import Kind, Period
from watchdog.timetable.faults import UnreadableCalendar
from watchdog.timetable.options import Meaning
from watchdog.timetable.reading import periods, read

LISBON, HALIFAX = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/Halifax")
LESSON = Meaning(Kind.LESSON)
Writes = Callable[..., bytes]
ZONE = """BEGIN:VTIMEZONE TZID:Tidewater BEGIN:STANDARD DTSTART:19961027T020000 RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU
TZOFFSETFROM:+0100 TZOFFSETTO:+0000 TZNAME:T END:STANDARD BEGIN:DAYLIGHT DTSTART:19960331T010000
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=-1SU TZOFFSETFROM:+0000 TZOFFSETTO:+0100 TZNAME:TS END:DAYLIGHT END:VTIMEZONE"""


def stamp(written: str, zone: ZoneInfo = LISBON) -> float:
    return datetime.fromisoformat(written).replace(tzinfo=zone).timestamp()


def found(
    text: bytes, zone: ZoneInfo = LISBON, begin: str = "2026-03-01", end: str = "2026-05-01"
) -> list[tuple[str, str]]:
    """Periods as local times, so that a failure can be read."""

    def local(at: float) -> str:
        return datetime.fromtimestamp(at, zone).strftime("%Y-%m-%d %H:%M")

    read_ = periods(text, LESSON, stamp(begin, zone), stamp(end, zone), zone)
    return [(local(period.start), local(period.end)) for period in read_]


ONE = [("2026-03-02 13:00", "2026-03-02 14:30")]
FORMS = {
    "a zone by its name": ["DTSTART;TZID=Europe/Lisbon:20260302T130000", "DTEND;TZID=Europe/Lisbon:20260302T143000"],
    "UTC": ["DTSTART:20260302T130000Z", "DTEND:20260302T143000Z"],
    "floating: the zone of the settings": ["DTSTART:20260302T130000", "DTEND:20260302T143000"],
    "a length": ["DTSTART:20260302T130000", "DURATION:PT1H30M"],
    "ends in another zone": ["DTSTART:20260302T130000", "DTEND;TZID=Europe/Paris:20260302T153000"],
    "a zone by the name that an office program gives it": [
        "DTSTART;TZID=GMT Standard Time:20260302T130000",
        "DTEND;TZID=GMT Standard Time:20260302T143000",
    ],
    "a zone in quotes": ['DTSTART;TZID="Europe/Lisbon":20260302T130000', "DURATION:PT90M"],
    "lower case and folded": ["dtstart:202603\r\n 02T130000", "dtend:20260302T14\r\n\t3000"],
    "transparent": ["DTSTART:20260302T130000", "DURATION:PT1H30M", "TRANSP:TRANSPARENT"],
    "tentative": ["DTSTART:20260302T130000", "DURATION:PT1H30M", "STATUS:TENTATIVE"],
    "an empty rule beside it": ["DTSTART:20260302T130000", "DURATION:PT1H30M", "RRULE:"],
}


@pytest.mark.parametrize("event", FORMS.values(), ids=FORMS.keys())
def test_an_event_is_read_in_every_form(calendar_of: Writes, event: list[str]) -> None:
    assert found(calendar_of(event)) == ONE


def test_a_zone_that_the_calendar_describes_is_used(calendar_of: Writes) -> None:
    """A zone of the school's own program, with summer time as in Lisbon, on either side of the change."""
    event = [
        "DTSTART;TZID=Tidewater:20260323T130000",
        "DTEND;TZID=Tidewater:20260323T143000",
        "RRULE:FREQ=WEEKLY;COUNT=2",
    ]
    assert found(calendar_of(event, zones=ZONE)) == [
        ("2026-03-23 13:00", "2026-03-23 14:30"),
        ("2026-03-30 13:00", "2026-03-30 14:30"),
    ]


def test_two_calendars_may_describe_one_name_differently(calendar_of: Writes) -> None:
    event = ["DTSTART;TZID=Tidewater:20260302T130000", "DURATION:PT90M"]
    later = ZONE.replace("+0100", "+0200").replace("+0000", "+0100")
    assert found(calendar_of(event, zones=ZONE)) == ONE
    assert found(calendar_of(event, zones=later)) == [("2026-03-02 12:00", "2026-03-02 13:30")]


def test_a_zone_that_nobody_knows_is_a_fault_with_its_line(calendar_of: Writes) -> None:
    """To take it for local time would be to be wrong by hours, in silence."""
    event = ["DTSTART;TZID=Workshop/Loft:20260302T130000", "DURATION:PT90M"]
    with pytest.raises(UnreadableCalendar, match=r"line 7: the time zone of DTSTART is neither known here") as fault:
        found(calendar_of(event))
    assert fault.value.line == 7
    assert "VTIMEZONE" in fault.value.remedy


@pytest.mark.parametrize("zone", [LISBON, HALIFAX], ids=str)
@pytest.mark.parametrize(
    ("event", "last"),
    [
        (["DTSTART;VALUE=DATE:20260403"], "2026-04-04"),
        (["DTSTART;VALUE=DATE:20260403", "DTEND;VALUE=DATE:20260404"], "2026-04-04"),
        (["DTSTART;VALUE=DATE:20260403", "DTEND;VALUE=DATE:20260403"], "2026-04-04"),
        (["DTSTART;VALUE=DATE:20260403", "DTEND;VALUE=DATE:20260406"], "2026-04-06"),
        (["DTSTART;VALUE=DATE:20260403", "DURATION:P1W"], "2026-04-10"),
        (["DTSTART:20260403", "DTEND:20260404"], "2026-04-04"),
    ],
)
def test_whole_days_are_local_days(calendar_of: Writes, event: list[str], last: str, zone: ZoneInfo) -> None:
    """A holiday that began at midnight UTC would leave an evening class without anybody, or with too many."""
    assert found(calendar_of(event), zone) == [("2026-04-03 00:00", f"{last} 00:00")]


def test_exceptions_overrides_and_extra_dates_change_a_series(calendar_of: Writes) -> None:
    series = [
        "UID:pattern-making",
        "DTSTART;TZID=Europe/Lisbon:20260302T130000",
        "DTEND;TZID=Europe/Lisbon:20260302T143000",
        "RRULE:FREQ=WEEKLY;COUNT=5",
        "EXDATE;TZID=Europe/Lisbon:20260309T130000",
        "RDATE;TZID=Europe/Lisbon:20260311T180000,20260312T180000",
        "RDATE;VALUE=PERIOD:20260313T100000Z/PT30M",
    ]
    moved = [
        "UID:pattern-making",
        "RECURRENCE-ID;TZID=Europe/Lisbon:20260316T130000",
        "DTSTART;TZID=Europe/Lisbon:20260317T090000",
        "DURATION:PT45M",
    ]
    cancelled = [
        "UID:pattern-making",
        "RECURRENCE-ID;TZID=Europe/Lisbon:20260323T130000",
        "DTSTART;TZID=Europe/Lisbon:20260323T130000",
        "DTEND;TZID=Europe/Lisbon:20260323T143000",
        "STATUS:CANCELLED",
    ]
    assert found(calendar_of(series, moved, cancelled)) == [
        ("2026-03-02 13:00", "2026-03-02 14:30"),
        ("2026-03-11 18:00", "2026-03-11 19:30"),
        ("2026-03-12 18:00", "2026-03-12 19:30"),
        ("2026-03-13 10:00", "2026-03-13 10:30"),
        ("2026-03-17 09:00", "2026-03-17 09:45"),
        ("2026-03-30 13:00", "2026-03-30 14:30"),
    ]


def test_from_this_one_on_all_are_moved(calendar_of: Writes) -> None:
    series = ["UID:a", "DTSTART:20260302T130000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=4"]
    later = ["UID:a", "RECURRENCE-ID;RANGE=THISANDFUTURE:20260316T130000Z", "DTSTART:20260316T150000Z", "DURATION:PT1H"]
    starts = [start for start, _ in found(calendar_of(series, later))]
    assert starts == ["2026-03-02 13:00", "2026-03-09 13:00", "2026-03-16 15:00", "2026-03-23 15:00"]


def test_a_cancelled_event_and_one_without_extent_are_no_periods(calendar_of: Writes) -> None:
    cancelled = ["DTSTART:20260302T130000Z", "DURATION:PT1H", "STATUS:CANCELLED", "RRULE:FREQ=DAILY;COUNT=3"]
    assert (
        found(calendar_of(cancelled, ["DTSTART:20260302T130000Z"], ["DTSTART:20260302T130000Z", "DURATION:PT0S"])) == []
    )


def test_an_event_over_midnight_is_one_period_and_is_not_cut(calendar_of: Writes) -> None:
    text = calendar_of(["DTSTART:20260302T220000", "DTEND:20260303T060000"])
    assert found(text) == [("2026-03-02 22:00", "2026-03-03 06:00")]
    assert found(text, begin="2026-03-03") == [("2026-03-02 22:00", "2026-03-03 06:00")]
    assert found(text, end="2026-03-02T22:01") == [("2026-03-02 22:00", "2026-03-03 06:00")]
    assert found(text, begin="2026-03-03T06:00") == []
    assert found(text, end="2026-03-02T22:00") == []


@pytest.mark.parametrize(
    ("until", "last"),
    [
        ("20260318T130000Z", "2026-03-18 13:00"),
        ("20260318T125959Z", "2026-03-17 13:00"),
        ("20260318T130000", "2026-03-18 13:00"),
        ("20260318T125959", "2026-03-17 13:00"),
        ("20260318", "2026-03-18 13:00"),
    ],
)
@pytest.mark.parametrize("zoned", ["", ";TZID=Europe/Lisbon"])
def test_a_series_ends_with_the_day_that_it_says(calendar_of: Writes, until: str, last: str, zoned: str) -> None:
    text = calendar_of([f"DTSTART{zoned}:20260302T130000", "DURATION:PT1H", f"RRULE:FREQ=DAILY;UNTIL={until}"])
    assert found(text)[-1][0] == last


def test_until_without_a_zone_is_in_the_zone_of_the_event(calendar_of: Writes) -> None:
    """Halifax is four hours behind: read as UTC, an evening class would lose its last evening."""
    text = calendar_of(["DTSTART:20260202T190000", "DURATION:PT1H", "RRULE:FREQ=DAILY;UNTIL=20260204T200000"])
    assert [start for start, _ in found(text, HALIFAX, "2026-02-01")][-1] == "2026-02-04 19:00"


def test_alarms_tasks_and_what_else_is_in_a_calendar_is_passed_over(calendar_of: Writes) -> None:
    text = calendar_of(
        [
            "DTSTART:20260302T130000",
            "DURATION:PT90M",
            "BEGIN:VALARM",
            "TRIGGER:-PT15M",
            "DURATION:PT5M",
            "REPEAT:2",
            "END:VALARM",
            "ATTACH;ENCODING=BASE64;VALUE=BINARY:not even base64",
            "DESCRIPTION:a text that was broken",
            "without the blank of a folded line",
            "X-SOMETHING;;;",
        ]
    ).replace(b"END:VCALENDAR", b"BEGIN:VTODO\r\nDUE:nonsense\r\nEND:VTODO\r\nEND:VCALENDAR")
    assert found(text) == ONE


def test_several_calendars_in_one_stream_are_all_read(calendar_of: Writes) -> None:
    one, two = (calendar_of([f"DTSTART:2026030{day}T130000", "DURATION:PT90M"]) for day in (2, 3))
    assert [start for start, _ in found(one + two)] == ["2026-03-02 13:00", "2026-03-03 13:00"]


def test_different_events_under_one_uid_are_all_read(calendar_of: Writes) -> None:
    """Some programs number all events alike; by the standard only one of them would count, and lessons would be lost."""
    text = calendar_of(*(["UID:1", f"DTSTART:2026030{day}T130000", "DURATION:PT90M"] for day in (2, 3, 4)))
    assert [start for start, _ in found(text)] == [f"2026-03-0{day} 13:00" for day in (2, 3, 4)]


def test_of_two_revisions_of_an_event_the_later_counts(calendar_of: Writes) -> None:
    old = ["UID:1", "SEQUENCE:1", "DTSTART:20260302T090000", "DURATION:PT90M"]
    assert found(calendar_of(["UID:1", "SEQUENCE:2", "DTSTART:20260302T130000", "DURATION:PT90M"], old)) == ONE


BROKEN = {
    "no start": (["DTEND:20260302T130000Z"], 4, "no beginning"),
    "a month that is none": (["DTSTART:20261302T130000Z"], 7, "DTSTART cannot be understood"),
    "a rule that is none": (["DTSTART:20260302T130000Z", "RRULE:FREQ=NEVER"], 8, "RRULE cannot be understood"),
    "a rule without FREQ": (["DTSTART:20260302T130000Z", "RRULE:COUNT=3"], 8, "how often"),
    "an end before the start": (["DTSTART:20260302T130000Z", "DTEND:20260302T120000Z"], 8, "ends before it begins"),
    "less than nothing": (["DTSTART:20260302T130000Z", "DURATION:-PT1H"], 8, "less than nothing"),
    "a day and a time": (["DTSTART;VALUE=DATE:20260302", "DTEND:20260302T120000Z"], 8, "one end alone"),
    "two starts": (["DTSTART:20260302T130000Z", "DTSTART:20260303T130000Z"], 7, "DTSTART more than once"),
    "an exception that is none": (["DTSTART:20260302T130000Z", "EXDATE:tomorrow"], 8, "EXDATE cannot be understood"),
    "a control character": (["DTSTART:2026\x0002T130000Z"], 7, "characters that are no text"),
}


@pytest.mark.parametrize(("event", "line", "words"), BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_event_is_told_with_its_line(calendar_of: Writes, event: list[str], line: int, words: str) -> None:
    """One that cannot be read may be the one that says that nobody is there: it is not passed over."""
    good = ["DTSTART:20260302T130000", "DURATION:PT90M"]
    with pytest.raises(UnreadableCalendar, match=words) as fault:
        found(calendar_of(event, good))
    assert fault.value.line == line


DUTY = {
    "the name of a person": ("Evening tutor", ("evening-tutor",)),
    "within a sentence": ("Duty: evening tutor (room 2)", ("evening-tutor",)),
    "a word of the settings": ("front DESK", ("duty-warden",)),
    "two of them, in order": ("Desk + workshop lead", ("duty-warden", "workshop-lead")),
    "the longer one": ("evening tutor's desk", ("evening-tutor", "duty-warden")),
    "a part of a word is none": ("desktop", ()),
    "nobody": ("staff meeting", ()),
    "nothing at all": ("", ()),
}


@pytest.mark.parametrize(("summary", "people"), DUTY.values(), ids=DUTY.keys())
def test_who_is_on_duty_is_told_by_an_events_name(calendar_of: Writes, summary: str, people: tuple[str, ...]) -> None:
    names = ("workshop-lead", "duty-warden", "evening-tutor", "tutor")
    meaning = Meaning(Kind.DUTY, words=(("desk", "duty-warden"),), names=names)
    event = ["DTSTART:20260303T130000Z", "DTEND:20260303T210000Z", f"SUMMARY:{summary}"]
    told = read(calendar_of(event), meaning, stamp("2026-03-01"), stamp("2026-05-01"), LISBON)
    start, end = stamp("2026-03-03T13:00"), stamp("2026-03-03T21:00")
    assert told.periods == ((Period(start, end, Kind.DUTY, people),) if people else ())
    assert told.unnamed == (() if people else (4,))


def test_a_duty_calendar_of_one_person_needs_no_names(calendar_of: Writes) -> None:
    meaning = Meaning(Kind.DUTY, person="evening-tutor")
    event = ["DTSTART:20260303T130000Z", "DTEND:20260303T210000Z", "SUMMARY:whatever"]
    told = read(calendar_of(event), meaning, stamp("2026-03-01"), stamp("2026-05-01"), LISBON)
    assert [period.who for period in told.periods] == [("evening-tutor",)]
