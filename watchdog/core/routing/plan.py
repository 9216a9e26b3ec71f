"""Who is told first, who comes next and when: a ladder for each priority, as plain data.

A ladder is climbed while nobody takes the alarm on. Its times are common practice, no source, but for this: the next person
comes when half or all of the time to respond is over (`Alarm.respond_within`: 2 min for most urgent alarms, 10 min for high).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority

DUTY = "duty"
"""whoever is on duty by the timetable; with nobody on duty the first in line"""
NEXT = "next"
"""the next in line who has not been told yet: others on duty first, then the order of the people"""
EVERYBODY = "everybody"
"""everybody who is told this priority"""
WORDS = (DUTY, NEXT, EVERYBODY)


class Recipient(NamedTuple):
    """Somebody who is told. Their order in the plan is the line in which they stand."""

    name: str
    priorities: frozenset[Priority] = frozenset(Priority)
    outside: bool = False
    """takes calls outside the supervised hours"""


class Rung(NamedTuple):
    """One step of a ladder."""

    who: str
    """'duty', 'next', 'everybody', or a person's name"""
    after: float = 0.0
    """s without an acknowledgement since the raising (or since the ladder began anew)"""
    loud: bool = False
    """all of a person's routes at the same time, and so it goes on with every reminder"""


class Lessons(StrEnum):
    """What becomes of a message while whoever is told teaches."""

    AT_ONCE = "at once"
    WAIT = "wait"
    """it waits for the break; only ever a low one"""


class Outside(StrEnum):
    """Who is told outside the supervised hours, holidays included."""

    NAMED = "named"
    """who takes calls then, at once and loud; everybody where nobody does. Then the ladder goes on as ever"""
    LADDER = "ladder"
    """the ladder, as in the hours"""
    WAIT = "wait"
    """nobody before somebody is there again; only ever a low one"""


@dataclass(frozen=True, slots=True)
class Ladder:
    """How one priority is told."""

    rungs: tuple[Rung, ...]
    """by their time; the first at 0"""
    lessons: Lessons = Lessons.AT_ONCE
    outside: Outside = Outside.LADDER


_MINUTE, _DAY = 60.0, 86400.0

USUAL: Mapping[Priority, Ladder] = MappingProxyType(
    {
        # Reminders come after 2, 5, 9.5 min: everybody before the second one.
        Priority.URGENT: Ladder(
            (Rung(DUTY), Rung(NEXT, 2 * _MINUTE), Rung(EVERYBODY, 4 * _MINUTE, loud=True)), outside=Outside.NAMED
        ),
        # Reminders come after 5 and 15 min: the second one goes to everybody, loud.
        Priority.HIGH: Ladder((Rung(DUTY), Rung(NEXT, 10 * _MINUTE), Rung(EVERYBODY, 15 * _MINUTE, loud=True))),
        # This lesson or today; no alarm should stand for more than a day (ISA-18.2).
        Priority.LOW: Ladder((Rung(DUTY), Rung(NEXT, _DAY)), Lessons.WAIT, Outside.WAIT),
    }
)
"""The ladders of a house that names nothing but its people."""

FOLLOWERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {name: row.suppresses for name, row in TABLE.items() if row.suppresses}
)


@dataclass(frozen=True, slots=True)
class RoutingPlan:
    """All that decides who is told what, and when. Filled from the settings."""

    people: tuple[Recipient, ...]
    ladders: Mapping[Priority, Ladder] = field(default_factory=lambda: USUAL)
    """one for each priority"""
    followers: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: FOLLOWERS)
    """alarms whose ladder rests while another one stands (`Alarm.suppresses`)"""


def takers(plan: RoutingPlan, priority: Priority) -> tuple[Recipient, ...]:
    """Those who are told this priority, in line.

    When nobody takes an urgent or high one, everybody does: it asks for action within minutes, and told to nobody it would be
    lost. A low one that nobody takes is told to nobody; it still stands in the log.
    """
    chosen = tuple(person for person in plan.people if priority in person.priorities)
    if not chosen and priority is not Priority.LOW:
        return plan.people
    return chosen


def usual(people: tuple[Recipient, ...]) -> RoutingPlan:
    """The plan of a house that names nothing but its people. One person alone is told as ever, by reminders only."""
    plan = RoutingPlan(people)
    return RoutingPlan(people, {priority: usual_ladder(plan, priority) for priority in Priority})


def usual_ladder(plan: RoutingPlan, priority: Priority) -> Ladder:
    """The usual ladder for those of `plan` who take this priority."""
    ladder = USUAL[priority]
    if len(takers(plan, priority)) > 1:
        return ladder
    return Ladder(ladder.rungs[:1], ladder.lessons, ladder.outside)
