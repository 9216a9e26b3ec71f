"""Who is there when: the week of the settings together with dated periods."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.hours import Span, Week
from watchdog.core.timetable import Kind, Period, Presence, Timetable, presence, supervised_spans

LISBON = ZoneInfo("Europe/Lisbon")
EVENING = Week((*((Span(780, 1260),) for _ in range(4)), (Span(600, 960),), (Span(600, 780),), ()))
"""Mon-Thu 13-21, Fri 10-16, Sat 10-13"""


def at(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=LISBON).timestamp()


def period(start: str, end: str, kind: Kind, *who: str) -> Period:
    return Period(at(start), at(end), kind, who)


def there(stamp: str, *periods: Period, week: Week | None = EVENING) -> Presence:
    return presence(Timetable(LISBON, week, periods), at(stamp))


def test_the_week_alone_tells_who_is_there_and_until_when() -> None:
    seen = there("2026-03-02T14:00")
    assert (seen.supervised, seen.until, seen.next) == (True, at("2026-03-02T21:00"), None)
    assert not seen.lesson
    closed = there("2026-03-02T21:00")
    assert (closed.supervised, closed.until, closed.next) == (False, None, at("2026-03-03T13:00"))


@pytest.mark.parametrize("kind", [Kind.CLOSED, Kind.HOLIDAY])
def test_a_holiday_takes_supervision_away(kind: Kind) -> None:
    """On a public holiday nobody comes when the phone of the front desk rings."""
    holiday = period("2026-03-02T00:00", "2026-03-03T00:00", kind)
    seen = there("2026-03-02T14:00", holiday)
    assert (seen.supervised, seen.holiday) == (False, kind is Kind.HOLIDAY)
    assert seen.next == at("2026-03-03T13:00")


def test_a_closure_in_the_afternoon_ends_the_span_early() -> None:
    closure = period("2026-03-02T18:00", "2026-03-02T23:00", Kind.CLOSED)
    assert there("2026-03-02T14:00", closure).until == at("2026-03-02T18:00")


def test_an_open_day_on_a_sunday_is_supervised() -> None:
    seen = there("2026-03-08T11:00", period("2026-03-08T10:00", "2026-03-08T12:00", Kind.SUPERVISED))
    assert (seen.supervised, seen.until) == (True, at("2026-03-08T12:00"))


def test_a_supervised_period_beside_the_week_makes_one_span() -> None:
    seen = there("2026-03-02T12:30", period("2026-03-02T12:00", "2026-03-02T13:00", Kind.SUPERVISED))
    assert seen.until == at("2026-03-02T21:00")


def test_a_break_interrupts_the_lesson_around_it() -> None:
    """What is collected in a lesson goes out in the break, not at the end of the afternoon."""
    lesson = period("2026-03-02T14:00", "2026-03-02T17:20", Kind.LESSON)
    pause = period("2026-03-02T15:30", "2026-03-02T15:50", Kind.BREAK)
    assert there("2026-03-02T15:00", lesson, pause).lesson_until == at("2026-03-02T15:30")
    assert not there("2026-03-02T15:40", lesson, pause).lesson
    assert there("2026-03-02T16:00", lesson, pause).lesson_until == at("2026-03-02T17:20")


def test_lessons_back_to_back_are_one_for_whoever_waits_for_a_break() -> None:
    first = period("2026-03-02T14:00", "2026-03-02T15:30", Kind.LESSON)
    second = period("2026-03-02T15:30", "2026-03-02T17:00", Kind.LESSON)
    assert there("2026-03-02T15:00", first, second).lesson_until == at("2026-03-02T17:00")


def test_whose_duty_began_last_comes_first() -> None:
    """The evening tutor stands in on Tuesdays within the warden's long duty."""
    warden = period("2026-03-03T13:00", "2026-03-03T21:00", Kind.DUTY, "duty warden")
    tutor = period("2026-03-03T17:00", "2026-03-03T21:00", Kind.DUTY, "evening tutor")
    assert there("2026-03-03T18:00", warden, tutor).on_duty == ("evening tutor", "duty warden")
    assert there("2026-03-03T16:00", warden, tutor).on_duty == ("duty warden",)


def test_an_unreadable_calendar_counts_as_supervised_and_says_so() -> None:
    """A broken file must not turn the phones quiet."""
    seen = presence(Timetable(LISBON, EVENING, trouble="holidays.ics could not be read"), at("2026-03-08T03:00"))
    assert (seen.supervised, seen.until, seen.trouble) == (True, None, "holidays.ics could not be read")


def test_beyond_what_was_read_the_calendar_cannot_be_relied_on() -> None:
    table = Timetable(LISBON, EVENING, known_until=at("2026-03-02T00:00"))
    assert presence(table, at("2026-03-01T23:59")).trouble is None
    assert presence(table, at("2026-03-02T00:00")).trouble is not None


def test_without_hours_nobody_is_known_to_be_there() -> None:
    seen = there("2026-03-02T14:00", week=None)
    assert (seen.supervised, seen.next) == (False, None)


def test_spans_over_the_change_of_clocks_keep_the_time_on_the_wall() -> None:
    """Clocks go forward on 2026-03-29 in Lisbon; Monday's span still begins at 13:00."""
    spans = supervised_spans(Timetable(LISBON, EVENING), at("2026-03-27T00:00"), at("2026-03-31T00:00"))
    assert [(datetime.fromtimestamp(a, LISBON).hour, datetime.fromtimestamp(b, LISBON).hour) for a, b in spans] == [
        (10, 16),
        (10, 13),
        (13, 21),
    ]
