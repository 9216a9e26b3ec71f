"""When somebody is there, and who: the week of the settings and the periods of the school's calendars, as one value.

The week repeats; periods are dated. A calendar is read by `watchdog.timetable` and handed in as periods, so nothing here knows
a file format. Periods of one kind may overlap; the end is not included. Stamps are s since 1970.

What counts: a holiday or a closure takes supervision away, whatever week and calendars say; a supervised period adds to the
week. A break within a lesson ends the lesson for its time. Where a calendar could not be read or reaches no further than
`known_until`, `trouble` says so and the hours count as supervised: somebody is told at once, as on duty.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core import hours
from watchdog.core.hours import Week


class Kind(StrEnum):
    """What a period of a calendar means."""

    SUPERVISED = "supervised"
    """somebody is in the building who can look after a machine"""
    LESSON = "lesson"
    """whoever is told is teaching"""
    BREAK = "break"
    """a break: takes precedence over a lesson around it"""
    DUTY = "duty"
    """`who` stands in, or is first in line"""
    CLOSED = "closed"
    """nobody is there, though the week says so"""
    HOLIDAY = "holiday"
    """as closed; any heat is urgent then"""


class Period(NamedTuple):
    """One dated span."""

    start: float
    end: float
    kind: Kind
    who: tuple[str, ...] = ()
    """names of people in the settings; only of a duty"""


@dataclass(frozen=True, slots=True)
class Timetable:
    """All that is known of who is there when."""

    zone: ZoneInfo
    week: Week | None = None
    """None: the settings name no hours"""
    periods: tuple[Period, ...] = ()
    """in the order of their starts"""
    known_until: float | None = None
    """stamp up to which the calendars have been read; None where there are none"""
    trouble: str | None = None
    """why a calendar cannot be relied on, in one sentence for the operator; None when all were read"""


class Presence(NamedTuple):
    """Who is there at one moment."""

    supervised: bool
    until: float | None
    """stamp at which the present supervised span ends; None when nobody is there, or when it does not end as far as is known"""
    next: float | None
    """stamp at which somebody is there again; None when somebody is, or when that is not known"""
    lesson: bool
    lesson_until: float | None
    """stamp at which the present lesson is over or interrupted by a break"""
    holiday: bool
    on_duty: tuple[str, ...]
    """names, those whose duty began last first; empty: nobody in particular"""
    trouble: str | None
    """why the timetable cannot be relied on; then `supervised` is True"""


_AHEAD = 21 * 86400.0  # s that the end of a span, or the next one, is looked for


def presence(timetable: Timetable, stamp: float) -> Presence:
    """Who is there at `stamp`."""
    now = [period for period in timetable.periods if period.start <= stamp < period.end]
    kinds = {period.kind for period in now}
    lesson = Kind.LESSON in kinds and Kind.BREAK not in kinds
    lesson_until = _lesson_end(timetable.periods, stamp) if lesson else None
    duty = sorted((period for period in now if period.kind is Kind.DUTY), key=lambda period: -period.start)
    on_duty = tuple(dict.fromkeys(name for period in duty for name in period.who))
    trouble = timetable.trouble
    if trouble is None and timetable.known_until is not None and stamp >= timetable.known_until:
        trouble = "the calendars were read no further than this"
    holiday = Kind.HOLIDAY in kinds
    if trouble is not None:
        return Presence(True, None, None, lesson, lesson_until, holiday, on_duty, trouble)
    spans = supervised_spans(timetable, stamp - 86400.0, stamp + _AHEAD)
    end = next((stop for start, stop in spans if start <= stamp < stop), None)
    following = None if end is not None else next((start for start, _ in spans if start > stamp), None)
    return Presence(end is not None, end, following, lesson, lesson_until, holiday, on_duty, None)


def supervised_spans(timetable: Timetable, start: float, stop: float) -> list[tuple[float, float]]:
    """Supervised spans that touch [start, stop), in order, joined and not overlapping; the first and last are not cut."""
    week = hours.spans(timetable.week, start, stop, timetable.zone) if timetable.week is not None else []
    touching = [period for period in timetable.periods if period.end > start - 86400 and period.start < stop + 86400]
    there = [(p.start, p.end) for p in touching if p.kind is Kind.SUPERVISED]
    away = [(p.start, p.end) for p in touching if p.kind in {Kind.CLOSED, Kind.HOLIDAY}]
    spans = _without(_joined([*week, *there]), _joined(away))
    return [span for span in spans if span[1] > start and span[0] < stop]


def _lesson_end(periods: Iterable[Period], stamp: float) -> float:
    """When the lesson at `stamp` is over: back-to-back lessons go on, a break ends them."""
    relevant = [p for p in periods if p.kind in {Kind.LESSON, Kind.BREAK} and p.end > stamp]
    lessons = _joined([(p.start, p.end) for p in relevant if p.kind is Kind.LESSON])
    breaks = _joined([(p.start, p.end) for p in relevant if p.kind is Kind.BREAK])
    return next(end for start, end in _without(lessons, breaks) if start <= stamp < end)


def _joined(spans: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        elif end > start:
            joined.append((start, end))
    return joined


def _without(spans: Iterable[tuple[float, float]], holes: list[tuple[float, float]]) -> list[tuple[float, float]]:
    left: list[tuple[float, float]] = []
    for start, end in spans:
        for hole_start, hole_end in holes:
            if hole_end <= start or hole_start >= end:
                continue
            if hole_start > start:
                left.append((start, hole_start))
            start = max(start, hole_end)
        if end > start:
            left.append((start, end))
    return left
