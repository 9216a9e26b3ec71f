"""A calendar (RFC 5545) as periods: recurrences, exceptions, overrides, time zones and the change of clocks.

Decided where the standard leaves a choice, or calendars in the field differ:

- An event without zone, and an all-day event, are meant in the zone of the settings.
- TRANSP is not looked at: it says whether somebody's own time is taken, and holidays are mostly published as transparent.
- STATUS:CANCELLED leaves an event, or one occurrence of it, out. An event without extent is left out: it is no period.
- A recurrence keeps the exact length of its first occurrence where DTEND gives the length, and the one on the clock for the
  days of a DURATION (section 3.8.5.3): only an event over the night of a clock change can tell.
- UNTIL without zone is in the zone of DTSTART, and UNTIL as a day includes that day: both are against the standard and common.
- An all-day event that ends on the day on which it begins lasts that day: it is against the standard and common.
- Events that share a UID and are neither revisions nor overrides of each other are different events.
- A zone that is neither known here nor described is a fault: to guess it would be to be wrong by hours, in silence.
- One broken event makes the whole calendar unreadable. It might be the one that says that nobody is there.

The libraries are loaded here alone and when they are needed; the service calls this in a child process (`asking`).
"""

from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.timetable import Kind, Period
from watchdog.timetable.duty import who
from watchdog.timetable.faults import UnreadableCalendar
from watchdog.timetable.lines import slim
from watchdog.timetable.options import Meaning

MOST = 50_000
"""occurrences in the window; a school of 100 lessons a day has 6,000 in two months; project's choice"""


class Reading(NamedTuple):
    """What a calendar says."""

    periods: tuple[Period, ...]
    """in the order of their starts, each once; the first and last are not cut to the window"""
    unnamed: tuple[int, ...]
    """lines of duties that name nobody of the settings: left out of `periods`"""


def periods(text: bytes, kind_of: Meaning, start: float, stop: float, zone: ZoneInfo) -> tuple[Period, ...]:
    """Periods that touch [start, stop). Raises UnreadableCalendar, and nothing else, whatever `text` is."""
    return read(text, kind_of, start, stop, zone).periods


def read(text: bytes, meaning: Meaning, start: float, stop: float, zone: ZoneInfo) -> Reading:
    """As `periods`, with what was left out. It bounds its work but for rules that never come true: see `rules`."""
    left = slim(text)
    if not left.events:
        return Reading((), ())
    from watchdog.timetable.expanding import occurrences

    found: set[Period] = set()
    unnamed: set[int] = set()
    count = 0
    try:
        for once in occurrences(left, start, stop, zone):
            count += 1
            if count > MOST:
                remedy = "Export the present school year alone, or leave out what repeats too often"
                raise UnreadableCalendar(f"it holds more than {MOST:,} events in the time asked for", remedy, once.line)
            if once.end <= max(once.start, start) or once.start >= stop:
                continue
            if meaning.kind is not Kind.DUTY:
                found.add(Period(once.start, once.end, meaning.kind))
            elif people := who(meaning, once.summary):
                found.add(Period(once.start, once.end, meaning.kind, people))
            else:
                unnamed.add(once.line)
    except UnreadableCalendar:
        raise
    except MemoryError:
        raise UnreadableCalendar(
            "it asks for more memory than it may take", "Export the present school year alone"
        ) from None
    except Exception as wrong:  # whatever the libraries throw; only its kind is told, the text can hold what is private
        remedy = "Fetch or export it again; if it stays so, its publisher must mend it"
        raise UnreadableCalendar(f"it cannot be understood ({type(wrong).__name__})", remedy) from None
    return Reading(tuple(sorted(found)), tuple(sorted(unnamed)))
