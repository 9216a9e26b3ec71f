"""Events and their occurrences, by way of the two calendar libraries. Loaded by `reading` when there is something to read."""

import warnings
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events  # type: ignore[import-untyped]
from recurring_ical_events import CalendarQuery, ComponentsWithName, EventAdapter

from watchdog.timetable.faults import UnreadableCalendar
from watchdog.timetable.lines import MARK, Slim
from watchdog.timetable.rules import MOST_STEPS_IN_ALL, steps
from watchdog.timetable.settling import MEND, rules, settle, stamp

_DAY = timedelta(days=1)


class Once(NamedTuple):
    """One occurrence; stamps."""

    start: float
    end: float
    summary: str
    line: int
    """on which its event begins"""


class _Bare(EventAdapter):  # type: ignore[misc]  # the library has no types
    """An event whose occurrences are not copied: that costs four times what finding them does."""

    def as_component(self, start: Any = None, stop: Any = None, keep_recurrence_attributes: bool = True) -> Any:
        return {
            "start": self.start if start is None else start,
            "end": self.end if stop is None else stop,
            "event": self._component,
        }


def occurrences(left: Slim, start: float, stop: float, zone: ZoneInfo) -> Iterator[Once]:
    """Occurrences around [start, stop) (a day more on either side), cancelled ones left out. Raises UnreadableCalendar."""
    icalendar.use_zoneinfo()  # type: ignore[no-untyped-call]  # forgets the zones that another calendar has described under the same name
    groups: dict[str, list[Any]] = {}
    taken = 0
    for event in _parsed(left.text):
        line = _line(event)
        try:
            settle(event, line, left, zone)
            taken += _work(event, stop)
        except UnreadableCalendar as fault:
            raise fault.at(left.places.get((line, "RRULE"), line)) from None
        if taken > MOST_STEPS_IN_ALL:
            words = f"its rules ask for more than {MOST_STEPS_IN_ALL:,} steps from their beginnings to now"
            raise UnreadableCalendar(words, "Export the present school year alone", line)
        uid = str(event.get("UID", "")).strip()
        groups.setdefault(uid or f"line {line}", []).append(event)
    first, last = (datetime.fromtimestamp(stamp, UTC) for stamp in (start, stop))
    for events in _series(groups.values()):
        try:
            yield from _of_one(events, first - _DAY, last + _DAY, zone)
        except (
            ValueError,
            TypeError,
            ArithmeticError,
            LookupError,
            AttributeError,
            recurring_ical_events.InvalidCalendar,
        ):
            raise UnreadableCalendar("the times of an event do not fit together", MEND, _line(events[0])) from None


def _parsed(text: str) -> list[Any]:
    """The events; without the library's warning where it takes a zone's name with a prefix for the zone."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return icalendar.Calendar.from_ical(text).walk("VEVENT")


def _series(groups: Iterable[list[Any]]) -> Iterator[list[Any]]:
    """Events that belong together. Under one UID these are a series, its overrides and its revisions; but several events with
    starts of their own, no revision and no override are what a program wrote that numbers all alike."""
    for events in groups:
        starts = {str(event["DTSTART"].dt) for event in events}
        revisions = {str(event.get("SEQUENCE", "")) for event in events}
        if len(starts) == len(events) and len(revisions) == 1 and not any("RECURRENCE-ID" in event for event in events):
            yield from ([event] for event in events)
        else:
            yield events


def _of_one(events: list[Any], first: datetime, last: datetime, zone: ZoneInfo) -> Iterator[Once]:
    """Occurrences of the events that share a UID: a series with its overrides."""
    calendar = icalendar.Calendar()
    calendar.subcomponents.extend(events)
    query = CalendarQuery(calendar, components=(ComponentsWithName("VEVENT", _Bare),))
    for series in query.series:
        for occurrence in series.between(first, last):
            once = occurrence.as_component(False)
            event = once["event"]
            if str(event.get("STATUS", "")).strip().upper() == "CANCELLED":
                continue
            begins, ends = once["start"], once["end"]
            yield Once(
                stamp(begins, zone), _end(event, begins, ends, zone), str(event.get("SUMMARY", "")), _line(event)
            )


def _work(event: Any, stop: float) -> int:
    begins = event["DTSTART"].dt
    since = begins if isinstance(begins, datetime) else datetime(begins.year, begins.month, begins.day, tzinfo=UTC)
    taken = 1
    for rule in rules(event):
        until = rule.get("UNTIL", [None])[0]
        end = stop + 86400
        if until is not None:
            day = datetime(until.year, until.month, until.day, tzinfo=UTC).timestamp()
            end = min(end, day + 2 * 86400)
        taken += steps(rule, since.timestamp(), end)
    return taken


def _end(event: Any, begins: date, ends: date, zone: ZoneInfo) -> float:
    """Where an occurrence ends, by the rule for lengths (RFC 5545, section 3.8.5.3)."""
    if not isinstance(begins, datetime) or not isinstance(ends, datetime):
        return stamp(ends, zone)
    on_the_clock = ends.replace(tzinfo=None) - begins.replace(tzinfo=None)
    if "DTEND" in event:
        first, last = event["DTSTART"].dt, event["DTEND"].dt
        if not isinstance(first, datetime):
            return stamp(ends, zone)
        exact: float = last.timestamp() - first.timestamp()
        if on_the_clock == last.astimezone(first.tzinfo).replace(tzinfo=None) - first.replace(tzinfo=None):
            return begins.timestamp() + exact
    elif "DURATION" in event and on_the_clock == event["DURATION"].dt:
        nominal = begins + timedelta(days=on_the_clock.days)
        return nominal.timestamp() + on_the_clock.seconds
    return ends.timestamp()


def _line(event: Any) -> int:
    return int(str(event[MARK]))
