"""What the routing remembers of one machine: plain values that go to disk and back as JSON (`TypeAdapter(Memory)`)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from watchdog.core.effects import Priority, Tell


class Stage(StrEnum):
    """Where the search for somebody stands."""

    CLIMBING = "climbing"
    """nobody has taken it on: the ladder is climbed"""
    TAKEN = "taken"
    """somebody acknowledged"""
    SHELVED = "shelved"
    """somebody put it aside"""
    RETURNED = "returned"
    """the condition has gone, and nobody has acknowledged yet"""
    CLEARED = "cleared"
    """over; forgotten at the end of the step"""


class Told(NamedTuple):
    """One person who was told of an occurrence."""

    person: str
    times: int
    """messages about this occurrence"""
    nth: int
    """`Tell.nth` of the last one: nobody is told the same one twice"""
    loud: bool = False
    """told by all routes at once since the ladder last began"""
    climbed: bool = True
    """told since the ladder last began; one who was told before that only hears the all-clear"""
    waits: float | None = None
    """stamp before which the last message waits; None: it went out at once"""
    earlier: bool = False
    """a message before the last one has gone out"""


class Case(NamedTuple):
    """One occurrence of an alarm that people were told of."""

    occurrence: int
    priority: Priority
    since: float
    """elapsed from which the rungs count: the raising, or when the ladder began anew"""
    rung: int
    """rungs that have been climbed"""
    stage: Stage
    told: tuple[Told, ...]
    last: Tell
    """the latest demand; an all-clear is none"""
    loud: bool = False
    """a loud rung has been climbed: from there on every reminder is loud"""
    by: str | None = None
    """who took it on or put it aside last; None while nobody has"""


@dataclass(frozen=True, slots=True)
class Memory:
    """All occurrences that people were told of and that are not over."""

    cases: Mapping[str, Case] = field(default_factory=dict)
    """by alarm. Never changed in place"""
    due: float | None = None
    """elapsed at which the next rung is due; None when none is"""


def told(case: Case, person: str) -> Told | None:
    """What `person` was told; None: nothing."""
    return next((one for one in case.told if one.person == person), None)


def heard(one: Told, stamp: float) -> bool:
    """Whether anything has gone out to them by `stamp`."""
    return one.earlier or one.waits is None or one.waits <= stamp


def withdrawn(case: Case, stamp: float) -> Case:
    """`case` after what still waits was taken back from the outbox: it was answered, or is over."""
    people = tuple([one for one in case.told if heard(one, stamp)])
    return case._replace(told=tuple([one._replace(waits=None) for one in people]))


def anew(case: Case, now: float, *, keep_loud: bool) -> Case:
    """`case` with its ladder at the start. `keep_loud`: who was told loudly need not be told so again."""
    people = tuple([one._replace(climbed=False, loud=one.loud and keep_loud) for one in case.told])
    return case._replace(since=now, rung=0, stage=Stage.CLIMBING, told=people, loud=False, by=None)
