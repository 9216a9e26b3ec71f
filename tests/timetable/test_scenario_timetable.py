"""A school's own calendars, read and asked: lessons, the evening tutor's Tuesdays, public holidays, two weeks in August."""

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.hours import Week, day_of, read_span
from watchdog.core.timetable import Kind, Timetable, presence
from watchdog.timetable.options import Meaning
from watchdog.timetable.reading import periods

CALENDARS = Path(__file__).parent / "calendars"
LISBON = ZoneInfo("Europe/Lisbon")
_LATE, _FRIDAY, _SATURDAY = (day_of([read_span(span)]) for span in ("13:00-21:00", "10:00-16:00", "10:00-13:00"))
WEEK = Week((_LATE, _LATE, _LATE, _LATE, _FRIDAY, _SATURDAY, ()))
MEANINGS = {
    "lessons": Meaning(Kind.LESSON),
    "duty": Meaning(Kind.DUTY, names=("workshop-lead", "duty-warden", "evening-tutor")),
    "holidays": Meaning(Kind.HOLIDAY),
}


def at(written: str) -> float:
    return datetime.fromisoformat(written).replace(tzinfo=LISBON).timestamp()


@pytest.fixture(scope="module")
def year() -> Timetable:
    start, stop = at("2026-03-01"), at("2027-03-01")
    read = [periods((CALENDARS / f"{n}.ics").read_bytes(), m, start, stop, LISBON) for n, m in MEANINGS.items()]
    return Timetable(LISBON, WEEK, tuple(sorted(period for each in read for period in each)), stop)


MOMENTS = {
    # moment: supervised until, in a lesson until, holiday, on duty
    "2026-03-02T12:59": (None, None, False, ()),
    "2026-03-02T13:00": ("21:00", "14:30", False, ()),
    "2026-03-02T14:30": ("21:00", None, False, ()),
    "2026-03-02T14:50": ("21:00", "16:20", False, ()),
    "2026-03-02T20:00": ("21:00", None, False, ()),
    "2026-03-02T21:00": (None, None, False, ()),
    "2026-03-03T13:10": ("21:00", "14:30", False, ("evening-tutor",)),
    "2026-03-31T20:59": ("21:00", None, False, ("evening-tutor",)),  # after the change of clocks
    "2026-03-06T11:29": ("16:00", "11:30", False, ()),
    "2026-03-07T11:00": ("13:00", "11:30", False, ()),
    "2026-03-08T11:00": (None, None, False, ()),
    "2026-04-03T11:00": (None, "11:30", True, ()),  # the lessons' calendar does not know of Good Friday
    "2026-05-01T00:00": (None, None, True, ()),
    "2026-04-30T23:59": (None, None, False, ()),
    "2026-08-03T13:00": (None, "14:30", True, ()),
    "2026-08-16T23:59": (None, None, True, ()),
    "2026-08-17T13:00": ("21:00", "14:30", False, ()),
    "2026-10-27T13:00": ("21:00", "14:30", False, ("evening-tutor",)),
    "2026-12-08T13:00": (None, "14:30", True, ("evening-tutor",)),
    "2027-01-01T11:00": (None, "11:30", True, ()),
}


@pytest.mark.parametrize(("moment", "expected"), MOMENTS.items(), ids=MOMENTS.keys())
def test_who_is_there(
    year: Timetable, moment: str, expected: tuple[str | None, str | None, bool, tuple[str, ...]]
) -> None:
    def clock(stamp: float | None) -> str | None:
        return None if stamp is None else f"{datetime.fromtimestamp(stamp, LISBON):%H:%M}"

    found = presence(year, at(moment))
    assert (clock(found.until), clock(found.lesson_until), found.holiday, found.on_duty) == expected
    assert found.supervised is (expected[0] is not None)
    assert found.trouble is None


def test_beyond_what_was_read_nothing_is_promised(year: Timetable) -> None:
    found = presence(year, at("2027-03-02T03:00"))
    assert found.supervised
    assert found.trouble is not None
