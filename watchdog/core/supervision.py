"""Who is there, asked every second and worked out only when it may have changed: a timetable takes a while to read."""

from typing import NamedTuple

from watchdog.core.timetable import Presence, Timetable, presence

_FRESH = 60.0  # s: a minute is what a timetable is written in


class Told(NamedTuple):
    """Who is there, as worked out at one moment."""

    of: Timetable
    presence: Presence
    since: float
    """stamp at which it was worked out"""
    until: float
    """stamp from which it must be worked out anew"""


def told(timetable: Timetable, before: Told | None, stamp: float) -> Told:
    """Who is there at `stamp`: `before`, while that holds."""
    if before is not None and before.of is timetable and before.since <= stamp < before.until:
        return before
    now = presence(timetable, stamp)
    ends = (now.until, now.next, now.lesson_until, stamp + _FRESH)
    return Told(timetable, now, stamp, min(end for end in ends if end is not None and end > stamp))
