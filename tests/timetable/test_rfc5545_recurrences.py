"""The recurrence examples of RFC 5545, section 3.8.5.3, all of them at 09:00 America/New_York.

Rules and dates are from memory of that section, in its order; its text was not at hand. One example is given as its
published erratum has it (the hourly one: UNTIL in UTC). The dates are the section's own, not made by any program.
"""

from collections.abc import Callable
from datetime import datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.timetable import Kind
from watchdog.timetable.options import Meaning
from watchdog.timetable.reading import periods

NEW_YORK = ZoneInfo("America/New_York")
Writes = Callable[..., bytes]
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()  # noqa: SIM905
EVERY_DAY = "SU,MO,TU,WE,TH,FR,SA"

# rule, first day, the days that the section lists ("…" where it goes on for ever)
DAYS = [
    ("FREQ=DAILY;COUNT=10", "19970902", "1997 Sep 2 3 4 5 6 7 8 9 10 11"),
    ("FREQ=DAILY;INTERVAL=2", "19970902", "1997 Sep 2 4 6 8 10 12 14 16 18 20 22 24 26 28 30 Oct 2 4 6 …"),
    ("FREQ=DAILY;INTERVAL=10;COUNT=5", "19970902", "1997 Sep 2 12 22 Oct 2 12"),
    ("FREQ=WEEKLY;COUNT=10", "19970902", "1997 Sep 2 9 16 23 30 Oct 7 14 21 28 Nov 4"),
    (
        "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        "19970902",
        "1997 Sep 2 9 16 23 30 Oct 7 14 21 28 Nov 4 11 18 25 Dec 2 9 16 23",
    ),
    (
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU",
        "19970902",
        "1997 Sep 2 16 30 Oct 14 28 Nov 11 25 Dec 9 23 1998 Jan 6 20 Feb 3 17 …",
    ),
    ("FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH", "19970902", "1997 Sep 2 4 9 11 16 18 23 25 30 Oct 2"),
    ("FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", "19970902", "1997 Sep 2 4 9 11 16 18 23 25 30 Oct 2"),
    (
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        "19970901",
        "1997 Sep 1 3 5 15 17 19 29 Oct 1 3 13 15 17 27 29 31 Nov 10 12 14 24 26 28 Dec 8 10 12 22",
    ),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", "19970902", "1997 Sep 2 4 16 18 30 Oct 2 14 16"),
    (
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "19970905",
        "1997 Sep 5 Oct 3 Nov 7 Dec 5 1998 Jan 2 Feb 6 Mar 6 Apr 3 May 1 Jun 5",
    ),
    ("FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR", "19970905", "1997 Sep 5 Oct 3 Nov 7 Dec 5"),
    (
        "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
        "19970907",
        "1997 Sep 7 28 Nov 2 30 1998 Jan 4 25 Mar 1 29 May 3 31",
    ),
    ("FREQ=MONTHLY;COUNT=6;BYDAY=-2MO", "19970922", "1997 Sep 22 Oct 20 Nov 17 Dec 22 1998 Jan 19 Feb 16"),
    ("FREQ=MONTHLY;BYMONTHDAY=-3", "19970928", "1997 Sep 28 Oct 29 Nov 28 Dec 29 1998 Jan 29 Feb 26 …"),
    ("FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15", "19970902", "1997 Sep 2 15 Oct 2 15 Nov 2 15 Dec 2 15 1998 Jan 2 15"),
    ("FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", "19970930", "1997 Sep 30 Oct 1 31 Nov 1 30 Dec 1 31 1998 Jan 1 31 Feb 1"),
    (
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        "19970910",
        "1997 Sep 10 11 12 13 14 15 1999 Mar 10 11 12 13",
    ),
    (
        "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU",
        "19970902",
        "1997 Sep 2 9 16 23 30 Nov 4 11 18 25 1998 Jan 6 13 20 27 Mar 3 10 17 24 31 …",
    ),
    (
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        "19970610",
        "1997 Jun 10 Jul 10 1998 Jun 10 Jul 10 1999 Jun 10 Jul 10 2000 Jun 10 Jul 10 2001 Jun 10 Jul 10",
    ),
    (
        "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3",
        "19970310",
        "1997 Mar 10 1999 Jan 10 Feb 10 Mar 10 2001 Jan 10 Feb 10 Mar 10 2003 Jan 10 Feb 10 Mar 10",
    ),
    (
        "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200",
        "19970101",
        "1997 Jan 1 Apr 10 Jul 19 2000 Jan 1 Apr 9 Jul 18 2003 Jan 1 Apr 10 Jul 19 2006 Jan 1",
    ),
    ("FREQ=YEARLY;BYDAY=20MO", "19970519", "1997 May 19 1998 May 18 1999 May 17 …"),
    ("FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO", "19970512", "1997 May 12 1998 May 11 1999 May 17 …"),
    ("FREQ=YEARLY;BYMONTH=3;BYDAY=TH", "19970313", "1997 Mar 13 20 27 1998 Mar 5 12 19 26 1999 Mar 4 11 18 25 …"),
    (
        "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8",
        "19970605",
        "1997 Jun 5 12 19 26 Jul 3 10 17 24 31 Aug 7 14 21 28 1998 Jun 4 11 18 25 Jul 2 9 16 23 30 Aug 6 13 20 27 …",
    ),
    (
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
        "19970913",
        "1997 Sep 13 Oct 11 Nov 8 Dec 13 1998 Jan 10 Feb 7 Mar 7 Apr 11 May 9 Jun 13 …",
    ),
    (
        "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
        "19961105",
        "1996 Nov 5 2000 Nov 7 2004 Nov 2 …",
    ),
    ("FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", "19970904", "1997 Sep 4 Oct 7 Nov 6"),
    (
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "19970929",
        "1997 Sep 29 Oct 30 Nov 27 Dec 30 1998 Jan 29 Feb 26 Mar 30 …",
    ),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "19970805", "1997 Aug 5 10 19 24"),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "19970805", "1997 Aug 5 17 19 31"),
    ("FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "20070115", "2007 Jan 15 30 Feb 15 Mar 15 30"),
]


