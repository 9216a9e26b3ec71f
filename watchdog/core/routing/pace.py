"""How often one person is spoken to, and how much is too much.

Urgent messages neither wait nor count. What waits for one person goes as one message, so a flood (more than 10 in 10 min,
ANSI/ISA-18.2) becomes one that counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Pace:
    """The pauses between two messages to one person."""

    pauses: tuple[float, ...] = (60.0, 120.0, 300.0, 600.0, 900.0)
    """s since the last message, by how many were sent in the hour before: the first stands for one, the second for two … Beyond
    them nothing is sent until the hour has room. The first is the most that anybody bears ('one a minute', project's choice).
    Growing ones spread the six of an hour over it: with six in the first six minutes whatever comes after would wait for
    54 min, with these for 27."""


def may_send_at(pace: Pace, sent: Sequence[float], urgent: bool, now: float) -> float:
    """Stamp from which one more message may go to a person; `now` when at once.

    `sent`: stamps of the messages that this person got and that were not urgent, of the last hour at least, in any order. Those
    after `now` are left out: a clock that was put back silences nobody.
    """
    if urgent:
        return now
    past = sorted(stamp for stamp in sent if now - HOUR < stamp <= now)
    if not past:
        return now
    times = []
    for left in range(len(past)):  # of the oldest so many have left the hour
        count = len(past) - left
        gone = past[left - 1] + HOUR if left else now
        if count <= len(pace.pauses):
            times.append(max(now, gone, past[-1] + pace.pauses[count - 1]))
    times.append(max(now, past[-1] + HOUR))
    return min(times)


class Budget(NamedTuple):
    """Messages inside lessons that one person gets in a day at the most. Agreed in this project, no source."""

    median: float = 0.0
    of_95_in_100: float = 2.0


class Load(NamedTuple):
    """What one person got."""

    median: float
    of_95_in_100: float
    most: float


def load(days: Sequence[int]) -> Load:
    """Of the numbers of messages, one a day (days without any included): nearest ranks; 0 when there are no days."""
    ranked = sorted(days) or [0]

    def rank(share: float) -> float:
        return float(ranked[max(0, ceil(share * len(ranked)) - 1)])

    return Load(rank(0.5), rank(0.95), float(ranked[-1]))


def within(budget: Budget, found: Load) -> bool:
    """Whether `found` keeps to `budget`."""
    return found.median <= budget.median and found.of_95_in_100 <= budget.of_95_in_100
