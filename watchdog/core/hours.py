"""Supervised hours: when somebody is there who can look after a machine. A weekly timetable in local time.

Spans lie within one day, end after they begin, and do not overlap. Summer time is respected: 13:00 is 13:00 on the wall, so a
span is an hour shorter or longer on the two Sundays of the change.
"""

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_SPAN = re.compile(r"(\d\d?):(\d\d)\s*(?:-|–|to)\s*(\d\d?):(\d\d)\Z")
_AHEAD = 8  # days looked ahead: a timetable repeats after seven


class Span(NamedTuple):
    """Minutes since midnight, the end not included."""

    start: int
    end: int


class Week(NamedTuple):
    """Spans of each day, Monday first."""

    days: tuple[tuple[Span, ...], ...]


def read_span(written: str) -> Span:
    """``13:00-21:00``. Raises ValueError with the remedy."""
    found = _SPAN.match(written.strip())
    if found is None:
        raise ValueError(f'{written!r} is no span of hours. Write it as "13:00-21:00"')
    start_hour, start_minute, end_hour, end_minute = map(int, found.groups())
    start, end = 60 * start_hour + start_minute, 60 * end_hour + end_minute
    if start_minute > 59 or end_minute > 59 or end > 1440:
        raise ValueError(f"{written!r} is no time of day")
    if end <= start:
        raise ValueError(f"{written!r} ends before it begins. A span lies within one day; use 24:00 for midnight")
    return Span(start, end)


def day_of(spans: Sequence[Span]) -> tuple[Span, ...]:
    """One day's spans in order, touching ones joined. Raises ValueError where two overlap."""
    joined: list[Span] = []
    for span in sorted(spans):
        if joined and span.start < joined[-1].end:
            raise ValueError("two spans of one day overlap")
        if joined and span.start == joined[-1].end:
            joined[-1] = Span(joined[-1].start, span.end)
        else:
            joined.append(span)
    return tuple(joined)


def supervised(week: Week, stamp: float, zone: ZoneInfo) -> bool:
    """Whether somebody is there at `stamp` (s since 1970)."""
    return supervised_until(week, stamp, zone) is not None


def supervised_until(week: Week, stamp: float, zone: ZoneInfo) -> float | None:
    """Stamp at which the present supervised span ends; None when nobody is there at `stamp`."""
    for start, end in _around(week, stamp, zone, 0):
        if start <= stamp < end:
            return end
    return None


def next_supervised(week: Week, stamp: float, zone: ZoneInfo) -> float | None:
    """Stamp at which the next supervised span begins, the present one not counted; None in a week without any."""
    return min((start for start, _ in _around(week, stamp, zone, _AHEAD) if start > stamp), default=None)


def spans(week: Week, start: float, stop: float, zone: ZoneInfo) -> list[tuple[float, float]]:
    """Supervised spans (stamps) that touch [start, stop), in order; the first and last are not cut."""
    found = _around(week, start, zone, int((stop - start) // 86400) + 1)
    return [span for span in found if span[1] > start and span[0] < stop]


def _around(week: Week, stamp: float, zone: ZoneInfo, ahead: int) -> list[tuple[float, float]]:
    """Spans as stamps, from the local day of `stamp` on; a span that reaches midnight goes on into the next day's first."""
    today = datetime.fromtimestamp(stamp, zone).date()
    spans: list[tuple[float, float]] = []
    for offset in range(-1, ahead + 2):
        day = today + timedelta(days=offset)
        for span in week.days[day.weekday()]:
            start, end = (_stamp(day.toordinal(), minutes, zone) for minutes in span)
            if spans and spans[-1][1] == start:
                start = spans.pop()[0]
            spans.append((start, end))
    return spans


def _stamp(day: int, minutes: int, zone: ZoneInfo) -> float:
    """A time on the wall as a stamp. One that the change of clocks skips counts by the offset before it."""
    moment = datetime.fromordinal(day) + timedelta(minutes=minutes)
    return moment.replace(tzinfo=zone).timestamp()
