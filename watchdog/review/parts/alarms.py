"""Alarms: how many were of use, by what people said, and how heavy the load was (measures of ANSI/ISA-18.2, clause on
monitoring; limits as EEMUA 191 gives them; both from memory)."""

from collections import Counter, deque
from collections.abc import Sequence
from datetime import datetime
from typing import Final, NamedTuple

from watchdog.core.effects import Priority
from watchdog.record.term_rows import OccurrenceRow, Usefulness
from watchdog.review.parts.common import Part, part
from watchdog.review.rows import House

FLOOD_BEGINS: Final = 10
FLOOD_ENDS: Final = 5
FLOOD_SPAN: Final = 600.0
"""a flood: more than 10 in 10 min, until fewer than 5"""
CHATTER: Final = 3
CHATTER_SPAN: Final = 60.0
"""the same alarm 3 times or more in a minute"""
STALE: Final = 86_400.0
"""s that an alarm stands beyond which it is stale"""
SHIFT: Final = 8
"""h"""
AIM: Final = {Priority.URGENT: 0.05, Priority.HIGH: 0.15, Priority.LOW: 0.80}
"""shares of annunciations that are aimed at"""


class Condition(NamedTuple):
    """One alarm by its name."""

    alarm: str
    raised: int
    useful: Part
    """of those that somebody judged"""
    nuisance: int
    late: int


class Ranked(NamedTuple):
    """One priority."""

    priority: Priority
    raised: Part
    aim: float


class Load(NamedTuple):
    """In so many days or shifts."""

    spans: int
    mean: float
    most: int


class Alarms(NamedTuple):
    """Alarms raised in the term."""

    raised: int
    told: int
    """of which somebody was told"""
    useful: Part
    conditions: tuple[Condition, ...]
    priorities: tuple[Ranked, ...]
    a_day: Load
    a_shift: Load
    floods: int
    chattering: tuple[str, ...]
    """names of alarms that chattered"""
    stale: int


def alarms(occurrences: Sequence[OccurrenceRow], since: float, until: float, house: House) -> Alarms:
    """Count the alarms of a term."""
    groups: dict[str, list[OccurrenceRow]] = {}
    for one in occurrences:
        groups.setdefault(one.alarm, []).append(one)
    days = _days(since, until, house)
    return Alarms(
        len(occurrences),
        sum(one.first_told is not None for one in occurrences),
        _useful(occurrences),
        tuple(
            Condition(
                name, len(group), _useful(group), _said(group, Usefulness.NUISANCE), _said(group, Usefulness.LATE)
            )
            for name, group in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
        ),
        tuple(
            Ranked(
                priority, part(sum(one.priority is priority for one in occurrences), len(occurrences)), AIM[priority]
            )
            for priority in Priority
        ),
        _load(occurrences, days, house, 24),
        _load(occurrences, days * (24 // SHIFT), house, SHIFT),
        _floods([one.raised for one in occurrences]),
        tuple(sorted({one.alarm for group in groups.values() for one in group if _chatters(one, group)})),
        sum((_ended(one) or until) - one.raised > STALE for one in occurrences),
    )


def _said(group: Sequence[OccurrenceRow], usefulness: Usefulness) -> int:
    return sum(one.label.usefulness is usefulness for one in group)


def _useful(group: Sequence[OccurrenceRow]) -> Part:
    return part(_said(group, Usefulness.USEFUL), sum(one.label.usefulness is not None for one in group))


def _ended(one: OccurrenceRow) -> float | None:
    return min((at for at in (one.cleared, one.let_go) if at is not None), default=None)


def _days(since: float, until: float, house: House) -> int:
    """Local days that the term touches."""
    first = datetime.fromtimestamp(since, house.zone).date()
    last = datetime.fromtimestamp(max(since, until - 1), house.zone).date()
    return (last - first).days + 1


def _load(occurrences: Sequence[OccurrenceRow], spans: int, house: House, hours: int) -> Load:
    def span(stamp: float) -> tuple[int, int]:
        at = datetime.fromtimestamp(stamp, house.zone)
        return at.date().toordinal(), at.hour // hours

    counts = Counter(span(one.raised) for one in occurrences)
    return Load(spans, len(occurrences) / spans, max(counts.values(), default=0))


def _floods(raised: Sequence[float]) -> int:
    near: deque[float] = deque()
    floods, in_flood = 0, False
    for at in sorted(raised):
        near.append(at)
        while near[0] <= at - FLOOD_SPAN:
            near.popleft()
        if in_flood:
            in_flood = len(near) >= FLOOD_ENDS
        elif len(near) > FLOOD_BEGINS:
            floods, in_flood = floods + 1, True
    return floods


def _chatters(one: OccurrenceRow, group: Sequence[OccurrenceRow]) -> bool:
    """With this occurrence a minute of chatter begins."""
    same = (other for other in group if other.machine == one.machine)
    return sum(one.raised <= other.raised < one.raised + CHATTER_SPAN for other in same) >= CHATTER
