"""What a step says: for the record, and for people. Values only; the shell carries them out."""

from enum import StrEnum
from typing import NamedTuple

from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment


class Priority(StrEnum):
    """How soon somebody must act."""

    URGENT = "urgent"
    HIGH = "high"
    LOW = "low"


class Transition(StrEnum):
    """A step in an alarm's life (after ANSI/ISA-18.2)."""

    RAISED = "raised"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    CLEARED = "cleared"
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    ESCALATED = "escalated"


class AlarmChanged(NamedTuple):
    """An alarm took a step. Always recorded; whether somebody is told is a separate `Tell`."""

    at: Moment
    alarm: str
    occurrence: int
    """counts the raisings of this alarm on this machine: with both names it identifies one occurrence"""
    transition: Transition
    priority: Priority
    evidence: Evidence
    by: str | None = None
    how: str | None = None
    note: str | None = None


class StateChanged(NamedTuple):
    """One axis of the machine's state took another value."""

    at: Moment
    axis: str
    """'link', 'execution', 'hotend', or 'condition.<subject>'"""
    before: str
    after: str


class JobChanged(NamedTuple):
    """A job started, was held, resumed, or ended."""

    at: Moment
    event: str
    """'started', 'held', 'resumed', 'completed', 'abandoned'"""
    number: int
    file: str | None
    size: int | None
    origin: str
    elapsed: float
    """s since its start"""
    why: str | None = None


class TellKind(StrEnum):
    """Why people are spoken to."""

    ALARM = "alarm"
    REMINDER = "reminder"
    ALL_CLEAR = "all-clear"
    ESCALATED = "escalated"
    NOTICE = "notice"
    """no alarm: something that somebody asked to be told once; `alarm` then names the notice and `occurrence` counts them"""


class Tell(NamedTuple):
    """People must be told. The words are made by the alerts from the alarm table and the facts."""

    at: Moment
    kind: TellKind
    alarm: str
    occurrence: int
    priority: Priority
    since: Moment
    """when the alarm was raised"""
    nth: int
    """1 for the first message, 2 for the first reminder …"""
    evidence: Evidence
    next_at: float | None
    """s from now until it is said again if nobody answers; None when it will not be"""


class Noted(NamedTuple):
    """An event for the log that asks nothing of anybody."""

    at: Moment
    kind: str
    """'restart', 'blind', 'link', 'expectation', 'odd-traffic' …"""
    facts: Evidence


Effect = AlarmChanged | StateChanged | JobChanged | Tell | Noted
