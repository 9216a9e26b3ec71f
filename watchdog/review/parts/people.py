"""How soon somebody was told and answered, and how many messages that took. No person and no role is told apart.

Messages a person and week are shown as a distribution over everybody together, and only from three people on: with two each
could work out the other's.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from math import ceil
from typing import Final, NamedTuple

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.record.term_rows import MessageRow, OccurrenceRow
from watchdog.review.parts.common import Middle, Part, middle, part

FEWEST_PEOPLE: Final = 3
WEEK: Final = 7 * 86_400.0


class Response(NamedTuple):
    """Alarms of one priority; s. Times that a stepped clock made negative are left out."""

    priority: Priority
    told: Middle
    """from raised to the first message that a server took"""
    answered: Middle
    """from there to the acknowledgement"""
    whole: Middle
    """from raised to the acknowledgement"""
    in_time: Part
    """of those told: acknowledged or over within the time to respond of the alarm table"""


class Messages(NamedTuple):
    """Messages to people. What went out to one person as one counts once."""

    sent: int
    given_up: int
    """never delivered"""
    waiting: int
    people: int
    each_week: Middle | None
    """messages a person in each week of the term, weeks without any included; None for fewer than three people"""


def responses(occurrences: Sequence[OccurrenceRow]) -> tuple[Response, ...]:
    """By priority, urgent first."""
    return tuple(_response(priority, [one for one in occurrences if one.priority is priority]) for priority in Priority)


def _response(priority: Priority, group: Sequence[OccurrenceRow]) -> Response:
    told = [one for one in group if one.first_told is not None]
    return Response(
        priority,
        _spans((one.raised, one.first_told) for one in told),
        _spans((one.first_told, one.acknowledged) for one in told),
        _spans((one.raised, one.acknowledged) for one in group),
        part(sum(_in_time(one) for one in told), len(told)),
    )


def _spans(pairs: Iterable[tuple[float | None, float | None]]) -> Middle:
    known = [end - begin for begin, end in pairs if begin is not None and end is not None]
    return middle(span for span in known if span >= 0)


def _in_time(one: OccurrenceRow) -> bool:
    row = TABLE.get(one.alarm)
    over = min((at for at in (one.acknowledged, one.returned, one.cleared) if at is not None), default=None)
    return row is not None and over is not None and over - one.raised <= row.respond_within


def messages(rows: Sequence[MessageRow], since: float, until: float) -> Messages:
    """Count messages."""
    delivered = {(row.person, row.delivered) for row in rows if row.delivered is not None}
    people = sorted({row.person for row in rows})
    weeks = max(1, ceil((until - since) / WEEK))
    in_week = Counter((person, min(weeks - 1, int((at - since) // WEEK))) for person, at in delivered if at is not None)
    each = [in_week[person, week] for person in people for week in range(weeks)]
    return Messages(
        len(delivered),
        sum(row.given_up is not None for row in rows),
        sum(row.delivered is None and row.given_up is None for row in rows),
        len(people),
        middle(each) if len(people) >= FEWEST_PEOPLE else None,
    )