def days(written: str) -> list[datetime]:
    """``1997 Sep 2 9 Oct 7`` as moments."""
    year, month, found = 0, 0, []
    for word in written.removesuffix(" …").split():
        if word in MONTHS:
            month = MONTHS.index(word) + 1
        elif len(word) == 4:
            year = int(word)
        else:
            found.append(datetime(year, month, int(word), 9, tzinfo=NEW_YORK))
    return found


def starts(text: bytes, until: datetime) -> list[datetime]:
    stop = until.timestamp() + 1
    read = periods(text, Meaning(Kind.LESSON), datetime(1996, 1, 1, tzinfo=NEW_YORK).timestamp(), stop, NEW_YORK)
    return [datetime.fromtimestamp(period.start, NEW_YORK) for period in read]


def event(rule: str, first: str, *more: str) -> list[str]:
    return [f"DTSTART;TZID=America/New_York:{first}T090000", "DURATION:PT10M", f"RRULE:{rule}", *more]


@pytest.mark.parametrize(("rule", "first", "listed"), DAYS, ids=[f"{rule} {first}" for rule, first, _ in DAYS])
def test_the_days_of_the_standard(calendar_of: Writes, rule: str, first: str, listed: str) -> None:
    expected = days(listed)
    until = expected[-1] if listed.endswith("…") else datetime(2010, 1, 1, tzinfo=NEW_YORK)
    assert starts(calendar_of(event(rule, first)), until) == expected


def test_the_long_lists_of_the_standard(calendar_of: Writes) -> None:
    """Where the section gives a span: every day to 23 December, and every day of January for three years, in both forms."""
    last = datetime(2001, 1, 1, tzinfo=NEW_YORK)
    daily = starts(calendar_of(event("FREQ=DAILY;UNTIL=19971224T000000Z", "19970902")), last)
    assert (daily[0], daily[-1], len(daily)) == (*days("1997 Sep 2 Dec 23"), 113)
    assert {(b.date() - a.date()).days for a, b in pairwise(daily)} == {1}
    january = [datetime(year, 1, day, 9, tzinfo=NEW_YORK) for year in (1998, 1999, 2000) for day in range(1, 32)]
    for rule in (
        "FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=" + EVERY_DAY,
        "FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1",
    ):
        assert starts(calendar_of(event(rule, "19980101")), last) == january


def test_friday_the_thirteenth_without_its_first_day(calendar_of: Writes) -> None:
    text = calendar_of(
        event("FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13", "19970902", "EXDATE;TZID=America/New_York:19970902T090000")
    )
    expected = days("1998 Feb 13 Mar 13 Nov 13 1999 Aug 13 2000 Oct 13")
    assert starts(text, expected[-1]) == expected


TIMES = {
    "FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T210000Z": ["09:00", "12:00", "15:00"],
    "FREQ=MINUTELY;INTERVAL=15;COUNT=6": ["09:00", "09:15", "09:30", "09:45", "10:00", "10:15"],
    "FREQ=MINUTELY;INTERVAL=90;COUNT=4": ["09:00", "10:30", "12:00", "13:30"],
    "FREQ=DAILY;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40": [
        f"{h:02}:{m:02}" for h in range(9, 17) for m in (0, 20, 40)
    ],
    "FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16": [
        f"{h:02}:{m:02}" for h in range(9, 17) for m in (0, 20, 40)
    ],
}


@pytest.mark.parametrize(("rule", "times"), TIMES.items(), ids=TIMES.keys())
def test_the_times_of_the_standard(calendar_of: Writes, rule: str, times: list[str]) -> None:
    found = starts(calendar_of(event(rule, "19970902")), datetime(1997, 9, 3, 8, tzinfo=NEW_YORK))
    assert [f"{moment:%d %H:%M}" for moment in found] == [f"02 {time}" for time in times]
