"""A calendar that was made to do harm, or that was damaged on the way, gives a fault: no crash, no wait without end."""

import asyncio
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from watchdog.core.timetable import Kind
from watchdog.timetable.asking import ask
from watchdog.timetable.errand import Errand
from watchdog.timetable.faults import UnreadableCalendar
from watchdog.timetable.lines import LARGEST
from watchdog.timetable.options import Calendar, Meaning, Source
from watchdog.timetable.reading import MOST, periods

LISBON = ZoneInfo("Europe/Lisbon")
START, STOP = (datetime(2026, month, 1, tzinfo=LISBON).timestamp() for month in (3, 5))
Writes = Callable[..., bytes]


def read(text: bytes) -> int:
    return len(periods(text, Meaning(Kind.LESSON), START, STOP, LISBON))


def told(text: bytes) -> int | str:
    """How many periods, or the fault's words; whatever else is thrown goes on."""
    try:
        return read(text)
    except UnreadableCalendar as fault:
        return str(fault)


def starting(first: str, *more: str) -> list[str]:
    return [f"DTSTART:{first}", "DURATION:PT1S", *more]


EVENTS = {
    "every second since 1970": (starting("19700101T000000Z", "RRULE:FREQ=SECONDLY"), "a rule asks for about 1,7"),
    "every second of the window": (starting("20260301T000000Z", "RRULE:FREQ=SECONDLY"), "a rule asks for about 5,"),
    "every second of a day, each day": (
        starting(
            "20260301T000000Z",
            "RRULE:FREQ=DAILY;BYHOUR={};BYMINUTE={};BYSECOND={}".format(
                *(",".join(map(str, range(n))) for n in (24, 60, 60))
            ),
        ),
        "a rule asks for about 5,",
    ),
    "every minute of the window": (starting("20260301T000000Z", "RRULE:FREQ=MINUTELY"), f"more than {MOST:,} events"),
    "a rule that stands still": (starting("20260301T000000Z", "RRULE:FREQ=DAILY;INTERVAL=0"), "never moves on"),
    "a list without end": (
        starting("20260301T000000Z", "RRULE:FREQ=YEARLY;BYYEARDAY=" + ",".join(["1"] * 5000)),
        "lists more than 400 values",
    ),
    "too many single dates": (
        starting("20260301T000000Z", "RDATE:" + ",".join(["20260302T000000Z"] * 50_001)),
        "single dates",
    ),
    "a length beyond time": (
        ["DTSTART:20260301T000000Z", "DURATION:P99999999D", "RRULE:FREQ=DAILY"],
        "do not fit together",
    ),
    "a day at the end of time": (starting("99991231T235959Z", "RRULE:FREQ=DAILY"), "do not fit together"),
    "a day before all calendars": (starting("00010101T000000Z", "RRULE:FREQ=DAILY"), "a rule asks for about 7"),
    "components without end": (["DTSTART:20260301T000000Z", *["BEGIN:VALARM"] * 100_000], "deep within each other"),
}


@pytest.mark.parametrize(("event", "words"), EVENTS.values(), ids=EVENTS.keys())
def test_what_asks_for_too_much_is_refused_with_its_line(calendar_of: Writes, event: list[str], words: str) -> None:
    with pytest.raises(UnreadableCalendar, match=words) as fault:
        read(calendar_of(event))
    assert fault.value.line is not None
    assert fault.value.remedy


def test_a_zone_that_changes_its_clock_every_second_is_refused(calendar_of: Writes) -> None:
    zone = "BEGIN:VTIMEZONE TZID:X BEGIN:STANDARD DTSTART:19700101T000000 RRULE:FREQ=SECONDLY TZOFFSETFROM:+0100"
    text = calendar_of(starting("20260301T000000Z"), zones=f"{zone} TZOFFSETTO:+0000 END:STANDARD END:VTIMEZONE")
    with pytest.raises(UnreadableCalendar, match="not yearly"):
        read(text)


