"""The two ends of a supervised day: the watch is on, and at closing time one statement: all cold, or what is not.

A day may have several supervised spans (a long lunch); only the first beginning and the last end count. The statement comes a
few minutes before the end, while somebody can still act on it.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.effects import Tell
from watchdog.core.moment import Moment
from watchdog.core.notices.notice import CLOSING, WATCH_ON, notice
from watchdog.core.snapshot import Hotend, Link, Snapshot
from watchdog.core.timetable import Timetable, presence, supervised_spans

BEFORE_CLOSING = 600.0
"""s before the end of the last supervised span; the time to walk over, look and act. Our choice, no source"""


class Memory(NamedTuple):
    """Days (proleptic Gregorian ordinals) for which it was said."""

    opened: int = 0
    closed: int = 0


def look(
    memory: Memory, timetable: Timetable | None, machines: Mapping[str, Snapshot], at: Moment
) -> tuple[Memory, tuple[Tell, ...]]:
    """Once a minute is enough. Without hours, or with calendars that cannot be relied on, no day begins or ends."""
    if timetable is None or not machines:
        return memory, ()
    now = presence(timetable, at.stamp)
    if not now.supervised or now.until is None:
        return memory, ()
    today = _day(at.stamp, timetable.zone)
    told = []
    if memory.opened < today:
        memory = memory._replace(opened=today)
        told.append(notice(WATCH_ON, at, today, _sights(machines)))
    if memory.closed < today and now.until - at.stamp <= BEFORE_CLOSING and _last_of_day(timetable, now.until):
        memory = memory._replace(closed=today)
        told.append(notice(CLOSING, at, today, _heat(machines) | {"until": round(now.until)}))
    return memory, tuple(told)


def _day(stamp: float, zone: ZoneInfo) -> int:
    return datetime.fromtimestamp(stamp, zone).date().toordinal()


def _last_of_day(timetable: Timetable, end: float) -> bool:
    """No other span begins on the local day on which the one that ends at `end` began to end."""
    day = _day(end - 1, timetable.zone)
    later = supervised_spans(timetable, end, end + 86400.0)
    return not any(start >= end and _day(start, timetable.zone) == day for start, _ in later)


def _sights(machines: Mapping[str, Snapshot]) -> dict[str, str | int | float | None]:
    """What the watch sees: how many machines, and which of them it does not."""
    return {
        "machines": len(machines),
        "unseen": _names(name for name, seen in machines.items() if seen.link is not Link.AVAILABLE),
        "active": _names(name for name, seen in machines.items() if seen.active),
        "hot": _names(name for name, seen in machines.items() if _hot(seen)),
    }


def _heat(machines: Mapping[str, Snapshot]) -> dict[str, str | int | float | None]:
    """What is not cold, or cannot be told to be. `all_cold` is 1 only when every machine is known to be cold and idle."""
    facts = _sights(machines)
    unknown = [
        name
        for name, seen in machines.items()
        if seen.link is Link.AVAILABLE and (seen.hotend is Hotend.UNKNOWN or seen.active is None) and not _hot(seen)
    ]
    facts["unknown"] = _names(unknown)
    facts["all_cold"] = int(not (facts["unseen"] or facts["active"] or facts["hot"] or unknown))
    return facts


def _hot(seen: Snapshot) -> bool:
    """The nozzle is not cold by its reading, or a heater is on."""
    return seen.hotend in {Hotend.HOT, Hotend.HEATING, Hotend.COOLING} or seen.heat_on is True


def _names(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))