WHOLE = {
    "nothing": (b"", "holds no calendar"),
    "blanks": (b" \r\n\r\n", "holds no calendar"),
    "another text": (b"Lessons: Monday 13:00\n", "holds no calendar"),
    "a web page": (b"\n <!DOCTYPE html><html><title>Sign in</title></html>", "it is a web page"),
    "too large": (b"x" * (LARGEST + 1), "larger than 5 MB"),
    "no UTF-8": (b"BEGIN:VCALENDAR\r\nSUMMARY:caf\xe9\r\nEND:VCALENDAR\r\n", "line 2: it is no text in UTF-8"),
    "UTF-16": ("BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n".encode("utf-16"), "no text in UTF-8"),
    "cut off": (
        b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART:20260301T000000Z\r\n",
        "line 3: it ends in the middle: VEVENT is not closed",
    ),
    "crossed": (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nEND:VCALENDAR\r\n", "line 3: END:VCALENDAR closes nothing"),
    "an end too many": (b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\nEND:VCALENDAR\r\n", "line 3: END:VCALENDAR closes"),
    "nested calendars": (b"BEGIN:VCALENDAR\r\n" * 1000, "line 7: components lie 7 deep"),
    "zeros": (b"\0" * 1000, "holds no calendar"),
}


@pytest.mark.parametrize(("text", "words"), WHOLE.values(), ids=WHOLE.keys())
def test_what_is_no_calendar_is_named(text: bytes, words: str) -> None:
    with pytest.raises(UnreadableCalendar, match=words):
        read(text)


@given(st.binary(max_size=2000))
def test_any_bytes_give_periods_or_a_fault(text: bytes) -> None:
    assert isinstance(told(text), int | str)


_LINES = st.sampled_from(
    [
        *("BEGIN:VCALENDAR", "END:VCALENDAR", "BEGIN:VEVENT", "END:VEVENT", "BEGIN:VTIMEZONE", "END:VTIMEZONE"),
        *("BEGIN:STANDARD", "END:STANDARD", "TZID:X", "TZOFFSETFROM:+0100", "TZOFFSETTO:+0000", "UID:1", "SEQUENCE:x"),
        *(
            "DTSTART:20260302T130000",
            "DTSTART;TZID=X:20260302T130000",
            "DTSTART;VALUE=DATE:20260302",
            "DTSTART;VALUE=TIME:1",
        ),
        *(
            "DTEND:20260302T143000Z",
            "DTEND;TZID=/:20260302T143000",
            "DTEND:99991231",
            "DURATION:P1D",
            "DURATION:PT",
            "DURATION:",
        ),
        *(
            "RRULE:FREQ=DAILY;COUNT=3",
            "RRULE:FREQ=WEEKLY;BYDAY=XX",
            "RRULE:FREQ=MONTHLY;BYSETPOS=0",
            "RRULE:FREQ=YEARLY;UNTIL=1",
        ),
        *(
            "RRULE:FREQ=DAILY;UNTIL=20260305",
            "RDATE;VALUE=PERIOD:20260303T100000/PT1H",
            "RDATE:20260304T100000Z,x",
            "RDATE;A=B",
        ),
        *("EXDATE;VALUE=DATE:20260303", "EXDATE:20260302T130000", "RECURRENCE-ID:20260302T130000", "STATUS:CANCELLED"),
        *(
            "RECURRENCE-ID;RANGE=THISANDFUTURE;VALUE=DATE:20260303",
            "SUMMARY:a\\,b",
            "SUMMARY;LANGUAGE=:x",
            " folded",
            "X:",
        ),
    ]
)


@given(st.lists(_LINES, max_size=14), st.booleans())
@hypothesis_settings(max_examples=500)
def test_any_order_of_real_lines_gives_periods_or_a_fault(lines: list[str], framed: bool) -> None:
    if framed:
        lines = ["BEGIN:VCALENDAR", "BEGIN:VEVENT", *lines, "END:VEVENT", "END:VCALENDAR"]
    assert isinstance(told("\r\n".join(lines).encode()), int | str)


async def test_a_rule_that_never_comes_true_ends_with_the_time_limit(calendar_of: Writes, tmp_path: Path) -> None:
    """The thirtieth of February, looked for day by day to the year 9999: legal, and some thirty such rules take minutes."""
    never = starting("20260301T000000Z", "RRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30")
    file = tmp_path / "never.ics"
    file.write_bytes(calendar_of(*[never] * 30))
    calendar = Calendar("lessons", Source(file), Meaning(Kind.LESSON))
    answer = await ask(Errand(calendar, LISBON, START, START, STOP, None, False, 0.0, limit=0.5))
    assert answer.trouble is not None
    assert "was not fetched and read within 0.5 s" in answer.trouble
    assert answer.periods == ()


async def test_when_the_asker_is_cancelled_the_child_goes_too(calendar_of: Writes, tmp_path: Path) -> None:
    """A service that is stopped must not leave a process behind that still reads."""
    file = tmp_path / "never.ics"
    file.write_bytes(calendar_of(*[starting("20260301T000000Z", "RRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30")] * 30))
    calendar = Calendar("lessons", Source(file), Meaning(Kind.LESSON))
    before = _children()  # of other tests in this process
    async with asyncio.TaskGroup() as group:
        task = group.create_task(ask(Errand(calendar, LISBON, START, START, STOP, None, False, 0.0, limit=60.0)))
        while not (children := _children() - before):  # noqa: ASYNC110  # the kernel tells nobody
            await asyncio.sleep(0.01)
        task.cancel()
    assert not children & _children()


def _children() -> set[str]:
    found: set[str] = set()
    for task in Path("/proc/self/task").iterdir():
        with suppress(FileNotFoundError):  # a thread that has just ended
            found.update((task / "children").read_text("ascii").split())
    return found
